"""When nothing fits: a set that clashes, none of which can be left out, and ways to give in."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import linprog

from bedstone.errors import NoAnswer
from bedstone.formulation.answers import Clash, DemandKind, Side
from bedstone.formulation.arrays import Compiled, compile_problem
from bedstone.formulation.conflicts import irreducible, why_not
from bedstone.formulation.demands import entries_of, only
from bedstone.formulation.least_cost import least_cost
from bedstone.formulation.model import Basis, ChangeLimit, IngredientGroup, LevelAndShare
from bedstone.formulation.whatif import with_limit
from fakes.formulas import ingredient, need, problem, random_problem

CORN = ingredient("CORN", 180.0, protein=(8.0, 0.4), fibre=2.0, dry_matter_frac=0.86)
MEAL = ingredient("MEAL", 400.0, protein=(48.0, 1.5), fibre=4.0, max_frac=0.3, dry_matter_frac=0.9)
HULLS = ingredient("HULLS", 150.0, protein=(10.0, 1.0), fibre=34.0, dry_matter_frac=0.9)


def words(clash: Clash) -> list[str]:
    """The demands of a clash in words."""
    return [demand.words for demand in clash.demands]


def test_a_protein_that_no_meal_allows() -> None:
    """25 % protein clashes with 30 % meal at most, and each way to give in is priced."""
    asked = problem([CORN, MEAL, HULLS], [need("protein", 25.0), need("fibre", None, 10.0)])
    clash = why_not(asked)
    assert set(words(clash)) == {
        "protein at least 25 %",
        "MEAL at most 30 %",
        "the parts add up to the whole, 100 %",
    }
    ways = {row.demand.words: row for row in clash.alone}
    # 0.3 meal at 48 and 0.7 hulls and corn with fibre at most 10 %: lim of protein is exact
    corn_and_hulls = np.array([[0.7 - h, h] for h in (0.0, (10 - 1.2 - 1.4) / 32)])
    best = max(14.4 + 8 * c + 10 * h for c, h in corn_and_hulls)
    assert ways["protein at least 25 %"].new_limit == pytest.approx(best, abs=1e-4)
    meal = ways["MEAL at most 30 %"]
    assert meal.new_limit > 0.4
    for row in clash.alone:
        fits = least_cost(with_limit(asked, row.demand, row.new_limit))
        assert fits.cost_usd_t == pytest.approx(row.cost_usd_t, rel=1e-6)
        tight = row.demand.limit + (row.new_limit - row.demand.limit) * 0.999
        with pytest.raises(NoAnswer):
            least_cost(with_limit(asked, row.demand, tight))


def test_the_error_names_the_demands() -> None:
    """The error of a formula that nothing fits carries the clash and what would do."""
    with pytest.raises(NoAnswer) as told:
        least_cost(problem([CORN, MEAL], [need("protein", 25.0)]))
    text = str(told.value)
    assert "protein at least 25 %" in text
    assert "MEAL at most 30 %" in text
    assert "would do, at" in text


def test_law_is_never_offered_for_giving_in() -> None:
    """A limit that is law or safety is in the clash but not among what may give in."""
    safe = need("fibre", None, 1.0, may_give=False, source="law")
    clash = why_not(problem([CORN, MEAL, HULLS], [need("protein", 8.0), safe]))
    assert any("fibre at most 1 %" in text for text in words(clash))
    assert all(row.demand.code != "fibre" for row in (*clash.alone, *clash.together))
    rule = LevelAndShare(
        code="f", ingredients=("CORN",), nutrient="fibre", level_max=1.0, unit="%",
        share_max_frac=0.2, basis=Basis.AS_FED,
    )  # fmt: skip
    shut = problem([replace(CORN, min_frac=0.1), MEAL, HULLS], [], level_and_share=(rule,))
    clash = why_not(shut)
    assert {demand.kind for demand in clash.demands} == {DemandKind.LEVEL, DemandKind.INGREDIENT}


def test_dry_matter_and_ratio_limits_give_in_exactly() -> None:
    """A limit in dry matter gives in to just what can be reached in dry matter."""
    asked = problem([CORN, MEAL], [need("protein", 40.0, basis=Basis.DRY_MATTER)])
    clash = why_not(asked)
    way = next(row for row in clash.alone if row.demand.kind is DemandKind.NUTRIENT)
    reached = (0.7 * 8 + 0.3 * 48) / (0.7 * 0.86 + 0.3 * 0.9)
    assert way.new_limit == pytest.approx(reached, rel=1e-5)
    assert clash.together_cost_usd_t is not None


def test_odds_alone_can_be_what_clashes() -> None:
    """What fits by expected values but not with odds is told as a clash of the odds."""
    top = 0.7 * 8 + 0.3 * 48
    asked = problem([CORN, MEAL], [need("protein", top - 0.1, odds_frac=0.95)])
    least_cost(replace(asked, requirements=(need("protein", top - 0.1),)))
    clash = why_not(asked)
    assert any("with odds of 95 %" in text for text in words(clash))
    way = next(row for row in clash.alone if row.demand.kind is DemandKind.NUTRIENT)
    sd = ((0.7 * 0.4) ** 2 + (0.3 * 1.5) ** 2) ** 0.5
    assert way.new_limit == pytest.approx(top - 1.6449 * sd, abs=1e-3)


def test_choices_counts_changes_and_groups_take_part() -> None:
    """At most so many, if used at least, changes and groups are named when they clash."""
    few = problem(
        [CORN, MEAL, HULLS], [need("protein", 16.0), need("fibre", 8.0, 9.0)], ingredients_max=1
    )
    clash = why_not(few)
    assert "at most 1 ingredients" in words(clash)
    count = next(row for row in clash.alone if row.demand.kind is DemandKind.COUNT)
    assert count.new_limit == 3.0  # no pair has both the protein and the fibre
    least = replace(MEAL, use_at_least_frac=0.25)
    asked = problem([replace(CORN, max_frac=1.0), least], [need("protein", 9.0, 10.0)])
    clash = why_not(asked)
    assert any("if used, at least 25 %" in text for text in words(clash))
    way = next(row for row in clash.alone if row.demand.kind is DemandKind.AT_LEAST)
    assert 0 < way.new_limit < 0.25
    now = [replace(CORN, current_frac=1.0), replace(MEAL, current_frac=0.0)]
    asked = problem(now, [need("protein", 16.0)], change=ChangeLimit(total_frac=0.05))
    assert any("replaced" in text for text in words(why_not(asked)))
    asked = replace(asked, change=ChangeLimit(each_frac=0.05))
    assert any("moved by at most 5 %" in text for text in words(why_not(asked)))
    group = IngredientGroup(code="meals", ingredients=("MEAL",), max_frac=0.1)
    asked = problem([CORN, MEAL], [need("protein", 16.0)], groups=(group,))
    assert any(text.startswith("meals (MEAL) at most 10 %") for text in words(why_not(asked)))


def fits_by_scipy(compiled: Compiled) -> bool:
    """True if something keeps a compiled problem's rows and bounds, by SciPy's own solver."""
    upper, lower = np.isfinite(compiled.row_high), np.isfinite(compiled.row_low)
    found = linprog(
        np.zeros(compiled.cost.size),
        A_ub=np.vstack([compiled.matrix[upper], -compiled.matrix[lower]]),
        b_ub=np.concatenate([compiled.row_high[upper], -compiled.row_low[lower]]),
        bounds=np.column_stack([compiled.column_low, compiled.column_high]),
        method="highs-ipm",
    )
    assert found.status in {0, 2}
    return found.status == 0


@pytest.mark.parametrize("seed", range(12))
def test_a_clash_is_irreducible(seed: int) -> None:
    """SciPy finds nothing for the set, and something for the set less any one of it; bounds too."""
    asked = random_problem(seed, groups=2, slack=0.05)
    rng = np.random.default_rng(seed)
    rows = list(asked.requirements)
    for place in rng.choice(len(rows), 3, replace=False):
        levels = [item.levels[f"n{place}"].mean for item in asked.ingredients]
        rows[place] = replace(rows[place], minimum=float(np.quantile(levels, 0.97)), maximum=None)
    asked = replace(asked, requirements=tuple(rows))
    compiled = compile_problem(asked)
    entries = entries_of(compiled)
    if fits_by_scipy(compiled):
        with pytest.raises(ValueError, match="has an answer"):
            irreducible(compiled, entries)
        return
    clash = irreducible(compiled, entries)
    assert not fits_by_scipy(only(compiled, clash))
    for entry in clash:
        rest = [other for other in clash if other is not entry]
        assert fits_by_scipy(only(compiled, rest)), entry.demand.words


@pytest.mark.parametrize("seed", range(4))
def test_giving_in_together_lets_something_fit(seed: int) -> None:
    """With every limit moved as told something fits, at the cost told."""
    asked = random_problem(seed, dry=3, slack=0.02)
    rows = [
        replace(row, minimum=row.minimum * 1.5, maximum=None) if row.minimum and place < 4 else row
        for place, row in enumerate(asked.requirements)
    ]
    asked = replace(asked, requirements=tuple(rows))
    try:
        least_cost(asked)
    except NoAnswer:
        clash = why_not(asked)
    else:
        return
    assert clash.together
    moved = asked
    for row in clash.together:
        sign = -1.0 if row.demand.side is Side.MIN else 1.0
        assert sign * (row.new_limit - row.demand.limit) > 0
        moved = with_limit(moved, row.demand, row.new_limit + sign * 1e-5 * abs(row.new_limit))
    cost = least_cost(moved).cost_usd_t
    assert cost == pytest.approx(clash.together_cost_usd_t, rel=1e-3)


def test_a_new_limit_is_said_with_its_unit_and_a_share_in_per_cent() -> None:
    """What a limit on an ingredient gives in to is read as a per cent, a nutrient's in its own unit."""
    clash = why_not(
        problem([CORN, MEAL, HULLS], [need("protein", 25.0), need("fibre", None, 10.0)])
    )
    ways = {row.demand.kind: row for row in clash.alone}
    meal, protein = ways[DemandKind.INGREDIENT], ways[DemandKind.NUTRIENT]
    assert meal.limit_words == f"{100 * meal.new_limit:.4g} %"
    assert meal.new_limit < 1
    assert protein.limit_words == f"{protein.new_limit:.4g} %"
