"""Readings of machines out of a list into the record, all of them or none."""

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from bedstone.desk.line_water import book_water_again
from bedstone.desk.log_run import KnownRun, known_runs, must_be_run_of_line
from bedstone.desk.power_gaps import gap_facts
from bedstone.desk.readings import MOST_ROWS, must_be_readings, new_readings, readings_fact
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.roles import check
from bedstone.errors import BadInput, BedstoneError, Fault
from bedstone.mill.cells import near_words, read_cell
from bedstone.mill.columns import columns_of
from bedstone.mill.equipment import Settings
from bedstone.mill.list_moments import moment_cell
from bedstone.mill.model import Mill
from bedstone.mill.order_mapping import TheirFile
from bedstone.mill.reading_lines import READ_IN, ReadingLine, in_unit, unit_named
from bedstone.mill.readings import LINE_QUANTITIES, QUANTITIES, ReadingRow

__all__ = ["LIST_KINDS", "ReadingsImported", "import_readings"]

MOST_FAULTS = 50
LIST_KINDS: Mapping[str, type] = {item.field: item.kind for item in columns_of(ReadingLine)}
"""What cells of the list are, by the names of their columns."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingsImported:
    """What a list of readings brought: facts made, readings new, readings on record before, power
    events that the readings show as gaps, and runs whose water was booked anew by them.
    """

    facts: int
    new: int
    old: int
    power_events: int = 0
    water_again: tuple[str, ...] = ()


def import_readings(
    record: Record, their: TheirFile, *, by: str, at: dt.datetime
) -> ReadingsImported:
    """Record the readings of a list, one fact for each machine and quantity.

    Asks: who may, columns machine, quantity, read_at, value, unit and if need be run; units and
    values that can be; runs that go over the line on which they were read; nothing ahead of now. A
    reading that is on record already is left out, so that a list that has grown can be given
    again. Where everything that is read by itself fell silent at once, the power failed: every
    meter counts as unproved from then on (a gap that was none is taken back like any fact). Water
    that was reckoned for a run is booked anew by its readings. Records:
    ``live.readings_taken/1``, ``quality.power_event/1``.
    """
    mill = current_mill(record)
    check(mill, by, "readings")
    faults: list[Fault] = []
    series = _taken(record, mill, their, faults, at=at)
    file = their.name
    if faults:
        more = f"; the first {MOST_FAULTS} are named" if len(faults) > MOST_FAULTS else ""
        raise BadInput(
            f"{file} has {len(faults)} {'fault' if len(faults) == 1 else 'faults'}; nothing was "
            f"recorded{more}.",
            faults=tuple(faults[:MOST_FAULTS]),
        )
    new = {key: new_readings(record, *key, tuple(rows.values())) for key, rows in series.items()}
    facts = [
        readings_fact(*key, rows[start : start + MOST_ROWS], how="imported", by=by)
        for key, rows in sorted(new.items())
        for start in range(0, len(rows), MOST_ROWS)
    ]
    failed = gap_facts(record, new, by=by)
    if facts:
        record.append_all([*facts, *failed], recorded_at=at)
    count = sum(len(rows) for rows in new.values())
    named = {row.run for rows in new.values() for row in rows if row.run}
    again = book_water_again(record, named, by=by, at=at)
    return ReadingsImported(
        water_again=again,
        facts=len(facts),
        new=count,
        old=sum(len(rows) for rows in series.values()) - count,
        power_events=len(failed),
    )


def _taken(
    record: Record, mill: Mill, their: TheirFile, faults: list[Fault], *, at: dt.datetime
) -> dict[tuple[str, str], dict[dt.datetime, ReadingRow]]:
    """The readings of a list by machine and quantity; what cannot be taken is said."""
    series: dict[tuple[str, str], dict[dt.datetime, ReadingRow]] = {}
    runs: dict[dt.date, Mapping[str, KnownRun]] = {}
    for line, row in _lines(their, settings=mill.settings, faults=faults):
        found = _understood(row)
        if isinstance(found, Fault):
            faults.append(replace(found, file=their.name, row=line))
            continue
        try:
            must_be_readings(mill, row.machine, row.quantity, [found], how="imported", at=at)
            if row.run and row.quantity in LINE_QUANTITIES:
                day = found.at.date()
                if day not in runs:
                    runs[day] = known_runs(record, found.at)
                must_be_run_of_line(runs[day], row.run, row.machine)
        except BedstoneError as bad:
            said = bad.faults or (
                Fault(
                    found=": ".join(filter(None, (bad.seen, bad.what.rstrip(".")))),
                    allowed=bad.allowed,
                    do=bad.do,
                ),
            )
            faults += [replace(fault, file=their.name, row=line) for fault in said]
            continue
        series.setdefault((row.machine, row.quantity), {})[found.at] = found
    return series


def _lines(
    their: TheirFile, *, settings: Settings, faults: list[Fault]
) -> Iterator[tuple[int, ReadingLine]]:
    """The rows that can be read, each with its number; what cannot is said."""
    columns = {item.field: item for item in columns_of(ReadingLine)}
    header = their.columns
    wrong = [name for name in header if name not in columns]
    missing = [name for name, item in columns.items() if item.needed and name not in header]
    for name in (*wrong, *missing):
        found = "a column that is not known" if name in wrong else "no such column"
        do = near_words(name, columns) if name in wrong else "add it"
        faults.append(
            Fault(
                file=their.name, row=1, column=name, found=found, allowed=", ".join(columns), do=do
            )
        )
    if faults:
        return
    for row in their.rows:
        values: dict[str, Any] = {}
        for name, cell in row.cells.items():
            try:
                if columns[name].kind is dt.datetime:
                    cell = moment_cell(cell, settings.units)  # noqa: PLW2901 - the same cell, as ISO
                values[name] = read_cell(cell, column=columns[name], unit=None, zone=settings.zone)
            except BadInput as bad:
                faults += [
                    replace(fault, file=their.name, row=row.line, column=name)
                    for fault in bad.faults
                ]
        if len(values) == len(header):
            yield row.line, ReadingLine(**values)


def _understood(row: ReadingLine) -> ReadingRow | Fault:
    """The reading in the unit of its quantity, or what is wrong with quantity or unit."""
    quantity = QUANTITIES.get(row.quantity)
    if quantity is None:
        do = near_words(row.quantity, QUANTITIES)
        return Fault(
            column="quantity", found=repr(row.quantity), allowed=", ".join(QUANTITIES), do=do
        )
    unit = unit_named(row.unit, quantity.unit)
    if unit is None:
        allowed = " or ".join(READ_IN[quantity.unit])
        return Fault(column="unit", found=repr(row.unit), allowed=allowed)
    value = in_unit(row.value, unit=unit, wanted=quantity.unit)
    return ReadingRow(at=row.read_at.astimezone(dt.UTC), value=value, run=row.run)
