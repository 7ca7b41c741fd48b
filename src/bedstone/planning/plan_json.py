"""A plan as plain JSON values (``plan/1``) and back, with every fault of a hand-edited one named.

The shape follows the values of :mod:`bedstone.mill.plan` field by field: the keys are the names
of the fields, times are ISO text in UTC ending in "Z", masses whole milligrams. What each key
means is described in ``docs/plan-json.md``.
"""

import dataclasses
import datetime as dt
import math
import types
import typing
from collections.abc import Mapping
from enum import StrEnum
from functools import cache

from bedstone.errors import BadInput, Fault
from bedstone.mill.plan import Plan

__all__ = ["plan_from_json", "plan_to_json"]

FORMAT = "plan/1"
LONGEST_SHOWN = 60


def plan_to_json(plan: Plan) -> dict[str, typing.Any]:
    """The plan as plain JSON values."""
    content = _plain(plan)
    assert isinstance(content, dict)  # noqa: S101 - a dataclass always becomes an object
    return content


def plan_from_json(content: object) -> Plan:
    """The plan that JSON values describe.

    Raises
    ------
    BadInput
        If it is not a ``plan/1``: every key that is missing, unknown or of another kind, every
        time without a zone, mass below nothing and id that occurs twice is named.
    """
    if not isinstance(content, Mapping):
        raise BadInput(
            "This is not a plan.",
            seen=_shown(content),
            allowed="an object with the keys of plan/1",
            do="take a plan written by bedstone plan --json",
        )
    if content.get("format") != FORMAT:
        raise BadInput(
            "The plan's format is not known.",
            seen=_shown(content.get("format", "no key 'format'")),
            allowed=f"{FORMAT!r}",
            do="take a plan written by bedstone plan --json",
        )
    faults: list[Fault] = []
    plan = _value(Plan, content, where="plan", faults=faults)
    if isinstance(plan, Plan):
        faults.extend(_doubles(plan))
    if faults:
        raise BadInput(
            f"The plan has {len(faults)} fault{'s' if len(faults) > 1 else ''}.",
            do="correct them, or make the plan again",
            faults=tuple(faults),
        )
    assert isinstance(plan, Plan)  # noqa: S101 - no faults, so it is whole
    return plan


def _plain(value: object) -> object:
    if isinstance(value, StrEnum):
        return value.value
    if dataclasses.is_dataclass(value):
        return {item.name: _plain(getattr(value, item.name)) for item in dataclasses.fields(value)}
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    if isinstance(value, dt.datetime):
        return value.astimezone(dt.UTC).isoformat().replace("+00:00", "Z")
    if isinstance(value, dt.date):
        return value.isoformat()
    return value


@cache
def _may_be_missing(row_type: type) -> frozenset[str]:
    return frozenset(
        item.name
        for item in dataclasses.fields(row_type)
        if item.metadata.get("may_be_missing", False)
    )


@cache
def _hints(row_type: type) -> dict[str, typing.Any]:
    return typing.get_type_hints(row_type)


def _shown(value: object) -> str:
    text = repr(value)
    return text if len(text) <= LONGEST_SHOWN else text[: LONGEST_SHOWN - 3] + "..."


def _bad(value: object, *, where: str, allowed: str, faults: list[Fault]) -> None:
    faults.append(Fault(column=where, found=_shown(value), allowed=allowed))


def _value(kind: typing.Any, value: object, *, where: str, faults: list[Fault]) -> object:
    """The value as ``kind``; None with a fault added when it cannot be."""
    origin = typing.get_origin(kind)
    if origin is types.UnionType:
        if value is None:
            return None
        inner = next(part for part in typing.get_args(kind) if part is not type(None))
        return _value(inner, value, where=where, faults=faults)
    if origin is tuple:
        return _items(typing.get_args(kind)[0], value, where=where, faults=faults)
    if dataclasses.is_dataclass(kind):
        return _row(typing.cast("type", kind), value, where=where, faults=faults)
    return _scalar(kind, value, where=where, faults=faults)


def _items(
    kind: typing.Any, value: object, *, where: str, faults: list[Fault]
) -> tuple[object, ...]:
    if not isinstance(value, list):
        _bad(value, where=where, allowed="a list", faults=faults)
        return ()
    return tuple(
        _value(kind, item, where=f"{where}[{index}]", faults=faults)
        for index, item in enumerate(value)
    )


def _row(kind: type, value: object, *, where: str, faults: list[Fault]) -> object:
    if not isinstance(value, Mapping):
        _bad(value, where=where, allowed="an object", faults=faults)
        return None
    before = len(faults)
    hints = _hints(kind)
    names = [item.name for item in dataclasses.fields(kind)]
    faults.extend(
        Fault(column=f"{where}.{name}", found="an unknown key", allowed=", ".join(names))
        for name in sorted(set(map(str, value)) - set(names))
    )
    got: dict[str, object] = {}
    for name in names:
        if name not in value:
            if name in _may_be_missing(kind):
                continue
            faults.append(
                Fault(
                    column=f"{where}.{name}", found="no such key", allowed="the key must be there"
                )
            )
            continue
        got[name] = _value(hints[name], value[name], where=f"{where}.{name}", faults=faults)
    return kind(**got) if len(faults) == before else None


def _scalar(kind: typing.Any, value: object, *, where: str, faults: list[Fault]) -> object:
    if kind is dt.datetime:
        return _time(value, where=where, faults=faults)
    if kind is dt.date:
        return _day(value, where=where, faults=faults)
    if isinstance(kind, type) and issubclass(kind, StrEnum):
        return _word(kind, value, where=where, faults=faults)
    if kind is str or kind is bool:
        if isinstance(value, kind):
            return value
        _bad(value, where=where, allowed=f"{'text' if kind is str else 'yes or no'}", faults=faults)
        return None
    return _number(kind, value, where=where, faults=faults)


def _time(value: object, *, where: str, faults: list[Fault]) -> dt.datetime | None:
    allowed = 'a time with its offset, such as "2026-11-25T13:05:00Z"'
    try:
        moment = dt.datetime.fromisoformat(value) if isinstance(value, str) else None
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        _bad(value, where=where, allowed=allowed, faults=faults)
        return None
    return moment.astimezone(dt.UTC)


def _day(value: object, *, where: str, faults: list[Fault]) -> dt.date | None:
    try:
        return dt.date.fromisoformat(value) if isinstance(value, str) else _not_a_day()
    except ValueError:
        _bad(value, where=where, allowed='a day such as "2026-11-25"', faults=faults)
        return None


def _not_a_day() -> dt.date:
    raise ValueError


def _word(kind: type[StrEnum], value: object, *, where: str, faults: list[Fault]) -> StrEnum | None:
    words = [item.value for item in kind]
    if isinstance(value, str) and value in words:
        return kind(value)
    _bad(value, where=where, allowed=", ".join(words), faults=faults)
    return None


_MAY_BE_BELOW_NOTHING = frozenset({"value", "limit"})


def _number(kind: type, value: object, *, where: str, faults: list[Fault]) -> int | float | None:
    name = where.rsplit(".", 1)[-1]
    lowest = "" if name in _MAY_BE_BELOW_NOTHING else ", not below nothing"
    word = "a whole number" if kind is int else "a number"
    right = isinstance(value, int) if kind is int else isinstance(value, int | float)
    if not right or isinstance(value, bool) or not math.isfinite(typing.cast("float", value)):
        _bad(value, where=where, allowed=word + lowest, faults=faults)
        return None
    number = typing.cast("float", value)
    if lowest and number < 0:
        _bad(value, where=where, allowed=word + lowest, faults=faults)
        return None
    return number if kind is int else float(number)


def _doubles(plan: Plan) -> list[Fault]:
    faults = []
    for where, ids in (
        ("plan.batches", [item.batch for item in plan.batches]),
        ("plan.runs", [item.run for item in plan.runs]),
        ("plan.clean_outs", [item.clean_out for item in plan.clean_outs]),
        ("plan.grinding", [item.job for item in plan.grinding]),
    ):
        seen: set[str] = set()
        for one in ids:
            if one in seen:
                faults.append(
                    Fault(column=where, found=f"{one!r} twice", allowed="each id once in a plan")
                )
            seen.add(one)
    return faults
