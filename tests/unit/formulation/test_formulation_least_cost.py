"""Small formulas that can be solved by hand, one for each kind of demand, each with its proof."""

import math
from dataclasses import replace
from itertools import combinations

import pytest

from bedstone.errors import NoAnswer
from bedstone.formulation.answers import DemandKind, FormulaAnswer, Side, Way
from bedstone.formulation.least_cost import least_cost
from bedstone.formulation.model import (
    Assumption,
    Basis,
    ChangeLimit,
    IngredientGroup,
    LevelAndShare,
    MashLimits,
    NutrientLevel,
    Requirement,
    Term,
)
from fakes.formula_certificate import prove
from fakes.formulas import ingredient, need, problem, random_problem

CORN = ingredient("CORN", 180.0, protein=8.0, fibre=2.0, dry_matter_frac=0.86, density_kg_m3=720.0)
MEAL = ingredient("MEAL", 400.0, protein=48.0, fibre=4.0, dry_matter_frac=0.90, density_kg_m3=600.0)
HULLS = ingredient(
    "HULLS", 150.0, protein=10.0, fibre=34.0, dry_matter_frac=0.9, density_kg_m3=450.0
)


def limit(answer: FormulaAnswer, code: str):
    """A demand's line of an answer."""
    return next(row for row in answer.limits if row.code == code)


def row(answer: FormulaAnswer, code: str):
    """An ingredient's line of an answer."""
    return next(row for row in answer.ingredients if row.code == code)


def test_two_ingredients_meet_a_minimum_as_a_pearson_square_does() -> None:
    """16 % protein of 8 % corn and 48 % meal is a fifth meal, and a per cent more costs 5.50."""
    asked = problem([CORN, MEAL], [need("protein", 16.0)])
    answer = least_cost(asked)
    assert answer.shares == pytest.approx({"CORN": 0.8, "MEAL": 0.2})
    assert answer.cost_usd_t == pytest.approx(0.8 * 180 + 0.2 * 400)
    protein = limit(answer, "protein")
    assert protein.binding is Side.MIN
    assert protein.marginal_usd_t == pytest.approx(220 / 40)
    assert (protein.true_from, protein.true_to) == pytest.approx((8.0, 48.0))
    assert answer.way is Way.LINEAR
    assert prove(asked) == pytest.approx(answer.cost_usd_t)


def test_price_ranges_and_entering_prices_are_exact() -> None:
    """Hulls enter once they cost less than the same protein from corn and meal."""
    without = least_cost(
        problem([CORN, MEAL, replace(HULLS, price_usd_t=250.0)], [need("protein", 16.0)])
    )
    assert without.shares.keys() == {"CORN", "MEAL"}
    assert row(without, "HULLS").enters_usd_t == pytest.approx(0.95 * 180 + 0.05 * 400)
    assert row(without, "HULLS").stays_usd_t.low == pytest.approx(191.0)
    # dearer corn lets hulls in, once 0.95 of it and 0.05 meal cost what hulls do
    assert row(without, "CORN").stays_usd_t.high == pytest.approx((250 - 0.05 * 400) / 0.95)


def test_a_limit_in_dry_matter_counts_dry_matter() -> None:
    """18 % protein in dry matter is met exactly in dry matter, not as fed."""
    asked = problem([CORN, MEAL], [need("protein", 18.0, basis=Basis.DRY_MATTER)])
    shares = least_cost(asked).shares
    dry = shares["CORN"] * 0.86 + shares["MEAL"] * 0.90
    assert (shares["CORN"] * 8 + shares["MEAL"] * 48) / dry == pytest.approx(18.0)
    prove(asked)


def test_a_sum_and_a_ratio_of_two() -> None:
    """Sugar plus starch is limited as a sum, calcium to phosphorus as a ratio with both sides."""
    grain = ingredient("GRAIN", 100.0, starch=60.0, sugar=3.0, Ca=0.03, P=0.3)
    beet = ingredient("BEET", 160.0, starch=0.0, sugar=10.0, Ca=0.6, P=0.1)
    lime = ingredient("LIME", 40.0, starch=0.0, sugar=0.0, Ca=38.0, P=0.02, max_frac=0.05)
    ratio = Requirement(
        code="Ca to P", of=(Term(nutrient="Ca"),), per=(Term(nutrient="P"),), unit="%",
        per_unit="%", minimum=1.5, maximum=2.0,
    )  # fmt: skip
    asked = problem([grain, beet, lime], [need("starch+sugar", None, 40.0), ratio])
    answer = least_cost(asked)
    both = limit(answer, "starch+sugar")
    assert both.expected == pytest.approx(40.0)
    found = limit(answer, "Ca to P")
    assert found.kind is DemandKind.RATIO
    assert found.unit == ""
    assert 1.5 - 1e-9 <= found.expected <= 2.0 + 1e-9
    assert found.binding is Side.MAX  # limestone is the cheapest filler here
    prove(asked)


def test_units_turn_into_one_another() -> None:
    """A level in mg/kg serves a demand in per cent, and a unit that is no kin is refused."""
    copper = replace(CORN, code="A", levels={"Cu": NutrientLevel(mean=10.0, unit="mg/kg")})
    rich = replace(
        CORN, code="B", price_usd_t=300.0, levels={"Cu": NutrientLevel(mean=0.01, unit="%")}
    )
    asked = problem([copper, rich], [replace(need("Cu", 28.0), unit="mg/kg")])
    assert least_cost(asked).shares == pytest.approx({"A": 0.8, "B": 0.2})


def test_groups_fixed_parts_and_bounds_hold() -> None:
    """A fixed part stays what it is, a group keeps its minimum, and the proof agrees."""
    premix = ingredient("PREMIX", 900.0, protein=0.0, fibre=0.0, min_frac=0.025, max_frac=0.025)
    group = IngredientGroup(code="by-products", ingredients=("HULLS",), min_frac=0.1, max_frac=0.2)
    asked = problem([CORN, MEAL, HULLS, premix], [need("protein", 16.0)], groups=(group,))
    answer = least_cost(asked)
    assert answer.shares["PREMIX"] == pytest.approx(0.025)
    assert answer.shares["HULLS"] >= 0.1 - 1e-9
    found = limit(answer, "by-products")
    assert found.kind is DemandKind.GROUP
    prove(asked)


def test_moisture_and_volume_of_the_mash() -> None:
    """Water that is nearly free is used up to the moisture allowed; a density at least holds."""
    water = ingredient(
        "WATER", 1.0, protein=0.0, fibre=0.0, dry_matter_frac=0.0, density_kg_m3=1000.0
    )
    mash = MashLimits(moisture_max_wb=0.15, density_min_kg_m3=690.0)
    asked = problem([CORN, MEAL, HULLS, water], [need("protein", 14.0)], mash=mash)
    answer = least_cost(asked)
    assert answer.moisture_wb == pytest.approx(0.15)
    assert answer.density_kg_m3 >= 690.0 - 1e-6
    volume = sum(
        answer.shares.get(item.code, 0.0) / item.density_kg_m3 for item in asked.ingredients
    )
    assert answer.density_kg_m3 == pytest.approx(1 / volume)
    assert limit(answer, "moisture").binding is Side.MAX
    prove(asked)


def test_fumonisin_in_feed_for_horses() -> None:
    """Corn above 5 ppm is shut out; corn products are at most a fifth of the dry matter."""
    clean = replace(CORN, code="CLEAN", price_usd_t=200.0)
    lots = [
        replace(CORN, levels={**CORN.levels, "fumonisin": NutrientLevel(mean=7.0, unit="mg/kg")}),
        replace(clean, levels={**CORN.levels, "fumonisin": NutrientLevel(mean=2.0, unit="mg/kg")}),
    ]
    rule = LevelAndShare(
        code="fumonisin, equids", ingredients=("CORN", "CLEAN"), nutrient="fumonisin",
        level_max=5.0, unit="mg/kg", share_max_frac=0.2, source="guidance",
    )  # fmt: skip
    oats = ingredient("OATS", 260.0, protein=11.0, fibre=11.0, dry_matter_frac=0.89)
    asked = problem([*lots, oats], [need("protein", 8.5)], level_and_share=(rule,))
    answer = least_cost(asked)
    shares = answer.shares
    assert "CORN" not in shares
    dry = {"CLEAN": 0.86 * shares["CLEAN"], "OATS": 0.89 * shares["OATS"]}
    assert dry["CLEAN"] / sum(dry.values()) == pytest.approx(0.2)
    assert any("must not be used" in note for note in answer.notes)
    prove(asked)


def test_a_lot_may_break_a_level_by_its_odds_alone() -> None:
    """A lot expected below the level is shut out where it is not below it with the odds asked."""
    near = NutrientLevel(mean=4.5, sd=1.0, unit="mg/kg")
    rule = LevelAndShare(
        code="fumonisin", ingredients=("CORN",), nutrient="fumonisin", level_max=5.0,
        unit="mg/kg", share_max_frac=0.5, odds_frac=0.95, basis=Basis.AS_FED,
    )  # fmt: skip
    corn = replace(CORN, levels={**CORN.levels, "fumonisin": near})
    asked = problem([corn, HULLS], [need("protein", 8.0)], level_and_share=(rule,))
    assert "CORN" not in least_cost(asked).shares
    by_mean = problem(
        [corn, replace(HULLS, price_usd_t=500.0)],
        [need("protein", 8.0)],
        level_and_share=(replace(rule, odds_frac=None),),
    )
    assert least_cost(by_mean).shares["CORN"] == pytest.approx(0.5)


def test_change_from_the_running_formula_is_limited() -> None:
    """No share moves more than allowed, and no more of the mash is replaced than allowed."""
    now = [
        replace(CORN, current_frac=0.5),
        replace(MEAL, current_frac=0.5),
        replace(HULLS, current_frac=0.0),
    ]
    asked = problem(now, [need("protein", 16.0)], change=ChangeLimit(each_frac=0.1))
    shares = least_cost(asked).shares
    assert shares["MEAL"] == pytest.approx(0.4)
    asked = problem(now, [need("protein", 16.0)], change=ChangeLimit(total_frac=0.25))
    answer = least_cost(asked)
    risen = sum(max(0.0, answer.shares.get(item.code, 0.0) - item.current_frac) for item in now)
    assert risen == pytest.approx(0.25)
    change = limit(answer, "change")
    assert change.expected == pytest.approx(0.25)
    assert change.binding is Side.MAX
    assert change.marginal_usd_t < 0
    step = least_cost(replace(asked, change=ChangeLimit(total_frac=0.26)))
    assert step.cost_usd_t - answer.cost_usd_t == pytest.approx(0.01 * change.marginal_usd_t)


def test_if_used_at_least_and_at_most_so_many() -> None:
    """A little of an ingredient is not allowed: it is left out or used at its least, then said so."""
    rich = ingredient("RICH", 900.0, protein=80.0, fibre=0.0, use_at_least_frac=0.15)
    asked = problem([CORN, replace(MEAL, max_frac=0.1), rich], [need("protein", 15.0)])
    answer = least_cost(asked)
    assert answer.way is Way.CHOICES_FIXED
    assert answer.shares["RICH"] == pytest.approx(0.15)
    assert any("chosen first" in note for note in answer.notes)
    few = problem(
        [CORN, MEAL, HULLS], [need("protein", 16.0), need("fibre", 3.0)], ingredients_max=2
    )
    found = least_cost(few)
    assert len(found.shares) == 2
    best = min(
        least_cost(replace(few, ingredients=pair, ingredients_max=None)).cost_usd_t
        for pair in ((MEAL, HULLS), (CORN, MEAL))
    )
    assert found.cost_usd_t == pytest.approx(best)
    left = [line for line in found.ingredients if not line.chosen]
    assert len(left) == 1
    assert left[0].enters_usd_t is None


@pytest.mark.parametrize("seed", range(6))
def test_choices_are_the_best_of_all_subsets(seed: int) -> None:
    """At most three ingredients: the cheapest over every subset of three, solved one by one."""
    asked = random_problem(seed, size=7, nutrients=3, slack=0.6)
    asked = replace(
        asked, ingredients=tuple(replace(item, max_frac=1.0) for item in asked.ingredients)
    )
    costs = []
    for three in combinations(asked.ingredients, 3):
        try:
            costs.append(least_cost(replace(asked, ingredients=three)).cost_usd_t)
        except NoAnswer:
            continue
    if not costs:
        with pytest.raises(NoAnswer):
            least_cost(replace(asked, ingredients_max=3))
        return
    assert least_cost(replace(asked, ingredients_max=3)).cost_usd_t == pytest.approx(min(costs))


def test_an_assumption_is_used_and_shown() -> None:
    """A level that is not known is taken from a named assumption, and the answer says so."""
    bare = ingredient("BARE", 100.0, fibre=1.0)
    guess = Assumption(nutrient="protein", ingredient="BARE", mean=5.0, unit="%", why="like straw")
    asked = problem([CORN, MEAL, bare], [need("protein", 16.0)], assumptions=(guess,))
    answer = least_cost(asked)
    assert answer.assumed == ("BARE: protein taken as 5 % (like straw)",)
    assert "BARE" in answer.shares


def test_a_thousand_ingredients() -> None:
    """A thousand ingredients with twelve demands are solved, and the answer is proved."""
    asked = random_problem(5, size=1000, nutrients=12, groups=4)
    assert prove(asked) <= least_cost(asked).cost_usd_t + 1e-6


def test_all_fixed() -> None:
    """A formula with every part fixed is that formula, and nothing in it has a price to enter."""
    fixed = [replace(CORN, min_frac=0.7, max_frac=0.7), replace(MEAL, min_frac=0.3, max_frac=0.3)]
    answer = least_cost(problem(fixed, [need("protein", 16.0)]))
    assert answer.shares == pytest.approx({"CORN": 0.7, "MEAL": 0.3})
    for line in answer.ingredients:
        assert line.enters_usd_t is None
        assert line.stays_usd_t.high is None


def test_costs_scale_with_prices() -> None:
    """Doubling every price doubles the cost."""
    asked = random_problem(3, groups=2)
    dear = replace(
        asked,
        ingredients=tuple(
            replace(item, price_usd_t=2 * item.price_usd_t) for item in asked.ingredients
        ),
    )
    assert math.isclose(least_cost(dear).cost_usd_t, 2 * least_cost(asked).cost_usd_t, rel_tol=1e-9)


@pytest.mark.parametrize("seed", range(12))
def test_every_answer_has_its_proof(seed: int) -> None:
    """Feasible, prices of the right sign, no gap: plain, odds, dry matter, ratios, corners, groups."""
    prove(random_problem(seed))
    prove(random_problem(seed, odds=4))
    prove(random_problem(seed, odds=3, dry=2, groups=1))
    prove(random_problem(seed, dry=4, ratios=3, groups=2))
    prove(random_problem(seed, whole=True))
