"""The cheapest of all orders of running of a small day, every order and mixer being tried."""

from collections.abc import Sequence

from bedstone.planning.evaluate import Evaluator, Step
from bedstone.planning.floor import DoesNotFit
from bedstone.planning.jobs import Job

__all__ = ["cheapest_cents100", "cost_cents100"]


def cost_cents100(step: Step) -> float:
    """What a day costs after a run, without what only decides between equals."""
    return step.costing.total - step.costing.tie


def cheapest_cents100(
    evaluator: Evaluator, jobs: Sequence[Job], *, below: float = float("inf")
) -> float:
    """The cost of the cheapest order of all that is below a cost; that cost if there is none."""
    return _cheapest(evaluator, list(jobs), evaluator.opening, below)


def _cheapest(evaluator: Evaluator, jobs: list[Job], before: Step, best: float) -> float:
    if not jobs:
        return min(best, cost_cents100(before))
    for at, job in enumerate(jobs):
        for option in job.options:
            try:
                step = evaluator.step(before, job, option)
            except DoesNotFit:
                continue
            if cost_cents100(step) < best:  # cost only grows: nothing cheaper lies behind
                best = _cheapest(evaluator, jobs[:at] + jobs[at + 1 :], step, best)
    return best
