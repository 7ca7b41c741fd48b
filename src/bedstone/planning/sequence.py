"""The order of running: greedy insertion with repair, then moves that make it cheaper.

Runs are taken in order of due time; each goes where the whole order stays cheapest. What does not
fit anywhere is tried again once the order has been improved, and then with those runs taken first. Everything is decided by cost, equal
costs by the seed; the number of orders looked at is bounded, so the same problem gives the same
answer on any machine.
"""

import random
from collections.abc import Sequence
from dataclasses import dataclass, field

from bedstone.planning.evaluate import Evaluator, Item, Step
from bedstone.planning.floor import DoesNotFit
from bedstone.planning.jobs import Job

__all__ = ["Order", "in_order_of", "search"]

GAIN_LEAST = 1e-6


@dataclass(slots=True, eq=False)
class Order:
    """An order of running with its steps, and what found no place in it."""

    opening: Step
    items: list[Item] = field(default_factory=list)
    steps: list[Step] = field(default_factory=list)
    out: list[tuple[Job, DoesNotFit]] = field(default_factory=list)

    @property
    def cost(self) -> float:
        """What the search makes small [hundredths of a cent]."""
        return self.steps[-1].costing.total if self.steps else 0.0

    def before(self, at: int) -> Step:
        """The step before a position."""
        return self.steps[at - 1] if at else self.opening


def search(
    evaluator: Evaluator,
    jobs: Sequence[Job],
    *,
    evaluations: int,
    seed: int,
    also: Sequence[Item] = (),
    in_force: Sequence[Item] = (),
) -> Order:
    """The cheapest order found that makes as many runs as it can.

    ``also`` is an order to beat, such as that in which the orders came; so is ``in_force``, that of
    the plan by which the mill runs, which may lack runs: they are put in where they cost least.
    """
    order = _inserted(evaluator, jobs)
    for rival in (_walked(evaluator, also), _carried_on(evaluator, jobs, in_force)):
        if rival is not None and _is_better(rival, order):
            order = rival
    _improve(evaluator, order, evaluations=evaluations, seed=seed)
    if order.out:
        _repair(evaluator, order)
        _improve(evaluator, order, evaluations=evaluations // 4, seed=seed + 1)
    if order.out:
        left = [job for job, _ in order.out]
        rival = _inserted(evaluator, [*left, *(job for job in jobs if job not in left)])
        if len(rival.items) > len(order.items):
            order = rival
            _improve(evaluator, order, evaluations=evaluations // 2, seed=seed + 2)
    return _without_idle_stock(evaluator, order)


def _inserted(evaluator: Evaluator, jobs: Sequence[Job]) -> Order:
    """Runs taken one after the other, each put where the whole order stays cheapest."""
    order = Order(evaluator.opening)
    for job in jobs:
        _insert(evaluator, order, job)
    _repair(evaluator, order)
    return order


def in_order_of(evaluator: Evaluator, items: Sequence[Item]) -> Order | None:
    """Runs exactly as they are given; None if one of them finds no place."""
    return _walked(evaluator, items)


def _walked(evaluator: Evaluator, items: Sequence[Item]) -> Order | None:
    try:
        steps = evaluator.walk(evaluator.opening, items)
    except DoesNotFit:
        return None
    return Order(evaluator.opening, list(items), steps)


def _carried_on(evaluator: Evaluator, jobs: Sequence[Job], items: Sequence[Item]) -> Order | None:
    """The runs given in their order as far as they fit, the others where they cost least."""
    if not items:
        return None
    order = Order(evaluator.opening)
    for job, option in items:
        try:
            step = evaluator.step(order.before(len(order.items)), job, option)
        except DoesNotFit:
            continue  # put in with the others, where it fits
        order.items.append((job, option))
        order.steps.append(step)
    for job in jobs:
        if all(job is not other for other, _ in order.items):
            _insert(evaluator, order, job)
    _repair(evaluator, order)
    return order


def _is_better(rival: Order, order: Order) -> bool:
    if len(rival.items) != len(order.items):
        return len(rival.items) > len(order.items)
    return rival.cost < order.cost - GAIN_LEAST


def _insert(evaluator: Evaluator, order: Order, job: Job) -> bool:
    """Put a run where the whole order stays cheapest; note why if it fits nowhere."""
    best: tuple[float, int, Item, list[Step]] | None = None
    why = DoesNotFit("time", job.options[0].mixer)
    for at in range(len(order.items), -1, -1):
        for option in job.options:
            dearest = best[0] if best is not None else float("inf")
            items = [(job, option), *order.items[at:]]
            try:
                steps = evaluator.walk(order.before(at), items, dearest=dearest)
            except DoesNotFit as reason:
                if at == len(order.items):
                    why = reason  # at the end it hurts nobody: that is the reason to name
                continue
            if len(steps) == len(items) and steps[-1].costing.total < dearest:
                best = (steps[-1].costing.total, at, (job, option), steps)
    if best is None:
        order.out.append((job, why))
        return False
    _, at, item, steps = best
    order.items[at:at] = [item]
    order.steps[at:] = steps
    return True


def _repair(evaluator: Evaluator, order: Order) -> None:
    """Try again what found no place."""
    out, order.out = order.out, []
    for job, _ in out:
        _insert(evaluator, order, job)


def _improve(evaluator: Evaluator, order: Order, *, evaluations: int, seed: int) -> None:
    """Move runs and swap them as long as that makes the order cheaper."""
    chance = random.Random(seed)  # noqa: S311 - a search, no secret
    if len(order.items) < 2:  # noqa: PLR2004 - one run has one order
        return
    for _ in range(evaluations):
        at, items = _neighbour(order.items, chance)
        if not items:
            continue
        try:
            steps = evaluator.walk(order.before(at), items[at:], dearest=order.cost)
        except DoesNotFit:
            continue
        if len(steps) == len(items) - at and steps[-1].costing.total < order.cost - GAIN_LEAST:
            order.items = items
            order.steps[at:] = steps


def _neighbour(items: list[Item], chance: random.Random) -> tuple[int, list[Item]]:
    """Another order, and the first position at which it differs."""
    changed = list(items)
    kind = chance.random()
    one, other = chance.sample(range(len(items)), 2)
    if kind < 0.5:  # noqa: PLR2004 - half of the moves take one run elsewhere
        changed.insert(other, changed.pop(one))
    elif kind < 0.8:  # noqa: PLR2004 - three in ten swap two runs
        changed[one], changed[other] = changed[other], changed[one]
    else:
        first, last = sorted((one, other))
        block = changed[first : last + 1]
        del changed[first : last + 1]
        to = chance.randrange(len(changed) + 1)
        changed[to:to] = block
    at = next(
        (
            number
            for number, pair in enumerate(zip(items, changed, strict=True))
            if pair[0] is not pair[1]
        ),
        -1,
    )
    return (at, changed) if at >= 0 else (0, [])


def _without_idle_stock(evaluator: Evaluator, order: Order) -> Order:
    """The order without feed for stock that nothing in it needs any more."""
    kept = order
    for job in [job for job, _ in order.items if job.order is None]:
        items = [item for item in kept.items if item[0] is not job]
        if any(job.product.product in other.parts for other, _ in items):
            continue
        shorter = _walked(evaluator, items)
        if shorter is not None:
            shorter.out = kept.out
            kept = shorter
    return kept
