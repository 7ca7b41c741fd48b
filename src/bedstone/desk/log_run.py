"""Readings of a run as its operator types them: several quantities and times, all or none."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from bedstone.desk.line_water import book_water_again
from bedstone.desk.made import made_batches, started_batches
from bedstone.desk.plans import batch_of, find_plan, latest_plan, released_plan
from bedstone.desk.readings import must_be_readings, new_readings, readings_fact
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.roles import check
from bedstone.errors import BadInput, Conflict, Fault, Refused, Unknown
from bedstone.ledger.model import Fact
from bedstone.mill.cells import near_words
from bedstone.mill.model import Mill
from bedstone.mill.readings import LINE_QUANTITIES, ReadingRow

__all__ = ["NEAR", "KnownRun", "Logged", "find_run", "known_runs", "log_run", "must_be_run_of_line"]

NEAR = dt.timedelta(days=4)
"""Farther from the making of its batches than this no run is on its line."""
NEAR_DAYS = range(-1, 2)
TRIES = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownRun:
    """A run that is made, being made or planned, and the pellet lines that it goes over."""

    run: str
    product: str
    lines: tuple[str, ...]
    near_at: dt.datetime  # when its last batch was made, or begun, or is planned


@dataclass(frozen=True, slots=True, kw_only=True)
class Logged:
    """What came of readings that were typed."""

    new: int
    water_again: bool  # the run's water was booked anew by them


def known_runs(record: Record, at: dt.datetime) -> Mapping[str, KnownRun]:
    """Runs of pelleted feed with a batch on record, or in a plan of the days around a moment."""
    mill = current_mill(record)
    found: dict[str, KnownRun] = {}
    day = at.astimezone(mill.settings.zone).date()
    for number in NEAR_DAYS:
        near = day + dt.timedelta(days=number)
        standing = released_plan(record, near) or latest_plan(record, near)
        for row in standing.plan.batches if standing else ():
            _note(found, mill, row.run, row.material, route=row.route, at=row.start_at)
    for begun in started_batches(record).values():
        if begun.batch not in made_batches(record):
            row = batch_of(find_plan(record, begun.plan).plan, begun.batch)
            _note(found, mill, row.run, row.material, route=row.route, at=begun.happened_at)
    for made in made_batches(record).values():
        one = made.made
        _note(found, mill, one.run, one.material, route=one.route, at=made.happened_at)
    return found


def _note(
    found: dict[str, KnownRun],
    mill: Mill,
    run: str,
    product: str,
    *,
    route: tuple[str, ...],
    at: dt.datetime,
) -> None:
    if product not in mill.product_by_code:
        return  # a flush
    codes = set(route) & set(mill.machine_by_code)
    lines = {code for code in codes if mill.machine_by_code[code].kind == "pellet line"}
    if lines:
        before = found.get(run)
        lines |= set(before.lines) if before else set()
        found[run] = KnownRun(run=run, product=product, lines=tuple(sorted(lines)), near_at=at)


def find_run(runs: Mapping[str, KnownRun], run: str) -> KnownRun:
    """A run of a pellet line by its number.

    Raises
    ------
    Unknown
        If no run of that number goes over a pellet line.
    """
    if run in runs:
        return runs[run]
    raise Unknown(
        f"No run {run[:40]!r} goes over a pellet line.",
        allowed="a run with a batch on record, or in the plan of the day",
        do=near_words(run, runs) or "look at its sheet",
    )


def must_be_run_of_line(runs: Mapping[str, KnownRun], run: str, line: str) -> KnownRun:
    """The run, if it goes over the line.

    Raises
    ------
    Unknown
        If no such run goes over a pellet line.
    BadInput
        If it goes over another line.
    """
    found = find_run(runs, run)
    if line not in found.lines:
        raise BadInput(
            f"Run {run} does not go over {line[:40]}.",
            seen=line[:40],
            allowed=", ".join(found.lines),
            do="look at the line and at the number of the run",
        )
    return found


def log_run(
    record: Record,
    run: str,
    line: str,
    rows: Mapping[str, Sequence[ReadingRow]],
    *,
    not_understood: Sequence[Fault] = (),
    by: str,
    at: dt.datetime,
) -> Logged:
    """Record what was read while a run went over a line, and book its water by it.

    Asks: who may, a run that goes over the line, quantities of a pellet line, values within their
    range, times not ahead of now and near the making of its batches, nothing that could not be
    understood beside them: all faults are said at once. Refused when: all is on record already. Records: ``live.readings_taken/1``, one for each quantity, all or none; then
    the water of the run anew where it was reckoned (``book_water_again``).
    """
    mill = current_mill(record)
    check(mill, by, "readings")
    known = must_be_run_of_line(known_runs(record, at), run, line)
    faults = [*not_understood, *_faults(mill, known, line, rows, at=at)]
    if not any(rows.values()) and not faults:
        raise BadInput("Nothing was typed.", seen="no reading", allowed="one reading or more")
    if faults:
        raise BadInput(
            "These readings cannot be taken as they stand; nothing was written.",
            faults=tuple(dict.fromkeys(faults)),
        )
    named = {
        quantity: [replace(row, run=run) for row in series] for quantity, series in rows.items()
    }
    new = _appended(record, line, named, by=by, at=at)
    again = book_water_again(record, {run}, by=by, at=at)
    return Logged(new=new, water_again=bool(again))


def _faults(
    mill: Mill,
    known: KnownRun,
    line: str,
    rows: Mapping[str, Sequence[ReadingRow]],
    *,
    at: dt.datetime,
) -> list[Fault]:
    """All that is wrong with readings of a run."""
    faults: list[Fault] = []
    for quantity, series in rows.items():
        if quantity not in LINE_QUANTITIES:
            allowed = ", ".join(LINE_QUANTITIES)
            faults.append(Fault(column=quantity[:40], found="not read on a line", allowed=allowed))
            continue
        try:
            must_be_readings(mill, line, quantity, series, how="typed", at=at)
        except BadInput as bad:
            said = bad.faults or (Fault(found=bad.seen or bad.what, allowed=bad.allowed),)
            faults += [replace(one, row=None) for one in said]
    zone = mill.settings.zone
    times = sorted({row.at for series in rows.values() for row in series})
    near = f"within {NEAR.days} days of the run, {known.near_at.astimezone(zone):%Y-%m-%d}"
    return faults + [
        Fault(
            column="time",
            found=f"{when.astimezone(zone):%Y-%m-%d %H:%M}",
            allowed=near,
            do="look at the day, or at the number of the run",
        )
        for when in times
        if when <= at and abs(when - known.near_at) > NEAR
    ]


def _appended(
    record: Record,
    line: str,
    rows: Mapping[str, Sequence[ReadingRow]],
    *,
    by: str,
    at: dt.datetime,
) -> int:
    """Append the facts that say something new; how many readings are new."""
    for _ in range(TRIES):
        head = record.head()
        new = {name: new_readings(record, line, name, series) for name, series in rows.items()}
        facts: list[Fact] = [
            readings_fact(line, name, series, how="typed", by=by)
            for name, series in new.items()
            if series
        ]
        if not facts:
            raise Refused("All of these readings are on record already.", do="nothing")
        try:
            record.append_all(facts, recorded_at=at, after=head.position)
        except Conflict as lost:
            last = lost
        else:
            return sum(len(series) for series in new.values())
    raise last
