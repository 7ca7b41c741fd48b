"""The order of running: runs put in one by one, then local search over the compiled evaluator.

Runs are taken in order of due time; each goes where the whole order stays cheapest. A run that
finds no place is passed over, and counts more than any day costs. Then neighbours are tried (a run
or a few taken elsewhere, two swapped, a row turned round, another mixer): first only what is
cheaper is taken, then, in rounds that grow longer, also what is dearer with odds that fall
(simulated annealing: S. Kirkpatrick, C. D. Gelatt, M. P. Vecchi, Science 220 (1983) 671-680; from
memory). The number of orders tried is bounded, so the same problem and seed give the same answer
on any machine. The order found is walked once more by the plain evaluator, which decides.
"""

import itertools
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from bedstone.planning.evaluate import Evaluator, Item, Step
from bedstone.planning.floor import DoesNotFit
from bedstone.planning.jobs import Job

if TYPE_CHECKING:
    from bedstone.planning.swift import Swift

__all__ = ["Order", "in_order_of", "search"]

PIECE = 500  # tries between two questions whether to keep going
DESCENT_TRIES = 40  # for each run
WARM_TRIES = 150
DOUBLINGS_MOST = 6
HOT_FRAC = 0.1  # of what the order costs: the temperature at which a round begins
COLD_FRAC = 1e-3  # of that: the one at which it ends


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
    keep_going: Callable[[float], bool] | None = None,
) -> Order:
    """The cheapest order found that makes as many runs as it can.

    ``also`` is an order to beat, such as that in which the orders came; so is ``in_force``, that of
    the plan by which the mill runs, which may lack runs: they are put in where they cost least.
    ``evaluations`` bounds the orders tried. ``keep_going`` is asked now and then, with the cost of
    the best so far, whether to look further.
    """
    from bedstone.planning.swift import Swift  # numba takes a while to import

    swift = Swift(evaluator, jobs, seed=seed)
    _begin(swift, jobs, also=also, in_force=in_force)
    tries = 0
    for length, is_warm in _rounds(len(jobs)):
        hot = swift.scale * HOT_FRAC if is_warm else 0.0
        swift.set_order(swift.items(best=True))
        for first in range(0, length, PIECE):
            piece = min(PIECE, length - first, evaluations - tries)
            if piece <= 0 or (keep_going is not None and not keep_going(swift.best_cost)):
                return _finished(evaluator, jobs, swift.items(best=True))
            warm = hot * COLD_FRAC ** (first / length)
            cool = hot * COLD_FRAC ** (min(length, first + PIECE) / length)
            swift.anneal(piece, hot=warm, cold=cool)
            tries += piece
    raise AssertionError  # rounds never end


def _begin(
    swift: "Swift", jobs: Sequence[Job], *, also: Sequence[Item], in_force: Sequence[Item]
) -> None:
    """Let the best of the orders to begin with stand: runs put in one by one, and those to beat."""
    for start in [(), *(rival for rival in (also, in_force) if rival)]:
        placed = {id(job) for job, _ in start}
        swift.set_order(start)
        for job in jobs:
            if id(job) not in placed:
                swift.insert(job)
        swift.anneal(0, hot=0.0, cold=0.0)  # it is noted if it is the best


def _rounds(runs: int) -> Iterator[tuple[int, bool]]:
    """How long to look, and whether what is dearer is taken at times: first not, then ever longer."""
    yield DESCENT_TRIES * max(1, runs), False
    for doubling in itertools.count():
        yield WARM_TRIES * 2 ** min(doubling, DOUBLINGS_MOST) * max(1, runs), True
        yield DESCENT_TRIES * max(1, runs), False


def _finished(evaluator: Evaluator, jobs: Sequence[Job], items: Sequence[Item]) -> Order:
    """The order walked by the plain evaluator, with the reason of each run that finds no place."""
    order = Order(evaluator.opening)
    left: list[Job] = []
    for job, option in items:
        try:
            step = evaluator.step(order.before(len(order.items)), job, option)
        except DoesNotFit:
            left.append(job)
            continue
        order.items.append((job, option))
        order.steps.append(step)
    order = _without_idle_stock(evaluator, order)
    ranks = {id(job): rank for rank, job in enumerate(jobs)}
    for job in sorted(left, key=lambda job: ranks[id(job)]):
        _insert_last(evaluator, order, job)
    return order


def _insert_last(evaluator: Evaluator, order: Order, job: Job) -> None:
    """Put a run at the end, where it hurts nobody; note why if there is no place for it either."""
    why = DoesNotFit("time", job.options[0].mixer)
    for option in job.options:
        try:
            step = evaluator.step(order.before(len(order.items)), job, option)
        except DoesNotFit as reason:
            why = reason
            continue
        order.items.append((job, option))
        order.steps.append(step)
        return
    order.out.append((job, why))


def in_order_of(evaluator: Evaluator, items: Sequence[Item]) -> Order | None:
    """Runs exactly as they are given; None if one of them finds no place."""
    return _walked(evaluator, items)


def _walked(evaluator: Evaluator, items: Sequence[Item]) -> Order | None:
    try:
        steps = evaluator.walk(evaluator.opening, items)
    except DoesNotFit:
        return None
    return Order(evaluator.opening, list(items), steps)


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
