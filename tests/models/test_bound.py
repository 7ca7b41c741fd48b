"""The lower bound of a day against the cheapest of all orders of running, every order being tried."""

import dataclasses
import random

import pytest

from bedstone.mill.model import Limit, Mill
from bedstone.planning.bound import LeastCost, least_cost
from bedstone.planning.bound_late import least_late_cents100
from bedstone.planning.day import open_day, plan_runs
from bedstone.planning.model import DayProblem
from fakes.every_order import cheapest_cents100
from fakes.planning_mill import clean_start, planning_mill, problem, wanted
from fakes.random_days import random_day

CENTS100_USD = 10_000
PRODUCTS = ("SHEEP", "PIG-CU", "BEEF-M", "LAYER", "HORSE-CF")


def bound_of(asked: DayProblem) -> LeastCost:
    """The bound of all runs of a day."""
    day = open_day(asked)
    return least_cost(day.evaluator, day.work.jobs)


def exact_of(asked: DayProblem) -> float:
    """The cost of the cheapest order of all."""
    day = open_day(asked)
    return cheapest_cents100(day.evaluator, day.work.jobs)


@pytest.mark.parametrize("start", ["clean", "dirty", "unknown"])
@pytest.mark.parametrize("seed", range(6))
def test_no_order_of_a_small_random_day_is_below_the_bound(seed: int, start: str):
    """Random mills with limits of all kinds: the cheapest of all orders costs the bound or more."""
    asked = random_day(seed, orders=4, batches=8, start=start)
    least, best = bound_of(asked), exact_of(asked)
    assert 0 <= least.total_cents100 <= best


def hard_day(seed: int) -> DayProblem:
    """Five orders of the made-up mill with due times that pull against their residues."""
    chance = random.Random(seed)
    orders = tuple(
        wanted(
            str(number),
            chance.choice(PRODUCTS),
            chance.randrange(1000, 5000, 250),
            due_h=chance.choice((0.5, 1.0, 2.0, 12.0)),
            entered_h=-chance.random() * 24,
        )
        for number in range(5)
    )
    return problem(*orders, starting=() if seed % 2 else None)


@pytest.mark.parametrize("seed", range(8))
def test_no_order_of_a_hurried_day_is_below_the_bound(seed: int):
    """Due times that cannot all be met: the bound has some of the lateness and is never above."""
    asked = hard_day(seed)
    least, best = bound_of(asked), exact_of(asked)
    assert 0 < least.total_cents100 <= best


def flushed_mill() -> Mill:
    """The made-up mill with one way for all, and declared flushes alone between feeds."""
    flush_kg = {"SHEEP": 250.0, "LAYER": 350.0}
    mill = planning_mill(
        limits=tuple(
            Limit(
                product=product, substance="monensin", kind="procedure", flush_kg=kg, source="test"
            )
            for product, kg in flush_kg.items()
        )
    )
    return dataclasses.replace(
        mill,
        products=tuple(
            dataclasses.replace(row, route="MX1 > FB1 > LO1", die="") for row in mill.products
        ),
        machines=tuple(dataclasses.replace(row, clean_out_s=9000) for row in mill.machines),
    )


def flush_usd(mill: Mill, mass_kg: float) -> float:
    """Barley and the crew's time, reckoned from the tables: 205 USD/t, 60 USD/h."""
    mixer = mill.machine_by_code["MX1"]
    crew_h = (mixer.fill_s + mixer.dry_mix_s + mixer.discharge_s) / 3600
    return (mass_kg + 1.0) / 1000 * 205.0 + crew_h * 60.0


def test_a_flush_that_no_order_avoids_is_in_the_bound():
    """Machines of which nothing is known, a sheep and a layer feed: 250 kg must pass once. The bound
    is what the cheapest order costs, to the cent: 250 kg first, then layers need no more.
    """
    mill = flushed_mill()
    orders = (
        wanted("1", "SHEEP", 1000, pack="bulk", due_h=14),
        wanted("2", "LAYER", 1000, pack="bulk", due_h=14),
    )
    asked = problem(*orders, mill=mill, starting=())
    least, best = bound_of(asked), exact_of(asked)
    assert best == pytest.approx((flush_usd(mill, 250) + 60 * 180 / 3600) * CENTS100_USD, abs=2)
    assert least.total_cents100 == pytest.approx(best, abs=5)


def test_changeovers_and_dies_that_no_order_avoids_are_in_the_bound():
    """Three pellet feeds with two dies and three mashes, clean machines, no hurry: the bound is the
    cost of the cheapest order.
    """
    mill = planning_mill(limits=())
    orders = [
        wanted(str(number), product, 2000, due_h=14, pack=pack)
        for number, (product, pack) in enumerate(
            [("SHEEP", "bags"), ("PIG-CU", "bags"), ("LAYER", "bags"), ("BEEF-M", "bags")]
        )
    ]
    asked = problem(*orders, mill=mill, starting=clean_start(mill))
    least, best = bound_of(asked), exact_of(asked)
    assert least.total_cents100 == pytest.approx(best, abs=5)
    assert least.late_cents100 == 0


def test_lateness_that_no_order_avoids_is_in_the_bound():
    """An order due before the mill begins is late by its own batches; two by more than that."""
    mill = planning_mill(limits=())
    one = problem(wanted("1", "LAYER", 4000, due_h=0.0), mill=mill)
    day = open_day(one)
    alone = least_late_cents100(day.evaluator, day.work.jobs)
    assert alone == pytest.approx(plan_runs(one).costs.late_cents100, rel=1e-3)
    many = [wanted(str(number), "LAYER", 4000, due_h=0.0) for number in range(4)]
    all_of = open_day(problem(*many, mill=mill))
    together = least_late_cents100(all_of.evaluator, all_of.work.jobs)
    assert together > 4.5 * alone
    assert together <= plan_runs(problem(*many, mill=mill)).costs.late_cents100 + 2


def test_no_runs_cost_nothing():
    """A day without runs has a bound of nothing."""
    day = open_day(problem())
    assert least_cost(day.evaluator, day.work.jobs).total_cents100 == 0


@pytest.mark.parametrize("seed", range(40, 46))
def test_a_random_day_never_costs_less_than_its_bound(seed: int):
    """Twelve orders of a random mill: the plan says what it costs at least, and costs that or more."""
    costs = plan_runs(random_day(seed, orders=12, evaluations=30)).costs
    assert 0 < costs.least_possible_cents100 <= costs.running_cents100
