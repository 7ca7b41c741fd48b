"""Demands kept with odds: two solvers agree, lots go together, care has its price, tags their odds."""

from dataclasses import replace
from statistics import NormalDist

import numpy as np
import pytest

from bedstone.errors import NoAnswer, Unknown
from bedstone.formulation.answers import Side, Way
from bedstone.formulation.arrays import compile_problem
from bedstone.formulation.cone_check import cone_cost
from bedstone.formulation.least_cost import least_cost
from bedstone.formulation.margins import care_cost
from bedstone.formulation.model import Basis, Correlation, NutrientLevel
from bedstone.formulation.optimum import optimum
from bedstone.formulation.tag_odds import SampleError, permitted_deviation, tag_odds
from bedstone.formulation.warm import WarmFormula, solve_again
from bedstone.formulation.whatif import with_level
from fakes.formula_certificate import prove
from fakes.formulas import ingredient, need, problem, random_problem

CORN = ingredient("CORN", 180.0, protein=(8.0, 0.5), dry_matter_frac=0.86, dry_matter_sd=0.01)
MEAL = ingredient("MEAL", 400.0, protein=(48.0, 1.5), dry_matter_frac=0.9, dry_matter_sd=0.01)
Z = NormalDist().inv_cdf(0.95)


@pytest.mark.parametrize("seed", range(10))
@pytest.mark.parametrize("kind", [{"odds": 5}, {"odds": 3, "cv": 0.2}], ids=["plain", "wide"])
def test_cutting_planes_agree_with_an_interior_point_method(seed: int, kind: dict) -> None:
    """Cost by cuts in one solver is that by cones in another, to a ten millionth."""
    compiled = compile_problem(random_problem(seed, **kind))
    found, second = optimum(compiled), cone_cost(compiled)
    if found is None:
        assert second is None
        return
    assert found.point.cost == pytest.approx(second, rel=1e-7)


@pytest.mark.parametrize("seed", range(5))
def test_the_two_agree_where_lots_go_together(seed: int) -> None:
    """The same with correlated lots and limits in dry matter with odds."""
    asked = random_problem(seed, odds=4)
    rows = list(asked.requirements)
    rows[0] = replace(
        rows[0],
        basis=Basis.DRY_MATTER,
        minimum=rows[0].minimum and rows[0].minimum / 0.9,
        maximum=rows[0].maximum and rows[0].maximum / 0.9,
    )
    items = tuple(replace(item, dry_matter_sd=0.01) for item in asked.ingredients)
    pairs = [
        Correlation(first=(f"I{a}", "n1"), second=(f"I{b}", "n1"), r=0.3)
        for a in range(6)
        for b in range(a)
    ]
    pairs.append(Correlation(first=("I0", "n0"), second=("I0", "dry matter"), r=0.5))
    compiled = compile_problem(
        replace(asked, ingredients=items, requirements=tuple(rows), correlations=tuple(pairs))
    )
    found, second = optimum(compiled), cone_cost(compiled)
    assert (found is None) == (second is None)
    if found is not None:
        assert found.point.cost == pytest.approx(second, rel=1e-7)


def test_odds_of_two_ingredients_by_hand() -> None:
    """The share solves mean - 1.645 sd = limit, and the answer gives expected, sd and odds."""
    asked = problem([CORN, MEAL], [need("protein", 16.0, odds_frac=0.95)])
    answer = least_cost(asked)
    share = answer.shares["MEAL"]
    mean = 8 + 40 * share
    sd = ((0.5 * (1 - share)) ** 2 + (1.5 * share) ** 2) ** 0.5
    assert mean - Z * sd == pytest.approx(16.0)
    line = answer.limits[0]
    assert (line.expected, line.sd) == pytest.approx((mean, sd))
    assert line.odds_min_frac == pytest.approx(0.95)
    assert line.slack_min == pytest.approx(0.0, abs=1e-7)
    assert line.binding is Side.MIN
    assert answer.way is Way.ODDS
    prove(asked)


def test_few_assays_widen_the_spread() -> None:
    """With four assays behind the mean the next lot is reckoned with sd * sqrt(5/4)."""
    few = replace(MEAL, levels={"protein": NutrientLevel(mean=48.0, sd=1.5, unit="%", assays=4)})
    many = least_cost(problem([CORN, MEAL], [need("protein", 16.0, odds_frac=0.95)]))
    asked = problem([CORN, few], [need("protein", 16.0, odds_frac=0.95)])
    answer = least_cost(asked)
    share = answer.shares["MEAL"]
    sd = ((0.5 * (1 - share)) ** 2 + 1.25 * (1.5 * share) ** 2) ** 0.5
    assert answer.limits[0].sd == pytest.approx(sd)
    assert answer.cost_usd_t > many.cost_usd_t


def test_lots_that_go_together_cost_more() -> None:
    """Lots that err the same way leave more spread than independent ones, and cost more."""
    asked = problem([CORN, MEAL], [need("protein", 16.0, odds_frac=0.95)])
    pair = Correlation(first=("CORN", "protein"), second=("MEAL", "protein"), r=0.8)
    together = least_cost(replace(asked, correlations=(pair,)))
    share = together.shares["MEAL"]
    a, b = 0.5 * (1 - share), 1.5 * share
    assert together.limits[0].sd == pytest.approx((a * a + b * b + 1.6 * a * b) ** 0.5)
    assert together.cost_usd_t > least_cost(asked).cost_usd_t


def test_even_odds_are_the_expected_value() -> None:
    """Odds of one half ask the expected value alone."""
    even = problem([CORN, MEAL], [need("protein", 16.0, odds_frac=0.5)])
    plain = problem([CORN, MEAL], [need("protein", 16.0)])
    assert least_cost(even).cost_usd_t == pytest.approx(least_cost(plain).cost_usd_t)


def test_choices_with_odds_are_the_best_of_all() -> None:
    """At most two ingredients with odds: the cheaper of the pairs that can do it."""
    oats = ingredient("OATS", 150.0, protein=(11.0, 0.2))
    asked = problem([CORN, MEAL, oats], [need("protein", 16.0, odds_frac=0.95)])
    few = replace(asked, ingredients_max=2)
    pairs = [replace(asked, ingredients=pair) for pair in ((CORN, MEAL), (oats, MEAL))]
    best = min(least_cost(pair).cost_usd_t for pair in pairs)
    assert least_cost(few).cost_usd_t == pytest.approx(best, rel=1e-7)


def test_a_lot_that_assays_differently_is_solved_again() -> None:
    """Better meal makes the formula cheaper, worse meal dearer."""
    asked = problem([CORN, MEAL], [need("protein", 16.0, odds_frac=0.95)])
    costs = [
        least_cost(
            with_level(asked, "MEAL", "protein", NutrientLevel(mean=mean, sd=0.5, unit="%"))
        ).cost_usd_t
        for mean in (49.0, 47.0, 45.0)
    ]
    assert costs == sorted(costs)
    with pytest.raises(Unknown):
        with_level(asked, "RYE", "protein", NutrientLevel(mean=1.0, unit="%"))


@pytest.mark.parametrize("seed", range(4))
def test_what_care_costs(seed: int) -> None:
    """Odds cost no less than expected values and no more than a flat margin with the same odds."""
    asked = random_problem(seed, odds=4)
    care = care_cost(asked)
    assert care.expected_only_usd_t <= care.with_odds_usd_t + 1e-9
    if care.with_margin_usd_t is None:
        return
    assert care.with_odds_usd_t <= care.with_margin_usd_t + 1e-6
    rows = tuple(
        replace(
            row,
            odds_frac=None,
            minimum=row.minimum and row.minimum * (1 + care.margin_frac),
            maximum=row.maximum and row.maximum * (1 - care.margin_frac),
        )
        if row.odds_frac
        else row
        for row in asked.requirements
    )
    flat = least_cost(replace(asked, requirements=rows))
    assert flat.cost_usd_t == pytest.approx(care.with_margin_usd_t, rel=1e-9)


def test_care_that_nothing_fits_is_told() -> None:
    """Where nothing fits with the odds asked, the error says which demands clash."""
    asked = problem([CORN, MEAL], [need("protein", 47.9, odds_frac=0.95)])
    with pytest.raises(NoAnswer, match=r"protein at least 47\.9"):
        care_cost(asked)


def test_a_guarantee_before_an_inspector() -> None:
    """One sample passes within the permitted deviation, its errors added to the spread of lots."""
    answer = least_cost(problem([CORN, MEAL], [need("protein", 16.0, odds_frac=0.95)]))
    error = SampleError(sampling_sd=0.3, assay_sd=0.2)
    (tag,) = tag_odds(answer.limits[0], "crude protein", rule="nevada", error=error)
    assert tag.deviation == 0.6
    spread = (tag.sd**2 + 0.3**2 + 0.2**2) ** 0.5
    assert tag.keeps_frac == pytest.approx(0.95)
    assert tag.passes_frac == pytest.approx(NormalDist().cdf((tag.expected - 15.4) / spread))
    high = replace(answer.limits[0], minimum=None, maximum=17.0)
    (top,) = tag_odds(high, "selenium", rule="florida", error=error)
    assert top.deviation == 0.0
    assert "does not name selenium" in top.source
    assert top.passes_frac == pytest.approx(NormalDist().cdf((17.0 - top.expected) / spread))
    with pytest.raises(Unknown):
        permitted_deviation("nowhere", "protein", 16.0, "%")


def test_more_cuts_do_not_change_an_answer_that_is_kept_warm() -> None:
    """Prices that go away and come back give the same formula."""
    for kind in ({"odds": 5}, {}):
        compiled = [compile_problem(random_problem(seed, **kind)) for seed in range(5)]
        warm = [WarmFormula(one) for one in compiled]
        first = solve_again(warm, [one.cost for one in compiled])
        rng = np.random.default_rng(1)
        moved = [one.cost * rng.uniform(0.8, 1.2, one.cost.size) for one in compiled]
        away = solve_again(warm, moved)
        for one, cost, settled in zip(compiled, moved, away, strict=True):
            again = optimum(replace(one, cost=cost))
            assert settled.point.cost == pytest.approx(again.point.cost, rel=1e-8)
        back = solve_again(warm, [one.cost for one in compiled])
        for one, two in zip(first, back, strict=True):
            assert two.point.cost == pytest.approx(one.point.cost, rel=1e-8)
