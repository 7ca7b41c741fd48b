"""Orders: what customers want, what of it has been made, and what is left to make."""

import datetime as dt
import math
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Literal

from bedstone.desk.appending import appended, nobody_since
from bedstone.desk.made import made_batches, run_of_order
from bedstone.desk.merged_rows import (
    MG_IN_KG,
    ORDER_CANCELLED,
    ORDER_SET,
    order_content,
    order_history,
)
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import BadInput, Fault, Refused, Unknown
from bedstone.ledger.model import Fact, Recorded
from bedstone.mill.attributes import attributes_of
from bedstone.mill.cells import CODE, CODE_RULE, quoted
from bedstone.mill.goods import ORDER_STATES, PACKS
from bedstone.mill.model import Mill, Order
from bedstone.mill.plan import BatchKind
from bedstone.quantities.masses import shown_mass

__all__ = [
    "OrderStanding",
    "all_orders",
    "cancel_order",
    "find_order",
    "is_enough",
    "order_faults",
    "set_order",
]

ORDER_KINDS = (ORDER_SET, ORDER_CANCELLED)
ENOUGH_FRAC = 0.98
"""An order counts as made once this part of it was batched (common practice, no source)."""
LARGEST_ORDER_KG = 1_000_000
"""More than this is a slip of the keyboard."""
MEANINGS = attributes_of(Order)


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderStanding:
    """An order, what was made of it, what is left to make, and where it stands.

    ``made_mg`` is what was really put into its batches; ``left_mg`` is reckoned from what their
    draws should have weighed, so that small differences of the scales ask for no further batch.
    """

    order: Order
    made_mg: int
    left_mg: int
    status: Literal["open", "cancelled", "made"]


def all_orders(record: Record) -> tuple[OrderStanding, ...]:
    """Every order with where it stands, the earliest due first."""
    made: dict[str, tuple[int, int]] = {}
    for batch in made_batches(record).values():
        if batch.made.kind is BatchKind.FEED:
            actual, target = made.get(batch.made.run, (0, 0))
            made[batch.made.run] = (actual + batch.mass_mg, target + batch.target_mg)
    orders = [rows[-1] for rows in order_history(record).values()]
    orders.sort(key=lambda order: (order.due_at, order.order))
    return tuple(_standing(order, made.get(run_of_order(order.order), (0, 0))) for order in orders)


def _standing(order: Order, made: tuple[int, int]) -> OrderStanding:
    wanted_mg = round(order.mass_kg * MG_IN_KG)
    left_mg = max(0, wanted_mg - made[1])
    status: Literal["open", "cancelled", "made"] = "open"
    if order.status == "cancelled":
        status = "cancelled"
    elif order.status == "made" or is_enough(wanted_mg, made[1]):
        status = "made"
    return OrderStanding(
        order=order,
        made_mg=made[0],
        left_mg=left_mg if status == "open" else 0,
        status=status,
    )


def is_enough(wanted_mg: int, made_mg: int) -> bool:
    """True when so much was made of what is wanted that no further batch is worth it."""
    return made_mg >= ENOUGH_FRAC * wanted_mg


def find_order(record: Record, code: str) -> OrderStanding:
    """One order with where it stands.

    Raises
    ------
    Unknown
        If there is no such order; near numbers are offered.
    """
    standings = {standing.order.order: standing for standing in all_orders(record)}
    if code not in standings:
        near = get_close_matches(code, standings, n=3)
        raise Unknown(
            f"There is no order {code!r}.",
            do=f"did you mean {', '.join(near)}?" if near else "see the list of orders",
        )
    return standings[code]


def set_order(
    record: Record, order: Order, *, by: str, at: dt.datetime, after: int | None = None
) -> Recorded:
    """Add an order or change one.

    Asks: the order whole. Refused when: it says nothing new, or another product than was made. Bad
    when: customer, product, pack or mass is not possible. Records: ``orders.order_set/1``.
    """
    mill = current_mill(record)
    faults = tuple(fault for _, fault in order_faults(mill, order))
    if faults:
        raise BadInput("This order cannot be taken as it stands.", faults=faults)

    def act() -> Fact:
        nobody_since(record, after, kinds=ORDER_KINDS, key="order", value=order.order)
        history = order_history(record).get(order.order, ())
        if history and order_content(history[-1]) == order_content(order):
            raise Refused(f"Order {order.order} says exactly this already.", do="nothing")
        if history:
            _may_change(record, order)
        return Fact(kind=ORDER_SET, happened_at=at, by=by, content=order_content(order))

    return appended(record, act, at=at)


def _may_change(record: Record, order: Order) -> None:
    """Refuse a change that what was made already contradicts."""
    standing = find_order(record, order.order)
    units = current_mill(record).settings.units
    if standing.made_mg and standing.order.product != order.product:
        raise Refused(
            f"{shown_mass(standing.made_mg, units=units)} of {standing.order.product} were made for "
            f"order {order.order} already; its product cannot change.",
            do="cancel what is left and enter a new order",
        )


def cancel_order(
    record: Record,
    order_code: str,
    *,
    why: str,
    by: str,
    at: dt.datetime,
    after: int | None = None,
) -> Recorded:
    """Cancel an order; what was made of it stays made.

    Refused when: it is cancelled or made already. Records: ``orders.order_cancelled/1``.
    """
    if not why.strip():
        raise BadInput("Say why the order is cancelled.", seen="nothing", allowed="a few words")

    def act() -> Fact:
        nobody_since(record, after, kinds=ORDER_KINDS, key="order", value=order_code)
        standing = find_order(record, order_code)
        if standing.status != "open":
            raise Refused(f"Order {order_code} is {standing.status}; it cannot be cancelled.")
        content = {"order": order_code, "why": why.strip()}
        return Fact(kind=ORDER_CANCELLED, happened_at=at, by=by, content=content)

    return appended(record, act, at=at)


def _fault(field: str, found: str, allowed: str) -> Fault:
    """A fault of one entry of an order, under the name that people have for it."""
    return Fault(column=MEANINGS[field].meaning, found=found, allowed=allowed)


def order_faults(mill: Mill, order: Order) -> list[tuple[str, Fault]]:
    """What is wrong with an order, all of it: the column of it that is, and the fault."""
    faults: list[tuple[str, Fault]] = []

    def fault(field: str, found: str, allowed: str) -> None:
        faults.append((field, _fault(field, found, allowed)))

    if not CODE.fullmatch(order.order):
        fault("order", quoted(order.order), CODE_RULE)
    customers = sorted(firm.firm for firm in mill.firms if firm.role == "customer")
    if order.customer not in customers:
        fault("customer", quoted(order.customer), f"one of {', '.join(customers)}")
    product = mill.product_by_code.get(order.product)
    if product is None:
        fault("product", quoted(order.product), "a product of the mill")
    if not 0 < order.mass_kg < LARGEST_ORDER_KG:
        fault(
            "mass_kg",
            _shown(mill, order.mass_kg),
            f"above 0 and below {_shown(mill, LARGEST_ORDER_KG)}",
        )
    if order.pack not in PACKS:
        fault("pack", quoted(order.pack), "bags or bulk")
    elif product is not None and order.pack == "bags" and product.pack_kg is None:
        fault("pack", "bags", f"bulk: {product.name} has no bag")
    if len(order.note) > MEANINGS["note"].longest:
        fault(
            "note",
            f"{len(order.note):,} characters",
            f"at most {MEANINGS['note'].longest:,} characters",
        )
    return faults + _faults_of_times(mill, order)


def _shown(mill: Mill, mass_kg: float) -> str:
    if not math.isfinite(mass_kg):
        return str(mass_kg)
    return shown_mass(round(mass_kg * MG_IN_KG), units=mill.settings.units)


def _faults_of_times(mill: Mill, order: Order) -> list[tuple[str, Fault]]:
    """Say what is wrong with an order's state and times."""
    faults: list[tuple[str, Fault]] = []
    if order.status not in ORDER_STATES:
        states = ", ".join(ORDER_STATES)
        faults.append(("status", _fault("status", quoted(order.status), states)))
    if order.due_at.tzinfo is None or order.entered_at.tzinfo is None:
        fault = _fault("due_at", "a time without a zone", "times with their zone")
        faults.append(("due_at", fault))
    elif order.due_at < order.entered_at:
        came, due = (
            f"{moment.astimezone(mill.settings.zone):%Y-%m-%d %H:%M}"
            for moment in (order.entered_at, order.due_at)
        )
        fault = _fault("due_at", due, f"not before the order came in, {came}")
        faults.append(("due_at", fault))
    return faults
