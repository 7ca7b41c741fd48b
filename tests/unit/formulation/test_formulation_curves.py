"""Curves against a price or a limit, and two formulas side by side."""

import itertools
from dataclasses import replace

import numpy as np
import pytest

from bedstone.errors import BadInput, NoAnswer, Unknown
from bedstone.formulation.answers import Side
from bedstone.formulation.curves import CurvePoint, compare, limit_curve, price_curve
from bedstone.formulation.least_cost import least_cost
from bedstone.formulation.whatif import with_limit, with_price
from bedstone.formulation.words import requirement_demand
from fakes.formulas import ingredient, need, problem, random_problem

CORN = ingredient("CORN", 180.0, protein=8.0)
MEAL = ingredient("MEAL", 400.0, protein=48.0)


def cost_on(curve: tuple[CurvePoint, ...], price: float) -> float:
    """Cost by straight lines between a curve's points."""
    return float(np.interp(price, [point.at for point in curve], [p.cost_usd_t for p in curve]))


@pytest.mark.parametrize("kind", [{}, {"odds": 3}, {"few": 4}], ids=["plain", "odds", "choices"])
@pytest.mark.parametrize("seed", range(3))
def test_a_price_curve_is_what_solving_again_says(seed: int, kind: dict) -> None:
    """Anywhere between its corners the curve is the cost; it rises and bends down."""
    few = kind.get("few")
    asked = random_problem(
        seed, slack=0.5 if few else 0.1, **{k: v for k, v in kind.items() if k != "few"}
    )
    if few:
        wide = tuple(replace(item, max_frac=1.0) for item in asked.ingredients)
        asked = replace(
            asked, ingredients=wide, requirements=asked.requirements[:4], ingredients_max=few
        )
    used = max(least_cost(asked).ingredients, key=lambda row: row.share_frac)
    high = 2 * used.price_usd_t
    curve = price_curve(asked, used.code, low_usd_t=0.0, high_usd_t=high)
    assert curve[0].at == 0.0
    assert curve[-1].at == high
    shares = [point.share_frac for point in curve]
    assert all(a >= b - 1e-6 for a, b in itertools.pairwise(shares))
    for price in np.linspace(0, high, 15):
        exact = least_cost(with_price(asked, used.code, float(price))).cost_usd_t
        close = 1e-4 if kind.get("odds") else 1e-7
        assert cost_on(curve, price) == pytest.approx(exact, rel=close)


def test_a_curve_of_two_ingredients_has_no_corner() -> None:
    """Where the formula cannot change the curve is one straight line."""
    curve = price_curve(
        problem([CORN, MEAL], [need("protein", 16.0, 16.0)]),
        "MEAL",
        low_usd_t=100.0,
        high_usd_t=900.0,
    )
    assert len(curve) == 2
    assert curve[1].cost_usd_t - curve[0].cost_usd_t == pytest.approx(0.2 * 800)


def test_a_curve_is_refused_for_nothing() -> None:
    """No such ingredient, no range, nothing that fits."""
    asked = problem([CORN, MEAL], [need("protein", 16.0)])
    with pytest.raises(Unknown):
        price_curve(asked, "RYE", low_usd_t=0.0, high_usd_t=1.0)
    with pytest.raises(BadInput):
        price_curve(asked, "CORN", low_usd_t=5.0, high_usd_t=5.0)
    with pytest.raises(NoAnswer):
        price_curve(
            problem([CORN, MEAL], [need("protein", 60.0)]), "CORN", low_usd_t=0.0, high_usd_t=9.0
        )


def test_a_limit_curve_is_solved_at_each_value() -> None:
    """Cost rises with a minimum, and is none where nothing fits."""
    asked = problem([CORN, MEAL], [need("protein", 16.0)])
    demand = requirement_demand(asked.requirements[0], Side.MIN, 16.0)
    curve = limit_curve(asked, demand, [8.0, 16.0, 48.0, 49.0])
    assert [point.cost_usd_t for point in curve] == pytest.approx([180.0, 224.0, 400.0, None])
    for point in curve[:3]:
        again = least_cost(with_limit(asked, demand, point.at)).cost_usd_t
        assert point.cost_usd_t == pytest.approx(again)
    with pytest.raises(Unknown):
        limit_curve(asked, replace(demand, code="ash"), [1.0])


def test_two_formulas_side_by_side() -> None:
    """Cost, shares and levels of both, and their change."""
    first = least_cost(problem([CORN, MEAL], [need("protein", 16.0)]))
    second = least_cost(problem([CORN, MEAL], [need("protein", 20.0)]))
    lines = {line.what: line for line in compare(first, second)}
    assert lines["cost"].change == pytest.approx(22.0)
    assert lines["MEAL"].change == pytest.approx(0.1)
    assert (lines["protein"].first, lines["protein"].second) == pytest.approx((16.0, 20.0))
