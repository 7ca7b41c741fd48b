"""What a better search must not break: more limits, and the same day written in another order."""

import dataclasses
import itertools
import random

import pytest

from bedstone.mill.contents import contents_of
from bedstone.mill.model import Limit, Mill
from bedstone.planning.compiled.step import MISSING_CENTS100
from bedstone.planning.day import open_day, plan_runs
from bedstone.planning.model import DayProblem, OrderToMake
from bedstone.planning.swift import Swift
from fakes.planning_mill import PRODUCTS, planning_mill, problem, wanted
from fakes.random_days import random_day

CENT_CENTS100 = 100


def a_limit(chance: random.Random) -> Limit:
    """Any limit that the feeds of a species keep by themselves."""
    species = chance.choice(sorted({row[0] for row in PRODUCTS.values()}))
    substance = chance.choice(("copper", "monensin", "corn"))
    own = max(
        contents_of(planning_mill(), code).get(substance, 0.0)
        for code, row in PRODUCTS.items()
        if row[0] == species
    )
    kind = chance.choice(("level",) if own > 0 else ("level", "procedure", "clean-out"))
    most = 1_000_000.0 if substance == "corn" else 200.0
    return Limit(
        species=species,
        substance=substance,
        kind=kind,
        level_mg_kg=own + most * chance.uniform(0.002, 0.3) if kind == "level" else None,
        flush_kg=float(chance.randint(50, 2500)) if kind == "procedure" else None,
        source="mill policy",
    )


def some_orders(chance: random.Random) -> list[OrderToMake]:
    """Three or four orders of any products."""
    return [
        wanted(
            str(4100 + number),
            chance.choice(sorted(PRODUCTS)),
            float(chance.randint(300, 6000)),
            due_h=chance.uniform(4, 14),
        )
        for number in range(chance.randint(3, 4))
    ]


def cheapest_of_all(asked: DayProblem) -> float:
    """The cost of the best of all orders of running, each order left out counted."""
    day = open_day(asked)
    swift = Swift(day.evaluator, day.work.jobs)
    costs = [
        swift.set_order(list(zip(jobs, options, strict=True)))
        for jobs in itertools.permutations(day.work.jobs)
        for options in itertools.product(*(job.options for job in jobs))
    ]
    return min(costs) + len(day.work.left_out) * MISSING_CENTS100


@pytest.mark.parametrize("seed", range(40))
def test_one_limit_more_never_makes_a_day_cheaper(seed: int):
    """Of small days of which every order of running is tried: the best costs no less with it."""
    chance = random.Random(seed)
    orders = some_orders(chance)
    limits = tuple(a_limit(chance) for _ in range(chance.randint(1, 4)))
    starting = chance.choice([(), None])
    fewer, more = (
        cheapest_of_all(problem(*orders, mill=planning_mill(limits=these), starting=starting))
        for these in (limits, (*limits, a_limit(chance)))
    )
    assert more >= fewer - CENT_CENTS100


def shuffled(mill: Mill, chance: random.Random) -> Mill:
    """The same mill with the rows of its tables in another order."""
    tables = (
        "bins",
        "machines",
        "routes",
        "limits",
        "ingredients",
        "products",
        "contents",
        "rates",
    )
    return dataclasses.replace(
        mill,
        **{
            name: tuple(chance.sample(rows, len(rows)))
            for name in tables
            if (rows := getattr(mill, name))
        },
    )


@pytest.mark.parametrize("seed", range(1, 9))
def test_the_same_day_written_in_another_order_costs_the_same(seed: int):
    """Orders and tables shuffled: the plan found costs the same within 2 %, and leaves as many out."""
    asked = random_day(seed, orders=12, evaluations=30_000)
    chance = random.Random(seed)
    mixed = dataclasses.replace(
        asked,
        mill=shuffled(asked.mill, chance),
        orders=tuple(chance.sample(asked.orders, len(asked.orders))),
        stock_mg=dict(chance.sample(sorted(asked.stock_mg.items()), len(asked.stock_mg))),
    )
    one, other = plan_runs(asked), plan_runs(mixed)
    assert len(one.left_out) == len(other.left_out)
    spread = abs(one.costs.running_cents100 - other.costs.running_cents100)
    assert spread <= 0.02 * max(one.costs.running_cents100, 1) + CENT_CENTS100
