"""One instrument's history for a chart: what its witness missed, with proofs and power events."""

import datetime as dt
from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np

from bedstone.desk.proof_standing import ProofStanding
from bedstone.desk.proofs import PowerEvent, Proof, power_events, proofs
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.watch import Evidence, Watched, watched_by
from bedstone.desk.watch_evidence import flows_of_places, levels_seen
from bedstone.desk.watch_suspects import Suspect, name_of
from bedstone.errors import Unknown
from bedstone.quality.charts import cusum, cusum_run_length, ewma
from bedstone.quality.sequential import HELD
from bedstone.quality.watch_samples import STEP

__all__ = ["ChartPoint", "ControlPoint", "History", "history", "watch_now"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartPoint:
    """How much more than the books a reading found, and its standard deviation."""

    at: dt.datetime
    more_kg: float
    sd_kg: float
    is_count: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ControlPoint:
    """What the best witness said at a moment, in standard deviations of chance; above nothing says
    that more flows than is read, or that a gauge or dial shows too much.

    ``average`` is the moving average (weight 0.2), ``limit`` how far it lies from nothing by chance
    once in some five hundred results.
    """

    at: dt.datetime
    said: float
    average: float
    limit: float


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """What is known of one scale, meter, gauge, dial, bag scale, gate or bin."""

    code: str
    name: str
    place: str  # whose level witnesses it, empty if none does
    points: tuple[ChartPoint, ...]
    witness: str  # the one that knows most of it, empty if none does
    control: tuple[ControlPoint, ...]
    sum_passed_at: dt.datetime | None  # when their cumulative sum first passed its limit
    sum_every: float  # results between two false alarms of it
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
    evidence: Evidence


_KEPT: WeakKeyDictionary[Record, _Kept] = WeakKeyDictionary()


def watch_now(record: Record, *, at: dt.datetime) -> Watched:
    """The state of every instrument; reckoned again when something was recorded, or each hour."""
    return _now(record, at).watched


def _now(record: Record, at: dt.datetime) -> _Kept:
    head, hour = record.head().head, at.replace(minute=0, second=0, microsecond=0)
    kept = _KEPT.get(record)
    if kept is None or (kept.head, kept.hour) != (head, hour):
        kept = _Kept(head, hour, *watched_by(record, at=at))
        _KEPT[record] = kept
    return kept


def history(record: Record, code: str, *, at: dt.datetime) -> History:
    """One scale, meter, gauge, or anything else that is watched.

    Raises
    ------
    Unknown
        If the mill has no such instrument.
    """
    mill = current_mill(record)
    is_tool = code in mill.scale_by_code or code in mill.meter_by_code
    held = mill.bin_by_code.get(code)
    kept = _now(record, at)
    watched = kept.watched
    suspect = next((row for row in watched.suspects if row.about == code), None)
    if not is_tool and held is None and code not in watched.smallest and suspect is None:
        raise Unknown(f"There is no instrument {code!r}.", do="see the list of instruments")
    seen = watched.seen.get(code)
    place = code if held is not None else (seen.place if seen else "")
    witness, control = _control(kept.evidence, code)
    return History(
        code=code,
        name=name_of(mill, code),
        place=place,
        points=_points(record, place),
        witness=witness,
        control=control,
        sum_passed_at=_sum_passed_at(control),
        sum_every=cusum_run_length(0.0),
        proofs=proofs(record, code),
        power=power_events(record) if code in mill.meter_by_code else (),
        standing=next((row for row in watched.proofs if row.instrument == code), None),
        suspect=suspect,
        watched=watched,
    )


def _control(evidence: Evidence, code: str) -> tuple[str, tuple[ControlPoint, ...]]:
    """The residuals of the witness that knows most, as a chart of a moving average."""
    mine = [row for row in evidence.suspicions if row.about == code and not row.other]
    if not mine:
        return "", ()
    suspicion = next((row for row in mine if row.kind == STEP), mine[0])
    strength = {name: float((seen[:, 0] ** 2).sum()) for name, seen in suspicion.shows.items()}
    name = max(strength, key=lambda key: (strength[key], key))
    witness = next(row for row in evidence.witnesses if row.name == name)
    sign = 1.0 if float(suspicion.shows[name][:, 0].sum()) >= 0 else -1.0
    there = ~np.isnan(witness.residual)
    said = sign * witness.residual[there]
    chart = ewma(np.clip(said, -HELD, HELD))
    rows = zip(witness.known_at[there], said, chart.value, chart.limit, strict=True)
    return name, tuple(
        ControlPoint(
            at=dt.datetime.fromtimestamp(float(known), dt.UTC),
            said=float(one),
            average=float(average),
            limit=float(limit),
        )
        for known, one, average, limit in rows
    )


def _sum_passed_at(control: tuple[ControlPoint, ...]) -> dt.datetime | None:
    held = np.clip(np.array([row.said for row in control]), -HELD, HELD)
    alarm = cusum(held).alarm
    return control[alarm].at if alarm >= 0 else None


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
