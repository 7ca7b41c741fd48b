"""Pellet lines, coolers, dies and pellets: each row that cannot be is named."""

from dataclasses import replace
from typing import Any

import pytest

from bedstone.demo.quillback.packaged import packaged_mill
from bedstone.mill.damage import DAMAGED
from bedstone.mill.model import TABLES
from bedstone.mill.pellet_tables import fan_points
from bedstone.mill.validate import Places, check_folder

MILL = packaged_mill()
FIELD = {"pellet_lines": "line", "coolers": "air_m3_s", "dies": "holes", "pellets": "diameter_mm",
         "heat_sensitive": "d_s"}  # fmt: skip


def rows() -> dict[str, tuple[Any, ...]]:
    """The tables of the demo mill."""
    return {name: getattr(MILL, name, ()) for name in TABLES}


WRONG: list[tuple[str, dict[str, Any], str, str]] = [
    ("pellet_lines", {"line": "MX1"}, "line", "mixer"),
    ("coolers", {"line": "NOSUCH"}, "line", "NOSUCH"),
    ("coolers", {"air_m3_s": None}, "air_m3_s", "neither"),
    ("coolers", {"fan_curve": "1:900 2:500"}, "air_m3_s", "both"),
    ("coolers", {"air_m3_s": None, "fan_curve": "2:900 1:500"}, "fan_curve", "2:900"),
    ("coolers", {"air_m3_s": 0.01}, "air_m3_s", "ft3/min for each ft2"),
    ("coolers", {"duct_pa": 300.0}, "duct_at_m3_s", "an empty cell"),
    ("dies", {"holes": 60_000}, "holes", "60000"),
    ("dies", {"thickness_mm": 20.0}, "thickness_mm", "20"),
    ("pellets", {"product": "SOW-14"}, "product", "mash"),
    ("pellets", {"diameter_mm": 12.0}, "diameter_mm", "12"),
    ("pellets", {"conditioner_liquid": "CORN"}, "conditioner_liquid", "grain"),
    ("heat_sensitive", {"ingredient": "VTM-X"}, "ingredient", "VTM-X"),
    ("heat_sensitive", {"nutrient": "vitamin X"}, "nutrient", "vitamin X"),
    ("heat_sensitive", {"ingredient": "CUSO4"}, "nutrient", "live culture"),
]


@pytest.mark.parametrize(("table", "change", "column", "found"), WRONG)
def test_a_row_that_cannot_be_is_named(table: str, change: dict[str, Any], column: str, found: str):
    """Each wrong cell is said with its table, its column and what stands there."""
    good = rows()
    bad = (replace(good[table][0], **change), *good[table][1:])
    faults = check_folder({**good, table: bad}, MILL.settings, places=Places())
    said = [fault for fault in faults if fault.file == f"{table}.csv"]
    assert said
    assert said[0].column.startswith(column.rsplit("_", 1)[0])
    assert found in said[0].found


def test_the_demo_mills_tables_have_no_fault():
    """Every table of the demo mill's pellet lines agrees with the rest."""
    faults = check_folder(rows(), MILL.settings, places=Places())
    assert [fault for fault in faults if fault.file.removesuffix(".csv") in FIELD] == []


@pytest.mark.parametrize("table", FIELD)
def test_a_damaged_cell_does_not_stop_the_other_rules(table: str):
    """A row with a cell that could not be read is left off; nothing else is said of it."""
    good = rows()
    damaged = (replace(good[table][0], **{FIELD[table]: DAMAGED}), *good[table][1:])
    faults = check_folder({**good, table: damaged}, MILL.settings, places=Places())
    assert [fault for fault in faults if fault.file == f"{table}.csv"] == []


@pytest.mark.parametrize(
    ("text", "points"),
    [
        ("0.5:1500 1.5:1200", ((0.5, 1500.0), (1.5, 1200.0))),
        ("0.5:1500", None),
        ("", None),
        ("a:b c:d", None),
        ("1:5 2:nan", None),
        ("1:5 2:6", None),
    ],
)
def test_a_fan_curve_is_read_or_refused(text: str, points: object):
    """Two points or more, volumes rising, pressures falling; nothing else is a curve."""
    assert fan_points(text) == points
