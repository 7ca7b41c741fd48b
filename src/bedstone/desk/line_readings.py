"""The readings of a pellet line, run by run."""

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from weakref import WeakKeyDictionary

from bedstone.desk.line_model import outside_pressure_pa
from bedstone.desk.made import made_batches
from bedstone.desk.merged_rows import weather_by_hour
from bedstone.desk.readings import readings, series
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.materials.moist_air import dew_point_c
from bedstone.mill.plan import Finding, Verdict
from bedstone.mill.readings import ReadingRow

__all__ = ["LeftOut", "RunRead", "line_finding", "read_of_run", "runs_of_line"]

COLDER_DK = 6.0
"""Drying cools pellets below dry air, seldom by more than this: another hour's air, or a slip."""
HOTTER_DK = 1.0
"""So far two thermometers may differ. Both: common practice, no source."""
CONDITIONER, DIE, OUTLET = (
    "conditioner temperature",
    "die temperature",
    "cooler outlet temperature",
)
_KEPT: WeakKeyDictionary[Record, tuple[str, dict[str, tuple["RunRead", ...]]]] = WeakKeyDictionary()


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """A reading that nothing can make true: colder than the air, hotter than what came before."""

    quantity: str
    row: ReadingRow
    against: str  # "air", "die" or "boiling"
    against_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RunRead:
    """What was read while a run went over a line, in order of time, but for what cannot be."""

    run: str
    product: str  # empty if no batch of the run is on record
    line: str
    rows: Mapping[str, tuple[ReadingRow, ...]]  # by quantity
    left_out: tuple[LeftOut, ...] = ()

    @property
    def at(self) -> dt.datetime:
        """The middle reading's time."""
        times = [row.at for rows in self.rows.values() for row in rows]
        times = sorted(times or [one.row.at for one in self.left_out])
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
    air_c = {hour: rows[-1].temperature_c for hour, rows in weather_by_hour(record).items()}
    boils_c = dew_point_c(1e9, outside_pressure_pa(current_mill(record)))
    runs = []
    for run, by_quantity in found.items():
        slips = tuple(_slips(by_quantity, air_c, boils_c))
        out = {(one.quantity, one.row) for one in slips}
        kept = {
            quantity: tuple(row for row in rows if (quantity, row) not in out)
            for quantity, rows in by_quantity.items()
        }
        rows = {quantity: series for quantity, series in kept.items() if series}
        product = products.get(run, "")
        runs.append(RunRead(run=run, product=product, line=line, rows=rows, left_out=slips))
    return tuple(sorted(runs, key=lambda row: (row.at, row.run)))


def _slips(
    rows: Mapping[str, Sequence[ReadingRow]],
    air_c: Mapping[dt.datetime, float],
    boils_c: float,
) -> Iterator[LeftOut]:
    """Readings that contradict the air of their hour, the die ahead of them, or boiling water."""
    for row in rows.get(CONDITIONER, ()):
        if row.value > boils_c + HOTTER_DK:
            yield LeftOut(quantity=CONDITIONER, row=row, against="boiling", against_c=boils_c)
    died = [row.value for row in rows.get(DIE, ())]
    # a die that reads colder than its own conditioner is the wrong dial itself
    hottest_c = max([*died, *(row.value for row in rows.get(CONDITIONER, ()))]) if died else None
    for row in rows.get(OUTLET, ()):
        outside_c = air_c.get(row.at.replace(minute=0, second=0, microsecond=0))
        if hottest_c is not None and row.value > hottest_c + HOTTER_DK:
            yield LeftOut(quantity=OUTLET, row=row, against="die", against_c=hottest_c)
        elif outside_c is not None and row.value < outside_c - COLDER_DK:
            yield LeftOut(quantity=OUTLET, row=row, against="air", against_c=outside_c)


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
