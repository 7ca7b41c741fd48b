"""One instrument's history for a chart: what its witness missed, with proofs and power events."""

import datetime as dt
from dataclasses import dataclass
from weakref import WeakKeyDictionary

from bedstone.desk.proofs import PowerEvent, Proof, power_events, proofs
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.watch import Suspect, Watched, watch
from bedstone.desk.watch_evidence import ProofStanding, flows_of_places, levels_seen
from bedstone.errors import Unknown

__all__ = ["ChartPoint", "History", "history", "watch_now"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartPoint:
    """How much more than the books a reading found, and its standard deviation."""

    at: dt.datetime
    more_kg: float
    sd_kg: float
    is_count: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """What is known of one scale, meter or gauge."""

    code: str
    name: str
    place: str  # whose level witnesses it, empty if none does
    points: tuple[ChartPoint, ...]
    proofs: tuple[Proof, ...]
    power: tuple[PowerEvent, ...]
    standing: ProofStanding | None
    suspect: Suspect | None
    watched: Watched


@dataclass(frozen=True, slots=True)
class _Kept:
    head: str
    hour: dt.datetime
    watched: Watched


_KEPT: WeakKeyDictionary[Record, _Kept] = WeakKeyDictionary()


def watch_now(record: Record, *, at: dt.datetime) -> Watched:
    """The state of every instrument; reckoned again when something was recorded, or each hour."""
    head, hour = record.head().head, at.replace(minute=0, second=0, microsecond=0)
    kept = _KEPT.get(record)
    if kept is None or (kept.head, kept.hour) != (head, hour):
        kept = _Kept(head, hour, watch(record, at=at))
        _KEPT[record] = kept
    return kept.watched


def history(record: Record, code: str, *, at: dt.datetime) -> History:
    """One scale, meter, or bin with a gauge.

    Raises
    ------
    Unknown
        If the mill has no such instrument.
    """
    mill = current_mill(record)
    tool = mill.scale_by_code.get(code) or mill.meter_by_code.get(code)
    held = mill.bin_by_code.get(code)
    if tool is None and held is None:
        raise Unknown(f"There is no instrument {code!r}.", do="see the list of instruments")
    watched = watch_now(record, at=at)
    seen = watched.seen.get(code)
    place = code if held is not None else (seen.place if seen else "")
    return History(
        code=code,
        name=(tool.name if tool else held.name if held else "") or code,
        place=place,
        points=_points(record, place),
        proofs=proofs(record, code),
        power=power_events(record) if code in mill.meter_by_code else (),
        standing=next((row for row in watched.proofs if row.instrument == code), None),
        suspect=next((row for row in watched.suspects if row.about == code), None),
        watched=watched,
    )


def _points(record: Record, place: str) -> tuple[ChartPoint, ...]:
    """Level less book, from the first reading on."""
    rows = levels_seen(record, current_mill(record)).get(place, ())
    flows = sorted(flows_of_places(record).get(place, ()), key=lambda row: row.at)
    found: list[ChartPoint] = []
    book, number, start = 0.0, 0, None
    for row in rows:
        while number < len(flows) and flows[number].at <= row.at:
            book += flows[number].mass_kg
            number += 1
        start = row.mass_kg - book if start is None else start
        found.append(
            ChartPoint(
                at=dt.datetime.fromtimestamp(row.at, dt.UTC),
                more_kg=row.mass_kg - book - start,
                sd_kg=row.sd_kg,
                is_count=not row.is_gauge,
            )
        )
    return tuple(found)
