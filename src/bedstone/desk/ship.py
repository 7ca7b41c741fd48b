"""Feed that leaves the mill: bags out of the warehouse, bulk through the load-out."""

import datetime as dt

from bedstone.desk.appending import appended
from bedstone.desk.checks import lot_mg, must_be_bin, must_be_machine, must_weigh
from bedstone.desk.finished_bins import (
    refuse_beyond_run,
    refuse_held_inside,
    refuse_other_feed,
    refuse_packed_with_held,
)
from bedstone.desk.holds import refuse_held
from bedstone.desk.made import batches_of_run, new_run
from bedstone.desk.merged_rows import MG_IN_KG
from bedstone.desk.orders import find_order
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.ways import refuse_off_way
from bedstone.errors import BadInput, Refused
from bedstone.ledger.model import Fact, How, Json, Movement, Reading, Recorded
from bedstone.mill.model import Order
from bedstone.quantities.masses import shown_mass

__all__ = ["record_shipped", "record_shipped_bulk"]

SHIPPED = "finishing.shipped/1"
MORE_FRAC = 0.1
"""So much more than was ordered may leave for an order."""


def record_shipped(
    record: Record,
    *,
    order: str,
    run: str,
    bags: int,
    from_place: str,
    by: str,
    at: dt.datetime,
) -> Recorded:
    """Record bags of a run that left for the customer of an order.

    Asks: an order, a run of its product that is in the warehouse. Refused when: the run or a lot
    that is or may be in it is on hold, or more would leave than is there or than the order asks
    for and a tenth. Records: ``finishing.shipped/1``.
    """
    mill = current_mill(record)
    must_be_bin(mill, from_place, kinds=("warehouse",))
    if bags <= 0:
        raise BadInput("This many bags cannot be.", seen=f"{bags} bags", allowed="1 or more")
    wanted = find_order(record, order).order
    lot, _ = record.lot(run)
    _same_product(lot.material, wanted.product, run=run, order=order)
    pack_kg = mill.product(lot.material).pack_kg
    if pack_kg is None:
        raise BadInput(f"{mill.name_of(lot.material)} has no bag.", do="ship it as bulk")
    mass_mg = bags * round(pack_kg * MG_IN_KG)

    def act() -> Fact:
        refuse_held(record, (run, *batches_of_run(record, run)), act="shipped")
        refuse_packed_with_held(record, run, act="shipped")
        _refuse_beyond_order(record, wanted, mass_mg)
        there_mg = lot_mg(record, from_place, run)
        if mass_mg > there_mg:
            raise Refused(
                f"There are not {bags} bags of {run} in {mill.name_of(from_place)}.",
                seen=f"{there_mg / MG_IN_KG / pack_kg:,.1f} bags on the books",
                do="count them, or ship fewer",
            )
        movement = Movement(
            from_place=from_place,
            to_place=f"customer/{wanted.customer}",
            mass_mg=mass_mg,
            material=lot.material,
            how=How.COUNTED,
            lot=run,
        )
        content: dict[str, Json] = {
            "order": order,
            "customer": wanted.customer,
            "run": run,
            "bags": bags,
        }
        return Fact(kind=SHIPPED, happened_at=at, by=by, content=content, movements=(movement,))

    return appended(record, act, at=at)


def record_shipped_bulk(
    record: Record,
    *,
    order: str,
    run: str,
    mass_mg: int,
    from_place: str,
    machine: str,
    seen: Reading | None = None,
    by: str,
    at: dt.datetime,
) -> Recorded:
    """Record bulk feed of a run loaded out for the customer of an order; the run becomes a lot.

    Asks: an order, a run of its product with batches on record, a finished bin, a load-out.
    Refused when: the run, a batch in it or a lot that would or may come out is on hold, another
    feed lies in the bin, or more would leave than there can be or than the order asks for and a
    tenth. Records: ``finishing.shipped/1``.
    """
    mill = current_mill(record)
    must_be_machine(mill, machine, kind="load-out")
    must_be_bin(mill, from_place)
    must_weigh(mass_mg, what="the truck", units=mill.settings.units)
    wanted = find_order(record, order).order

    def act() -> Fact:
        batches = batches_of_run(record, run)
        if not batches:
            raise Refused(f"No batch of run {run!r} is on record.", do="record its batches first")
        product = record.lot(batches[0])[0].material
        _same_product(product, wanted.product, run=run, order=order)
        refuse_held(record, (run, *batches), act="shipped")
        refuse_other_feed(record, from_place, product, act="shipped out of")
        refuse_off_way(
            record, batches, product=product, places=(from_place, machine), act="loaded out"
        )
        refuse_held_inside(record, from_place, mass_mg, material=product, act="shipped")
        refuse_beyond_run(record, run, mass_mg, place=from_place, batches=batches, act="loaded out")
        _refuse_beyond_order(record, wanted, mass_mg)
        content: dict[str, Json] = {
            "order": order,
            "customer": wanted.customer,
            "run": run,
            "bags": 0,
        }
        places = (from_place, machine, f"customer/{wanted.customer}")
        movements = _loaded(product, run, places, mass_mg, seen)
        lots = new_run(record, run, product)
        return Fact(
            kind=SHIPPED, happened_at=at, by=by, content=content, movements=movements, lots=lots
        )

    return appended(record, act, at=at)


def _loaded(
    product: str, run: str, places: tuple[str, str, str], mass_mg: int, seen: Reading | None
) -> tuple[Movement, ...]:
    from_place, machine, customer = places
    ways = ((from_place, machine, None, None), (machine, customer, run, seen))
    return tuple(
        Movement(
            from_place=start,
            to_place=end,
            mass_mg=mass_mg,
            material=product,
            how=How.WEIGHED,
            seen=reading,
            lot=lot,
        )
        for start, end, lot, reading in ways
    )


def _refuse_beyond_order(record: Record, order: Order, mass_mg: int) -> None:
    """Refuse to send more for an order than it asks for and a tenth."""
    sent_mg = sum(
        movement.mass_mg
        for item in record.facts(kinds=(SHIPPED,))
        if item.fact.content["order"] == order.order
        for movement in item.fact.movements
        if movement.to_place.startswith("customer/")
    )
    most_mg = round(order.mass_kg * MG_IN_KG * (1 + MORE_FRAC))
    if sent_mg + mass_mg > most_mg:
        units = current_mill(record).settings.units
        asked = shown_mass(round(order.mass_kg * MG_IN_KG), units=units)
        raise Refused(
            f"Order {order.order} asks for {asked}; with this "
            f"{shown_mass(sent_mg + mass_mg, units=units)} would have left for it.",
            seen=f"{shown_mass(sent_mg, units=units)} left already",
            allowed=f"at most {shown_mass(most_mg, units=units)}: the order and a tenth",
            do="count again; if the customer takes more, change the order first",
        )


def _same_product(made: str, wanted: str, *, run: str, order: str) -> None:
    if made != wanted:
        raise Refused(
            f"Run {run} is {made}; order {order} wants {wanted}.", do="ship a run of that product"
        )
