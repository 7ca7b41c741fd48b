"""Permitted deviations as the rules print them; non-protein nitrogen at the edge of its limits."""

import csv
from pathlib import Path

import pytest

from bedstone.formulation.nonprotein import nonprotein_findings
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


@pytest.mark.parametrize(
    ("protein", "nonprotein", "ruminant", "verdict"),
    [
        (26.25, 8.75, True, None),  # exactly a third and exactly 8.75: neither is above
        (26.28, 8.76, True, "act"),
        (20.0, 6.7, True, "act"),  # 33.5 % of the protein
        (20.0, 6.6, True, None),
        (40.0, 8.8, True, "act"),
        (16.0, 1.25, False, None),
        (16.0, 1.26, False, "stop"),
    ],
)
def test_nonprotein_nitrogen_at_its_limits(
    protein: float, nonprotein: float, *, ruminant: bool, verdict: str | None
) -> None:
    """Caution strictly above 8.75 % of the feed or a third of the protein; others at most 1.25 %.

    State feed rules after the model law (Oregon 603-058-0180, Missouri 2 CSR 70-30.070, others).
    """
    found = nonprotein_findings(
        "FEED",
        crude_protein_percent=protein,
        nonprotein_percent=nonprotein,
        ruminant=ruminant,
    )
    assert [str(finding.verdict) for finding in found] == ([verdict] if verdict else [])
