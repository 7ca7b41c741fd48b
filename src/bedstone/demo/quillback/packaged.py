"""The demo mill's tables, read from the CSV files that ship with the package."""

import csv
from functools import cache
from importlib.resources import files
from typing import Any

from bedstone.mill.cells import read_cell
from bedstone.mill.columns import columns_of
from bedstone.mill.model import TABLES, Mill, Settings

__all__ = ["packaged_mill"]

SETTINGS = Settings(
    format=1,
    name="Quillback Mill",
    place="1 Quillback Lane, Quill, Ferris County",
    time_zone="America/Chicago",
    units="US",
    flush_material="BARLEY-G",
    flush_bin="FL1",
    labour_usd_h=64.0,
    late_usd_t_h=3.0,
    sack_kg=22.6796185,
    altitude_m=198.0,
    tag_rule="florida",  # an example: Ferris County lies in no state
    controls_batch="Batch",
    controls_sequence="Step",
    controls_ingredient="Material",
    controls_actual="Actual lb",
    controls_unit="lb",
    controls_lot="Lot",
)
MERGED = frozenset({"orders", "opening_stock", "weather", "assays"})
"""Tables that depend on the day: :mod:`orders`, :mod:`opening`, :mod:`weather`, the past's assays."""


def _table(name: str, row_type: type) -> tuple[Any, ...]:
    text = (files("bedstone.demo.quillback") / "tables" / f"{name}.csv").read_text("utf-8")
    by_header = {
        header: (column, unit)
        for column in columns_of(row_type)
        for header, unit in column.headers.items()
    }
    rows = []
    for cells in csv.DictReader(text.splitlines()):
        values = {}
        for header, cell in cells.items():
            column, unit = by_header[header]
            values[column.field] = read_cell(cell, column=column, unit=unit, zone=SETTINGS.zone)
        rows.append(row_type(**values))
    return tuple(rows)


@cache
def packaged_mill() -> Mill:
    """The demo mill's settings and tables; the same on every day."""
    tables: dict[str, Any] = {
        name: _table(name, row_type) for name, row_type in TABLES.items() if name not in MERGED
    }
    return Mill(settings=SETTINGS, **tables)
