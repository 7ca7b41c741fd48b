"""More limits never make a plan cheaper, and another order of the tables hardly changes its cost.

Random mills and days. A plan that leaves an order out would be cheap for the wrong reason, so
costs are compared only of plans that make every order: each small day here makes all of them
without the limits added, and a plan that leaves one out because of them counts as dearer than any.
What only decides between equals (the tie) is no cost.
"""

import dataclasses
import functools
import math
import random

import pytest

from bedstone.mill.contents import contents_of
from bedstone.mill.model import Limit, Mill
from bedstone.planning.day import open_day, plan_runs
from bedstone.planning.model import DayProblem
from bedstone.planning.sequence import search
from fakes.every_order import cheapest_cents100, cost_cents100
from fakes.random_days import random_day
from fakes.random_mill import DRUGS

KINDS = ("level", "procedure", "clean-out", "never")
ORDERS = 5
DAYS = range(4, 18)
FELT_LEAST = 4  # days of a kind of limit on which it must be felt, or nothing is tried
TRIES = 2_000  # of the search of a small day
CENT_CENTS100 = 100  # what rounding may add up to
SPREAD_FRAC = 0.02
USUAL_TRIES = 20_000
TABLES = ("machines", "limits", "routes")


@functools.cache
def small_day(seed: int) -> DayProblem:
    """Five orders, few enough to try every order of running, of a mill without limits of a drug.

    The drug is one that goes into some of the ordered feeds, if there is such a one; the mill's
    limits of everything else hold. Half of the days start clean.
    """
    start = "clean" if seed % 2 == 0 else None
    day = random_day(seed, orders=ORDERS, batches=2 * ORDERS, start=start)
    drug = drug_of(day, seed)
    limits = tuple(row for row in day.mill.limits if row.substance != drug)
    return dataclasses.replace(day, mill=dataclasses.replace(day.mill, limits=limits), seed=seed)


def drug_of(asked: DayProblem, seed: int) -> str:
    """The drug of a day whose limits are tried."""
    brought = {name for row in held_by(asked).values() for name in DRUGS if row.get(name)}
    return random.Random(f"drug {seed}").choice(sorted(brought) or DRUGS)


def held_by(asked: DayProblem) -> dict[str, dict[str, float]]:
    """What each ordered feed contains [mg/kg]."""
    codes = sorted({row.order.product for row in asked.orders})
    return {code: contents_of(asked.mill, code) for code in codes}


def with_limits_more(asked: DayProblem, kind: str) -> DayProblem:
    """The day with a limit more of its drug for each ordered feed that is made without the drug."""
    chance = random.Random(f"limit {kind} {asked.seed}")
    drug = drug_of(asked, asked.seed)
    limits = [
        Limit(
            product=code,
            substance=drug,
            kind=kind,
            level_mg_kg=chance.choice((0.1, 0.5, 2.0)) if kind == "level" else None,
            flush_kg=float(chance.randrange(100, 1500, 50)) if kind == "procedure" else None,
            source="mill policy",
        )
        for code, held in held_by(asked).items()
        if not held.get(drug)
    ]
    changed = dataclasses.replace(asked.mill, limits=(*asked.mill.limits, *limits))
    return dataclasses.replace(asked, mill=changed)


def searched(asked: DayProblem) -> float:
    """The cost of the plan found by search; without end if it leaves an order out."""
    day = open_day(asked)
    found = search(day.evaluator, day.work.jobs, evaluations=TRIES, seed=asked.seed)
    if found.out or day.work.left_out:
        return math.inf
    return cost_cents100(found.steps[-1])


def cheapest_of_all(asked: DayProblem, *, below: float) -> float:
    """The cost of the best of all orders of running that make every order, ``below`` at most."""
    day = open_day(asked)
    if day.work.left_out:
        return below
    return cheapest_cents100(day.evaluator, day.work.jobs, below=below)


@functools.cache
def cheapest_without(seed: int) -> float:
    """The cost of the best of all orders of running of a small day, without the limits added."""
    return cheapest_of_all(small_day(seed), below=searched(small_day(seed)) + CENT_CENTS100)


@pytest.mark.parametrize("seed", DAYS)
@pytest.mark.parametrize("kind", KINDS)
def test_the_cheapest_of_all_orders_is_no_cheaper_with_more_limits(kind: str, seed: int):
    """Every order of running tried with it: none costs less than the best of all without it."""
    fewer = cheapest_without(seed)
    assert fewer < math.inf  # all orders are made without it
    least = fewer - CENT_CENTS100
    assert cheapest_of_all(with_limits_more(small_day(seed), kind), below=least) == least


@pytest.mark.parametrize("kind", KINDS)
def test_a_searched_plan_with_more_limits_is_no_cheaper_than_the_cheapest_without(kind: str):
    """On no day is it; and on some they are felt: dearer, or an order less."""
    felt = 0
    for seed in DAYS:
        more, fewer = searched(with_limits_more(small_day(seed), kind)), cheapest_without(seed)
        assert more >= fewer - CENT_CENTS100, seed
        felt += more > fewer + CENT_CENTS100
    assert felt >= FELT_LEAST


def usual_day(seed: int) -> DayProblem:
    """Twelve to twenty orders, of every second day larger ones; as many tries as are usual."""
    orders = 12 + seed % 9
    mean = 5 if seed % 2 else 3
    return random_day(seed, orders=orders, batches=mean * orders, evaluations=USUAL_TRIES)


def other_rows(mill: Mill, chance: random.Random) -> Mill:
    """The same mill with the rows of its machines, limits and routes in another order."""
    rows = {name: getattr(mill, name) for name in TABLES}
    return dataclasses.replace(
        mill, **{name: tuple(chance.sample(its, len(its))) for name, its in rows.items()}
    )


@pytest.mark.parametrize("seed", range(103, 108))
def test_orders_written_in_another_order_make_the_same_plan(seed: int):
    """The planner sorts them itself: not one run, time or cost is another."""
    asked = usual_day(seed)
    orders = tuple(random.Random(seed).sample(asked.orders, len(asked.orders)))
    assert orders != asked.orders
    assert plan_runs(dataclasses.replace(asked, orders=orders)) == plan_runs(asked)


@pytest.mark.parametrize("seed", range(103, 115))
def test_tables_written_in_another_order_cost_no_more_than_a_seed_does(seed: int):
    """Machines, limits, routes and orders shuffled: as many left out, running costs within 2 %."""
    asked = usual_day(seed)
    chance = random.Random(seed)
    mixed = dataclasses.replace(
        asked,
        mill=other_rows(asked.mill, chance),
        orders=tuple(chance.sample(asked.orders, len(asked.orders))),
    )
    one, other = plan_runs(asked), plan_runs(mixed)
    assert len(one.left_out) == len(other.left_out)
    costs = one.costs.running_cents100, other.costs.running_cents100
    assert abs(costs[0] - costs[1]) <= SPREAD_FRAC * min(costs) + CENT_CENTS100
