"""Permitted deviations as the rules print them."""

import csv
from pathlib import Path

import pytest

from bedstone.formulation.tag_odds import permitted_deviation

TABLE = Path(__file__).parent / "values" / "formulation_deviation.csv"
ROWS = list(
    csv.DictReader(
        line for line in TABLE.read_text("utf-8").splitlines() if not line.startswith("#")
    )
)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: "-".join(list(row.values())[:3]))
def test_permitted_deviation(row: dict[str, str]) -> None:
    """What one sample may miss a guarantee by, in the guarantee's own unit."""
    found = permitted_deviation(row["rule"], row["nutrient"], float(row["guarantee"]), row["unit"])
    assert found == pytest.approx(float(row["expected"]))
