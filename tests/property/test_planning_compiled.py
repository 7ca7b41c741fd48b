"""The compiled evaluator walks any order of any day to what the plain evaluator walks it to."""

import random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bedstone.planning.day import OpenDay, open_day
from bedstone.planning.evaluate import Item
from bedstone.planning.floor import DoesNotFit
from bedstone.planning.model import DayProblem
from bedstone.planning.swift import Swift
from fakes.any_day import days
from fakes.random_days import random_day

COSTS = ("flush", "changeover", "clean_out", "late", "tie")


def plainly(day: OpenDay, items: list[Item]) -> tuple[list[float], int]:
    """Costs part by part, and how many orders find no place, by the plain evaluator."""
    step, missing = day.evaluator.opening, 0
    for job, option in items:
        try:
            step = day.evaluator.step(step, job, option)
        except DoesNotFit:
            missing += job.order is not None
    return [getattr(step.costing, name) for name in COSTS], missing


def agree(day: OpenDay, swift: Swift, items: list[Item]) -> None:
    """Both evaluators come to the same costs and to the same number of orders without a place."""
    swift.set_order(items)
    *costs, _ = swift.costs()
    expected, missing = plainly(day, items)
    assert swift.missing == missing
    assert costs == pytest.approx(expected, rel=1e-9, abs=1e-6)


def any_order(day: OpenDay, chance: random.Random) -> list[Item]:
    """All runs in any order, each by any of its options."""
    jobs = list(day.work.jobs)
    chance.shuffle(jobs)
    return [(job, chance.choice(job.options)) for job in jobs]


@given(days(), st.integers(0, 2**31))
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_both_evaluators_agree_on_any_mill_and_day(asked: DayProblem, seed: int):
    """Small mills of every kind: limits, hold-ups, shifts, stock, what the machines hold."""
    day = open_day(asked)
    if not day.work.jobs:
        return
    swift = Swift(day.evaluator, day.work.jobs)
    chance = random.Random(seed)
    for _ in range(3):
        agree(day, swift, any_order(day, chance))


@pytest.mark.parametrize("seed", range(1, 13))
def test_both_evaluators_agree_on_a_day_of_forty_orders(seed: int):
    """Days of the size that is planned: any order, and what the search makes of it."""
    day = open_day(random_day(seed))
    swift = Swift(day.evaluator, day.work.jobs, seed=seed)
    chance = random.Random(seed)
    for _ in range(3):
        agree(day, swift, any_order(day, chance))
    swift.anneal(1500, hot=1e6, cold=1e3)
    found, cost = swift.items(best=True), swift.best_cost
    assert swift.set_order(found) == pytest.approx(cost, rel=1e-12)
    agree(day, swift, found)


@pytest.mark.parametrize("seed", [3, 8])
def test_what_was_tried_before_leaves_nothing_behind(seed: int):
    """The same order costs the same after thousands of others, bit for bit."""
    day = open_day(random_day(seed))
    chance = random.Random(seed)
    items = any_order(day, chance)
    fresh, used = (Swift(day.evaluator, day.work.jobs) for _ in range(2))
    used.set_order(any_order(day, chance))
    used.anneal(3000, hot=1e6, cold=1e3)
    assert used.set_order(items) == fresh.set_order(items)
    assert used.costs() == fresh.costs()


def test_the_cost_kept_along_the_search_is_that_of_the_order_walked_anew():
    """Walking from where two orders differ comes to what walking all of it comes to."""
    day = open_day(random_day(5))
    swift = Swift(day.evaluator, day.work.jobs, seed=5)
    swift.set_order(any_order(day, random.Random(5)))
    for _ in range(40):
        swift.anneal(50, hot=1e6, cold=1e6)
        kept = swift.cost
        assert swift.set_order(swift.items()) == kept
