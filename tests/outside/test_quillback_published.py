"""The demo mill's composition against the published tables that it names."""

import csv
import datetime as dt
from pathlib import Path

import pytest

from bedstone.demo.quillback import quillback_folder

HERE = Path(__file__).parent
MILL = quillback_folder(dt.date(2026, 11, 26)).mill
ROWS = list(csv.DictReader((HERE / "values" / "quillback_published.csv").read_text().splitlines()))
MG_KG_IN = {"%": 10_000.0, "mg/kg": 1.0, "mg/100 g": 10.0}


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['ingredient']} {row['nutrient']}")
def test_composition_is_what_was_printed(row: dict[str, str]):
    """A mean that names a work is the number of that work, on the basis as fed."""
    found = next(
        item
        for item in MILL.composition
        if (item.ingredient, item.nutrient) == (row["ingredient"], row["nutrient"])
    )
    per_unit = MG_KG_IN[row["printed_unit"]] / MG_KG_IN[row["in_demo_unit"]]
    expected = float(row["printed"]) * float(row["dry_matter_frac"]) * per_unit
    assert found.unit == row["in_demo_unit"]
    assert found.mean == pytest.approx(expected, abs=float(row["tolerance"]) + 1e-9)


def test_dry_matter_is_that_of_the_ingredient():
    """Where a dry basis was turned to as fed, the dry matter is that of the ingredient's moisture."""
    for row in ROWS:
        if row["basis"] == "dry matter":
            moisture = MILL.ingredient_by_code[row["ingredient"]].moisture_wb
            assert 1 - moisture == pytest.approx(float(row["dry_matter_frac"]), abs=1e-9)


def test_every_mean_names_where_it_comes_from():
    """Each mean of the composition names a work or says that it is invented."""
    assert all(row.source.strip() for row in MILL.composition)
    named = [row for row in MILL.composition if row.source != "demo data, invented"]
    assert len(named) > len(MILL.composition) // 3


def test_type_a_strengths_are_the_labels():
    """Grams a pound of the two Type A articles turn into mg/kg with 453.592 g a pound."""
    contents = {(row.ingredient, row.substance): row.content_mg_kg for row in MILL.contents}
    assert contents["MON-A", "monensin"] == pytest.approx(90.7 / 453.592 * 1e6, abs=1)
    assert contents["SAL-A", "salinomycin"] == pytest.approx(60 / 453.592 * 1e6, abs=1)


def test_sheep_limit_is_the_reviews():
    """Sheep feed is limited to 15 mg/kg of copper, the safe maximum of the review it names."""
    limit = next(row for row in MILL.limits if (row.species, row.substance) == ("sheep", "copper"))
    assert limit.level_mg_kg == 15.0
    assert "In Practice 19(9)" in limit.source
