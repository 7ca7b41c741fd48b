"""Cells of a spreadsheet to the text that a person would have typed into a CSV file, and back."""

import datetime as dt
import math
import re
from decimal import Decimal
from typing import Any

from openpyxl.cell.cell import Cell, MergedCell

from bedstone.errors import Fault

__all__ = ["cell_text", "escaped", "number_in", "read_text", "unescaped"]

_SIGN = re.compile(r"_x([0-9A-Fa-f]{4})_")
_NEAR_A_SECOND = dt.timedelta(milliseconds=2)
"""A spreadsheet keeps a time as a part of a day, which meets a whole second not quite."""


def unescaped(text: str) -> str:
    """Return text as a spreadsheet shows it: ``_x000D_`` stands for a sign by its number."""
    return _SIGN.sub(lambda found: chr(int(found[1], 16)), text).replace("\r\n", "\n")


def escaped(text: str) -> str:
    """Return text so that a spreadsheet shows it as it is."""
    return _SIGN.sub(lambda found: f"_x005F_{found[0][1:]}", text)


def read_text(value: object, kind: type) -> str:
    """Return the text of a cell's value, as :func:`read_cell` expects it in a column of a kind."""
    if value is None:
        return ""
    if isinstance(value, bool):
        yes_no = "yes" if value else "no"
        return yes_no if kind is bool else str(value).upper()
    if isinstance(value, int | float):
        return _number_text(value)
    if isinstance(value, dt.date | dt.time | dt.timedelta):
        return _time_text(value, kind)
    return unescaped(str(value))


def _time_text(value: dt.date | dt.time | dt.timedelta, kind: type) -> str:
    """Return a day, a time of day or a moment; a moment at midnight is a day where days stand."""
    any_day = dt.datetime(2000, 1, 1)  # noqa: DTZ001 - only the time of the sum is taken
    if isinstance(value, dt.timedelta):
        if kind is not dt.time or not dt.timedelta(0) <= value < dt.timedelta(days=1):
            return str(value)
        value = (any_day + value).time()
    if isinstance(value, dt.time):
        text = _moment_text(dt.datetime.combine(any_day, value), whole_day=False)
        return text.split(" ", maxsplit=1)[1]
    if isinstance(value, dt.datetime):
        return _moment_text(value, whole_day=kind is not dt.datetime)
    return value.isoformat()


def _number_text(value: float) -> str:
    """Return a number in plain decimal notation; whole numbers come from spreadsheets as floats."""
    if isinstance(value, float) and not math.isfinite(value):
        return str(value)
    text = format(Decimal(repr(value)), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def _moment_text(value: dt.datetime, *, whole_day: bool) -> str:
    nearest = (value + dt.timedelta(milliseconds=500)).replace(microsecond=0)
    if abs(nearest - value) < _NEAR_A_SECOND:
        value = nearest
    if whole_day and value.time() == dt.time():
        return value.date().isoformat()
    text = value.isoformat(" ")
    return text.removesuffix(":00") if len(text) == len("2026-01-01 00:00:00") else text


def number_in(text: str) -> float | None:
    """Return the number that a cell may hold in place of a text, if it is read back as that text."""
    try:
        value = float(text)
    except ValueError:
        return None
    kept = float(f"{value:.16g}")  # as many digits as are written into a workbook
    return value if math.isfinite(value) and _number_text(kept) == text else None


def cell_text(cell: Cell | MergedCell, shown: Any, *, kind: type) -> str | Fault:
    """Return the text of a cell in a column of a kind, or what is wrong with it.

    Parameters
    ----------
    cell : Cell
        With its formula, if it has one.
    shown : object
        What a spreadsheet last showed there.
    """
    if cell.data_type == "f" and shown is None:
        return Fault(
            found="a formula whose result was never saved",
            allowed="a value, or a formula that a spreadsheet program has worked out",
            do="open the file in a spreadsheet program and save it again",
        )
    value: object = shown if cell.data_type == "f" else cell.value
    percent = kind in (int, float) and "%" in str(cell.number_format)
    if percent and isinstance(value, int | float) and not isinstance(value, bool):
        return Fault(
            found=f"{_number_text(100 * value)} %, a cell shown as per cent, which holds "
            f"{_number_text(value)}",
            allowed="a plain number in the unit that the name of the column says",
            do="give the cell the format of a plain number and type the number again",
        )
    return read_text(value, kind)
