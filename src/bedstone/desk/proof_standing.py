"""How scales and meters stand with their proofs: within tolerance or not, due or not and why."""

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass

from bedstone.desk.bin_room import density_of
from bedstone.desk.proofs import PowerEvent, Proof, power_events, proofs
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.mill.instrument_tables import ProofInterval
from bedstone.mill.model import Mill
from bedstone.mill.tolerances import (
    METER_SOURCE,
    SCALE_SOURCE,
    meter_tolerance_mg,
    scale_tolerance_mg,
)
from bedstone.quantities.units import DIMENSIONS, from_si

__all__ = [
    "NextProof",
    "ProofStanding",
    "next_proof",
    "proof_standings",
    "proofs_due",
    "unproved_meters",
]

MG_KG = 1e6
DAYS = 90
VOLUME_M3 = 75.0
"""Where the mill's table of intervals says nothing: mill policy, no published rule."""
WATER_KG_M3 = 1000.0
Drawn = Mapping[str, list[tuple[dt.datetime, float]]]


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofStanding:
    """How a scale or meter stands with its proofs.

    ``unproved_since`` is the end of a power event after the last proof; ``off_frac`` and
    ``allowed_frac`` are of the worst known mass of the last proof; ``through_m3`` and ``most_m3``
    are None for a scale, ``due_at`` where there is no proof.
    """

    instrument: str
    last: Proof | None
    unproved_since: dt.datetime | None
    power: PowerEvent | None
    off_frac: float | None
    allowed_frac: float | None
    tolerance_source: str
    through_kg: float  # since the last proof
    through_m3: float | None
    most_m3: float | None
    due_at: dt.datetime | None  # by days alone
    is_due: bool
    why: str

    @property
    def is_within(self) -> bool | None:
        """Whether the last proof was within tolerance as it was left; None without a proof."""
        if self.off_frac is None or self.allowed_frac is None:
            return None
        return self.off_frac <= self.allowed_frac


@dataclass(frozen=True, slots=True, kw_only=True)
class NextProof:
    """When an instrument is to be proved again: by days, and a meter by what goes through it."""

    due_at: dt.datetime
    days: int
    most_m3: float | None

    def words(self, mill: Mill) -> str:
        """Date and volume in words."""
        local = self.due_at.astimezone(mill.settings.zone)
        through = "" if self.most_m3 is None else f", or after {_volume(self.most_m3, mill)}"
        return f"{local:%a} {local.day} {local:%b %Y}{through}"


def next_proof(mill: Mill, instrument: str, *, proved_at: dt.datetime) -> NextProof:
    """When an instrument proved at a moment is due again, by the mill's table of intervals."""
    row = next((row for row in mill.proof_intervals if row.instrument == instrument), None)
    days = row.days if row else DAYS
    return NextProof(
        due_at=proved_at + dt.timedelta(days=days),
        days=days,
        most_m3=_most_m3(row) if instrument in mill.meter_by_code else None,
    )


def proofs_due(record: Record, *, at: dt.datetime) -> tuple[ProofStanding, ...]:
    """Every scale and meter, what is due first, then by the day when it will be."""
    mill = current_mill(record)
    drawn: dict[str, list[tuple[dt.datetime, float]]] = {}
    for item in record.movements():
        move = item.movement
        if move.instrument in mill.meter_by_code:
            drawn.setdefault(move.instrument, []).append((item.happened_at, move.mass_mg / MG_KG))
    rows = proof_standings(record, mill, drawn, at).values()
    never = dt.datetime.min.replace(tzinfo=dt.UTC)
    return tuple(sorted(rows, key=lambda row: (not row.is_due, row.due_at or never)))


def proof_standings(
    record: Record, mill: Mill, through_kg: Drawn, now: dt.datetime
) -> dict[str, ProofStanding]:
    """How every scale and meter stands with its proofs."""
    events = power_events(record)
    by_tool: dict[str, Proof] = {row.instrument: row for row in proofs(record)}
    return {
        code: _standing(
            mill, code, by_tool.get(code), events=events, drawn=through_kg.get(code, []), now=now
        )
        for code in (*mill.scale_by_code, *mill.meter_by_code)
    }


def unproved_meters(record: Record) -> Mapping[str, PowerEvent]:
    """Meters not proved since the power failed, each with that failure."""
    mill = current_mill(record)
    proved: dict[str, dt.datetime] = {row.instrument: row.proved_at for row in proofs(record)}
    found: dict[str, PowerEvent] = {}
    for event in power_events(record):
        for code in mill.meter_by_code:
            if code not in proved or proved[code] < event.to_at:
                found.setdefault(code, event)
    return found


def _standing(
    mill: Mill,
    code: str,
    last: Proof | None,
    *,
    events: tuple[PowerEvent, ...],
    drawn: list[tuple[dt.datetime, float]],
    now: dt.datetime,
) -> ProofStanding:
    since = last.proved_at if last else dt.datetime.min.replace(tzinfo=dt.UTC)
    is_meter = code in mill.meter_by_code
    power = next((row for row in events if is_meter and row.to_at > since), None)
    off, allowed = _worst(mill, last) if last else (None, None)
    kg = sum(mass for at, mass in drawn if at > since)
    again = next_proof(mill, code, proved_at=since) if last else None
    through_m3 = kg / _density_kg_m3(mill, code) if is_meter else None
    most_m3 = next_proof(mill, code, proved_at=now).most_m3
    due_at = again.due_at if again else None
    why = "there is no proof of it on record"
    if power is not None:
        why = "the power failed and it has not been proved since"
    elif again is not None:
        why = f"the last proof is more than {again.days} days old" if again.due_at < now else ""
        if not why and through_m3 is not None and most_m3 is not None and through_m3 > most_m3:
            why = f"more than {_volume(most_m3, mill)} went through it since its proof"
    return ProofStanding(
        instrument=code,
        last=last,
        unproved_since=power.to_at if power else None,
        power=power,
        off_frac=off,
        allowed_frac=allowed,
        tolerance_source=METER_SOURCE if is_meter else SCALE_SOURCE,
        through_kg=kg,
        through_m3=through_m3,
        most_m3=most_m3,
        due_at=due_at,
        is_due=bool(why),
        why=why,
    )


def _most_m3(interval: ProofInterval | None) -> float | None:
    return VOLUME_M3 if interval is None else interval.volume_m3


def _density_kg_m3(mill: Mill, meter: str) -> float:
    """Density of what the meter draws; water's where the tables do not say what that is."""
    held = next((row.holds for row in mill.bins if meter in row.feeds.split() and row.holds), "")
    return density_of(mill, held).density_kg_m3 if held else WATER_KG_M3


def _volume(volume_m3: float, mill: Mill) -> str:
    units = DIMENSIONS["m3"].units
    unit = units["gal"] if mill.settings.units == "US" else units["m3"]
    return f"{float(from_si(volume_m3, unit)):,.0f} {unit.label}"


def _worst(mill: Mill, proof: Proof) -> tuple[float, float]:
    """Error of the worst known mass as the instrument was left, and what is allowed there."""
    meter = mill.meter_by_code.get(proof.instrument)
    rows = []
    factor = proof.factor_after / proof.factor_before if proof.adjusted else 1.0
    points = proof.points
    if meter is not None:  # the catches together are one proof of a meter
        reference = sum(row.reference_mg for row in points)
        seen = sum(row.seen_mg for row in points)
        allowed = meter_tolerance_mg(
            round(reference / len(points)), proof.division_mg, sd_frac=meter.sd_frac
        )
        return abs(seen * factor - reference) / reference, allowed * len(points) / reference
    for row in points:
        allowed = scale_tolerance_mg(row.reference_mg, proof.division_mg)
        off = abs(row.seen_mg * factor - row.reference_mg)
        rows.append((off / allowed, off / row.reference_mg, allowed / row.reference_mg))
    _, off_frac, allowed_frac = max(rows)
    return off_frac, allowed_frac if math.isfinite(allowed_frac) else 0.0
