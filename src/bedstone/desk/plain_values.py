"""Frozen values to plain JSON values and back: dates as ISO text, tuples as lists, enums as text.

Reading back is strict: an unknown field, a missing one or a value of another type is named with
where it stands, all of them at once.
"""

import datetime as dt
import types
import typing
from collections.abc import Mapping
from dataclasses import MISSING, fields, is_dataclass
from enum import Enum
from functools import cache
from typing import Any, TypeVar

from bedstone.errors import BadInput, Fault
from bedstone.ledger.model import Json

__all__ = ["iso", "moment", "plain", "row_from_plain", "row_plain"]

Row = TypeVar("Row")


def iso(moment_at: dt.datetime) -> str:
    """ISO text of a moment in UTC with Z at its end."""
    return moment_at.astimezone(dt.UTC).isoformat().replace("+00:00", "Z")


def moment(text: str) -> dt.datetime:
    """The aware moment that ISO text names, in UTC.

    Raises
    ------
    BadInput
        If it is no ISO moment or has no zone.
    """
    try:
        found = dt.datetime.fromisoformat(text)
    except ValueError:
        found = None
    if found is None or found.tzinfo is None:
        raise BadInput(
            "A moment cannot be read.",
            seen=repr(text),
            allowed="ISO text with its zone, such as 2026-11-25T06:30:00Z",
        )
    return found.astimezone(dt.UTC)


def plain(value: Any) -> Json:
    """The plain JSON value of a frozen value, whole."""
    if is_dataclass(value) and not isinstance(value, type):
        return row_plain(value)
    if isinstance(value, Enum):
        value = value.value
    if isinstance(value, dt.datetime):
        return iso(value)
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    if isinstance(value, tuple | list):
        return [plain(item) for item in value]
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if value is None or isinstance(value, str | int | float | bool):
        return value
    raise BadInput(f"A value of type {type(value).__name__} has no plain form.")


def row_plain(row: Any) -> dict[str, Json]:
    """The plain JSON object of a frozen dataclass, by field name."""
    return {item.name: plain(getattr(row, item.name)) for item in fields(row)}


@cache
def _hints(row_type: type) -> dict[str, Any]:
    return typing.get_type_hints(row_type)


class _Wrong(Exception):
    def __init__(self, faults: list[Fault]) -> None:
        super().__init__()
        self.faults = faults


def row_from_plain(row_type: type[Row], content: object, *, where: str = "") -> Row:
    """The frozen value that plain JSON content stands for.

    Raises
    ------
    BadInput
        With every fault: fields missing, unknown or of another type.
    """
    try:
        found = _read(row_type, content, where)
    except _Wrong as wrong:
        raise BadInput(
            f"This is not a {row_type.__name__.lower()} as Bedstone writes it.",
            faults=tuple(wrong.faults),
        ) from None
    return typing.cast("Row", found)


def _fault(where: str, found: str, allowed: str) -> _Wrong:
    return _Wrong([Fault(file=where, found=found, allowed=allowed)])


def _read(wanted: Any, value: object, where: str) -> object:
    """Return the value as the wanted type."""
    origin = typing.get_origin(wanted)
    if origin in (types.UnionType, typing.Union):
        return _read_union(wanted, value, where)
    if origin is tuple:
        if not isinstance(value, list | tuple):
            raise _fault(where, repr(value)[:60], "a list")
        item_type = typing.get_args(wanted)[0]
        return tuple(_read(item_type, item, f"{where}[{n}]") for n, item in enumerate(value))
    if isinstance(wanted, type) and is_dataclass(wanted):
        return _read_row(wanted, value, where)
    return _read_scalar(wanted, value, where)


def _read_union(wanted: Any, value: object, where: str) -> object:
    if value is None:
        return None
    (inner,) = (item for item in typing.get_args(wanted) if item is not types.NoneType)
    return _read(inner, value, where)


def _read_row(row_type: type, value: object, where: str) -> object:
    if not isinstance(value, Mapping):
        raise _fault(where, repr(value)[:60], "an object")
    faults: list[Fault] = []
    found: dict[str, object] = {}
    hints = _hints(row_type)
    declared = {item.name: item for item in fields(row_type)}
    faults.extend(
        Fault(file=f"{where}.{name}", found="a field that is not known", allowed="no such field")
        for name in value.keys() - declared.keys()
    )
    for name, item in declared.items():
        here = f"{where}.{name}" if where else name
        if name not in value:
            if item.default is MISSING and item.default_factory is MISSING:
                faults.append(Fault(file=here, found="nothing", allowed="a value"))
            continue
        try:
            found[name] = _read(hints[name], value[name], here)
        except _Wrong as wrong:
            faults.extend(wrong.faults)
    if faults:
        raise _Wrong(faults)
    return row_type(**found)


def _read_scalar(wanted: Any, value: object, where: str) -> object:
    if wanted is float and isinstance(value, int | float) and not isinstance(value, bool):
        return float(value)
    if wanted is int and isinstance(value, int) and not isinstance(value, bool):
        return value
    if (wanted is bool and isinstance(value, bool)) or (wanted is str and isinstance(value, str)):
        return value
    if isinstance(value, str) and isinstance(wanted, type):
        try:
            if issubclass(wanted, dt.datetime):
                return moment(value)
            if issubclass(wanted, dt.date | dt.time):
                return wanted.fromisoformat(value)
            if issubclass(wanted, Enum):
                return wanted(value)
        except ValueError:
            pass
    raise _fault(where, repr(value)[:60], _allowed(wanted))


def _allowed(wanted: Any) -> str:
    if isinstance(wanted, type) and issubclass(wanted, Enum):
        return "one of " + ", ".join(str(item.value) for item in wanted)
    names = {
        str: "text",
        int: "a whole number",
        float: "a number",
        bool: "true or false",
        dt.datetime: "an ISO moment with its zone",
        dt.date: "a date, YYYY-MM-DD",
        dt.time: "a time, HH:MM",
    }
    return names.get(wanted, getattr(wanted, "__name__", str(wanted)))
