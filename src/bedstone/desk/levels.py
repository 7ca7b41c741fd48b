"""How full a bin or tank was found: read from a tape, a gauge or its own scale."""

import datetime as dt
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from bedstone.desk.bin_room import volumes_of
from bedstone.desk.checks import must_be_bin
from bedstone.desk.folding import folded
from bedstone.desk.plain_values import iso, row_from_plain
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.roles import check
from bedstone.errors import BadInput
from bedstone.ledger.model import Fact, Json, Recorded
from bedstone.mill.model import Bin, Mill
from bedstone.quantities.line_figures import temperature_words
from bedstone.quantities.units import DIMENSIONS, from_si
from bedstone.storage.shape import Strapping

__all__ = ["LEVEL_READ", "Level", "levels", "must_be_warmth", "record_level"]

LEVEL_READ = "storage.level_read/1"
METHODS = {
    "tape": "distance from the top of the bin down to what lies in it",
    "gauge": "a gauge on the tank or bin",
    "weighed": "the bin stands on a scale",
    "bags": "full bags or sacks counted, times the weight on the bag",
}
COLDEST_C, HOTTEST_C = -20.0, 99.0
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
    temperature_c: float | None = None  # of a liquid, where it was read with the level


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
    temperature_c: float | None = None,
    by: str,
    at: dt.datetime,
    material: str = "",
) -> Recorded:
    """Record how full a bin was found; the books stay as they are (a count would change them).

    ``material`` says what was read where a bin is kept for nothing, as counted bags on a floor.

    Asks: who may, a bin, a material of the mill where one must be said, a method, a unit of it, a value that can be, how good the reading is.
    Records: ``storage.level_read/1``.
    """
    mill = current_mill(record)
    check(mill, by, "level")
    held = must_be_bin(mill, place)
    of = _material(mill, held, material, method)
    _possible(method, value=value, unit=unit, sd=sd)
    _inside(mill, place, method, value)
    if temperature_c is not None:
        must_be_warmth(temperature_c, mill)
    warm: dict[str, Json] = {} if temperature_c is None else {"temperature_c": temperature_c}
    fact = Fact(
        kind=LEVEL_READ,
        happened_at=at,
        by=by,
        content={
            "place": place,
            "material": of,
            "method": method,
            "value": float(value),
            "unit": unit,
            "sd": float(sd),
            **warm,
        },
    )
    return record.append(fact, recorded_at=at)


def _material(mill: Mill, held: Bin, material: str, method: str) -> str:
    """What was read: what the bin is kept for, else what was said."""
    of = held.holds or material
    if of not in ("", *mill.ingredient_by_code, *mill.product_by_code):
        raise BadInput("The mill has no such material.", seen=repr(of))
    if method == "bags" and not of:
        raise BadInput(
            "Say what is in the bags.",
            seen=f"{held.bin} is kept for nothing",
            allowed="a material of the mill",
        )
    return of


def must_be_warmth(temperature_c: float, mill: Mill) -> None:
    """Refuse a temperature that no liquid in a tank has.

    Raises
    ------
    BadInput
        If it is colder or hotter than that.
    """
    if not COLDEST_C <= temperature_c <= HOTTEST_C:
        units = mill.settings.units
        raise BadInput(
            "A liquid in a tank is not that warm or cold.",
            seen=temperature_words(temperature_c, units),
            allowed=f"{temperature_words(COLDEST_C, units)} to {temperature_words(HOTTEST_C, units)}",
        )


def _inside(mill: Mill, place: str, method: str, value: float) -> None:
    """Refuse a tape that went deeper than the bin, where its depth is known."""
    container = volumes_of(mill, place) if method == "tape" else None
    if container is None:
        return
    deepest_m = container.depth_m[-1] if isinstance(container, Strapping) else container.height_m
    if value > deepest_m:
        unit = DIMENSIONS["m"].written(mill.settings.units)
        seen, most = (float(from_si(length_m, unit)) for length_m in (value, deepest_m))
        raise BadInput(
            f"The tape went deeper than {mill.name_of(place)} is.",
            seen=f"{seen:.2f} {unit.label}",
            allowed=f"0 to {most:.2f} {unit.label}, from the rim down",
            do="read the tape again, or mend the measures of the bin in the tables",
        )


def _possible(method: str, *, value: float, unit: str, sd: float) -> None:
    """Refuse a reading that cannot be."""
    if method not in METHODS:
        raise BadInput("There is no such method.", seen=repr(method), allowed=", ".join(METHODS))
    units = {"tape": ("m",), "weighed": ("kg",), "bags": ("kg",)}.get(method, tuple(HIGHEST))
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
