"""Rules of proof intervals, measures of tanks and liquids."""

from dataclasses import fields, replace
from typing import Any

import pytest

from bedstone.mill.damage import DAMAGED
from bedstone.mill.instrument_tables import Liquid, ProofInterval, TankMeasure
from bedstone.mill.validate import Places, check_folder
from fakes.desk_day import a_desk_mill

MILL = a_desk_mill()
TANK = next(row.bin for row in MILL.bins if row.kind == "tank")
BIN = next(row.bin for row in MILL.bins if row.kind != "tank")
LIQUID = Liquid(
    ingredient="MOL", density_kg_m3=1390.0, density_at_c=20.0, swells_frac=0.0004,
    thick_cp=18_000.0, thick_at_c=20.0, thin_cp=2_600.0, thin_at_c=40.0,
)  # fmt: skip
ROWS: dict[str, Any] = {
    "proof_intervals": ProofInterval(instrument=MILL.meters[0].meter, days=90, volume_m3=50.0),
    "tanks": TankMeasure(bin=TANK, lies="lying", diameter_m=2.0, length_m=4.0, ends="elliptical"),
    "liquids": LIQUID,
}


def faults_of(table: str, row: Any) -> list[tuple[str, str]]:
    """Column and what was found of each fault of a table with one row, beside the mill's own."""
    tables = {
        "bins": MILL.bins, "meters": MILL.meters, "scales": MILL.scales,
        "machines": MILL.machines, "ingredients": MILL.ingredients,
    }  # fmt: skip
    faults = check_folder({**tables, table: (row,)}, None, places=Places())
    return [(fault.column, fault.found) for fault in faults if fault.file == f"{table}.csv"]


@pytest.mark.parametrize(
    ("table", "change", "column", "found"),
    [
        ("proof_intervals", {"instrument": MILL.scales[0].scale}, "volume_m3", "no meter"),
        ("proof_intervals", {"instrument": "NOSUCH"}, "instrument", "NOSUCH"),
        ("tanks", {"lies": "standing"}, "ends", "standing tank"),
        ("tanks", {"bin": BIN}, "bin", "a bin of kind"),
        ("liquids", {"thin_at_c": 10.0}, "thin_cp", "when warm"),
        ("liquids", {"thin_cp": 20_000.0}, "thin_cp", "when warm"),
        ("liquids", {"thin_cp": None}, "thick_cp", "part of the viscosity"),
    ],
)
def test_what_cannot_be_is_named(table: str, change: dict[str, Any], column: str, found: str):
    """Each row that cannot be has a fault in its column; as it was it has none."""
    assert faults_of(table, ROWS[table]) == []
    said = faults_of(table, replace(ROWS[table], **change))
    assert any(name == column and found in words for name, words in said), said


@pytest.mark.parametrize("table", sorted(ROWS))
def test_a_cell_that_could_not_be_understood_breaks_no_rule(table: str):
    """Whichever cell is damaged, the other rules run and nothing falls over."""
    for cell in fields(ROWS[table]):
        faults_of(table, replace(ROWS[table], **{cell.name: DAMAGED}))


def test_a_viscosity_may_be_left_out_whole():
    """Four empty cells are no fault."""
    bare = replace(LIQUID, thick_cp=None, thick_at_c=None, thin_cp=None, thin_at_c=None)
    assert faults_of("liquids", bare) == []
