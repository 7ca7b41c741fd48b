"""The readings of a pellet line, run by run."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from bedstone.desk.made import made_batches
from bedstone.desk.readings import readings, series
from bedstone.desk.record import Record
from bedstone.mill.readings import ReadingRow

__all__ = ["RunRead", "run_readings", "runs_of_line"]


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


def run_readings(record: Record, run: str) -> tuple[RunRead, ...]:
    """What was read of one run, line by line."""
    lines = sorted({instrument for instrument, _ in series(record)})
    return tuple(row for line in lines for row in runs_of_line(record, line) if row.run == run)
