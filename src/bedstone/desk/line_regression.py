"""The mill's own regressions: durability and motor load on feed, grind, heat, die and rate."""

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from bedstone.desk.formula_levels import table_levels
from bedstone.desk.line_readings import runs_of_line
from bedstone.desk.line_settings import LineSettings
from bedstone.desk.line_tests import Sizes, durability_tests, size_at_um, sizes_of
from bedstone.desk.made import made_batches
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.tables_then import TablesThen
from bedstone.errors import BadInput
from bedstone.mill.model import Mill
from bedstone.pelleting.regression import Fitted, Forecast, Move, Unseen, fit_runs, suggest
from bedstone.pelleting.telling import LeftOut, telling_factors

__all__ = [
    "DIE",
    "FAT",
    "FIBRE",
    "GRIND",
    "HEAT",
    "PROTEIN",
    "RATE",
    "DurabilityAhead",
    "LineSays",
    "LoadAhead",
    "RateAtLoad",
    "Says",
    "durability_ahead",
    "line_says",
    "load_ahead",
]

HEAT, GRIND, DIE = "conditioner", "particle size", "press length over hole"
FAT, FIBRE, PROTEIN, RATE = "crude fat", "crude fibre", "crude protein", "rate"
FACTORS = (HEAT, GRIND, DIE, FAT, FIBRE, PROTEIN)
"""In degrees C, um, a ratio, per cent as fed; the first are the most wanted."""
DURABILITY, LOAD = "durability", "motor current"
MOVABLE = (HEAT, GRIND)
BETTER, LIGHTER = 2.0, 0.95
KNOWN = 0.8  # of the runs must know a setting, or it is left out
STEPS = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Says:
    """What the runs of a line say of one thing that was measured of them.

    Motor current is fitted as its logarithm on that of the rate, so that effects are in parts of it.
    """

    what: str
    runs: int
    feeds: int
    fitted: Fitted | None  # None where the runs do not tell
    left_out: tuple[LeftOut, ...]
    why_not: str  # where there is none


@dataclass(frozen=True, slots=True, kw_only=True)
class LineSays:
    """Both regressions of a line."""

    line: str
    durability: Says
    load: Says


@dataclass(frozen=True, slots=True, kw_only=True)
class DurabilityAhead:
    """What the mill's own tests say of the durability of a run to come."""

    forecast: Forecast
    runs: int
    moves: tuple[Move, ...]  # each by itself for two points more at the low end


@dataclass(frozen=True, slots=True, kw_only=True)
class RateAtLoad:
    """Rate of mash at which the motor is at its plate's load; None beyond what was run."""

    low_kg_s: float | None  # from here on it may be
    middle_kg_s: float | None
    most_run_kg_s: float  # the most at these settings that lies within what was run
    surely_kg_s: float | None  # the most within it at which the motor surely is not over its plate


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadAhead:
    """What the mill's own runs say of the motor's load, and of the rate that the motor allows."""

    forecast: Forecast  # amperes
    runs: int
    full_a: float | None  # of the plate
    rate: RateAtLoad | None  # None where the plate is not known, or nothing like it was run
    moves: tuple[Move, ...] = ()  # each by itself for a load lower by a twentieth at the high end


@dataclass(frozen=True, slots=True, kw_only=True)
class _Run:
    product: str
    settings: Mapping[str, float]
    index: float | None
    amps: float | None


def line_says(record: Record, line: str) -> LineSays:
    """Durability by the tests of a line, and its motor's load by its readings, on their settings.

    A setting that the runs cannot tell apart from others is left out and named, by the settings
    alone; where the runs are too few for any, nothing is fitted.
    """
    runs = _runs(record, line)
    tested = [(run, {DURABILITY: run.index}) for run in runs if run.index is not None]
    loaded = [
        (run, {LOAD: math.log(run.amps)}) for run in runs if run.amps and RATE in run.settings
    ]
    return LineSays(
        line=line,
        durability=_says(DURABILITY, FACTORS, tested),
        load=_says(LOAD, (RATE, *FACTORS), loaded),
    )


def _says(
    what: str, factors: Sequence[str], runs: Sequence[tuple[_Run, Mapping[str, float]]]
) -> Says:
    known = [
        name
        for name in factors
        if sum(name in run.settings for run, _ in runs) >= KNOWN * max(len(runs), 1)
    ]
    whole = [(run, seen) for run, seen in runs if all(name in run.settings for name in known)]
    rows = [{**run.settings, **seen} for run, seen in whole]
    feeds = [run.product for run, _ in whole]
    kept, left = telling_factors(known, rows, feeds)
    fitted, why = None, ""
    if kept:
        try:
            fitted = fit_runs(kept, rows, what, feeds=feeds)
        except BadInput as bad:
            why = f"{bad.what} Found: {bad.seen}."
    else:
        why = f"{len(rows)} runs are too few, or none of their settings moved."
    return Says(
        what=what,
        runs=len(rows),
        feeds=len(set(feeds)),
        fitted=fitted,
        left_out=(
            *left,
            *(LeftOut(factor=one, why="not known") for one in factors if one not in known),
        ),
        why_not=why,
    )


def _runs(record: Record, line: str) -> list[_Run]:
    """The logged runs of a line with what is known of each, by the tables that stood then."""
    then = TablesThen(record)
    versions = {
        row.made.run: (row.made.material, row.made.formula_version)
        for row in made_batches(record).values()
        if row.made.formula_version is not None
    }
    sizes: Sizes = sizes_of(record)
    levels: dict[int, _Levels] = {}
    indices: dict[str, list[float]] = {}
    products: dict[str, str] = {}
    for test in durability_tests(record, line=line):
        indices.setdefault(test.run, []).append(test.index)
        products[test.run] = test.product
    found = []
    for read in runs_of_line(record, line):
        product, version = versions.get(read.run, (read.product, None))
        product = products.get(read.run, product)
        mine, mill = indices.get(read.run), then.at(read.at)
        known = levels.setdefault(mill.revision, _Levels(mill))
        rate = read.mean("mash flow")
        found.append(
            _Run(
                product=product,
                settings=_settings(
                    mill,
                    product,
                    line,
                    heat_c=read.mean("conditioner temperature"),
                    size_um=size_at_um(mill, sizes, product, read.at),
                    rate_kg_s=rate,
                    levels=known.of(product, version),
                ),
                index=sum(mine) / len(mine) if mine else None,
                amps=read.mean("motor current"),
            )
        )
    return found


class _Levels:
    """Fat, fibre and protein of a version of a formula, in per cent as fed, each reckoned once."""

    def __init__(self, mill: Mill) -> None:
        self._mill = mill
        self._known: dict[tuple[str, int | None], dict[str, float]] = {}

    def of(self, product: str, version: int | None = None) -> dict[str, float]:
        """Those that are known; of the running version if none is named."""
        key = (product, version)
        if key not in self._known:
            self._known[key] = dict(self._reckoned(product, version))
        return self._known[key]

    def _reckoned(self, product: str, version: int | None) -> dict[str, float]:
        running = self._mill.running_formula(product)
        lines = () if version is None else self._mill.lines_of(product, version)
        if not lines or (running is not None and running.version == version):
            means = {name: row.mean for name, row in table_levels(self._mill, product).items()}
            found = ((name, means.get(name)) for name in (FAT, FIBRE, PROTEIN))
            return {name: mean for name, mean in found if mean is not None}
        parts = [(row.parts_frac, table_levels(self._mill, row.ingredient)) for row in lines]
        rolled = {}
        for name in (FAT, FIBRE, PROTEIN):
            each = [(part, known[name].mean) for part, known in parts if name in known]
            if len(each) == len(parts) and all(mean is not None for _, mean in each):
                rolled[name] = sum(part * (mean or 0.0) for part, mean in each)
        return rolled


def _settings(
    mill: Mill,
    product: str,
    line: str,
    *,
    heat_c: float | None,
    size_um: float | None,
    rate_kg_s: float | None,
    levels: Mapping[str, float],
) -> dict[str, float]:
    """The factors of a run that are known."""
    row = mill.product_by_code.get(product)
    die = next((one for one in mill.dies if row and (one.die, one.line) == (row.die, line)), None)
    found = dict(levels)
    if heat_c is not None:
        found[HEAT] = heat_c
    if size_um is not None:
        found[GRIND] = size_um
    if die is not None:
        found[DIE] = die.effective_mm / die.hole_mm
    if rate_kg_s:
        found[RATE] = math.log(rate_kg_s)
    return found


def _now(record: Record, found: LineSettings, at: dt.datetime | None) -> dict[str, float]:
    """The factors of a run to come: its settings, and the grind as it was sieved last."""
    mill = current_mill(record)
    sizes: Sizes = sizes_of(record)
    when = at or (sizes[-1][0] if sizes else None)
    return _settings(
        mill,
        found.product,
        found.line,
        heat_c=found.conditioned.temperature_c,
        size_um=None if when is None else size_at_um(mill, sizes, found.product, when),
        rate_kg_s=found.rate_kg_s,
        levels=_Levels(mill).of(found.product),
    )


def durability_ahead(
    record: Record, found: LineSettings, says: LineSays | None = None
) -> DurabilityAhead | None:
    """Durability at a line's settings by its own tests; None where they do not tell.

    A hotter conditioner is named only within what was run, what the die takes, and what surely
    keeps every heat-sensitive additive.
    """
    said = (says or line_says(record, found.line)).durability
    now = _now(record, found, None)
    if said.fitted is None:
        return None
    unknown = _unknown(said.fitted, now)
    if unknown is not None:
        return DurabilityAhead(forecast=unknown, runs=said.runs, moves=())
    forecast = said.fitted.forecast(now, feed=found.product)
    moves: tuple[Move, ...] = ()
    if forecast.seen:
        least = forecast.low + BETTER
        moves = suggest(said.fitted, now, least, movable=MOVABLE, feed=found.product)
    return DurabilityAhead(forecast=forecast, runs=said.runs, moves=_allowed(moves, found))


def _allowed(moves: Sequence[Move], found: LineSettings) -> tuple[Move, ...]:
    """Moves of the conditioner only where the die takes the mash and every additive surely stays."""
    limits = [found.most_c_for_die, *(row.hottest_c for row in found.additives)]
    return tuple(
        move
        for move in moves
        if move.factor != HEAT or all(one is not None and move.value <= one for one in limits)
    )


def _unknown(fitted: Fitted, now: Mapping[str, float]) -> Forecast | None:
    """No forecast, where a setting of the run to come is not known."""
    missing = next((name for name in fitted.factors if name not in now), None)
    if missing is None:
        return None
    return Forecast(
        value=math.nan,
        low=math.nan,
        high=math.nan,
        unseen=Unseen(kind="unknown", factor=missing),
    )


def load_ahead(
    record: Record, found: LineSettings, says: LineSays | None = None
) -> LoadAhead | None:
    """Motor load at a line's settings by its own runs, and the rate that its plate's load allows."""
    said = (says or line_says(record, found.line)).load
    now = _now(record, found, None)
    if said.fitted is None:
        return None
    unknown = _unknown(said.fitted, now)
    if unknown is not None:
        return LoadAhead(forecast=unknown, runs=said.runs, full_a=None, rate=None)
    logs = said.fitted.forecast(now, feed=found.product)
    machine = next(
        (row for row in current_mill(record).pellet_lines if row.line == found.line), None
    )
    full_a = None if machine is None else machine.motor_full_a
    rate = None
    if full_a is not None and RATE in said.fitted.factors:
        rate = _rate_at(said.fitted, now, found.product, math.log(full_a))
    moves: tuple[Move, ...] = ()
    if logs.seen:
        most = logs.high + math.log(LIGHTER)
        moves = suggest(said.fitted, now, most, movable=MOVABLE, feed=found.product, lower=True)
    return LoadAhead(
        forecast=Forecast(
            value=math.exp(logs.value),
            low=math.exp(logs.low),
            high=math.exp(logs.high),
            unseen=logs.unseen,
        ),
        runs=said.runs,
        full_a=full_a,
        rate=rate,
        moves=_allowed(moves, found),
    )


def _rate_at(
    fitted: Fitted, now: Mapping[str, float], feed: str, full_log: float
) -> RateAtLoad | None:
    """Walk up the rates that were run until the plate's load is reached."""
    at = fitted.factors.index(RATE)
    low, high = float(fitted.low[at]), float(fitted.high[at])
    logs = [low + (high - low) * step / STEPS for step in range(STEPS + 1)]
    found = [(one, fitted.forecast({**now, RATE: one}, feed=feed)) for one in logs]
    seen = [(math.exp(one), each) for one, each in found if each.seen]
    if not seen:
        return None
    sure = [rate for rate, each in seen if each.high <= full_log]
    return RateAtLoad(
        low_kg_s=next((rate for rate, each in seen if each.high >= full_log), None),
        middle_kg_s=next((rate for rate, each in seen if each.value >= full_log), None),
        most_run_kg_s=seen[-1][0],
        surely_kg_s=max(sure, default=None),
    )
