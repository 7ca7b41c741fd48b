"""A load taken in."""

import datetime as dt

from bedstone.desk.checks import must_be_bin, must_be_material, must_weigh
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import BadInput
from bedstone.ledger.model import Fact, How, Lot, LotKind, Movement, Reading, Recorded

__all__ = ["record_load"]

LOAD_ACCEPTED = "receiving.load_accepted/1"


def record_load(
    record: Record,
    *,
    firm: str,
    ingredient: str,
    into: str,
    lot: str,
    mass_mg: int,
    ticket: str = "",
    carrier: str = "",
    note: str = "",
    instrument: str = "",
    seen: Reading | None = None,
    by: str,
    at: dt.datetime,
) -> Recorded:
    """Record a load that was accepted and put into a bin.

    Asks: a supplier, an ingredient, a bin kept for it, a lot number of its own, a mass. Refused
    when: the lot number is taken. Records: ``receiving.load_accepted/1``.
    """
    mill = current_mill(record)
    supplier = mill.firm_by_code.get(firm)
    if supplier is None or supplier.role != "supplier":
        allowed = ", ".join(row.firm for row in mill.firms if row.role == "supplier")
        raise BadInput("This load has no known supplier.", seen=repr(firm), allowed=allowed)
    if ingredient not in mill.ingredient_by_code:
        raise BadInput("The mill buys no such ingredient.", seen=repr(ingredient))
    held = must_be_bin(mill, into)
    must_be_material(mill, held, ingredient)
    must_weigh(mass_mg, what="the load", units=mill.settings.units)
    if not lot.strip():
        raise BadInput("A load needs a lot number.", seen="nothing", allowed="such as L-1125-CORN")
    fact = Fact(
        kind=LOAD_ACCEPTED,
        happened_at=at,
        by=by,
        content={
            "lot": lot,
            "firm": firm,
            "ingredient": ingredient,
            "into": into,
            "ticket": ticket,
            "carrier": carrier,
            "note": note,
        },
        movements=(
            Movement(
                from_place=f"supplier/{firm}",
                to_place=into,
                mass_mg=mass_mg,
                material=ingredient,
                how=How.WEIGHED,
                instrument=instrument,
                seen=seen,
                lot=lot,
            ),
        ),
        lots=(Lot(lot=lot, kind=LotKind.LOAD, material=ingredient),),
    )
    return record.append(fact, recorded_at=at)
