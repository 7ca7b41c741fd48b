"""How a mill's own cooler exchanges, fitted to its logged runs and kept as a fact."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import fmean

from bedstone.cooling.calibrate import CoolerReading, NextReading, calibrate
from bedstone.cooling.model import DEFAULT_FACTORS, AirIn, Factors
from bedstone.desk.folding import folded
from bedstone.desk.line_model import (
    best_rate_kg_s,
    conditioned,
    cooler_of,
    cooler_row,
    hot_pellets,
    mash_before_steam_c,
    pellet_kind,
)
from bedstone.desk.line_readings import RunRead, runs_of_line
from bedstone.desk.merged_rows import weather_by_hour
from bedstone.desk.plain_values import row_from_plain, row_plain
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.roles import check
from bedstone.errors import BadInput
from bedstone.ledger.model import Fact, Recorded
from bedstone.mill.model import Mill, Weather

__all__ = ["CALIBRATED", "Calibrated", "calibrate_line", "line_factors", "logged_runs"]

CALIBRATED = "cooling.calibrated/1"
MOST_RUNS = 500
MOST_MISFIT = 3.0
"""Readings that lie farther off, in their own errors, speak against the cooler of the tables."""
ASK_FIRST = (
    "Log for each run the temperature of the pellets that leave the cooler and of the air that leaves "
    "it. In a trial of two dozen made-up runs these two left each factor 7 % uncertain, pellets' "
    "temperature alone 46 and 27 %, with their moisture 13 and 8 %."
)
NEAR_BEST, NARROWER = 1.02, 0.95
"""Of choices that tell as much but for this the one that logs least; narrower than this is worth it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibrated:
    """The factors of a line's cooler and what they rest on."""

    line: str
    factors: Factors
    readings: int = 0
    misfit: float | None = None
    left_out: int = 0
    next_readings: tuple[NextReading, ...] = ()
    position: int | None = None  # of the fact that keeps them

    @property
    def is_trusted(self) -> bool:
        """Whether the plan may go by it: calibrated, and the readings fit the cooler."""
        return self.factors.calibrated and (self.misfit or 0.0) <= MOST_MISFIT

    @property
    def what_next(self) -> str:
        """Which reading is worth logging next."""
        if not self.next_readings:
            return ASK_FIRST
        both = [row.heat_spread * row.moisture_spread for row in self.next_readings]
        best = next(
            row
            for row, width in zip(self.next_readings, both, strict=True)
            if width <= NEAR_BEST * min(both)
        )
        found = self.factors
        now = found.heat_hi / found.heat_lo, found.moisture_hi / found.moisture_lo
        spreads = best.heat_spread, best.moisture_spread
        if all(then > NARROWER * here for then, here in zip(spreads, now, strict=True)):
            return "A dozen more runs would narrow the intervals by little, whatever they log."
        return (
            f"A dozen more runs with {best.what} would bring the upper end of the heat factor to "
            f"{best.heat_spread:.2f} times its lower end, of the moisture factor to "
            f"{best.moisture_spread:.2f} times (now {now[0]:.2f} and {now[1]:.2f})."
        )

    @property
    def said(self) -> str:
        """The factors in a sentence, never without their interval."""
        found = self.factors
        state = "calibrated" if found.calibrated else "not calibrated"
        return (
            f"{self.line} is {state}: heat {found.heat:.2f} ({found.heat_lo:.2f} to "
            f"{found.heat_hi:.2f}), moisture {found.moisture:.2f} ({found.moisture_lo:.2f} to "
            f"{found.moisture_hi:.2f}); {found.source}."
        ) + (
            ""
            if self.is_trusted or not found.calibrated
            else (
                f" The readings lie {self.misfit:.1f} times their errors off: check area, depth and air "
                "in the coolers table; the plan does not go by it."
            )
        )


def line_factors(record: Record, line: str) -> Calibrated:
    """What is kept of a line's cooler; the wide default if nothing is."""
    kept = _all(record).get(line)
    return kept or Calibrated(line=line, factors=DEFAULT_FACTORS)


def _all(record: Record) -> Mapping[str, Calibrated]:
    def note(
        before: Mapping[str, Calibrated], facts: Iterable[Recorded]
    ) -> Mapping[str, Calibrated]:
        found = dict(before)
        for item in facts:
            content = {**item.fact.content, "position": item.position}
            row = row_from_plain(Calibrated, content, where=f"fact {item.position}")
            found[row.line] = row
        return found

    return folded(record, "cooler factors", kinds=(CALIBRATED,), start={}, fold=note)


def calibrate_line(record: Record, line: str, *, by: str, at: dt.datetime) -> Recorded:
    """Fit the cooler of a line to its logged runs and keep the factors.

    Asks: who may, five logged runs or more with weather of their hours. Records:
    ``cooling.calibrated/1``.
    """
    mill = current_mill(record)
    check(mill, by, "readings")
    cooler_row(mill, line)
    runs = logged_runs(record, line)
    if not runs:
        raise BadInput(
            f"No logged run of {line} can be used to calibrate its cooler.",
            seen="no run with outlet temperature and weather of its hour",
            allowed="5 runs or more",
            do=ASK_FIRST,
        )
    found = calibrate(runs[-MOST_RUNS:])
    kept = Calibrated(
        line=line,
        factors=found.factors,
        readings=found.readings,
        misfit=found.misfit,
        left_out=len(found.left_out),
        next_readings=found.next_readings,
    )
    content = row_plain(kept)
    del content["position"]
    return record.append(
        Fact(kind=CALIBRATED, happened_at=at, by=by, content=content), recorded_at=at
    )


def logged_runs(record: Record, line: str) -> tuple[CoolerReading, ...]:
    """Runs of a line of which enough was read, as the fit takes them.

    Mash flow, temperature and moisture are those read, or else the tables' best rate, their mash
    temperature, and the moisture of the running formula; the hot pellets are as warm as was read
    at the die, or else as the conditioner and the tables' rise in the die have them.
    """
    mill = current_mill(record)
    by_hour = weather_by_hour(record)
    known = {row.product for row in mill.pellets}
    made: list[CoolerReading] = []
    for run in runs_of_line(record, line):
        air = _air(mill, by_hour, run)
        if run.product in known and air is not None:
            found = _logged(mill, run, air)
            made += [] if found is None else [found]
    return tuple(made)


def _air(
    mill: Mill, by_hour: Mapping[dt.datetime, Sequence[Weather]], run: RunRead
) -> AirIn | None:
    """The air while the outlet of a run was read; None where weather of an hour is missing."""
    from bedstone.desk.line_air import air_of

    times = [row.at for row in run.rows.get("cooler outlet temperature", ())]
    hours = [at.replace(minute=0, second=0, microsecond=0) for at in times]
    if not hours or any(hour not in by_hour for hour in hours):
        return None
    airs = [air_of(mill, by_hour[hour][-1]) for hour in hours]
    return AirIn(
        temperature_c=fmean(air.temperature_c for air in airs),
        relative_humidity_frac=fmean(air.relative_humidity_frac for air in airs),
        pressure_pa=fmean(air.pressure_pa for air in airs),
    )


def _logged(mill: Mill, run: RunRead, air: AirIn) -> CoolerReading | None:
    """A run for the fit; None where too little was read that can be."""
    outlet_c = run.mean("cooler outlet temperature")
    cond_c = run.mean("conditioner temperature")
    if outlet_c is None or cond_c is None:
        return None
    mash_c = run.mean("mash temperature")
    if mash_c is None:
        mash_c = mash_before_steam_c(mill, run.line, air.temperature_c)
    flow_kg_s = run.mean("mash flow")
    wet = conditioned(
        mill,
        run.product,
        run.line,
        rate_kg_s=flow_kg_s or best_rate_kg_s(mill, run.product, run.line),
        mash_c=mash_c,
        wanted_c=cond_c,
        moisture_wb=run.mean("mash moisture"),
    )
    hot = hot_pellets(mill, run.product, wet)
    die_c = run.mean("die temperature")
    if die_c is not None:
        hot = replace(hot, temperature_c=die_c)
    pellet = pellet_kind(mill, run.product)
    return CoolerReading(
        cooler=cooler_of(
            mill, run.line, pellet, air, hot, leaves_c=run.mean("exhaust air temperature")
        ),
        pellet=pellet,
        pellets=hot,
        air=air,
        outlet_c=outlet_c,
        moisture_wb=run.mean("cooler outlet moisture"),
        exhaust_c=run.mean("exhaust air temperature"),
    )
