"""What was found wrong, in full: its beginning, its size, the lots it touched, what to do now."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from bedstone.desk.holds import held_lots
from bedstone.desk.proofs import PowerEvent, power_events
from bedstone.desk.readings import readings, series
from bedstone.desk.record import Record
from bedstone.desk.watch_gates import MixerWatched
from bedstone.desk.watch_kinds import BAG_SCALE, DOUBLED, SHIFT, STUCK, WORN, to_do
from bedstone.desk.watch_lots import TouchedRun, Wrong, touched_runs
from bedstone.desk.watch_machines import CELLS, Twice
from bedstone.desk.watch_passed import touched_bags, touched_over
from bedstone.mill.model import Mill
from bedstone.mill.readings import QUANTITIES
from bedstone.quality.watch import Found
from bedstone.quality.watch_draws import stuck_since
from bedstone.quality.watch_levels import WRONG_BIN, LevelSeen, Passed
from bedstone.quality.watch_levels import stuck_since as gauge_stuck_since
from bedstone.quality.watch_samples import DRIFT, STEP, ZERO, Sampled

__all__ = ["Suspect", "Watching", "name_of", "suspects_of", "unit_of"]

SHIFT_TIME = dt.timedelta(hours=12)
OLDEST = dt.timedelta(days=60)
UNITS = {STEP: "kg/kg", DRIFT: "kg/kg/d", ZERO: "kg a draw", WRONG_BIN: "kg/kg", WORN: "cv"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """Something found wrong: what, since when with the interval that holds 95 %, how much.

    ``size`` is a part (a gain), a part by day (a drift), kg (a zero, a gauge, a landing), or in the
    unit of a dial; what flows more than is read, or what a gauge or dial shows too much. ``power``
    is a power event within the interval. ``other`` is the bin that was really opened.
    """

    about: str
    name: str
    kind: str
    size: float
    size_sd: float
    unit: str
    begins_at: dt.datetime
    begins_lo_at: dt.datetime
    begins_hi_at: dt.datetime
    alarm_at: dt.datetime | None
    probability: float
    witnesses: tuple[str, ...]
    rivals: tuple[str, ...] = ()
    power: PowerEvent | None = None
    other: str = ""
    runs: tuple[TouchedRun, ...] = ()
    hold: tuple[str, ...] = ()  # lots to be held that are not, for a named person to decide
    do: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Watching:
    """What suspects are made from."""

    record: Record
    mill: Mill
    at: dt.datetime
    read: Mapping[str, Sequence[LevelSeen]]
    flows: Mapping[str, Sequence[Passed]]
    sampled: Sequence[Sampled]
    twice: Sequence[Twice]
    mixers: Sequence[MixerWatched]


def suspects_of(watching: Watching, found: Sequence[Found]) -> tuple[Suspect, ...]:
    """All that is wrong: by the numbers of all witnesses, then what single readings already say."""
    return (
        *(_by_numbers(watching, row) for row in found),
        *_stuck_gauges(watching),
        *_stuck_dials(watching),
        *(_doubled(watching, row) for row in watching.twice),
        *(_worn(watching, row) for row in watching.mixers if row.uneven_at is not None),
    )


def _moment(seconds: float) -> dt.datetime:
    return dt.datetime.fromtimestamp(seconds, dt.UTC)


def _by_numbers(watching: Watching, found: Found) -> Suspect:
    row, mill, record = found.standing, watching.mill, watching.record
    begins, lo, hi = (
        _moment(at) for at in (found.begins_at, found.begins_lo_at, found.begins_hi_at)
    )
    is_tool = row.about in mill.scale_by_code or row.about in mill.meter_by_code
    power = _power_within(record, lo, hi) if is_tool else None
    size, size_sd = _size_since(found, power)
    runs = _runs(watching, found, power, (size, size_sd))
    hold = _hold(record, runs)
    return Suspect(
        about=row.about,
        name=name_of(mill, row.about),
        kind=row.kind,
        size=size,
        size_sd=size_sd,
        unit=unit_of(row.about, row.kind),
        begins_at=begins,
        begins_lo_at=lo,
        begins_hi_at=hi,
        alarm_at=None if found.alarm_at is None else _moment(found.alarm_at),
        probability=row.probability,
        witnesses=row.witnesses,
        rivals=found.rivals,
        power=power,
        other=row.other,
        runs=runs,
        hold=hold,
        do=to_do(mill, row.about, row.kind, has_lots=bool(hold)),
    )


def unit_of(about: str, kind: str) -> str:
    """The unit of a size."""
    if kind == SHIFT:
        quantity = about.split(" ", 1)[1]
        unit = QUANTITIES[quantity].unit if quantity in QUANTITIES else ""
        return "K" if unit == "C" else unit
    return UNITS.get(kind, "kg")


def _hold(record: Record, runs: Sequence[TouchedRun]) -> tuple[str, ...]:
    held = held_lots(record)
    return tuple(one.run for one in runs if one.lies_here_kg > 0 and one.run not in held)


def _power_within(record: Record, lo: dt.datetime, hi: dt.datetime) -> PowerEvent | None:
    """The last power event within the interval of a beginning, or a shift before it."""
    events = reversed(power_events(record))
    return next((row for row in events if lo - SHIFT_TIME <= row.to_at <= hi), None)


def _size_since(found: Found, power: PowerEvent | None) -> tuple[float, float]:
    """Size and its sd, given that it began with a power event if there was one."""
    if power is not None:
        after = np.flatnonzero(found.beginnings_at >= power.to_at.timestamp())
        if after.size and np.isfinite(found.size_sds[after[0]]):
            return float(found.sizes[after[0]]), float(found.size_sds[after[0]])
    return found.standing.size, found.standing.size_sd


def _runs(
    watching: Watching, found: Found, power: PowerEvent | None, size: tuple[float, float]
) -> tuple[TouchedRun, ...]:
    """Runs that it touched: by their draws, their bags, or because they passed the machine."""
    row, record, mill = found.standing, watching.record, watching.mill
    since = power.to_at if power else _moment(found.begins_lo_at)
    surely = power.to_at if power else _moment(found.begins_hi_at)
    about = row.about.split(" ", maxsplit=1)[0]
    if row.kind == SHIFT:
        return touched_over(record, mill, about, since=since, surely=surely)
    if row.about.endswith(BAG_SCALE):
        usual = _usual(watching.sampled, row.about, found.begins_at)
        return touched_bags(
            record, mill, about, since=since, surely=surely,
            more_frac=usual + size[0], more_sd_frac=size[1],
        )  # fmt: skip
    wrong = None
    if row.kind == WRONG_BIN:
        other = mill.bin_by_code[row.other].holds
        wrong = Wrong(place=row.about, other=other, gain_sd=size[1])
    elif row.kind == ZERO:
        wrong = Wrong(instrument=row.about, each_kg=size[0], each_sd_kg=size[1])
    elif row.kind in (STEP, DRIFT) and (
        row.about in mill.scale_by_code or row.about in mill.meter_by_code
    ):
        days = 1.0 if row.kind == STEP else _days(_moment(found.begins_at), watching)
        wrong = Wrong(instrument=row.about, gain=size[0] * days, gain_sd=size[1] * days)
    return () if wrong is None else touched_runs(record, mill, wrong, since=since, surely=surely)


def _days(begins: dt.datetime, watching: Watching) -> float:
    """Half of the days a drift has lasted: what a lot in the middle of it has seen."""
    last = max((row.at for rows in watching.flows.values() for row in rows), default=0.0)
    return max(0.0, (last - begins.timestamp()) / 86_400 / 2)


def _usual(sampled: Sequence[Sampled], about: str, begins_at: float) -> float:
    """How far bags lay beside their mark before."""
    for row in sampled:
        if (about, STEP) in row.parts and row.name.startswith("bags of"):
            before = row.off[row.known_at < begins_at]
            return float(np.median(before)) if before.size else 0.0
    return 0.0


def name_of(mill: Mill, about: str) -> str:
    """What a person calls it."""
    code, _, what = about.partition(" ")
    tool = mill.meter_by_code.get(code) or mill.scale_by_code.get(code)
    if tool is not None:
        return tool.name or code
    machine = mill.machine_by_code.get(code)
    if machine is not None:
        return f"{what} of {machine.name or code}" if what else machine.name or code
    held = mill.bin_by_code.get(code)
    if held is None:
        return mill.name_of(about)
    if what.startswith("gate to "):
        return f"gate of the {held.name or code}, {what.removeprefix('gate ')}"
    return f"{what or 'gauge'} of the {held.name or code}"


def _said(
    watching: Watching,
    about: str,
    kind: str,
    *,
    begins: dt.datetime,
    alarm: dt.datetime,
    witness: str,
    since: dt.datetime | None = None,
    size: tuple[float, float] = (0.0, 0.0),
    runs: tuple[TouchedRun, ...] = (),
) -> Suspect:
    """A suspect that needs no numbers of others."""
    hold = _hold(watching.record, runs)
    return Suspect(
        about=about,
        name=name_of(watching.mill, about),
        kind=kind,
        size=size[0],
        size_sd=size[1],
        unit=unit_of(about, kind),
        begins_at=begins,
        begins_lo_at=since or begins,
        begins_hi_at=begins,
        alarm_at=alarm,
        probability=0.0,
        witnesses=(witness,),
        runs=runs,
        hold=hold,
        do=to_do(watching.mill, about, kind, has_lots=bool(hold)),
    )


def _stuck_gauges(watching: Watching) -> list[Suspect]:
    found = []
    for place, rows in sorted(watching.read.items()):
        since = gauge_stuck_since(rows, watching.flows.get(place, ()))
        if since is not None:
            begins = _moment(since)
            found.append(
                _said(
                    watching, place, STUCK,
                    begins=begins, alarm=watching.at, witness=f"books of {place}",
                )
            )  # fmt: skip
    return found


def _stuck_dials(watching: Watching) -> list[Suspect]:
    """Dials that have shown the same for too long, up to their last reading."""
    found = []
    for place, quantity in series(watching.record):
        if quantity in (CELLS, "bag mass"):
            continue
        rows = readings(
            watching.record, place, quantity, since=watching.at - OLDEST, until=watching.at
        ).rows
        first = stuck_since(np.array([row.value for row in rows]))
        if first is not None:
            begins = rows[first].at
            found.append(
                _said(
                    watching, f"{place} {quantity}", STUCK,
                    begins=begins, alarm=rows[-1].at, witness="its own readings before",
                    runs=touched_over(
                        watching.record, watching.mill, place, since=begins, surely=begins
                    ),
                )
            )  # fmt: skip
    return found


def _doubled(watching: Watching, row: Twice) -> Suspect:
    at = row.batch.happened_at
    gain = row.seen_kg / row.read_kg - 1
    wrong = Wrong(draw=(row.batch.made.batch, row.sequence), gain=gain)
    runs = touched_runs(watching.record, watching.mill, wrong, since=at, surely=at)
    return _said(
        watching,
        row.ingredient,
        DOUBLED,
        begins=at,
        alarm=at,
        witness=f"load cells of {row.mixer} in batch {row.batch.made.batch}",
        size=(row.seen_kg - row.read_kg, 0.0),
        runs=runs,
    )


def _worn(watching: Watching, row: MixerWatched) -> Suspect:
    begins = row.uneven_at or watching.at
    since = row.even_at or begins
    runs = touched_over(watching.record, watching.mill, row.mixer, since=since, surely=begins)
    return _said(
        watching,
        row.mixer,
        WORN,
        begins=begins,
        since=since,
        alarm=row.alarm_at or begins,
        witness="samples of mixer tests",
        size=(row.cv_frac, 0.0),
        runs=runs,
    )
