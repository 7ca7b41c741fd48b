"""Readings of machines, typed or imported, many in one fact."""

import datetime as dt
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from bedstone.desk.appending import appended
from bedstone.desk.folding import folded
from bedstone.desk.plain_values import iso, moment
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.roles import check
from bedstone.errors import BadInput, Fault, RecordDamaged, Refused
from bedstone.ledger.model import Fact, Json, Recorded
from bedstone.mill.cells import near_words
from bedstone.mill.model import Mill
from bedstone.mill.reading_limits import allowed_reading
from bedstone.mill.reading_lines import reading_words
from bedstone.mill.readings import QUANTITIES, ReadingRow

__all__ = [
    "MOST_ROWS",
    "READINGS",
    "Series",
    "must_be_readings",
    "new_readings",
    "readings",
    "readings_fact",
    "record_readings",
    "series",
]

READINGS = "live.readings_taken/1"
MOST_ROWS = 10_000

Key = tuple[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """All readings of one quantity at one machine or place, in order of time, each time once."""

    instrument: str
    quantity: str
    unit: str
    rows: tuple[ReadingRow, ...]


def _note(
    before: Mapping[Key, Mapping[dt.datetime, ReadingRow]], facts: Iterable[Recorded]
) -> Mapping[Key, Mapping[dt.datetime, ReadingRow]]:
    found = dict(before)
    fresh: dict[Key, dict[dt.datetime, ReadingRow]] = {}
    for item in facts:
        content = item.fact.content
        key = (str(content["instrument"]), str(content["quantity"]))
        if key not in fresh:
            fresh[key] = dict(found.get(key, {}))
            found[key] = fresh[key]
        for row in _rows_of(content["rows"], where=f"fact {item.position}"):
            fresh[key][row.at] = row
    return found


def _rows_of(listed: Json, *, where: str) -> Iterable[ReadingRow]:
    for row in listed if isinstance(listed, list) else ():
        if not isinstance(row, list) or len(row) != 3:  # noqa: PLR2004 - time, value, run
            raise RecordDamaged(f"{where} holds a reading that is none.", seen=repr(row)[:60])
        at, value, run = row
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise RecordDamaged(f"{where} holds a reading that is none.", seen=repr(row)[:60])
        yield ReadingRow(at=moment(str(at)), value=float(value), run=str(run or ""))


def _by_key(record: Record) -> Mapping[Key, Mapping[dt.datetime, ReadingRow]]:
    return folded(record, "readings", kinds=(READINGS,), start={}, fold=_note)


def series(record: Record) -> tuple[Key, ...]:
    """What is read in this mill: machine or place, and quantity."""
    return tuple(sorted(_by_key(record)))


def readings(
    record: Record,
    instrument: str,
    quantity: str,
    *,
    since: dt.datetime | None = None,
    until: dt.datetime | None = None,
) -> Series:
    """The readings of one quantity at one machine; of a time read twice the last stands."""
    rows = _by_key(record).get((instrument, quantity), {})
    kept = (
        rows[at]
        for at in sorted(rows)
        if (since is None or at >= since) and (until is None or at <= until)
    )
    unit = QUANTITIES[quantity].unit if quantity in QUANTITIES else ""
    return Series(instrument=instrument, quantity=quantity, unit=unit, rows=tuple(kept))


def record_readings(
    record: Record,
    *,
    instrument: str,
    quantity: str,
    rows: Sequence[ReadingRow],
    how: str = "typed",
    by: str,
    at: dt.datetime,
) -> Recorded:
    """Record readings of one quantity at one machine, place or instrument.

    Asks: who may, a machine, bin, scale or meter, a quantity of the list, values within its range,
    none ahead of now. Refused when: all of them are on record already. Records:
    ``live.readings_taken/1``.
    """
    mill = current_mill(record)
    check(mill, by, "readings")
    must_be_readings(mill, instrument, quantity, rows, how=how, at=at)

    def act() -> Fact:
        new = new_readings(record, instrument, quantity, rows)
        if not new:
            raise Refused("All of these readings are on record already.", do="nothing")
        return readings_fact(instrument, quantity, new, how=how, by=by)

    return appended(record, act, at=at)


def new_readings(
    record: Record, instrument: str, quantity: str, rows: Sequence[ReadingRow]
) -> tuple[ReadingRow, ...]:
    """Those of some readings that say something new, in order of time."""
    there = _by_key(record).get((instrument, quantity), {})
    return tuple(sorted((row for row in rows if there.get(row.at) != row), key=lambda row: row.at))


def readings_fact(
    instrument: str, quantity: str, rows: Sequence[ReadingRow], *, how: str, by: str
) -> Fact:
    """The fact that says readings, which are in order of time and at least one."""
    return Fact(
        kind=READINGS,
        happened_at=rows[-1].at,
        by=by,
        content={
            "instrument": instrument,
            "quantity": quantity,
            "unit": QUANTITIES[quantity].unit,
            "how": how,
            "rows": [[iso(row.at), row.value, row.run or None] for row in rows],
        },
    )


def must_be_readings(
    mill: Mill,
    instrument: str,
    quantity: str,
    rows: Sequence[ReadingRow],
    *,
    how: str,
    at: dt.datetime,
) -> None:
    """Pass if readings can be taken as they stand."""
    _must_be_read(mill, instrument, quantity, how)
    faults = [
        fault
        for number, row in enumerate(rows, 1)
        for fault in _faults(mill, (instrument, quantity), row, at, number, how=how)
    ]
    if not 1 <= len(rows) <= MOST_ROWS:
        faults.append(Fault(found=f"{len(rows)} readings", allowed=f"1 to {MOST_ROWS} at a time"))
    if faults:
        raise BadInput("These readings cannot be taken as they stand.", faults=tuple(faults))


def _must_be_read(mill: Mill, instrument: str, quantity: str, how: str) -> None:
    places = [
        *mill.machine_by_code,
        *mill.bin_by_code,
        *mill.scale_by_code,
        *mill.meter_by_code,
    ]
    if instrument not in places:
        raise BadInput(
            "Nothing of the mill has this code.",
            seen=repr(instrument),
            allowed="a machine, bin, scale or meter",
            do=near_words(instrument, places),
        )
    if quantity not in QUANTITIES:
        raise BadInput(
            "This is not a quantity that is read.",
            seen=repr(quantity),
            allowed=", ".join(QUANTITIES),
            do=near_words(quantity, QUANTITIES),
        )
    if how not in ("typed", "imported"):
        raise BadInput("Say how the readings came.", seen=repr(how), allowed="typed or imported")


def _faults(
    mill: Mill, key: Key, row: ReadingRow, at: dt.datetime, number: int, *, how: str
) -> Iterable[Fault]:
    (instrument, quantity), units = key, mill.settings.units
    of_run = how == "typed" or bool(row.run)
    low, high, do = allowed_reading(mill, instrument, quantity, of_run=of_run)
    if not (math.isfinite(row.value) and low <= row.value <= high):
        found = (
            reading_words(row.value, quantity, units) if math.isfinite(row.value) else "no number"
        )
        yield Fault(
            row=number,
            column=quantity,
            found=found,
            allowed=f"{reading_words(low, quantity, units)} to "
            f"{reading_words(high, quantity, units)}",
            do=do,
        )
    if row.at > at:
        zone = mill.settings.zone
        yield Fault(
            row=number,
            column="time",
            found=f"{row.at.astimezone(zone):%Y-%m-%d %H:%M}",
            allowed=f"up to now, {at.astimezone(zone):%Y-%m-%d %H:%M}",
            do="look at the day and the clock",
        )
