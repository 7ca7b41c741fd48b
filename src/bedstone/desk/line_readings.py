"""The readings of a pellet line, run by run."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from weakref import WeakKeyDictionary

from bedstone.desk.made import made_batches
from bedstone.desk.readings import readings, series
from bedstone.desk.record import Record
from bedstone.mill.plan import Finding, Verdict
from bedstone.mill.readings import ReadingRow

__all__ = ["RunRead", "line_finding", "read_of_run", "runs_of_line"]

_KEPT: WeakKeyDictionary[Record, tuple[str, dict[str, tuple["RunRead", ...]]]] = WeakKeyDictionary()


@dataclass(frozen=True, slots=True, kw_only=True)
class RunRead:
    """What was read while a run went over a line, in order of time."""

    run: str
    product: str  # empty if no batch of the run is on record
    line: str
    rows: Mapping[str, tuple[ReadingRow, ...]]  # by quantity

    @property
    def at(self) -> dt.datetime:
        """The middle reading's time."""
        times = sorted(row.at for rows in self.rows.values() for row in rows)
        return times[len(times) // 2]

    def mean(self, quantity: str) -> float | None:
        """Mean of what was read of a quantity, None if it was not read."""
        rows = self.rows.get(quantity, ())
        return sum(row.value for row in rows) / len(rows) if rows else None


def runs_of_line(record: Record, line: str) -> tuple[RunRead, ...]:
    """Runs of a line with readings that name them, in order of time."""
    head = record.head().head
    kept = _KEPT.get(record)
    if kept is None or kept[0] != head:
        kept = _KEPT[record] = head, {}
    if line not in kept[1]:
        kept[1][line] = _runs_of_line(record, line)
    return kept[1][line]


def _runs_of_line(record: Record, line: str) -> tuple[RunRead, ...]:
    found: dict[str, dict[str, list[ReadingRow]]] = {}
    for instrument, quantity in series(record):
        if instrument == line:
            for row in readings(record, line, quantity).rows:
                if row.run:
                    found.setdefault(row.run, {}).setdefault(quantity, []).append(row)
    products = {row.made.run: row.made.material for row in made_batches(record).values()}
    runs = [
        RunRead(
            run=run,
            product=products.get(run, ""),
            line=line,
            rows={quantity: tuple(rows) for quantity, rows in by_quantity.items()},
        )
        for run, by_quantity in found.items()
    ]
    return tuple(sorted(runs, key=lambda row: (row.at, row.run)))


def read_of_run(record: Record, run: str, line: str) -> RunRead | None:
    """What was read of a run on a line; None if nothing was."""
    return next((row for row in runs_of_line(record, line) if row.run == run), None)


def line_finding(  # noqa: PLR0917 - a row of a finding
    code: str,
    verdict: Verdict,
    read: RunRead,
    text: str,
    value: tuple[float, float, str],
    do: str,
    *,
    rule: str,
) -> Finding:
    """A finding of a run: what was read, what was expected, and where that comes from."""
    return Finding(
        code=code,
        verdict=verdict,
        about=read.run,
        text=text,
        value=value[0],
        limit=value[1],
        unit=value[2],
        source=f"readings of {read.line}; {rule}",
        do=do,
    )
