"""What changes from one plan to another, in words and numbers."""

from collections.abc import Collection

from bedstone.mill.plan import Plan, Run
from bedstone.web.show import Show

__all__ = ["difference_words", "saving_cents100"]

NOTICED_S = 900
"""A change of less than a quarter of an hour is not worth a word. [s]"""


def saving_cents100(plan: Plan) -> int | None:
    """What the order of running saves against the order in which the orders came; None unknown."""
    if plan.as_orders_came is None:
        return None
    return plan.as_orders_came.running_cents100 - plan.costs.running_cents100


def difference_words(
    old: Plan | None, new: Plan, show: Show, *, made: Collection[str] = ()
) -> list[str]:
    """Sentences that say what a new plan changes against an old one, what hurts most first.

    ``made`` are orders that are made already, so that a new plan need not have them.
    """
    if old is None:
        return ["There was no plan for this day yet, so there is nothing to compare it with."]
    words = [
        *orders_in(old, new, show),
        *orders_out(old, new, made),
        *lateness(old, new, show),
        *costs(old, new, show),
        *moved(old, new, show),
    ]
    return words or ["Nothing changes: the same orders at the same times for the same cost."]


def of_orders(plan: Plan) -> dict[str, Run]:
    """The runs of a plan by their order."""
    return {run.order: run for run in plan.runs if run.order}


def orders_in(old: Plan, new: Plan, show: Show) -> list[str]:
    """Orders that come into the plan or are made in another amount."""
    before = of_orders(old)
    words = []
    for order, run in of_orders(new).items():
        was = before.get(order)
        if was is None:
            words.append(
                f"Order {order} comes into the plan: {show.mass(run.mass_mg)} "
                f"{show.name(run.product)}, ready {show.due(run.ready_at, new.day)}."
            )
        elif was.mass_mg != run.mass_mg or was.product != run.product:
            words.append(
                f"Order {order} is now {show.mass(run.mass_mg)} {show.name(run.product)} "
                f"(was {show.mass(was.mass_mg)} {show.name(was.product)})."
            )
    return words


def orders_out(old: Plan, new: Plan, made: Collection[str]) -> list[str]:
    """Orders that leave the plan or are left out, and why."""
    after = of_orders(new)
    left_before = {one.order for one in old.left_out}
    left_now = {one.order for one in new.left_out}
    words = [
        f"Order {order} is made already."
        if order in made
        else f"Order {order} is no longer in the plan."
        for order in of_orders(old)
        if order not in after and order not in left_now
    ]
    words += [
        f"Order {one.order} is left out: {one.text}"
        for one in new.left_out
        if one.order not in left_before
    ]
    words += [
        f"Order {order} is wanted no longer and was left out before."
        for order in sorted(left_before - left_now)
        if order not in after
    ]
    return words


def lateness(old: Plan, new: Plan, show: Show) -> list[str]:
    """Orders that become late, later, or stop being late."""
    before = of_orders(old)
    words = []
    for order, run in of_orders(new).items():
        was = before.get(order)
        ready = show.when(run.ready_at, new.day)
        if run.late_s > 0 and (was is None or was.late_s == 0):
            words.append(
                f"Order {order} becomes late by {show.minutes(run.late_s)}: ready {ready}."
            )
        elif run.late_s > 0 and was is not None and abs(run.late_s - was.late_s) >= NOTICED_S:
            words.append(
                f"Order {order} is late by {show.minutes(run.late_s)} instead of "
                f"{show.minutes(was.late_s)}."
            )
        elif run.late_s == 0 and was is not None and was.late_s > 0:
            words.append(f"Order {order} is in time again: ready {ready}.")
    return words


def moved(old: Plan, new: Plan, show: Show) -> list[str]:
    """Orders in time that are ready at another time, in one sentence."""
    before = of_orders(old)
    found = [
        f"{order} {show.when(run.ready_at, new.day)} "
        f"(was {show.when(before[order].ready_at, new.day)})"
        for order, run in of_orders(new).items()
        if order in before
        and run.late_s == 0
        and before[order].late_s == 0
        and abs((run.ready_at - before[order].ready_at).total_seconds()) >= NOTICED_S
    ]
    return [f"Ready at another time, still before it is due: {', '.join(found)}."] if found else []


def costs(old: Plan, new: Plan, show: Show) -> list[str]:
    """What running costs more or less, flushes and cleaning counted."""
    words = []
    change = new.costs.running_cents100 - old.costs.running_cents100
    if change:
        words.append(
            f"Running (flushes, changeovers, cleaning, lateness) costs {show.money(abs(change))} "
            f"{'more' if change > 0 else 'less'}: {show.money(new.costs.running_cents100)} "
            f"instead of {show.money(old.costs.running_cents100)}."
        )
    for name, was, now in (
        ("flushes", old.costs.flushes, new.costs.flushes),
        ("clean-outs", old.costs.clean_outs, new.costs.clean_outs),
    ):
        if was != now:
            words.append(f"There are {now} {name} instead of {was}.")
    return words
