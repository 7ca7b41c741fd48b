"""Failures of power from a file: of the utility, a recorder, another book."""

import csv
import datetime as dt
import io
from dataclasses import dataclass

from bedstone.desk.proofs import power_events, record_power_event
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import BadInput, Fault
from bedstone.mill.equipment import Settings
from bedstone.mill.list_moments import moment_cell

__all__ = ["PowerTaken", "import_power"]

COLUMNS = ("from", "to")


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerTaken:
    """How many failures were recorded, and how many were on record before."""

    new: int
    old: int


def import_power(record: Record, text: str, *, by: str, at: dt.datetime, file: str) -> PowerTaken:
    """Record the failures of a CSV with columns from, to and, if need be, note.

    Asks: times with date and clock, in the mill's own time where they name no zone, none ahead of
    now. Every fault of the file is named before anything is recorded. What is on record already
    is left out. Records: ``quality.power_event/1``.
    """
    settings = current_mill(record).settings
    rows = csv.DictReader(io.StringIO(text))
    missing = [name for name in COLUMNS if name not in (rows.fieldnames or ())]
    if missing:
        raise BadInput(
            f"{file} has no column {missing[0]!r}.",
            seen=", ".join(rows.fieldnames or ()) or "no columns",
            allowed="from, to, note",
        )
    faults: list[Fault] = []
    found: list[tuple[dt.datetime, dt.datetime, str]] = []
    for number, row in enumerate(rows, start=2):
        times = {name: _moment(row.get(name) or "", settings) for name in COLUMNS}
        faults += [
            Fault(
                file=file,
                row=number,
                column=name,
                found=repr((row.get(name) or "")[:40]),
                allowed="a day with a time, as 2026-11-13 13:37"
                + (", or 11/13/2026 1:37 PM" if settings.units == "US" else "")
                + ", up to now",
            )
            for name, when in times.items()
            if when is None or when > at
        ]
        start, end = times["from"], times["to"]
        if start is not None and end is not None:
            if end < start:
                said = f"{row.get('to')!r}, before it went"
                faults.append(
                    Fault(file=file, row=number, column="to", found=said, allowed="after from")
                )
            found.append((start, end, (row.get("note") or "").strip()))
    if faults:
        raise BadInput(f"{file} cannot be taken; nothing was recorded.", faults=tuple(faults))
    return _record(record, found, by=by, at=at)


def _record(
    record: Record, found: list[tuple[dt.datetime, dt.datetime, str]], *, by: str, at: dt.datetime
) -> PowerTaken:
    known = {row.from_at for row in power_events(record)}
    new = 0
    for start, end, note in found:
        if start not in known:
            known.add(start)
            new += 1
            record_power_event(
                record, from_at=start, to_at=end, how="imported", note=note, by=by, at=at
            )
    return PowerTaken(new=new, old=len(found) - new)


def _moment(text: str, settings: Settings) -> dt.datetime | None:
    try:
        found = dt.datetime.fromisoformat(moment_cell(text, settings.units).strip())
    except (BadInput, ValueError):
        return None
    return (found if found.tzinfo else found.replace(tzinfo=settings.zone)).astimezone(dt.UTC)
