"""Prices, requirements, inclusions, groups and rules of formulas: each limit that cannot be is named."""

import datetime as dt
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from bedstone.mill.damage import DAMAGED
from bedstone.mill.equipment import Settings
from bedstone.mill.formula_tables import (
    FormulaRule,
    Inclusion,
    IngredientGroupLimit,
    Price,
    Requirement,
)
from bedstone.mill.model import TABLES
from bedstone.mill.validate import Places, check_folder
from bedstone.mill.validate_formulation import nutrients_in
from bedstone.store.folder import read_folder, rows_of
from fakes.folders import good_files, put

PRICE = Price(ingredient="SBM", from_on=dt.date(2026, 11, 2), price_usd_t=390.0)
NEED = Requirement(
    product="PIG-GR", nutrients="crude protein", minimum=15.0, unit="%", source="mill policy"
)
PART = Inclusion(product="PIG-GR", ingredient="SBM", max_frac=0.3)
REST = Inclusion(product="PIG-GR", ingredient="BARLEY-G")
GROUP = IngredientGroupLimit(
    species="swine", group="MEALS", members="SBM BARLEY-G", max_frac=0.9, source="mill policy"
)
RULE = FormulaRule(product="PIG-GR")


@pytest.fixture
def good(tmp_path: Path) -> tuple[dict[str, tuple[Any, ...]], Settings]:
    """The rows of a good folder with all five tables."""
    loaded = read_folder(put(good_files(), tmp_path))
    rows = {name: tuple(rows_of(loaded, name)) for name in TABLES}
    rows |= {
        "prices": (PRICE,),
        "requirements": (NEED,),
        "inclusions": (PART, REST),
        "ingredient_groups": (GROUP,),
        "formula_rules": (RULE,),
    }
    return rows, loaded.mill.settings


def test_good_tables_have_no_fault(good: tuple[dict[str, tuple[Any, ...]], Settings]):
    """Tables of formulas that agree have no fault."""
    rows, settings = good
    assert check_folder(rows, settings, places=Places()) == ()


WRONG: list[tuple[str, Any, str, str]] = [
    ("prices", replace(PRICE, until_on=dt.date(2026, 11, 1)), "until_on", "before the first day"),
    ("prices", replace(PRICE, mass_min_kg=9.0, mass_max_kg=8.0), "mass_min_kg", "9 kg"),
    ("prices", replace(PRICE, ingredient="NOSUCH"), "ingredient", "NOSUCH"),
    ("prices", replace(PRICE, supplier="nobody"), "supplier", "nobody"),
    ("requirements", replace(NEED, minimum=None), "minimum", "neither minimum nor maximum"),
    ("requirements", replace(NEED, maximum=14.0), "minimum", "15 above the maximum of 14"),
    ("requirements", replace(NEED, nutrients="crude protien"), "nutrients", "crude protien"),
    ("requirements", replace(NEED, nutrients="crude protein +"), "nutrients", '""'),
    ("requirements", replace(NEED, per="crude protein"), "per_unit", "an empty cell"),
    ("requirements", replace(NEED, per_unit="%"), "per_unit", "%"),
    ("requirements", replace(NEED, minimum=None, maximum=150.0), "maximum", "150 %"),
    ("inclusions", replace(PART, min_frac=0.4), "min_pct", "40 %, above the most"),
    ("inclusions", replace(PART, at_least_frac=0.5), "at_least_pct", "50 %"),
    ("inclusions", replace(PART, ingredient="MEDIC"), "ingredient", "holds a drug"),
    ("inclusions", replace(REST, max_frac=0.2), "max_pct", "less than the whole"),
    ("inclusions", replace(REST, min_frac=1.0), "min_pct", "more than the whole"),
    ("ingredient_groups", replace(GROUP, product="PIG-GR"), "product", "both a product and"),
    ("ingredient_groups", replace(GROUP, species="swan"), "species", "swan"),
    ("ingredient_groups", replace(GROUP, members=""), "members", "no code"),
    ("ingredient_groups", replace(GROUP, members="SBM SBM"), "members", "SBM twice"),
    ("ingredient_groups", replace(GROUP, max_frac=None), "max_pct", "neither least nor most"),
    ("ingredient_groups", replace(GROUP, min_frac=0.95), "min_pct", "95 %"),
    ("ingredient_groups", replace(GROUP, nutrient="fumonisin"), "level_max", "an empty cell"),
    (
        "ingredient_groups",
        replace(GROUP, nutrient="t", level_max=5.0, unit="mg/kg", max_frac=None, min_frac=0.1),
        "max_pct",
        "level and share",
    ),
    (
        "formula_rules",
        replace(RULE, density_min_kg_m3=700.0, density_max_kg_m3=600.0),
        "density_min_kg_m3",
        "700",
    ),
]


@pytest.mark.parametrize(
    ("table", "row", "column", "found"),
    WRONG,
    ids=[f"{w[0]} {w[2]} {n}" for n, w in enumerate(WRONG)],
)
def test_a_limit_that_cannot_be_is_named(
    good: tuple[dict[str, tuple[Any, ...]], Settings], table: str, row: Any, column: str, found: str
):
    """Each wrong cell is said with its table, its column and what stands there."""
    rows, settings = good
    beside: tuple[Inclusion, ...] = ()
    if table == "inclusions":
        other = REST if row.ingredient != REST.ingredient else PART
        beside = (replace(other, min_frac=0.1),)
    faults = check_folder({**rows, table: (*beside, row)}, settings, places=Places())
    said = [fault for fault in faults if fault.file == f"{table}.csv"]
    assert [fault.column for fault in said][:1] == [column]
    assert found in said[0].found
    assert said[0].allowed


@pytest.mark.parametrize(
    "table", ["prices", "requirements", "inclusions", "ingredient_groups", "formula_rules"]
)
def test_a_damaged_cell_does_not_stop_the_other_rules(
    good: tuple[dict[str, tuple[Any, ...]], Settings], table: str
):
    """A row with a cell that could not be read is left off; the rest is still checked."""
    rows, settings = good
    field = {"prices": "until_on", "requirements": "minimum", "inclusions": "min_frac",
             "ingredient_groups": "max_frac", "formula_rules": "density_min_kg_m3"}[table]  # fmt: skip
    damaged = replace(rows[table][0], **{field: DAMAGED})
    bad = replace(rows["bins"][0], holds="NOSUCH")
    changed = {**rows, table: (damaged, *rows[table][1:]), "bins": (bad, *rows["bins"][1:])}
    faults = check_folder(changed, settings, places=Places())
    assert any("NOSUCH" in fault.found for fault in faults)
    assert not [fault for fault in faults if fault.file == f"{table}.csv"]


def test_a_sum_names_its_nutrients():
    """A sum is read at its plus signs; a missing one stays to be seen."""
    assert nutrients_in("starch + sugars") == ("starch", "sugars")
    assert nutrients_in("starch +") == ("starch", "")
