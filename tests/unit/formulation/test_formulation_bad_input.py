"""What cannot be understood is refused, every fault at once, in words; nothing unknown is nothing."""

import math
from dataclasses import replace

import pytest

from bedstone.errors import BadInput, NoAnswer
from bedstone.formulation.least_cost import least_cost
from bedstone.formulation.model import (
    Assumption,
    Basis,
    ChangeLimit,
    Correlation,
    IngredientGroup,
    LevelAndShare,
    MashLimits,
    NutrientLevel,
    Requirement,
)
from fakes.formulas import ingredient, need, problem

CORN = ingredient("CORN", 180.0, protein=(8.0, 0.4))
MEAL = ingredient("MEAL", 400.0, protein=(48.0, 1.0))
GOOD = problem([CORN, MEAL], [need("protein", 16.0)])


def with_corn(**changed: object):
    """The good problem with corn changed."""
    return replace(GOOD, ingredients=(replace(CORN, **changed), MEAL))


def with_need(*rows: Requirement):
    """The good problem with other demands."""
    return replace(GOOD, requirements=rows)


LEVEL = NutrientLevel(mean=8.0, unit="%")
BAD = {
    "no ingredient": (replace(GOOD, ingredients=()), "ingredients: found none"),
    "twice": (replace(GOOD, ingredients=(CORN, CORN)), "ingredient CORN: found 2 times"),
    "below nothing": (with_corn(price_usd_t=-5.0), "price of CORN: found -5 USD/t"),
    "no number": (with_corn(price_usd_t=math.nan), "price of CORN: found nan"),
    "endless": (with_corn(price_usd_t=math.inf), "price of CORN: found inf"),
    "min over max": (with_corn(min_frac=0.6, max_frac=0.5), "limits of CORN"),
    "share over one": (with_corn(max_frac=1.2), "maximum of CORN: found 1.2"),
    "share no number": (with_corn(min_frac=math.nan), "minimum of CORN: found nan"),
    "least over max": (with_corn(use_at_least_frac=0.5, max_frac=0.4), "if used at least 0.5"),
    "density": (with_corn(density_kg_m3=0.0), "bulk density of CORN"),
    "dry matter": (with_corn(dry_matter_frac=86.0), "dry matter of CORN: found 86"),
    "level nan": (
        with_corn(levels={"protein": replace(LEVEL, mean=math.nan)}),
        "protein of CORN: found nan",
    ),
    "sd below nothing": (
        with_corn(levels={"protein": replace(LEVEL, sd=-1.0)}),
        "sd of protein of CORN: found -1",
    ),
    "assays": (with_corn(levels={"protein": replace(LEVEL, assays=-1)}), "assays of protein"),
    "unknown": (with_corn(levels={}), "protein of CORN: found not known"),
    "unit": (
        with_corn(levels={"protein": replace(LEVEL, unit="IU/kg")}),
        "protein of CORN: found 8 IU/kg",
    ),
    "no limit": (with_need(need("protein")), "requirement protein: found no limit"),
    "contradicts itself": (with_need(need("protein", 18.0, 16.0)), "at least 18, at most 16"),
    "limit nan": (with_need(need("protein", math.nan)), "limit nan"),
    "odds": (with_need(need("protein", 16.0, odds_frac=0.3)), "odds 0.3"),
    "sure": (with_need(need("protein", 16.0, odds_frac=1.0)), "odds 1"),
    "same code": (with_need(need("protein", 16.0), need("protein", 15.0)), "2 times"),
    "units apart": (
        with_need(need("protein", 16.0), replace(need("protein", 1.0, code="x"), unit="MJ/kg")),
        "protein in requirement x",
    ),
    "group": (
        replace(GOOD, groups=(IngredientGroup(code="g", ingredients=("RYE",), max_frac=0.2),)),
        "ingredient RYE",
    ),
    "group turned": (
        replace(
            GOOD,
            groups=(IngredientGroup(code="g", ingredients=("CORN",), min_frac=0.5, max_frac=0.2),),
        ),
        "at least 0.5, at most 0.2",
    ),
    "level and share": (
        replace(
            GOOD,
            level_and_share=(
                LevelAndShare(
                    code="f",
                    ingredients=("CORN",),
                    nutrient="fumonisin",
                    level_max=5.0,
                    unit="mg/kg",
                    share_max_frac=0.2,
                ),
            ),
        ),
        "fumonisin of CORN: found not known",
    ),
    "no dry matter": (
        with_need(need("protein", 16.0, basis=Basis.DRY_MATTER)),
        "dry matter of CORN: found not known",
    ),
    "no density": (
        replace(GOOD, mash=MashLimits(density_min_kg_m3=500.0)),
        "bulk density of MEAL: found not known",
    ),
    "moisture": (
        replace(GOOD, mash=MashLimits(moisture_max_wb=12.0)),
        "moisture at most: found 12",
    ),
    "running formula": (
        replace(GOOD, change=ChangeLimit(each_frac=0.1)),
        "shares of the running formula add up to 0.0",
    ),
    "count": (replace(GOOD, ingredients_max=0), "number of ingredients"),
    "correlation": (
        replace(
            GOOD,
            correlations=(
                Correlation(first=("CORN", "protein"), second=("MEAL", "protein"), r=1.5),
            ),
        ),
        "1.5",
    ),
    "correlation of nothing": (
        replace(
            GOOD,
            correlations=(Correlation(first=("RYE", "protein"), second=("MEAL", "ash"), r=0.5),),
        ),
        "nutrient ash",
    ),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_input_is_told_in_words(name: str) -> None:
    """Each kind of bad input is refused with what was found and what is allowed."""
    asked, text = BAD[name]
    with pytest.raises(BadInput) as told:
        least_cost(asked)
    assert text in str(told.value)
    assert "allowed" in str(told.value)


def test_every_fault_is_told_at_once() -> None:
    """Two faults are both told."""
    asked = with_corn(price_usd_t=-1.0, levels={})
    with pytest.raises(BadInput) as told:
        least_cost(asked)
    assert len(told.value.faults) == 2


def test_unknown_spread_is_refused_only_where_odds_are_asked() -> None:
    """A level without sd serves an expected value, not odds, unless its spread is assumed."""
    bare = with_corn(levels={"protein": LEVEL})
    assert least_cost(bare).cost_usd_t > 0
    assert next(iter(least_cost(bare).limits)).sd is None
    asked = replace(bare, requirements=(need("protein", 16.0, odds_frac=0.95),))
    with pytest.raises(BadInput, match="standard deviation not known"):
        least_cost(asked)
    guess = Assumption(nutrient="", cv_frac=0.05, why="as usual")
    answer = least_cost(replace(asked, assumptions=(guess,)))
    assert answer.assumed == ("CORN: sd of protein taken as 0.4 % (as usual)",)


def test_correlations_that_cannot_be_are_refused() -> None:
    """Three levels that each go against the other two cannot be."""
    third = ingredient("OATS", 200.0, protein=(11.0, 0.5))
    pairs = [("CORN", "MEAL"), ("MEAL", "OATS"), ("CORN", "OATS")]
    asked = replace(
        GOOD,
        ingredients=(CORN, MEAL, third),
        requirements=(need("protein", 16.0, odds_frac=0.95),),
        correlations=tuple(
            Correlation(first=(a, "protein"), second=(b, "protein"), r=-0.9) for a, b in pairs
        ),
    )
    with pytest.raises(BadInput, match="correlations"):
        least_cost(asked)


def test_an_ingredient_that_cannot_be_used_needs_no_levels() -> None:
    """What may not be used may be unknown."""
    shut = ingredient("SHUT", 1.0, max_frac=0.0)
    answer = least_cost(replace(GOOD, ingredients=(CORN, MEAL, shut)))
    assert "SHUT" not in answer.shares


def test_fixed_parts_that_do_not_add_up_are_a_conflict() -> None:
    """Fixed parts of 60 and 50 % contradict the whole, and the error names all three."""
    asked = replace(
        GOOD,
        ingredients=(
            replace(CORN, min_frac=0.6, max_frac=0.6),
            replace(MEAL, min_frac=0.5, max_frac=0.5),
        ),
        requirements=(),
    )
    with pytest.raises(NoAnswer) as told:
        least_cost(asked)
    text = str(told.value)
    assert "CORN at least 60 %" in text
    assert "MEAL at least 50 %" in text
    assert "the parts add up to the whole" in text
