"""What changes from one plan to another, in words and numbers."""

from bedstone.mill.plan import Plan
from bedstone.web.show import Show

__all__ = ["difference_words", "saving_cents100"]


def saving_cents100(plan: Plan) -> int | None:
    """What the order of running saves against the order in which the orders came; None unknown."""
    if plan.as_orders_came is None:
        return None
    return plan.as_orders_came.running_cents100 - plan.costs.running_cents100


def difference_words(old: Plan | None, new: Plan, show: Show) -> list[str]:
    """Sentences that say what a new plan changes against an old one."""
    if old is None:
        return ["There was no plan for this day yet, so there is nothing to compare it with."]
    words = [*orders_in_and_out(old, new, show), *times(old, new, show), *costs(old, new, show)]
    return words or ["Nothing changes: the same orders at the same times for the same cost."]


def orders_in_and_out(old: Plan, new: Plan, show: Show) -> list[str]:
    """Orders that come into the plan, leave it, or are left out."""
    before = {run.order: run for run in old.runs if run.order}
    after = {run.order: run for run in new.runs if run.order}
    left_before = {one.order for one in old.left_out}
    words = []
    for order, run in after.items():
        if order not in before:
            words.append(
                f"Order {order} comes into the plan: {show.mass(run.mass_mg)} "
                f"{show.name(run.product)}, ready {show.moment(run.ready_at)}."
            )
        elif before[order].mass_mg != run.mass_mg or before[order].product != run.product:
            words.append(
                f"Order {order} is now {show.mass(run.mass_mg)} {show.name(run.product)} "
                f"(was {show.mass(before[order].mass_mg)} {show.name(before[order].product)})."
            )
    left_now = {one.order for one in new.left_out}
    words.extend(
        f"Order {order} is no longer in the plan."
        for order in before
        if order not in after and order not in left_now
    )
    words.extend(
        f"Order {one.order} is left out: {one.text}"
        for one in new.left_out
        if one.order not in left_before
    )
    words.extend(
        f"Order {order} is wanted no longer and was left out before."
        for order in sorted(left_before - left_now)
        if order not in after
    )
    return words


def times(old: Plan, new: Plan, show: Show) -> list[str]:
    """Orders that become late, stop being late, or move by more than a quarter of an hour."""
    before = {run.order: run for run in old.runs if run.order}
    words = []
    for run in new.runs:
        was = before.get(run.order)
        if was is None:
            if run.late_s > 0:
                words.append(f"Order {run.order} would be late by {show.span(run.late_s)}.")
            continue
        if run.late_s > 0 and was.late_s == 0:
            words.append(
                f"Order {run.order} becomes late by {show.span(run.late_s)}: ready "
                f"{show.moment(run.ready_at)} instead of {show.moment(was.ready_at)}."
            )
        elif run.late_s == 0 and was.late_s > 0:
            words.append(f"Order {run.order} is in time again: ready {show.moment(run.ready_at)}.")
        elif abs((run.ready_at - was.ready_at).total_seconds()) >= 900:  # noqa: PLR2004 - a quarter of an hour
            words.append(
                f"Order {run.order} is ready {show.moment(run.ready_at)} instead of "
                f"{show.moment(was.ready_at)}."
            )
    return words


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
