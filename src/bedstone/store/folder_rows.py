"""Rows of a table to the text of its CSV file."""

import csv
import io
from collections.abc import Sequence
from typing import Any
from zoneinfo import ZoneInfo

from bedstone.mill.cells import write_cell
from bedstone.mill.columns import columns_of

__all__ = ["table_text"]


def table_text(rows: Sequence[Any], *, row_type: type, system: str, zone: ZoneInfo) -> str:
    """Return header and rows as CSV, in the units of a mill that shows "SI" or "US"."""
    columns = [(column, *column.written(system)) for column in columns_of(row_type)]
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([header for _, header, _ in columns])
    for row in rows:
        cells = [
            write_cell(getattr(row, column.field), unit=unit, zone=zone)
            for column, _, unit in columns
        ]
        writer.writerow(cells)
    return out.getvalue()
