"""What the record knows about its instruments: levels against books, proofs, power events."""

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass

from bedstone.desk.level_masses import mass_of
from bedstone.desk.levels import Level, levels
from bedstone.desk.proofs import PowerEvent, Proof, power_events, proofs
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import BadInput
from bedstone.ledger.model import How, is_outside
from bedstone.mill.model import Mill
from bedstone.mill.tolerances import (
    METER_SOURCE,
    SCALE_SOURCE,
    meter_tolerance_mg,
    scale_tolerance_mg,
)
from bedstone.quality.watch_levels import LevelSeen, Passed

__all__ = ["ProofStanding", "flows_of_places", "levels_seen", "proof_standings"]

MG_KG = 1e6
COUNTED = "storage.counted/1"
COUNT_SD_FRAC = 0.004
"""Of the capacity: how well a bin is sounded or a tank dipped (common practice, no source)."""
ALIKE_FRAC: Mapping[How, float] = {
    How.RECKONED: 0.01,
    How.COUNTED: 0.003,
    How.WEIGHED: 0.001,
}
"""By which part what is reckoned, counted, or weighed on a scale that is not watched itself may be off
for days on end (common practice, no source)."""
DAYS_BETWEEN_PROOFS = 90
MASS_BETWEEN_PROOFS_KG = 100_000.0
"""When a meter is to be proved again (mill policy, no published rule)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofStanding:
    """How a scale or meter stands with its proofs.

    ``unproved_since`` is the end of a power event after the last proof; ``off_frac`` and
    ``allowed_frac`` are of the worst known mass of the last proof.
    """

    instrument: str
    last: Proof | None
    unproved_since: dt.datetime | None
    power: PowerEvent | None
    off_frac: float | None
    allowed_frac: float | None
    tolerance_source: str
    through_kg: float  # since the last proof
    is_due: bool
    why: str

    @property
    def is_within(self) -> bool | None:
        """Whether the last proof was within tolerance as it was left; None without a proof."""
        if self.off_frac is None or self.allowed_frac is None:
            return None
        return self.off_frac <= self.allowed_frac


def levels_seen(record: Record, mill: Mill) -> dict[str, tuple[LevelSeen, ...]]:
    """Levels and counts as masses by place; each time once, the later record standing.

    A tape gives metres: with the shape of the bin and the density of what lies in it that is mass,
    with the error of both. Where the tables do not say the shape, it is left out.
    """
    found: dict[str, dict[float, LevelSeen]] = {}
    for row in levels(record):
        seen = _as_mass(mill, row)
        if seen is not None:
            found.setdefault(row.place, {})[seen.at] = seen
    for item in record.facts(kinds=(COUNTED,)):
        content = item.fact.content
        place = str(content["place"])
        held = mill.bin_by_code.get(place)
        if held is not None and content["material"] == held.holds:
            at = item.fact.happened_at.timestamp()
            found.setdefault(place, {})[at] = LevelSeen(
                at,
                float(str(content["counted_mg"])) / MG_KG,
                COUNT_SD_FRAC * held.capacity_kg,
                is_gauge=False,
            )
    return {place: tuple(rows[at] for at in sorted(rows)) for place, rows in found.items()}


def _as_mass(mill: Mill, row: Level) -> LevelSeen | None:
    held = mill.bin_by_code.get(row.place)
    if held is None:
        return None
    try:
        seen = mass_of(mill, row)
    except BadInput:
        return None
    sd_kg = max(seen.sd_kg, 1e-4 * held.capacity_kg)
    return LevelSeen(row.read_at.timestamp(), seen.mass_kg, sd_kg, row.method == "gauge")


def flows_of_places(record: Record) -> dict[str, list[Passed]]:
    """Into and out of every place of the mill by the books, corrections after counts left out."""
    mill = current_mill(record)
    tools = {*mill.scale_by_code, *mill.meter_by_code}
    found: dict[str, list[Passed]] = {}
    for item in record.movements():
        move = item.movement
        if "unaccounted" in (move.from_place, move.to_place):
            continue
        at, kg, sd = item.happened_at.timestamp(), move.mass_mg / MG_KG, move.mass_sd_mg / MG_KG
        for place, sign in ((move.from_place, -1.0), (move.to_place, 1.0)):
            if not is_outside(place):
                alike = 0.0 if move.instrument in tools else ALIKE_FRAC.get(move.how, 0.0)
                found.setdefault(place, []).append(
                    Passed(at, sign * kg, sd, move.instrument, alike)
                )
    return found


def proof_standings(
    record: Record,
    mill: Mill,
    through_kg: Mapping[str, list[tuple[dt.datetime, float]]],
    now: dt.datetime,
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
    why = _due(last, power, kg, now, is_meter=is_meter)
    return ProofStanding(
        instrument=code,
        last=last,
        unproved_since=power.to_at if power else None,
        power=power,
        off_frac=off,
        allowed_frac=allowed,
        tolerance_source=METER_SOURCE if is_meter else SCALE_SOURCE,
        through_kg=kg,
        is_due=bool(why),
        why=why,
    )


def _due(
    last: Proof | None, power: PowerEvent | None, kg: float, now: dt.datetime, *, is_meter: bool
) -> str:
    if power is not None:
        return "the power failed and it has not been proved since"
    if last is None:
        return "there is no proof of it on record"
    if now - last.proved_at > dt.timedelta(days=DAYS_BETWEEN_PROOFS):
        return f"the last proof is more than {DAYS_BETWEEN_PROOFS} days old"
    if is_meter and kg > MASS_BETWEEN_PROOFS_KG:
        return f"more than {MASS_BETWEEN_PROOFS_KG / 1000:g} t went through it since its proof"
    return ""


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
