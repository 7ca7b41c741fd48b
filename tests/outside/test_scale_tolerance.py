import csv
from pathlib import Path

import pytest

from bedstone.mill.tolerances import (
    meter_tolerance_mg,
    scale_tolerance_divisions,
    scale_tolerance_mg,
)

LB_MG = 453_592.37
VALUES = Path(__file__).parent / "values" / "scale_tolerance.csv"
ROWS = list(csv.DictReader(VALUES.read_text(encoding="utf-8").splitlines()))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["name"])
def test_maintenance_tolerance_of_class_three(row: dict[str, str]) -> None:
    """The tolerance in divisions is the published one at every end of a step."""
    assert scale_tolerance_divisions(int(row["divisions"])) == int(row["tolerance_divisions"])


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["name"])
def test_maintenance_tolerance_in_mass(row: dict[str, str]) -> None:
    """The same tolerance as a mass, from load and division in pounds."""
    division_mg = round(float(row["division_lb"]) * LB_MG)
    load_mg = int(row["divisions"]) * division_mg
    expected = int(row["tolerance_divisions"]) * division_mg
    assert scale_tolerance_mg(load_mg, division_mg) == expected


def test_a_begun_division_counts() -> None:
    """A load a little over 500 divisions is in the second step."""
    assert scale_tolerance_mg(500_000_001, 1_000_000) == 2_000_000


def test_no_tolerance_without_a_division() -> None:
    """A division of nothing, or a load below nothing, is refused."""
    with pytest.raises(ValueError, match="division"):
        scale_tolerance_mg(1, 0)
    with pytest.raises(ValueError, match="load"):
        scale_tolerance_divisions(-1)


def test_a_meter_is_allowed_two_standard_deviations() -> None:
    """Half a per cent of 200 kg is 1 kg, so 2 kg either way; a small dose gets one step."""
    assert meter_tolerance_mg(200_000_000, 100_000, sd_frac=0.005) == 2_000_000
    assert meter_tolerance_mg(2_000_000, 100_000, sd_frac=0.005) == 100_000
