"""Readings of machines out of a CSV file into the record, all of them or none."""

import csv
import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any
from zoneinfo import ZoneInfo

from bedstone.desk.power_gaps import gap_facts
from bedstone.desk.readings import MOST_ROWS, must_be_readings, new_readings, readings_fact
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.roles import check
from bedstone.errors import BadInput, Fault
from bedstone.mill.cells import near_words, read_cell
from bedstone.mill.columns import columns_of
from bedstone.mill.reading_lines import READ_IN, ReadingLine, in_unit
from bedstone.mill.readings import QUANTITIES, ReadingRow

__all__ = ["ReadingsImported", "import_readings"]

MOST_FAULTS = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingsImported:
    """What a file of readings brought: facts made, readings new, readings on record before, and
    power events that the readings show as gaps.
    """

    facts: int
    new: int
    old: int
    power_events: int = 0


def import_readings(
    record: Record, text: str, *, by: str, at: dt.datetime, file: str = "the file of readings"
) -> ReadingsImported:
    """Record the readings of a CSV file, one fact for each machine and quantity.

    Asks: who may, columns machine, quantity, read_at, value, unit and if need be run; units and
    values that can be; nothing ahead of now. A reading that is on record already is left out, so
    that a file that has grown can be given again. Where everything that is read by itself fell
    silent at once, the power failed: every meter counts as unproved from then on (a gap that was
    none is taken back like any fact). Records: ``live.readings_taken/1``,
    ``quality.power_event/1``.
    """
    mill = current_mill(record)
    check(mill, by, "readings")
    series: dict[tuple[str, str], dict[dt.datetime, ReadingRow]] = {}
    faults: list[Fault] = []
    for line, row in _lines(text, file=file, zone=mill.settings.zone, faults=faults):
        found = _understood(row)
        if isinstance(found, Fault):
            faults.append(replace(found, file=file, row=line))
            continue
        try:
            must_be_readings(mill, row.machine, row.quantity, [found], how="imported", at=at)
        except BadInput as bad:
            said = bad.faults or (Fault(column="machine", found=bad.seen, allowed=bad.allowed),)
            faults += [replace(fault, file=file, row=line) for fault in said]
            continue
        series.setdefault((row.machine, row.quantity), {})[found.at] = found
    if faults:
        more = f"; the first {MOST_FAULTS} are named" if len(faults) > MOST_FAULTS else ""
        raise BadInput(
            f"{file} has {len(faults)} faults; nothing was recorded{more}.",
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
    return ReadingsImported(
        facts=len(facts),
        new=count,
        old=sum(len(rows) for rows in series.values()) - count,
        power_events=len(failed),
    )


def _lines(
    text: str, *, file: str, zone: ZoneInfo, faults: list[Fault]
) -> Iterator[tuple[int, ReadingLine]]:
    """The lines that can be read, each with its number; what cannot is said."""
    reader = csv.reader(text.splitlines())
    header = [name.strip() for name in next(reader, [])]
    columns = {item.field: item for item in columns_of(ReadingLine)}
    wrong = [name for name in header if name not in columns]
    missing = [name for name, item in columns.items() if item.needed and name not in header]
    for name in (*wrong, *missing):
        found = "a column that is not known" if name in wrong else "no such column"
        do = near_words(name, columns) if name in wrong else "add it"
        faults.append(
            Fault(file=file, row=1, column=name, found=found, allowed=", ".join(columns), do=do)
        )
    if faults:
        return
    for cells in reader:
        if not any(cell.strip() for cell in cells) or cells[0].lstrip().startswith("#"):
            continue
        values: dict[str, Any] = {}
        for name, cell in zip(header, cells, strict=False):
            try:
                values[name] = read_cell(cell, column=columns[name], unit=None, zone=zone)
            except BadInput as bad:
                faults += [
                    replace(fault, file=file, row=reader.line_num, column=name)
                    for fault in bad.faults
                ]
        if len(cells) != len(header):
            found = f"{len(cells)} cells"
            allowed = f"{len(header)} cells, as the header has"
            faults.append(Fault(file=file, row=reader.line_num, found=found, allowed=allowed))
        elif len(values) == len(header):
            yield reader.line_num, ReadingLine(**values)


def _understood(row: ReadingLine) -> ReadingRow | Fault:
    """The reading in the unit of its quantity, or what is wrong with quantity or unit."""
    quantity = QUANTITIES.get(row.quantity)
    if quantity is None:
        do = near_words(row.quantity, QUANTITIES)
        return Fault(
            column="quantity", found=repr(row.quantity), allowed=", ".join(QUANTITIES), do=do
        )
    units: Mapping[str, object] = READ_IN[quantity.unit]
    if row.unit not in units:
        return Fault(column="unit", found=repr(row.unit), allowed=" or ".join(units))
    value = in_unit(row.value, unit=row.unit, wanted=quantity.unit)
    return ReadingRow(at=row.read_at.astimezone(dt.UTC), value=value, run=row.run)
