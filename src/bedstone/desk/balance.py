"""The mass balance of the mill over some days: ledger against instruments, made to agree."""

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from bedstone.desk.record import MovementRecorded, Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.watch_evidence import levels_seen
from bedstone.errors import BadInput
from bedstone.ledger.model import How, is_outside
from bedstone.mill.model import Mill
from bedstone.quality.balance import Flow, Reconciled, reconcile
from bedstone.quality.watch_levels import LevelSeen

__all__ = ["Balance", "Shrink", "balance", "place_words", "said_of"]

MG_KG = 1e6
STOCK = "stock"
SEEN_EMPTY = "storage.bin_seen_empty/1"
FIRMS = ("supplier", "customer")
LOST_TO = ("air", "scrap")
NEAR_S = 36 * 3600.0
COUNTED_SD_FRAC = 0.003
"""Of a mass of counted bags: how well their mean is known (common practice, no source)."""
ALIKE_FRAC: Mapping[How, float] = {How.WEIGHED: 0.001, How.METERED: 0.005}
"""Part of a sum that an instrument within its tolerance may be off each time the same way."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shrink:
    """What a station lost of what it took in, as booked."""

    station: str
    name: str
    in_kg: float
    air_kg: float
    scrap_kg: float

    @property
    def lost_frac(self) -> float:
        """Lost to air and scrap, as part of what came in."""
        return (self.air_kg + self.scrap_kg) / self.in_kg if self.in_kg > 0 else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """All flows between two moments, reconciled, with the shrink of each station."""

    from_at: dt.datetime
    to_at: dt.datetime
    flows: tuple[Flow, ...]
    booked_kg: Mapping[str, float]  # by flow, measured or not
    reconciled: Reconciled
    shrink: tuple[Shrink, ...]
    unread: tuple[str, ...]  # places whose stock nobody read near the two moments


def balance(record: Record, *, first: dt.date, last: dt.date) -> Balance:
    """The balance of some days, both included, by the mill's own clock."""
    mill = current_mill(record)
    if last < first:
        raise BadInput("The last day lies before the first.", seen=f"{first} to {last}")
    zone = mill.settings.zone
    start = dt.datetime.combine(first, dt.time(0), zone).astimezone(dt.UTC)
    end = dt.datetime.combine(last + dt.timedelta(days=1), dt.time(0), zone).astimezone(dt.UTC)
    every = [
        item
        for item in record.movements(until=end)
        if "unaccounted" not in (item.movement.from_place, item.movement.to_place)
    ]
    rows = [item for item in every if start <= item.happened_at < end]
    flows = _flows(mill, rows)
    stocks, unread = _stocks(record, mill, every, start=start, end=end, flows=flows)
    whole = (*flows, *stocks)
    outside = {STOCK, *(place for row in flows for place in (row.from_place, row.to_place)
                        if is_outside(place))}  # fmt: skip
    return Balance(
        from_at=start,
        to_at=end,
        flows=whole,
        booked_kg=_booked(rows),
        reconciled=reconcile(whole, outside),
        shrink=_shrink(mill, rows),
        unread=unread,
    )


def _flows(mill: Mill, rows: Sequence[MovementRecorded]) -> tuple[Flow, ...]:
    """Movements summed by where from, where to and instrument.

    Errors of single weighings add in squares; what an instrument is off each time the same way,
    and what is reckoned, adds up. What leaves a mixer is booked as the sum of its draws, and what
    leaves a grinder or pellet mill is reckoned from what went in: no witness of its own, so those
    flows count as not measured. Water and dust keep the error they were reckoned with.
    """
    groups: dict[tuple[str, str, str], list[MovementRecorded]] = {}
    for item in rows:
        move = item.movement
        groups.setdefault((move.from_place, move.to_place, move.instrument), []).append(item)
    return tuple(_flow(mill, key, items) for key, items in sorted(groups.items()))


def _booked(rows: Sequence[MovementRecorded]) -> dict[str, float]:
    found: dict[str, float] = {}
    for item in rows:
        move = item.movement
        name = _name((move.from_place, move.to_place, move.instrument))
        found[name] = found.get(name, 0.0) + move.mass_mg / MG_KG
    return found


def _name(key: tuple[str, str, str]) -> str:
    start, end, tool = key
    return f"{start} to {end}" + (f" by {tool}" if tool else "")


def place_words(mill: Mill, place: str) -> str:
    """A place as people call it, with its code; a firm by its name."""
    head, _, firm = place.partition("/")
    name = mill.name_of(firm if firm and head in FIRMS else place)
    return name if firm or name == place else f"{name} ({place})"


def said_of(mill: Mill, found: Balance) -> Mapping[str, str]:
    """Every flow of a balance in words, by its short name."""
    words: dict[str, str] = {}
    for row in found.flows:
        start = place_words(mill, row.from_place)
        if row.to_place == STOCK:
            words[row.flow] = f"stock gained in {start}"
            continue
        tool = f" by {place_words(mill, row.instrument)}" if row.instrument else ""
        words[row.flow] = f"{start} to {place_words(mill, row.to_place)}{tool}"
    return words


def _flow(mill: Mill, key: tuple[str, str, str], items: Sequence[MovementRecorded]) -> Flow:
    start, end, tool = key
    masses = [item.movement.mass_mg / MG_KG for item in items]
    sds = [item.movement.mass_sd_mg / MG_KG for item in items]
    hows = [item.movement.how for item in items]
    maker = mill.machine_by_code.get(start)
    is_sum = maker is not None and maker.kind == "mixer" and not tool
    is_water = is_outside(start) or is_outside(end)
    is_known = not is_sum and all(
        how is not How.RECKONED or (is_water and sd > 0) for sd, how in zip(sds, hows, strict=True)
    )
    by_chance = math.hypot(*(sd for sd, how in zip(sds, hows, strict=True) if how in ALIKE_FRAC))
    alike = sum(
        ALIKE_FRAC.get(how, COUNTED_SD_FRAC) * kg if how is not How.RECKONED else sd
        for kg, sd, how in zip(masses, sds, hows, strict=True)
    )
    return Flow(
        flow=_name(key),
        from_place=start,
        to_place=end,
        measured_kg=sum(masses) if is_known else None,
        sd_kg=max(0.01, math.hypot(by_chance, alike)) if is_known else None,
        instrument=tool,
    )


def _stocks(
    record: Record,
    mill: Mill,
    every: Sequence[MovementRecorded],
    *,
    start: dt.datetime,
    end: dt.datetime,
    flows: Sequence[Flow],
) -> tuple[tuple[Flow, ...], tuple[str, ...]]:
    """What each place holds more at the end than at the start: read where somebody read it."""
    read = _with_empties(record, mill, levels_seen(record, mill))
    places = {place for row in flows for place in (row.from_place, row.to_place)}
    found, unread = [], []
    for place in sorted(place for place in places if place in mill.bin_by_code):
        before = _near(read.get(place, ()), every, place, start.timestamp())
        after = _near(read.get(place, ()), every, place, end.timestamp())
        more = None if before is None or after is None else after[0] - before[0]
        sd = None if before is None or after is None else math.hypot(before[1], after[1])
        if more is None:
            unread.append(place)
        found.append(
            Flow(
                flow=f"stock gained in {place}",
                from_place=place,
                to_place=STOCK,
                measured_kg=more,
                sd_kg=sd,
                instrument=f"level of {place}",
            )
        )
    return tuple(found), tuple(unread)


def _with_empties(
    record: Record, mill: Mill, read: Mapping[str, Sequence[LevelSeen]]
) -> dict[str, Sequence[LevelSeen]]:
    """Levels, and the moments at which somebody saw a bin empty."""
    found: dict[str, Sequence[LevelSeen]] = dict(read)
    for item in record.facts(kinds=(SEEN_EMPTY,)):
        held = mill.bin_by_code.get(str(item.fact.content["bin"]))
        if held is not None:
            at, sd_kg = item.fact.happened_at.timestamp(), max(1.0, held.hold_up_kg)
            seen = LevelSeen(at, 0.0, sd_kg, is_gauge=False)
            found[held.bin] = (*found.get(held.bin, ()), seen)
    return found


def _near(
    rows: Sequence[LevelSeen], every: Sequence[MovementRecorded], place: str, at: float
) -> tuple[float, float] | None:
    """A level at a moment: the nearest reading, carried there by the books. [kg]"""
    near = min(rows, key=lambda row: abs(row.at - at), default=None)
    if near is None or abs(near.at - at) > NEAR_S:
        return None
    low, high = sorted((near.at, at))
    sign = 1.0 if at >= near.at else -1.0
    kg = near.mass_kg
    for item in every:
        if low < item.happened_at.timestamp() <= high:
            mass = item.movement.mass_mg / MG_KG
            kg += sign * mass * (item.movement.to_place == place)
            kg -= sign * mass * (item.movement.from_place == place)
    return kg, near.sd_kg


def _shrink(mill: Mill, rows: Sequence[MovementRecorded]) -> tuple[Shrink, ...]:
    taken: dict[str, float] = {}
    lost: dict[tuple[str, str], float] = {}
    for item in rows:
        move = item.movement
        kg = move.mass_mg / MG_KG
        taken[move.to_place] = taken.get(move.to_place, 0.0) + kg
        if move.to_place in LOST_TO:
            key = (move.from_place, move.to_place)
            lost[key] = lost.get(key, 0.0) + kg
    return tuple(
        Shrink(
            station=code,
            name=row.name or code,
            in_kg=taken.get(code, 0.0),
            air_kg=lost.get((code, "air"), 0.0),
            scrap_kg=lost.get((code, "scrap"), 0.0),
        )
        for code, row in mill.machine_by_code.items()
        if taken.get(code, 0.0) > 0
    )
