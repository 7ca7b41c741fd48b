"""A day planned again starts from the order of the plan in force, too."""

import dataclasses
import itertools

from bedstone.planning.day import _evaluator, plan_runs
from bedstone.planning.floor import DoesNotFit
from bedstone.planning.model import DayOutcome
from bedstone.planning.orders_in import work_of
from bedstone.planning.paths import Paths
from fakes.planning_mill import problem, wanted

ORDERS = (
    wanted("4101", "SHEEP", 3000, due_h=3.0),
    wanted("4102", "PIG-CU", 4000, due_h=3.2),
    wanted("4103", "LAYER", 2000, due_h=3.4),
    wanted("4104", "SHEEP", 2000, due_h=3.6),
    wanted("4105", "BEEF-M", 4000, due_h=3.8),
)
UNSEARCHED = problem(*ORDERS, starting=(), evaluations=0)


def planned(*runs: str, evaluations: int = 0) -> DayOutcome:
    """The day with a plan in force that has these runs in this order, all on the first mixer."""
    in_force = tuple((run, "MX1") for run in runs)
    return plan_runs(dataclasses.replace(UNSEARCHED, in_force=in_force, evaluations=evaluations))


def cheapest() -> tuple[list[str], float]:
    """The cheapest of all orders of running and its cost, each of them walked."""
    paths = Paths(UNSEARCHED.mill)
    work = work_of(UNSEARCHED, paths)
    evaluator = _evaluator(UNSEARCHED, work, paths, has_overtime=False)
    best: tuple[list[str], float] = ([], float("inf"))
    for jobs in itertools.permutations(work.jobs):
        try:
            steps = evaluator.walk(evaluator.opening, [(job, job.options[0]) for job in jobs])
        except DoesNotFit:
            continue
        costing = steps[-1].costing
        if costing.total - costing.tie < best[1]:
            best = ([job.run for job in jobs], costing.total - costing.tie)
    return best


def test_a_plan_made_again_is_no_dearer_than_the_order_in_force():
    """The cheapest order of all, being in force, is found without looking; else it is not."""
    runs, cost = cheapest()
    assert planned().costs.running_cents100 > cost + 10_000
    assert planned(*runs).costs.running_cents100 <= cost + 5
    assert planned(*runs, evaluations=20).costs.running_cents100 <= cost + 5


def test_runs_that_the_plan_in_force_lacks_are_made_too():
    """Orders that came since, and runs that are no more, do not disturb the order in force."""
    runs, _ = cheapest()
    outcome = planned("R-3999", *runs[1:3])
    assert {run.run for run in outcome.runs} == set(runs)
    assert outcome.left_out == ()


def test_the_order_in_force_is_given_up_where_another_is_cheaper():
    """The dearest order, being in force, does not make the plan dearer than it would be."""
    runs, _ = cheapest()
    assert planned(*reversed(runs)).costs.running_cents100 <= planned().costs.running_cents100
