"""Proofs of scales and meters, and the failures of power after which they must be proved again."""

import datetime as dt
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from bedstone.desk.appending import appended
from bedstone.desk.checks import must_be_instrument, must_have_been
from bedstone.desk.folding import folded
from bedstone.desk.plain_values import iso, plain, row_from_plain
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.roles import check
from bedstone.errors import BadInput, Refused
from bedstone.ledger.model import Fact, Json, Recorded
from bedstone.mill.model import Meter
from bedstone.quantities.masses import mg_from_kg

__all__ = [
    "POWER_EVENT",
    "PROVED",
    "PowerEvent",
    "Proof",
    "ProofPoint",
    "power_events",
    "proofs",
    "record_power_event",
    "record_proof",
]

PROVED = "quality.instrument_proved/1"
POWER_EVENT = "quality.power_event/1"
KINDS = {"catch test": "meter", "test weights": "scale"}
KNOWN_BY = ("typed", "imported", "seen as a gap")
FACTOR_LOW, FACTOR_HIGH = 0.5, 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofPoint:
    """A known mass, and what the instrument said of it."""

    reference_mg: int
    seen_mg: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """A proof of a scale or meter; factors are what the reading is multiplied with."""

    instrument: str
    kind: str
    points: tuple[ProofPoint, ...]
    division_mg: int
    adjusted: bool
    factor_before: float
    factor_after: float
    note: str
    proved_at: dt.datetime
    by: str
    position: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerEvent:
    """A time without power, or with power out of bounds."""

    from_at: dt.datetime
    to_at: dt.datetime
    how: str
    note: str
    by: str
    position: int


def proofs(record: Record, instrument: str | None = None) -> tuple[Proof, ...]:
    """Proofs in order of time, of one instrument or of all."""

    def note(before: tuple[Proof, ...], facts: Iterable[Recorded]) -> tuple[Proof, ...]:
        return before + tuple(_proof(item) for item in facts)

    start: tuple[Proof, ...] = ()
    found = folded(record, "proofs", kinds=(PROVED,), start=start, fold=note)
    rows = [row for row in found if instrument in (None, row.instrument)]
    return tuple(sorted(rows, key=lambda row: (row.proved_at, row.position)))


def _proof(item: Recorded) -> Proof:
    content: dict[str, Json] = dict(item.fact.content)
    content |= {"proved_at": iso(item.fact.happened_at), "by": item.fact.by}
    content |= {"position": item.position}
    return row_from_plain(Proof, content, where=f"fact {item.position}")


def power_events(record: Record) -> tuple[PowerEvent, ...]:
    """Power events in order of when they began."""

    def note(before: tuple[PowerEvent, ...], facts: Iterable[Recorded]) -> tuple[PowerEvent, ...]:
        return before + tuple(
            row_from_plain(
                PowerEvent,
                {**item.fact.content, "by": item.fact.by, "position": item.position},
                where=f"fact {item.position}",
            )
            for item in facts
        )

    start: tuple[PowerEvent, ...] = ()
    found = folded(record, "power events", kinds=(POWER_EVENT,), start=start, fold=note)
    return tuple(sorted(found, key=lambda row: (row.from_at, row.position)))


def record_proof(
    record: Record,
    *,
    instrument: str,
    kind: str,
    points: Sequence[ProofPoint],
    adjusted: bool = False,
    factor_before: float = 1.0,
    factor_after: float = 1.0,
    note: str = "",
    by: str,
    at: dt.datetime,
) -> Recorded:
    """Record that a scale was tried with weights, or a meter by catching what it let through.

    Asks: who may, a scale for test weights or a meter for a catch test, known masses within what
    the instrument can show, factors near one that differ only if it was adjusted. Records:
    ``quality.instrument_proved/1``.
    """
    mill = current_mill(record)
    check(mill, by, "proof")
    tool = must_be_instrument(mill, instrument)
    what = "meter" if isinstance(tool, Meter) else "scale"
    if KINDS.get(kind) != what:
        allowed = next(name for name, fits in KINDS.items() if fits == what)
        raise BadInput(f"A {what} is not proved so.", seen=repr(kind), allowed=allowed)
    if not points:
        raise BadInput("A proof needs at least one known mass.", seen="none")
    for point in points:
        if point.reference_mg <= 0 or point.seen_mg < 0:
            raise BadInput(
                "A known mass is above nothing, a reading not below it.",
                seen=f"{point.reference_mg} and {point.seen_mg} mg",
            )
    _must_be_factors(factor_before, factor_after, adjusted=adjusted)
    fact = Fact(
        kind=PROVED,
        happened_at=at,
        by=by,
        content={
            "instrument": instrument,
            "kind": kind,
            "points": [plain(point) for point in points],
            "division_mg": mg_from_kg(tool.division_kg),
            "adjusted": adjusted,
            "factor_before": factor_before,
            "factor_after": factor_after,
            "note": note.strip(),
        },
    )
    return record.append(fact, recorded_at=at)


def _must_be_factors(before: float, after: float, *, adjusted: bool) -> None:
    for factor in (before, after):
        if not (math.isfinite(factor) and FACTOR_LOW <= factor <= FACTOR_HIGH):
            raise BadInput(
                "A factor is far from one.",
                seen=f"{factor:g}",
                allowed=f"{FACTOR_LOW:g} to {FACTOR_HIGH:g}",
                do="look at the decimal point",
            )
    if not adjusted and before != after:
        raise BadInput(
            "The factor changed though nothing was adjusted.",
            seen=f"{before:g}, then {after:g}",
            allowed="the same factor, or adjusted",
        )


def record_power_event(
    record: Record,
    *,
    from_at: dt.datetime,
    to_at: dt.datetime,
    how: str = "typed",
    note: str = "",
    by: str,
    at: dt.datetime,
) -> Recorded:
    """Record a failure or surge of power; every meter counts as unproved until proved again.

    Asks: who may, a beginning not after its end, an end not ahead of now. Refused when: one from
    the same moment is on record. Records: ``quality.power_event/1``.
    """
    check(current_mill(record), by, "power")
    must_have_been(to_at, at=at, what="The end of a power event")
    if to_at < from_at:
        zone = current_mill(record).settings.zone
        raise BadInput(
            "The power came back before it went.",
            seen=f"back at {to_at.astimezone(zone):%Y-%m-%d %H:%M}",
            allowed=f"after {from_at.astimezone(zone):%Y-%m-%d %H:%M}",
        )
    if how not in KNOWN_BY:
        raise BadInput("Say how it is known.", seen=repr(how), allowed=", ".join(KNOWN_BY))

    def act() -> Fact:
        if any(row.from_at == from_at for row in power_events(record)):
            raise Refused("A power event from this moment is on record.", seen=iso(from_at))
        content: dict[str, Json] = {
            "from_at": iso(from_at),
            "to_at": iso(to_at),
            "how": how,
            "note": note.strip(),
        }
        return Fact(kind=POWER_EVENT, happened_at=to_at, by=by, content=content)

    return appended(record, act, at=at)
