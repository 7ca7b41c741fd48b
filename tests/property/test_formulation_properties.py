"""What holds of every formula: more demands never cost less, odds neither, prices scale the cost."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bedstone.errors import NoAnswer
from bedstone.formulation.judging import judged
from bedstone.formulation.least_cost import least_cost
from fakes.formulas import random_problem

SEEDS = st.integers(0, 10_000)
FEW = settings(max_examples=25, deadline=None)


def small(seed: int, odds: int = 0):
    """A random problem of a size that is solved at once."""
    return random_problem(seed, size=8, nutrients=5, odds=odds)


@given(SEEDS)
@FEW
def test_a_demand_more_never_lowers_the_cost(seed: int) -> None:
    """Without its last demand a formula costs no more."""
    asked = small(seed)
    fewer = replace(asked, requirements=asked.requirements[:-1])
    assert least_cost(fewer).cost_usd_t <= least_cost(asked).cost_usd_t + 1e-7


@given(SEEDS)
@FEW
def test_surer_odds_never_cost_less(seed: int) -> None:
    """With odds of 80 % a formula costs no more than with 95 %, and the mean no more than that."""
    asked = small(seed, odds=2)
    costs = []
    for frac in (None, 0.8, 0.95):
        rows = tuple(
            replace(row, odds_frac=frac if row.odds_frac else None) for row in asked.requirements
        )
        costs.append(least_cost(replace(asked, requirements=rows)).cost_usd_t)
    assert costs == sorted(costs) or costs == pytest.approx(sorted(costs), abs=1e-6)


@given(SEEDS, st.floats(0.1, 10))
@FEW
def test_prices_scale_the_cost(seed: int, factor: float) -> None:
    """All prices times a factor is the cost times it."""
    asked = small(seed)
    scaled = tuple(
        replace(item, price_usd_t=item.price_usd_t * factor) for item in asked.ingredients
    )
    again = least_cost(replace(asked, ingredients=scaled)).cost_usd_t
    assert again == pytest.approx(factor * least_cost(asked).cost_usd_t, rel=1e-8)


@given(SEEDS)
@FEW
def test_the_answer_keeps_every_demand_when_judged_apart(seed: int) -> None:
    """The shares of an answer, judged as a given formula, keep each demand; they add up to one."""
    asked = small(seed, odds=2)
    try:
        answer = least_cost(asked)
    except NoAnswer:
        return
    assert sum(answer.shares.values()) == pytest.approx(1.0, abs=1e-8)
    for line in judged(asked, answer.shares):
        for slack in (line.slack_min, line.slack_max):
            assert slack is None or slack >= -1e-6 * max(1.0, abs(line.expected))
