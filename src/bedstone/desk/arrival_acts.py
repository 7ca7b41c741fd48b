"""Loads taken in through the gate, or turned away, and what is paid for them."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from bedstone.desk.arrival import Gate, judge_arrival
from bedstone.desk.arrival_row import Arrival
from bedstone.desk.assays import ASSAYED, nutrients_known
from bedstone.desk.checks import must_be_bin, must_be_material, must_fit, must_weigh
from bedstone.desk.folding import folded
from bedstone.desk.formula_prices import price_of, standing
from bedstone.desk.plain_values import iso, plain, row_from_plain
from bedstone.desk.receive import LOAD_ACCEPTED
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.roles import check
from bedstone.errors import BadInput, Refused, Unknown
from bedstone.ledger.model import Fact, How, Json, Lot, LotKind, Movement, Reading, Recorded
from bedstone.mill.model import Mill, ReceivingTerms
from bedstone.quantities.masses import shown_mass
from bedstone.receiving.gate import Outcome
from bedstone.receiving.settlement import CENTS100_USD, Settlement, Terms, settle

__all__ = [
    "LOAD_INSPECTED",
    "LOAD_REFUSED",
    "ArrivalOnRecord",
    "arrivals",
    "find_arrival",
    "paid_for",
    "take_in",
    "turn_away",
]

LOAD_INSPECTED = "receiving.load_inspected/1"
LOAD_REFUSED = "receiving.load_refused/1"
PCT = 100


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
    """Every load that was judged at the gate, in order of position."""

    def note(
        before: tuple[ArrivalOnRecord, ...], facts: Iterable[Recorded]
    ) -> tuple[ArrivalOnRecord, ...]:
        return before + tuple(_read(item) for item in facts)

    start: tuple[ArrivalOnRecord, ...] = ()
    kinds = (LOAD_INSPECTED, LOAD_REFUSED)
    return folded(record, "arrivals", kinds=kinds, start=start, fold=note)


def _read(item: Recorded) -> ArrivalOnRecord:
    content = item.fact.content
    reasons = content["reasons"]
    return ArrivalOnRecord(
        arrival=row_from_plain(Arrival, content["arrival"], where=f"fact {item.position}"),
        outcome=Outcome[str(content["outcome"])],
        reasons=tuple(str(one) for one in (reasons if isinstance(reasons, list) else [])),
        into=str(content.get("into", "")),
        by=item.fact.by,
        at=item.fact.happened_at,
        position=item.position,
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


def take_in(record: Record, row: Arrival, *, into: str, by: str, at: dt.datetime) -> int:
    """Record a load that passed the gate, was weighed and put into a bin.

    Asks: who may, a sound arrival, a bin it may go to with room at all. Refused when: the gate
    does not say that it may unload, its toxins bar the bin, the ticket or the lot is on record.
    Records: ``receiving.load_inspected/1``, ``receiving.load_accepted/1`` and a
    ``quality.assayed/1`` for each nutrient tested.
    """
    mill = current_mill(record)
    check(mill, by, "arrival")
    head = record.head()
    gate = judge_arrival(mill, row)
    refuse_twice(record, row.ticket)
    if gate.outcome >= Outcome.HOLD:
        raise Refused(
            "This load stays at the gate; nothing was written.",
            seen="; ".join(gate.reasons),
            allowed="a load that passes every check",
            do="finish the checks, or turn it away",
        )
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
    facts = (
        Fact(kind=LOAD_INSPECTED, happened_at=at, by=by, content=_content(row, gate, into=into)),
        _accepted(mill, row, gate, into=into, by=by, at=at),
        *_assayed(mill, row, by=by, at=at),
    )
    return record.append_all(facts, recorded_at=at, after=head.position)


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
    content = _content(row, gate, into="")
    content.pop("into")
    if why.strip():
        content["reasons"] = [why.strip(), *gate.reasons]
    fact = Fact(kind=LOAD_REFUSED, happened_at=at, by=by, content=content)
    return record.append(fact, recorded_at=at, after=head.position)


def _content(row: Arrival, gate: Gate, *, into: str) -> dict[str, Json]:
    return {
        "ticket": row.ticket,
        "arrival": plain(row),
        "outcome": gate.outcome.name,
        "reasons": list(gate.reasons),
        "barred_products": plain(gate.barred_products),
        "into": into,
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


def terms_for(mill: Mill, ingredient: str, firm: str) -> ReceivingTerms | None:
    """The terms of a supplier, else those for all, else none."""
    rows = [one for one in mill.receiving_terms if one.ingredient == ingredient]
    for supplier in (firm, ""):
        for row in rows:
            if row.supplier == supplier:
                return row
    return None


def paid_for(mill: Mill, row: Arrival, *, net_mg: int, at: dt.datetime) -> Settlement:
    """What a load is paid: by its supplier's contract or offer of the day, else the day's price.

    Raises
    ------
    BadInput
        If the terms shrink to a moisture and none was tested.
    """
    day = at.astimezone(mill.settings.zone).date()
    offers = [
        one.price_usd_t
        for one in standing(mill, day)
        if one.ingredient == row.ingredient and one.supplier == row.firm
    ]
    price_usd_t = min(offers) if offers else price_of(mill, row.ingredient, on=day).price_usd_t
    terms = terms_for(mill, row.ingredient, row.firm)
    tested = {one.test: one for one in row.tests}
    moisture = tested.get("moisture")
    if terms is not None and terms.shrink != "none" and moisture is None:
        raise BadInput("This load is paid by its moisture, and none was tested.",
                       allowed="a moisture in per cent")  # fmt: skip
    steps = tuple(
        (f"{step.test} {tested[step.test].value:g} {step.unit}", _cents100(step.adjust_usd_t))
        for step in mill.price_steps
        if step.ingredient == row.ingredient
        and step.test in tested
        and step.unit == tested[step.test].unit
        and step.from_value <= tested[step.test].value < step.to_value
    )
    dockage = tested.get("foreign matter")
    return settle(
        net_mg,
        _terms(terms),
        moisture_wb=_part(moisture.value) if moisture and moisture.unit == "%" else None,
        dockage=_part(dockage.value) if dockage and dockage.unit == "%" else Fraction(0),
        price_cents100_t=_cents100(price_usd_t),
        steps=steps,
    )


def _cents100(usd: float) -> int:
    return int((Decimal(repr(usd)) * CENTS100_USD).to_integral_value())


def _part(pct: float) -> Fraction:
    return Fraction(repr(pct)) / PCT


def _terms(row: ReceivingTerms | None) -> Terms:
    if row is None:
        return Terms(shrink="none")
    return Terms(
        shrink=row.shrink,
        base_wb=Fraction(repr(row.moisture_base_wb or 0.0)),
        pencil=Fraction(repr(row.pencil_frac or 0.0)),
        handling=Fraction(repr(row.handling_frac)),
        dockage_free=Fraction(repr(row.dockage_free_frac)),
    )
