"""Price ranges where odds are in, by solving again."""

from dataclasses import replace

import pytest

from bedstone.formulation.least_cost import least_cost
from bedstone.formulation.model import FormulaProblem
from bedstone.formulation.odds_ranges import MOVES_FRAC, with_ranges
from bedstone.formulation.whatif import with_price
from fakes.formulas import random_problem


def moved(problem: FormulaProblem, code: str, price_usd_t: float) -> float:
    """How far the share that moves most goes, if one price is another."""
    before, after = (
        least_cost(problem).shares,
        least_cost(with_price(problem, code, price_usd_t)).shares,
    )
    return max(abs(before.get(one, 0.0) - after.get(one, 0.0)) for one in {*before, *after})


@pytest.mark.parametrize("seed", range(3))
def test_each_end_holds_just_inside_and_not_just_outside(seed: int) -> None:
    """Solved afresh, shares move less than the limit just inside each end and more just outside."""
    problem = random_problem(seed, size=12, nutrients=8, odds=4)
    answer = with_ranges(problem, least_cost(problem))
    ends = 0
    for row in answer.ingredients:
        if row.share_frac <= 0 or row.stays_usd_t is None:
            continue
        for end, out in ((row.stays_usd_t.low, -1), (row.stays_usd_t.high, 1)):
            if end is None:
                continue
            ends += 1
            assert moved(problem, row.code, end) <= MOVES_FRAC + 1e-6
            assert moved(problem, row.code, end + out * 2e-3 * row.price_usd_t) > MOVES_FRAC
    assert ends > 3
    assert "moves by more than 0.5 %" in answer.notes[-1]


@pytest.mark.parametrize("seed", range(3))
def test_an_entering_price_is_where_it_comes_in(seed: int) -> None:
    """Just below its entering price an unused ingredient is used, just above it is not."""
    problem = random_problem(seed, size=12, nutrients=8, odds=4)
    answer = with_ranges(problem, least_cost(problem))
    told = [row for row in answer.ingredients if row.share_frac <= 0 and row.enters_usd_t]
    assert told
    for row in told:
        assert row.enters_usd_t is not None
        above = with_price(problem, row.code, row.enters_usd_t + 3e-3 * row.price_usd_t)
        below = with_price(problem, row.code, row.enters_usd_t - 3e-3 * row.price_usd_t)
        assert least_cost(above).shares.get(row.code, 0.0) < 1e-5
        if row.enters_usd_t > 3e-3 * row.price_usd_t:
            assert least_cost(below).shares.get(row.code, 0.0) > 0


def test_what_a_choice_left_out_has_the_price_at_which_it_is_chosen() -> None:
    """With at most so many ingredients, the price at which another would be chosen is tried both ways."""
    problem = replace(random_problem(1, size=10, nutrients=4), ingredients_max=4)
    answer = with_ranges(problem, least_cost(problem))
    left = [row for row in answer.ingredients if not row.chosen and row.enters_usd_t]
    assert left
    for row in left[:3]:
        assert row.enters_usd_t is not None
        above = with_price(problem, row.code, row.enters_usd_t + 3e-3 * row.price_usd_t)
        below = with_price(problem, row.code, row.enters_usd_t - 3e-3 * row.price_usd_t)
        assert row.code not in least_cost(above).shares
        assert row.code in least_cost(below).shares


def test_an_answer_without_odds_is_given_back() -> None:
    """Exact ranges are not looked for again."""
    problem = random_problem(0, size=12, nutrients=8)
    answer = least_cost(problem)
    assert with_ranges(problem, answer) is answer
