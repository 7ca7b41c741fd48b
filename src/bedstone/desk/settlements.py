"""What loads are paid: reckoned by the terms, settled on record, corrected by settling again."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from bedstone.desk.appending import appended
from bedstone.desk.arrival_acts import ArrivalOnRecord, find_arrival
from bedstone.desk.arrival_row import Arrival, TestValue, arrival_faults
from bedstone.desk.folding import folded
from bedstone.desk.formula_prices import standing
from bedstone.desk.holds import held_lots
from bedstone.desk.plain_values import row_from_plain, row_plain
from bedstone.desk.receiving_terms import terms_for
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill, newest_revision
from bedstone.desk.roles import check
from bedstone.errors import BadInput, Refused
from bedstone.ledger.model import Fact, Recorded
from bedstone.mill.model import Mill, ReceivingTerms
from bedstone.receiving.settlement import (
    CENTS100_USD,
    Settlement,
    Terms,
    settle,
    shrink_factor,
)

__all__ = ["Settled", "SettledAt", "paid_for", "settle_load", "settlements"]

LOAD_SETTLED = "receiving.load_settled/1"
PCT = 100
MOST_USD_T = 1_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceStepTaken:
    """A step of the schedule: the result it goes by, and what it adds, 0.0001 USD a tonne."""

    test: str
    adjust_cents100_t: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """A settlement as it stands on record, each figure of its arithmetic with it.

    ``shrink_factor`` is what goes with each part of water above the base, as part of the mass.
    ``corrects`` is the fact that it takes the place of, 0 for the first.
    """

    ticket: str
    lot: str
    firm: str
    ingredient: str
    revision: int
    terms: str
    price_from: str
    price_cents100_t: int
    steps: tuple[PriceStepTaken, ...]
    moisture_pct: float | None
    base_pct: float
    shrink: str
    shrink_factor: float
    handling_pct: float
    dockage_pct: float
    dockage_free_pct: float
    net_mg: int
    dockage_mg: int
    moisture_mg: int
    handling_mg: int
    paid_mg: int
    money_cents: int
    corrects: int
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SettledAt:
    """A settlement with its place in the journal."""

    settled: Settled
    by: str
    at: dt.datetime
    position: int


def settlements(record: Record) -> Mapping[str, tuple[SettledAt, ...]]:
    """Settlements of each ticket in order; the last is what stands."""

    def note(
        before: Mapping[str, tuple[SettledAt, ...]], facts: Iterable[Recorded]
    ) -> Mapping[str, tuple[SettledAt, ...]]:
        found = dict(before)
        for item in facts:
            row = row_from_plain(Settled, item.fact.content, where=f"fact {item.position}")
            one = SettledAt(
                settled=row, by=item.fact.by, at=item.fact.happened_at, position=item.position
            )
            found[row.ticket] = (*found.get(row.ticket, ()), one)
        return found

    return folded(record, "settlements", kinds=(LOAD_SETTLED,), start={}, fold=note)


def paid_for(
    mill: Mill,
    row: Arrival,
    *,
    net_mg: int,
    at: dt.datetime,
    price_usd_t: float | None = None,
) -> Settlement:
    """What a load is paid: by a price that was agreed for it, else its supplier's contract or offer of
    the day, else the market's, else the ingredients table's. Another seller's price is not its own.

    Raises
    ------
    BadInput
        If the terms shrink to a moisture and none was tested, or more is taken off than there is.
    """
    price, _ = _price(mill, row, at=at, agreed_usd_t=price_usd_t)
    terms = terms_for(mill, row.ingredient, row.firm)
    tested = {one.test: one for one in row.tests}
    moisture, dockage = _per_cent(row, "moisture"), _per_cent(row, "foreign matter")
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
    try:
        return settle(
            net_mg,
            _terms(terms),
            moisture_wb=_part(moisture) if moisture is not None else None,
            dockage=_part(dockage) if dockage is not None else Fraction(0),
            price_cents100_t=_cents100(price),
            steps=steps,
        )
    except ValueError as error:
        raise BadInput("This load cannot be paid by its terms.", seen=str(error)) from None


def settle_load(
    record: Record,
    ticket: str,
    *,
    by: str,
    at: dt.datetime,
    moisture_pct: float | None = None,
    dockage_pct: float | None = None,
    price_usd_t: float | None = None,
    why: str = "",
) -> Recorded:
    """Settle a load, or settle it again.

    Asks: who may, a load that was taken in; why, if a figure is not the gate's or the tables' or
    the load was settled before. Refused when: its lot is on hold, or it is settled and nothing is
    said of why it is settled again. Records: ``receiving.load_settled/1``; an earlier settlement
    stays as it was.
    """
    mill = current_mill(record)
    check(mill, by, "settle")
    row = find_arrival(record, ticket)
    if not row.into:
        raise Refused(f"The load of ticket {ticket} was turned away: there is nothing to pay.")
    changed = (moisture_pct, dockage_pct, price_usd_t) != (None, None, None)
    arrival = _as_settled(mill, row.arrival, moisture_pct, dockage_pct)
    if price_usd_t is not None and not 0 < price_usd_t < MOST_USD_T:
        raise BadInput("The price cannot be.", seen=f"{price_usd_t:g} USD/t", allowed="above 0")

    def act() -> Fact:
        held = held_lots(record)
        if row.arrival.lot in held:
            raise Refused(
                f"Lot {row.arrival.lot} is on hold: it is not settled before it is released.",
                seen=held[row.arrival.lot],
            )
        before = settlements(record).get(ticket, ())
        if (before or changed) and not why.strip():
            raise BadInput(
                f"Ticket {ticket} is settled already: say why it is settled again."
                if before
                else "Say why it is not settled by the figures of the gate and the tables.",
                seen="nothing",
                allowed="a few words",
            )
        found = _settled(
            record, row, arrival, price_usd_t=price_usd_t, why=why.strip(),
            corrects=before[-1].position if before else 0,
        )  # fmt: skip
        return Fact(kind=LOAD_SETTLED, happened_at=at, by=by, content=row_plain(found))

    return appended(record, act, at=at)


def _as_settled(
    mill: Mill, row: Arrival, moisture_pct: float | None, dockage_pct: float | None
) -> Arrival:
    """The load with the results by which it is settled in place of the gate's."""
    tests = list(row.tests)
    for test, value in (("moisture", moisture_pct), ("foreign matter", dockage_pct)):
        if value is not None:
            tests = [one for one in tests if one.test != test]
            tests.append(TestValue(test=test, value=value, unit="%", method="as settled"))
    found = replace(row, tests=tuple(tests))
    faults = arrival_faults(mill, found) if tests != list(row.tests) else ()
    if faults:
        raise BadInput("This load cannot be settled so.", faults=faults)
    return found


def _settled(
    record: Record,
    row: ArrivalOnRecord,
    arrival: Arrival,
    *,
    price_usd_t: float | None,
    why: str,
    corrects: int,
) -> Settled:
    mill = current_mill(record)
    net_mg = arrival.gross_mg - arrival.tare_mg
    paid = paid_for(mill, arrival, net_mg=net_mg, at=row.at, price_usd_t=price_usd_t)
    terms = terms_for(mill, arrival.ingredient, arrival.firm)
    return Settled(
        ticket=arrival.ticket,
        lot=arrival.lot,
        firm=arrival.firm,
        ingredient=arrival.ingredient,
        revision=newest_revision(record),
        terms=terms.source if terms else "paid as weighed",
        price_from=_price(mill, arrival, at=row.at, agreed_usd_t=price_usd_t)[1],
        price_cents100_t=paid.price_cents100_t,
        steps=tuple(
            PriceStepTaken(test=test, adjust_cents100_t=adjust) for test, adjust in paid.steps
        ),
        moisture_pct=_per_cent(arrival, "moisture"),
        base_pct=_pct(terms.moisture_base_wb if terms else 0.0),
        shrink=terms.shrink if terms else "none",
        shrink_factor=_factor(terms),
        handling_pct=_pct(terms.handling_frac if terms else 0.0),
        dockage_pct=_per_cent(arrival, "foreign matter") or 0.0,
        dockage_free_pct=_pct(terms.dockage_free_frac if terms else 0.0),
        net_mg=paid.net_mg,
        dockage_mg=paid.dockage_mg,
        moisture_mg=paid.moisture_mg,
        handling_mg=paid.handling_mg,
        paid_mg=paid.paid_mg,
        money_cents=paid.money_cents,
        corrects=corrects,
        why=why,
    )


def _price(
    mill: Mill, row: Arrival, *, at: dt.datetime, agreed_usd_t: float | None
) -> tuple[float, str]:
    """Price of a load and where it comes from."""
    if agreed_usd_t is not None:
        return agreed_usd_t, "agreed for this load"
    day = at.astimezone(mill.settings.zone).date()
    rows = [one for one in standing(mill, day) if one.ingredient == row.ingredient]
    own = [one for one in rows if one.supplier == row.firm]
    market = [one for one in rows if not one.supplier]
    for found in (own, market):
        if found:
            best = min(found, key=lambda one: one.price_usd_t)
            named = f"contract {best.contract}" if best.contract else "the seller's offer"
            return best.price_usd_t, f"{named if found is own else 'market'}, from {best.from_on}"
    return mill.ingredient_by_code[row.ingredient].price_usd_t, "ingredients table"


def _per_cent(row: Arrival, test: str) -> float | None:
    found = next((one for one in row.tests if one.test == test), None)
    return found.value if found is not None and found.unit == "%" else None


def _cents100(usd: float) -> int:
    return int((Decimal(repr(usd)) * CENTS100_USD).to_integral_value())


def _part(pct: float) -> Fraction:
    return Fraction(repr(pct)) / PCT


def _pct(part: float | None) -> float:
    """A part as per cent, as it would be typed."""
    return float(Fraction(repr(part or 0.0)) * PCT)


def _factor(row: ReceivingTerms | None) -> float:
    terms = _terms(row)
    if terms.shrink == "dry matter":
        return float(shrink_factor(terms.base_wb))
    return float(terms.pencil * PCT) if terms.shrink == "pencil" else 0.0


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
