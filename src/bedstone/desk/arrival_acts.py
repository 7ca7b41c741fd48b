"""Loads taken in through the gate, or turned away, and what is paid for them."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from bedstone.desk.arrival import Gate, judge_arrival
from bedstone.desk.arrival_row import Arrival
from bedstone.desk.assays import ASSAYED, nutrients_known
from bedstone.desk.checks import must_be_bin, must_be_material, must_fit, must_weigh
from bedstone.desk.folding import folded
from bedstone.desk.holds import HELD
from bedstone.desk.plain_values import iso, plain, row_from_plain
from bedstone.desk.receive import LOAD_ACCEPTED
from bedstone.desk.receiving_terms import SAMPLE_DAYS, terms_for
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.roles import check
from bedstone.errors import BadInput, Refused, Unknown
from bedstone.ledger.model import Fact, How, Json, Lot, LotKind, Movement, Reading, Recorded
from bedstone.mill.model import Mill
from bedstone.quantities.masses import shown_mass
from bedstone.receiving.gate import Outcome

__all__ = [
    "LOAD_INSPECTED",
    "LOAD_REFUSED",
    "ArrivalOnRecord",
    "arrivals",
    "find_arrival",
    "take_in",
    "turn_away",
]

LOAD_INSPECTED = "receiving.load_inspected/1"
LOAD_REFUSED = "receiving.load_refused/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class ArrivalOnRecord:
    """A load that was judged at the gate."""

    arrival: Arrival
    outcome: Outcome
    reasons: tuple[str, ...]
    into: str  # empty when it was turned away
    by: str
    at: dt.datetime
    position: int
    under_hold: str = ""  # why it went into the bin on hold; empty if it did not
    barred_products: Mapping[str, str] = field(default_factory=dict)
    sample_shelf: str = ""
    keep_until: dt.date | None = None


_Judged = tuple[tuple[ArrivalOnRecord, ...], frozenset[str]]


def tickets(record: Record) -> Mapping[str, str]:
    """Tickets on record of loads taken in or turned away, each with the lot or load."""

    def note(before: Mapping[str, str], facts: Iterable[Recorded]) -> Mapping[str, str]:
        found = dict(before)
        for item in facts:
            arrival = item.fact.content.get("arrival")
            said = arrival if isinstance(arrival, Mapping) else item.fact.content
            if said.get("ticket"):
                found[str(said["ticket"])] = str(said.get("lot", ""))
        return found

    kinds = (LOAD_ACCEPTED, LOAD_REFUSED)
    return folded(record, "tickets", kinds=kinds, start={}, fold=note)


def arrivals(record: Record) -> tuple[ArrivalOnRecord, ...]:
    """Every load that was judged at the gate, in order of position; one that was taken in and whose
    load was taken back in the journal is not among them.
    """

    def note(before: _Judged, facts: Iterable[Recorded]) -> _Judged:
        rows, taken = list(before[0]), set(before[1])
        for item in facts:
            if item.fact.kind == LOAD_ACCEPTED:
                taken.add(str(item.fact.content["lot"]))
            else:
                rows.append(_read(item))
        return tuple(rows), frozenset(taken)

    start: _Judged = ((), frozenset())
    kinds = (LOAD_INSPECTED, LOAD_REFUSED, LOAD_ACCEPTED)
    rows, taken = folded(record, "arrivals", kinds=kinds, start=start, fold=note)
    return tuple(row for row in rows if not row.into or row.arrival.lot in taken)


def _read(item: Recorded) -> ArrivalOnRecord:
    content = item.fact.content
    reasons, barred = content["reasons"], content.get("barred_products")
    until = str(content.get("keep_until", ""))
    return ArrivalOnRecord(
        arrival=row_from_plain(Arrival, content["arrival"], where=f"fact {item.position}"),
        outcome=Outcome[str(content["outcome"])],
        reasons=tuple(str(one) for one in (reasons if isinstance(reasons, list) else [])),
        into=str(content.get("into", "")),
        by=item.fact.by,
        at=item.fact.happened_at,
        position=item.position,
        under_hold=str(content.get("under_hold", "")),
        barred_products=(
            {code: str(why) for code, why in barred.items()} if isinstance(barred, Mapping) else {}
        ),
        sample_shelf=str(content.get("sample_shelf", "")),
        keep_until=dt.date.fromisoformat(until) if until else None,
    )


def find_arrival(record: Record, ticket: str) -> ArrivalOnRecord:
    """The load of a ticket.

    Raises
    ------
    Unknown
        If no load of this ticket was judged at the gate.
    """
    for row in reversed(arrivals(record)):
        if row.arrival.ticket == ticket:
            return row
    raise Unknown(f"There is no arrival with ticket {ticket!r}.", do="see the list of arrivals")


def refuse_twice(record: Record, ticket: str) -> None:
    """Refuse a ticket that is on record."""
    lot = tickets(record).get(ticket)
    if lot is not None:
        raise Refused(
            f"Ticket {ticket} is on record already.",
            seen=f"lot {lot}",
            allowed="each ticket once",
            do="look at the number on the paper; a load recorded by mistake is taken back in the "
            "journal",
        )


def take_in(
    record: Record, row: Arrival, *, into: str, by: str, at: dt.datetime, under_hold: str = ""
) -> int:
    """Record a load that passed the gate, was weighed and put into a bin.

    ``under_hold`` says why a load that only waits for a result is unloaded all the same: its lot is
    on hold from then on, and the bin is not drawn from until somebody releases it.

    Asks: who may, a sound arrival, a bin it may go to with room at all. Refused when: the gate
    does not say that it may unload (or, under hold, more than a result is missing), its toxins bar
    the bin, the ticket or the lot is on record. Records: ``receiving.load_inspected/1``,
    ``receiving.load_accepted/1``, a ``quality.assayed/1`` for each nutrient tested, and
    ``quality.held/1`` under hold.
    """
    mill = current_mill(record)
    check(mill, by, "under hold" if under_hold else "arrival")
    head = record.head()
    gate = judge_arrival(mill, row)
    refuse_twice(record, row.ticket)
    _refuse_at_gate(gate, under_hold=under_hold)
    if gate.weighed is None:
        raise BadInput("This load was not weighed.", allowed="gross and tare")
    held = must_be_bin(mill, into)
    must_be_material(mill, held, row.ingredient)
    if into in gate.barred_bins:
        raise Refused(f"Lot {row.lot} must not go into {mill.name_of(into)}.",
                      seen=gate.barred_bins[into], do="choose a bin that is kept apart")  # fmt: skip
    must_weigh(gate.weighed.net_mg, what="the load", units=mill.settings.units)
    must_fit(mill, held, gate.weighed.net_mg)
    if any(lot.lot == row.lot for lot, _ in record.lots()):
        raise Refused(f"Lot {row.lot} is on record already.", allowed="a number of its own")
    content = _content(mill, row, gate, at=at) | {"into": into, "under_hold": under_hold}
    facts = [
        Fact(kind=LOAD_INSPECTED, happened_at=at, by=by, content=content),
        _accepted(mill, row, gate, into=into, by=by, at=at),
        *_assayed(mill, row, by=by, at=at),
    ]
    if under_hold:
        why = f"unloaded under hold: {under_hold}"
        facts.append(
            Fact(kind=HELD, happened_at=at, by=by, content={"lots": [row.lot], "why": why})
        )
    return record.append_all(facts, recorded_at=at, after=head.position)


def _refuse_at_gate(gate: Gate, *, under_hold: str) -> None:
    """Refuse what the gate does not let in, even under hold."""
    if gate.outcome < Outcome.HOLD and not under_hold:
        return
    if under_hold and gate.may_wait_in_bin:
        return
    if under_hold and gate.outcome < Outcome.HOLD:
        raise Refused("Nothing holds this load: take it in as it is.", seen="every check passed")
    raise Refused(
        "This load stays at the gate; nothing was written.",
        seen="; ".join(gate.reasons),
        allowed="under hold: a load that only waits for a result"
        if under_hold
        else "a load that passes every check",
        do="finish the checks, or turn it away",
    )


def turn_away(record: Record, row: Arrival, *, why: str, by: str, at: dt.datetime) -> Recorded:
    """Record that a load was turned away.

    Asks: who may, a sound arrival, why. Refused when: the ticket is on record. Records:
    ``receiving.load_refused/1``.
    """
    mill = current_mill(record)
    check(mill, by, "arrival")
    head = record.head()
    gate = judge_arrival(mill, row)
    refuse_twice(record, row.ticket)
    if not why.strip() and not gate.reasons:
        raise BadInput("Say why it is turned away.", seen="nothing", allowed="a few words")
    content = _content(mill, row, gate, at=at)
    if why.strip():
        content["reasons"] = [why.strip(), *gate.reasons]
    fact = Fact(kind=LOAD_REFUSED, happened_at=at, by=by, content=content)
    return record.append(fact, recorded_at=at, after=head.position)


def _content(mill: Mill, row: Arrival, gate: Gate, *, at: dt.datetime) -> dict[str, Json]:
    terms = terms_for(mill, row.ingredient, row.firm)
    days = terms.sample_days if terms else SAMPLE_DAYS
    until = at.astimezone(mill.settings.zone).date() + dt.timedelta(days=days)
    return {
        "ticket": row.ticket,
        "arrival": plain(row),
        "outcome": gate.outcome.name,
        "reasons": list(gate.reasons),
        "barred_products": plain(gate.barred_products),
        "sample_shelf": terms.sample_shelf if terms else "",
        "keep_until": until.isoformat(),
    }


def _accepted(mill: Mill, row: Arrival, gate: Gate, *, into: str, by: str, at: dt.datetime) -> Fact:
    if gate.weighed is None:
        raise BadInput("This load was not weighed.", allowed="gross and tare")
    return Fact(
        kind=LOAD_ACCEPTED,
        happened_at=at,
        by=by,
        content={
            "lot": row.lot,
            "firm": row.firm,
            "ingredient": row.ingredient,
            "into": into,
            "ticket": row.ticket,
            "carrier": row.carrier,
            "note": "; ".join(gate.reasons),
        },
        movements=(
            Movement(
                from_place=f"supplier/{row.firm}",
                to_place=into,
                mass_mg=gate.weighed.net_mg,
                material=row.ingredient,
                how=How.WEIGHED,
                instrument=row.weighbridge,
                seen=_reading(mill, gate.weighed.net_mg),
                mass_sd_mg=gate.weighed.net_sd_mg,
                lot=row.lot,
            ),
        ),
        lots=(Lot(lot=row.lot, kind=LotKind.LOAD, material=row.ingredient),),
    )


def _reading(mill: Mill, net_mg: int) -> Reading:
    number, _, unit = shown_mass(net_mg, units=mill.settings.units).partition(" ")
    return Reading(number=number.replace(",", ""), unit=unit)


def _assayed(mill: Mill, row: Arrival, *, by: str, at: dt.datetime) -> tuple[Fact, ...]:
    known = nutrients_known(mill)
    units = {
        (one.nutrient, one.unit) for one in mill.composition if one.ingredient == row.ingredient
    }
    specs = {one.test: one for one in mill.specifications if one.ingredient == row.ingredient}
    terms = terms_for(mill, row.ingredient, row.firm)
    facts = []
    for seen in row.tests:
        agrees = (seen.test, seen.unit) in units or seen.test not in {name for name, _ in units}
        if seen.test not in known or seen.unit not in {"%", "mg/kg"} or not agrees:
            continue
        spec = specs.get(seen.test)
        content: dict[str, Json] = {
            "assay": f"GATE-{row.ticket}",
            "nutrient": seen.test,
            "of": row.ingredient,
            "lot": row.lot,
            "place": "",
            "value": seen.value,
            "unit": seen.unit,
            "sd": spec.repeatability_sd if spec else None,
            "method": seen.method or (spec.method if spec else ""),
            "laboratory": "at the gate",
            "sampled_at": iso(at),
            "retained_sample": terms.sample_shelf if terms else "",
        }
        facts.append(Fact(kind=ASSAYED, happened_at=at, by=by, content=content))
    return tuple(facts)
