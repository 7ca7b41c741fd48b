"""The order of running on small days against every order there is, and its cost reckoned again."""

import random

import pytest

from bedstone.mill.plan import BarKind, BatchKind, Plan
from bedstone.mill.residue import Residue
from bedstone.planning.between import Between
from bedstone.planning.day import plan_runs
from bedstone.planning.evaluate import Costing, Evaluator, Step
from bedstone.planning.floor import DoesNotFit, floor_of, opening_state
from bedstone.planning.model import DayProblem, OrderToMake
from bedstone.planning.orders_in import work_of
from bedstone.planning.paths import Paths
from bedstone.planning.sequence import search
from fakes.planned import plan_of, stops
from fakes.planning_mill import planning_mill, problem, wanted

WORST_FACTOR = 1.10  # of the cheapest order there is
PRODUCTS = ("SHEEP", "PIG-CU", "BEEF-M", "LAYER", "HORSE-CF")


def evaluator_of(asked: DayProblem) -> tuple[Evaluator, list]:
    """The evaluator of a day, and the runs to be made."""
    paths = Paths(asked.mill)
    work = work_of(asked, paths)
    residue = Residue(asked.mill)
    opening = Step(
        opening_state(asked, work, has_overtime=False),
        residue.from_held(asked.starting),
        Costing(),
        None,
    )
    between = Between(asked.mill, residue, paths)
    return Evaluator(floor_of(asked, work), residue, between, opening), work.jobs


def cheapest(evaluator: Evaluator, jobs: list, before: Step, best: float) -> float:
    """The cost of the cheapest order of all, every order being tried."""
    if not jobs:
        return min(best, before.costing.total)
    for at, job in enumerate(jobs):
        for option in job.options:
            try:
                step = evaluator.step(before, job, option)
            except DoesNotFit:
                continue
            if step.costing.total < best:  # cost only grows: nothing cheaper lies behind
                best = cheapest(evaluator, jobs[:at] + jobs[at + 1 :], step, best)
    return best


def small_day(seed: int) -> tuple[OrderToMake, ...]:
    """Five or six orders with due times that pull against their residues."""
    chance = random.Random(seed)
    return tuple(
        wanted(
            str(number),
            chance.choice(PRODUCTS),
            chance.randrange(1000, 5000, 250),
            due_h=chance.choice((2.5, 4.0, 6.0, 12.0)),
            entered_h=-chance.random() * 24,
        )
        for number in range(chance.choice((5, 6)))
    )


@pytest.mark.parametrize("seed", range(6))
def test_the_search_is_near_the_best_order_there_is(seed: int):
    """On six small days the order found costs at most a tenth more than the best of all orders."""
    asked = problem(*small_day(seed), evaluations=150, starting=())
    evaluator, jobs = evaluator_of(asked)
    found = search(evaluator, jobs, evaluations=150, seed=0)
    assert found.out == []
    best = cheapest(evaluator, jobs, evaluator.opening, found.cost + 1.0)
    assert best <= found.cost + 1e-6
    assert found.cost <= best * WORST_FACTOR


def reckoned_again(asked: DayProblem, plan: Plan) -> dict[str, float]:
    """The costs of a plan from its bars, batches and due times alone [0.0001 USD].

    A flush keeps the crew for as long as its mixer is filled, mixes dry and empties.
    """
    settings = asked.mill.settings
    price = asked.mill.ingredient_by_code[settings.flush_material].price_usd_t
    hours = {
        kind: sum(
            (bar.end_at - bar.start_at).total_seconds() / 3600
            for bar in plan.bars
            if bar.kind is kind
        )
        for kind in BarKind
    }
    cleaning = sum((row.end_at - row.start_at).total_seconds() for row in plan.clean_outs) / 3600
    late = 0.0
    for run in plan.runs:
        if run.due_at is not None and run.ready_at > run.due_at:
            wanted_kg = next(
                row.remaining_mg / 1e6 for row in asked.orders if row.order.order == run.order
            )
            late += (run.ready_at - run.due_at).total_seconds() / 3600 * wanted_kg / 1000
    flushes = [row for row in plan.batches if row.kind is BatchKind.FLUSH]
    flush_kg = sum(row.mass_mg for row in flushes) / 1e6
    crew_s = 0.0
    for row in flushes:
        mixer = asked.mill.machine_by_code[row.mixer]
        crew_s += mixer.fill_s + mixer.dry_mix_s + mixer.discharge_s
    flush_usd = flush_kg * price / 1000 + crew_s / 3600 * settings.labour_usd_h
    return {
        "flush": flush_usd * 10_000,
        "changeover": hours[BarKind.CHANGEOVER] * settings.labour_usd_h * 10_000,
        "clean_out": cleaning * settings.labour_usd_h * 10_000,
        "late": late * settings.late_usd_t_h * 10_000,
    }


@pytest.mark.parametrize("seed", range(6, 12))
def test_the_cost_of_a_plan_can_be_reckoned_from_the_plan(seed: int):
    """Flush, changeover, clean-out and lateness from the plan's own times and masses agree."""
    asked = problem(*small_day(seed), evaluations=40, starting=())
    plan = plan_of(asked)
    assert stops(asked, plan) == []
    again = reckoned_again(asked, plan)
    assert again == {
        "flush": pytest.approx(plan.costs.flush_cents100, abs=10),
        "changeover": pytest.approx(plan.costs.changeover_cents100, abs=10),
        "clean_out": pytest.approx(plan.costs.clean_out_cents100, abs=10),
        "late": pytest.approx(plan.costs.late_cents100, abs=50),
    }


@pytest.mark.parametrize("seed", range(12, 16))
def test_the_plan_is_never_dearer_than_the_order_in_which_orders_came(seed: int):
    """The order in which the orders came is one of those looked at."""
    outcome = plan_runs(problem(*small_day(seed), evaluations=10, starting=()))
    assert outcome.as_orders_came is not None
    assert outcome.costs.running_cents100 <= outcome.as_orders_came.running_cents100 + 50


def test_more_looking_never_makes_it_dearer():
    """The search only takes what is cheaper, so more of it cannot cost more."""
    asked = problem(*small_day(3), starting=(), mill=planning_mill())
    evaluator, jobs = evaluator_of(asked)
    costs = [search(evaluator, jobs, evaluations=n, seed=1).cost for n in (0, 20, 80)]
    assert costs == sorted(costs, reverse=True)
