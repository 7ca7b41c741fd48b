"""How full a bin or tank was found: read from a tape, a gauge or its own scale."""

import datetime as dt
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from bedstone.desk.checks import must_be_bin
from bedstone.desk.folding import folded
from bedstone.desk.plain_values import iso, row_from_plain
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.roles import check
from bedstone.errors import BadInput
from bedstone.ledger.model import Fact, Recorded

__all__ = ["LEVEL_READ", "Level", "levels", "record_level"]

LEVEL_READ = "storage.level_read/1"
METHODS = {
    "tape": "distance from the top of the bin down to what lies in it",
    "gauge": "a gauge on the tank or bin",
    "weighed": "the bin stands on a scale",
}
HIGHEST: Mapping[str, float] = {"m": 60.0, "frac": 1.0, "kg": 1e6}
"""Units of a level and the most that one may be; frac is the part of the capacity that is full."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """A level as it was read, before any reckoning of mass."""

    place: str
    material: str
    method: str
    value: float
    unit: str
    sd: float
    read_at: dt.datetime
    by: str
    position: int


def levels(record: Record, place: str | None = None) -> tuple[Level, ...]:
    """Levels in order of time, of one place or of all."""

    def note(before: tuple[Level, ...], facts: Iterable[Recorded]) -> tuple[Level, ...]:
        return before + tuple(
            row_from_plain(
                Level,
                {
                    **item.fact.content,
                    "read_at": iso(item.fact.happened_at),
                    "by": item.fact.by,
                    "position": item.position,
                },
                where=f"fact {item.position}",
            )
            for item in facts
        )

    start: tuple[Level, ...] = ()
    found = folded(record, "levels", kinds=(LEVEL_READ,), start=start, fold=note)
    rows = [row for row in found if place in (None, row.place)]
    return tuple(sorted(rows, key=lambda row: (row.read_at, row.position)))


def record_level(
    record: Record,
    place: str,
    *,
    method: str,
    value: float,
    unit: str,
    sd: float,
    by: str,
    at: dt.datetime,
) -> Recorded:
    """Record how full a bin was found; the books stay as they are (a count would change them).

    Asks: who may, a bin, a method, a unit of it, a value that can be, how good the reading is.
    Records: ``storage.level_read/1``.
    """
    mill = current_mill(record)
    check(mill, by, "level")
    held = must_be_bin(mill, place)
    if method not in METHODS:
        raise BadInput("There is no such method.", seen=repr(method), allowed=", ".join(METHODS))
    units = {"tape": ("m",), "weighed": ("kg",)}.get(method, tuple(HIGHEST))
    if unit not in units:
        raise BadInput(
            f"A {method} is not read in this unit.", seen=repr(unit), allowed=", ".join(units)
        )
    if not (math.isfinite(value) and 0 <= value <= HIGHEST[unit]):
        raise BadInput(
            "This level cannot be.",
            seen=f"{value:g} {unit}",
            allowed=f"from 0 to {HIGHEST[unit]:g} {unit}",
            do="look at the number and its unit",
        )
    if not (math.isfinite(sd) and 0 <= sd <= HIGHEST[unit]):
        raise BadInput("The error of a reading is nothing or more.", seen=f"{sd:g} {unit}")
    fact = Fact(
        kind=LEVEL_READ,
        happened_at=at,
        by=by,
        content={
            "place": place,
            "material": held.holds,
            "method": method,
            "value": float(value),
            "unit": unit,
            "sd": float(sd),
        },
    )
    return record.append(fact, recorded_at=at)
