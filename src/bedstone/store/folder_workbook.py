"""Every table written as a sheet of one workbook, so that reading it gives the same again."""

import datetime as dt
import io
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from bedstone.mill.cells import write_cell
from bedstone.mill.columns import Column, columns_of
from bedstone.mill.model import TABLES
from bedstone.store.sheet_cells import escaped, number_in

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

__all__ = ["workbook_bytes"]

_WIDEST = 42  # in signs; longer texts are read in the cell itself
_NARROWEST = 9
_MOMENT = "yyyy-mm-dd hh:mm"
_DAY = "yyyy-mm-dd"


def workbook_bytes(tables: Mapping[str, Sequence[Any]], *, system: str, zone: ZoneInfo) -> bytes:
    """Return the rows of tables, by name, as a workbook in the units of a mill."""
    import openpyxl  # slow, and needed for workbooks alone

    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    book.properties.creator = "Bedstone"
    for name, rows in tables.items():
        row_type = TABLES[name]
        sheet = book.create_sheet(name)
        columns = [(column, *column.written(system)) for column in columns_of(row_type)]
        _write_headings(sheet, [(header, column) for column, header, _ in columns])
        for line, row in enumerate(rows, start=2):
            for at, (column, _, unit) in enumerate(columns, start=1):
                text = write_cell(getattr(row, column.field), unit=unit, zone=zone)
                _fill(sheet, line, at, text, kind=column.kind)
        _set_widths(sheet)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _write_headings(sheet: "Worksheet", headings: Sequence[tuple[str, Column]]) -> None:
    """Write the names of the columns, each with its meaning as a note, in a row that stays in sight."""
    from openpyxl.comments import Comment
    from openpyxl.styles import Alignment, Font, PatternFill

    for at, (header, column) in enumerate(headings, start=1):
        cell = sheet.cell(row=1, column=at, value=header)
        cell.font = Font(bold=True)
        cell.fill = PatternFill("solid", fgColor="E7E6E6")
        cell.alignment = Alignment(vertical="top")
        cell.comment = Comment(column.attribute.meaning, "Bedstone", width=320, height=120)
    sheet.freeze_panes = "A2"
    sheet.sheet_view.zoomScale = 100


def _fill(sheet: "Worksheet", line: int, at: int, text: str, *, kind: type) -> None:
    """Fill a cell with what a person would have typed there: a number, a day, a time, else text."""
    if not text:
        return
    cell = sheet.cell(row=line, column=at)
    value = _value(text, kind)
    if isinstance(value, str):
        cell.value = escaped(value)
        cell.data_type = "s"  # "=", "#N/A" and the like are texts here
        cell.number_format = "@"
        return
    cell.value = value
    if isinstance(value, dt.datetime):
        cell.number_format = _MOMENT if len(text) == len("2026-01-01 00:00") else f"{_MOMENT}:ss"
    elif isinstance(value, dt.date):
        cell.number_format = _DAY
    else:
        cell.number_format = "General"


def _value(text: str, kind: type) -> str | float | dt.date | dt.datetime:
    if kind in (int, float):
        number = number_in(text)
        return text if number is None else number
    if kind is dt.date:
        day = dt.date.fromisoformat(text)
        return text if day.year <= _FIRST_YEAR else day
    if kind is dt.datetime and len(text) in {16, 19} and text[10] == " ":
        moment = dt.datetime.fromisoformat(text)
        return text if moment.year <= _FIRST_YEAR else moment
    return text


_FIRST_YEAR = 1900  # spreadsheets count days from there, and differ over that year


def _set_widths(sheet: "Worksheet") -> None:
    from openpyxl.utils import get_column_letter

    for at, cells in enumerate(sheet.iter_cols(values_only=True, max_row=60), start=1):
        longest = max((len(str(value)) for value in cells if value is not None), default=0)
        width = min(max(longest + 2, _NARROWEST), _WIDEST)
        sheet.column_dimensions[get_column_letter(at)].width = width
