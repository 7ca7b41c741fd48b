"""Shapes of bins, tables of volumes and buying terms: what cannot be is named."""

from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import pytest

from bedstone.mill.damage import DAMAGED
from bedstone.mill.equipment import Settings
from bedstone.mill.model import TABLES
from bedstone.mill.storage_tables import BinMeasure, BuyingTerm, KeepApart, VolumeAtDepth
from bedstone.mill.validate import Places, check_folder
from bedstone.store.folder import read_folder, rows_of
from fakes.folders import good_files, put

Rows = tuple[dict[str, tuple[Any, ...]], Settings]


@pytest.fixture
def good(tmp_path: Path) -> Rows:
    """The rows of a good folder with the three tables."""
    loaded = read_folder(put(good_files(), tmp_path))
    rows = {name: tuple(rows_of(loaded, name)) for name in TABLES}
    code = rows["bins"][0].bin
    rows |= {
        "bin_shapes": (BinMeasure(bin=code, section="round", width_m=4.0, wall_m=9.0),),
        "strapping": (
            VolumeAtDepth(bin=code, depth_m=0.0, volume_m3=20.0),
            VolumeAtDepth(bin=code, depth_m=3.0, volume_m3=0.0),
        ),
        "keep_apart": (
            KeepApart(
                ingredient=rows["ingredients"][0].ingredient,
                nutrient="moisture",
                boundary=15.5,
                unit="%",
            ),
        ),
        "buying_terms": (
            BuyingTerm(ingredient=rows["ingredients"][0].ingredient, lead_days=3, truck_kg=2e4),
        ),
    }
    return rows, loaded.mill.settings


def test_good_tables_have_no_fault(good: Rows):
    """Tables that agree have no fault."""
    rows, settings = good
    assert check_folder(rows, settings, places=Places()) == ()


WRONG: list[tuple[str, dict[str, Any], str, str]] = [
    ("bin_shapes", {"bin": "NOSUCH"}, "bin", "NOSUCH"),
    ("bin_shapes", {"length_m": 4.0}, "length_m", "a length"),
    ("bin_shapes", {"section": "rectangle"}, "length_m", "an empty cell"),
    ("bin_shapes", {"hopper": "wedge", "hopper_m": 1.0}, "hopper", "wedge under a round"),
    ("bin_shapes", {"hopper": "cone"}, "hopper_m", "0 m"),
    ("bin_shapes", {"hopper_m": 2.0}, "hopper_m", "bottom that is flat"),
    ("bin_shapes", {"wall_m": 0.0}, "wall_m", "no height"),
    ("bin_shapes", {"outlet_width_m": 5.0}, "outlet_width_m", "larger than the bin"),
    ("bin_shapes", {"outlet_off_m": 2.5}, "outlet_off_m", "beyond the wall"),
    ("strapping", {"volume_m3": -0.0, "depth_m": 0.0}, "volume_m3", "more than at a smaller"),
    ("strapping", {"bin": "NOSUCH"}, "bin", "NOSUCH"),
    ("keep_apart", {"ingredient": "NOSUCH"}, "ingredient", "NOSUCH"),
    ("keep_apart", {"nutrient": "colour"}, "nutrient", "colour"),
    ("buying_terms", {"ingredient": "NOSUCH"}, "ingredient", "NOSUCH"),
]


@pytest.mark.parametrize(("table", "change", "column", "found"), WRONG)
def test_what_cannot_be_is_named(
    good: Rows, table: str, change: dict[str, Any], column: str, found: str
):
    """Each row that cannot be gives a fault in its column that says what was found."""
    rows, settings = good
    first, *rest = rows[table]
    bad = replace(first, **change)
    if table == "strapping" and "volume_m3" in change:
        rest = [replace(rest[0], volume_m3=3.0)]
    faults = check_folder({**rows, table: (bad, *rest)}, settings, places=Places())
    assert any(
        fault.file == f"{table}.csv" and fault.column == column and found in fault.found
        for fault in faults
    ), faults


@pytest.mark.parametrize("table", ["bin_shapes", "strapping", "keep_apart", "buying_terms"])
def test_a_cell_that_could_not_be_understood_breaks_no_rule(good: Rows, table: str):
    """Whichever cell is damaged, the other rules run and nothing falls over."""
    rows, settings = good
    first, *rest = rows[table]
    for cell in fields(first):
        damaged = replace(first, **{cell.name: DAMAGED})
        check_folder({**rows, table: (damaged, *rest)}, settings, places=Places())


def test_one_row_is_no_table_of_volumes(good: Rows):
    """A bin with one row only is told that two are needed."""
    rows, settings = good
    faults = check_folder({**rows, "strapping": rows["strapping"][:1]}, settings, places=Places())
    assert any("two rows or more" in fault.allowed for fault in faults)
