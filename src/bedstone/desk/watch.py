"""Instruments watched: which one is wrong, since when, which lots it touched, what to do now."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from bedstone.desk.holds import held_lots
from bedstone.desk.proofs import PowerEvent, power_events
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.watch_evidence import (
    ProofStanding,
    flows_of_places,
    levels_seen,
    proof_standings,
)
from bedstone.desk.watch_lots import TouchedRun, touched_runs
from bedstone.mill.model import Mill
from bedstone.quality.sequential import threshold
from bedstone.quality.watch import Found, Standing, find
from bedstone.quality.watch_levels import LevelSeen, Passed, level_evidence, stuck_since
from bedstone.quality.whitening import needed

__all__ = ["FALSE_ALARMS_A_MONTH", "Seen", "Suspect", "Watched", "watch"]

FALSE_ALARMS_A_MONTH = 0.5
MONTH_S = 30 * 86_400.0
LEAST_EVERY, MOST_EVERY = 100.0, 1e6
SIZES = (0.02, 0.05, 0.10)
SHIFT = dt.timedelta(hours=12)


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What the arithmetic allows where only a level witnesses an instrument.

    ``readings`` are those until a step of each of ``sizes`` is expected to raise an alarm (None:
    not within a thousand); ``smallest_frac`` is the step that a month of readings can just show.
    """

    sizes: tuple[float, ...]
    readings: tuple[int | None, ...]
    smallest_frac: float | None
    place: str
    reading_sd_kg: float
    flow_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """Something found wrong: what, since when with the interval that holds 95 %, how much.

    ``size`` is a part (a gain), a part by day (a drift) or kg (a gauge); what flows more than is
    read, or what the gauge shows too much. ``power`` is a power event within the interval.
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
    rivals: tuple[str, ...]
    power: PowerEvent | None
    runs: tuple[TouchedRun, ...]
    hold: tuple[str, ...]  # lots that should be held and are not, for a named person to decide
    do: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Watched:
    """The state of every instrument at a moment."""

    at: dt.datetime
    suspects: tuple[Suspect, ...]
    proofs: tuple[ProofStanding, ...]
    seen: Mapping[str, Seen]
    standings: Mapping[str, Standing]
    unwitnessed: tuple[str, ...]
    limit: float


@cache
def _limit(every: float) -> float:
    return threshold(every)


def watch(record: Record, *, at: dt.datetime) -> Watched:
    """Hold every instrument against what else knows the truth, by what is on record."""
    mill = current_mill(record)
    flows = flows_of_places(record)
    read = levels_seen(record, mill)
    tools = (*mill.scale_by_code, *mill.meter_by_code)
    standings = proof_standings(record, mill, _through(flows), at)
    proved_at = {
        code: row.last.proved_at.timestamp()
        for code, row in standings.items()
        if row.last is not None and row.is_within
    }
    witnesses, suspicions = level_evidence(read, flows, proved_at=proved_at, instruments=tools)
    limit = _limit(_every(read, suspicions=len(suspicions)))
    found, stands = find(witnesses, suspicions, limit=limit)
    suspects = [_suspect(record, mill, row) for row in found]
    suspects += _stuck(mill, read, flows, at)
    by_tool = {row.about: row for row in stands}
    return Watched(
        at=at,
        suspects=tuple(suspects),
        proofs=tuple(standings.values()),
        seen=_arithmetic(read, flows, tools, limit),
        standings=by_tool,
        unwitnessed=tuple(code for code in tools if code not in by_tool),
        limit=limit,
    )


def _every(read: Mapping[str, Sequence[LevelSeen]], *, suspicions: int) -> float:
    """Readings between false alarms of one suspicion, so that the whole mill has few a month."""
    months = max(
        (rows[-1].at - rows[0].at) / MONTH_S if rows else 0.0 for rows in read.values()
    ) if read else 0.0  # fmt: skip
    readings = max((len(rows) for rows in read.values()), default=0) / max(months, 0.2)
    wanted = readings * max(1, suspicions) / FALSE_ALARMS_A_MONTH
    return min(MOST_EVERY, max(LEAST_EVERY, round(wanted, -2)))


def _through(flows: Mapping[str, list[Passed]]) -> dict[str, list[tuple[dt.datetime, float]]]:
    found: dict[str, list[tuple[dt.datetime, float]]] = {}
    for rows in flows.values():
        for row in rows:
            if row.instrument and row.mass_kg < 0:
                found.setdefault(row.instrument, []).append((_moment(row.at), -row.mass_kg))
    return found


def _moment(seconds: float) -> dt.datetime:
    return dt.datetime.fromtimestamp(seconds, dt.UTC)


def _suspect(record: Record, mill: Mill, found: Found) -> Suspect:
    row = found.standing
    begins, lo, hi = (
        _moment(at) for at in (found.begins_at, found.begins_lo_at, found.begins_hi_at)
    )
    power = None if row.kind == "gauge shift" else _power_within(record, lo, hi)
    size, size_sd = _size_since(found, power)
    runs = _runs(record, mill, found, power, (size, size_sd))
    held = held_lots(record)
    hold = tuple(one.run for one in runs if one.lies_here_kg > 0 and one.run not in held)
    return Suspect(
        about=row.about,
        name=_name(mill, row.about),
        kind=row.kind,
        size=size,
        size_sd=size_sd,
        unit={"gain step": "kg/kg", "slow drift": "kg/kg/d"}.get(row.kind, "kg"),
        begins_at=begins,
        begins_lo_at=lo,
        begins_hi_at=hi,
        alarm_at=None if found.alarm_at is None else _moment(found.alarm_at),
        probability=row.probability,
        witnesses=row.witnesses,
        rivals=found.rivals,
        power=power,
        runs=runs,
        hold=hold,
        do=_do(mill, row.about, row.kind, has_lots=bool(hold)),
    )


def _power_within(record: Record, lo: dt.datetime, hi: dt.datetime) -> PowerEvent | None:
    """The last power event within the interval of a beginning, or a shift before it."""
    events = reversed(power_events(record))
    return next((row for row in events if lo - SHIFT <= row.to_at <= hi), None)


def _runs(
    record: Record,
    mill: Mill,
    found: Found,
    power: PowerEvent | None,
    size: tuple[float, float],
) -> tuple[TouchedRun, ...]:
    """Runs that a wrong scale or meter touched; a gauge touches none."""
    row = found.standing
    if row.kind == "gauge shift":
        return ()
    lo, hi = _moment(found.begins_lo_at), _moment(found.begins_hi_at)
    days = 1.0 if row.kind == "gain step" else _days(_moment(found.begins_at), record)
    return touched_runs(
        record, mill, row.about,
        since=power.to_at if power else lo, surely=power.to_at if power else hi,
        gain=size[0] * days, gain_sd=size[1] * days,
    )  # fmt: skip


def _size_since(found: Found, power: PowerEvent | None) -> tuple[float, float]:
    """Size and its sd, given that it began with a power event if there was one."""
    if power is not None:
        after = np.flatnonzero(found.beginnings_at >= power.to_at.timestamp())
        if after.size and np.isfinite(found.size_sds[after[0]]):
            return float(found.sizes[after[0]]), float(found.size_sds[after[0]])
    return found.standing.size, found.standing.size_sd


def _days(begins: dt.datetime, record: Record) -> float:
    """Half of the days a drift has lasted: what a lot in the middle of it has seen."""
    last = max((row.happened_at for row in record.movements(place=None)), default=begins)
    return max(0.0, (last - begins).total_seconds() / 86_400 / 2)


def _name(mill: Mill, code: str) -> str:
    tool = mill.meter_by_code.get(code) or mill.scale_by_code.get(code)
    if tool is not None:
        return tool.name or code
    held = mill.bin_by_code.get(code)
    return f"gauge of the {held.name or code}" if held else code


def _do(mill: Mill, code: str, kind: str, *, has_lots: bool) -> tuple[str, ...]:
    if kind in ("gauge shift", "stuck reading"):
        return (f"Dip or sound {code} by hand and compare it with its gauge.",)
    how = "a catch test" if code in mill.meter_by_code else "test weights"
    steps = [f"Stop dosing over {code} until it is proved with {how}."]
    if has_lots:
        steps.append("Decide on the hold of the lots named; sample them and have them assayed.")
    return (*steps, "Adjust it, prove it again, and record both.")


def _stuck(
    mill: Mill,
    read: Mapping[str, Sequence[LevelSeen]],
    flows: Mapping[str, Sequence[Passed]],
    at: dt.datetime,
) -> list[Suspect]:
    found = []
    for place, rows in sorted(read.items()):
        since = stuck_since(rows, flows.get(place, ()))
        if since is None:
            continue
        begins = _moment(since)
        found.append(
            Suspect(
                about=place,
                name=_name(mill, place),
                kind="stuck reading",
                size=0.0,
                size_sd=0.0,
                unit="kg",
                begins_at=begins,
                begins_lo_at=begins,
                begins_hi_at=begins,
                alarm_at=at,
                probability=0.0,
                witnesses=(f"books of {place}",),
                rivals=(),
                power=None,
                runs=(),
                hold=(),
                do=_do(mill, place, "stuck reading", has_lots=False),
            )
        )
    return found


def _arithmetic(
    read: Mapping[str, Sequence[LevelSeen]],
    flows: Mapping[str, Sequence[Passed]],
    tools: Sequence[str],
    limit: float,
) -> dict[str, Seen]:
    """What the levels can show of each instrument, by the place where they show most."""
    found: dict[str, Seen] = {}
    for place, rows in read.items():
        if len(rows) < 3:  # noqa: PLR2004 - a slope needs three
            continue
        for tool in tools:
            took = sum(-row.mass_kg for row in flows.get(place, ()) if row.instrument == tool)
            if took <= 0:
                continue
            seen = _seen(place, rows, took / len(rows), limit)
            before = found.get(tool)
            if before is None or (seen.smallest_frac or 9) < (before.smallest_frac or 9):
                found[tool] = seen
    return found


def _seen(place: str, rows: Sequence[LevelSeen], flow_kg: float, limit: float) -> Seen:
    sd_kg = sorted(row.sd_kg for row in rows)[len(rows) // 2]
    span = max(rows[-1].at - rows[0].at, 1.0)
    a_month = max(2, round(len(rows) * MONTH_S / span))

    def count(size: float) -> int | None:
        return needed(
            size, flow_kg=flow_kg, noise_sd_kg=sd_kg, walk_sd_kg=0.0005 * flow_kg, limit=limit
        )

    low, high = 1e-4, 4.0
    for _ in range(24):
        middle = (low * high) ** 0.5
        readings = count(middle)
        low, high = (
            (low, middle) if readings is not None and readings <= a_month else (middle, high)
        )
    return Seen(
        sizes=SIZES,
        readings=tuple(count(size) for size in SIZES),
        smallest_frac=high if high < 3.9 else None,  # noqa: PLR2004 - the end of the search
        place=place,
        reading_sd_kg=sd_kg,
        flow_kg=flow_kg,
    )
