"""The diet problem of 1945: cost, foods and prices of nutrients against what is published of it.

Optimum 39.66 dollars for 365 days, 39.69 for 365.25 (the classic figure), with the five foods and
the prices of the five nutrients that bind; data after Stigler's table (see the values file).
"""

import csv
from pathlib import Path

import pytest

from bedstone.formulation.answers import FormulaAnswer, Side
from bedstone.formulation.least_cost import least_cost
from bedstone.formulation.model import (
    FormulaIngredient,
    FormulaProblem,
    NutrientLevel,
    Requirement,
    Term,
)

TABLE = Path(__file__).parent / "values" / "formulation_stigler.csv"
NEEDS = {
    "kcal_thousands": 3.0,
    "protein_g": 70.0,
    "calcium_g": 0.8,
    "iron_mg": 12.0,
    "vitA_kIU": 5.0,
    "B1_mg": 1.8,
    "B2_mg": 2.7,
    "niacin_mg": 18.0,
    "vitC_mg": 75.0,
}
SPENT = {  # dollars a year for each food
    "Wheat Flour (Enriched)": 10.7745,
    "Liver (Beef)": 0.6908,
    "Cabbage": 4.0933,
    "Spinach": 1.8278,
    "Navy Beans, Dried": 22.2754,
}
PRICES = {
    "kcal_thousands": 0.008765,
    "calcium_g": 0.031738,
    "vitA_kIU": 0.0004,
    "B2_mg": 0.016358,
    "vitC_mg": 0.000144,
}


@pytest.fixture(scope="module")
def diet():
    """The diet as a formula of a dollar a day: what is not spent is a filler that costs nothing."""
    text = [line for line in TABLE.read_text("utf-8").splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(text))
    assert len(rows) == 77
    foods = [
        FormulaIngredient(
            code=row["food"],
            price_usd_t=1.0,
            levels={name: NutrientLevel(mean=float(row[name]), unit="a dollar") for name in NEEDS},
        )
        for row in rows
    ]
    kept = FormulaIngredient(
        code="not spent",
        price_usd_t=0.0,
        levels={name: NutrientLevel(mean=0.0, unit="a dollar") for name in NEEDS},
    )
    needs = [
        Requirement(code=name, of=(Term(nutrient=name),), unit="a dollar", minimum=least)
        for name, least in NEEDS.items()
    ]
    problem = FormulaProblem(product="diet", ingredients=(*foods, kept), requirements=tuple(needs))
    return least_cost(problem)


def test_the_cost_of_subsistence(diet: FormulaAnswer) -> None:
    """39.6617 dollars for 365 days, 39.6889 for 365.25."""
    assert diet.cost_usd_t == pytest.approx(0.108662278, rel=1e-8)
    assert 365 * diet.cost_usd_t == pytest.approx(39.6617, abs=5e-5)
    assert 365.25 * diet.cost_usd_t == pytest.approx(39.6889, abs=5e-5)


def test_the_five_foods(diet: FormulaAnswer) -> None:
    """Flour, liver, cabbage, spinach and navy beans, with the money spent on each."""
    spent = {code: 365 * share for code, share in diet.shares.items() if code != "not spent"}
    assert spent == pytest.approx(SPENT, abs=1e-3)


def test_the_prices_of_nutrients(diet: FormulaAnswer) -> None:
    """A unit more of each of five nutrients costs what is published; the others are free."""
    lines = {line.code: line for line in diet.limits}
    for name in NEEDS:
        if name in PRICES:
            assert lines[name].binding is Side.MIN
            assert lines[name].marginal_usd_t == pytest.approx(PRICES[name], abs=6e-7)
        else:
            assert lines[name].binding is Side.NONE
            assert lines[name].slack_min > 0
