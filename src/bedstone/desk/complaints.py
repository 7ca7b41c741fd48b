"""What customers complain of: which feed, which lot, what is wrong with it."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches

from bedstone.desk.appending import appended
from bedstone.desk.folding import folded
from bedstone.desk.orders import find_order
from bedstone.desk.plain_values import iso, row_from_plain
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.roles import check
from bedstone.errors import BadInput, Refused
from bedstone.ledger.model import Fact, LotKind, Recorded
from bedstone.mill.cells import CODE, CODE_RULE
from bedstone.mill.model import Mill

__all__ = ["COMPLAINT", "WHAT", "Complaint", "complaints", "record_complaint"]

COMPLAINT = "quality.complaint_received/1"
WHAT: Mapping[str, str] = {
    "mouldy": "mould, must or warmth",
    "dusty": "dust, fines, broken pellets",
    "oily": "greasy feed, oil in the bag",
    "short weight": "less in the bag or truck than paid for",
    "wrong feed": "another feed than was ordered, or a foreign one among it",
    "not eaten": "animals leave it or go off feed",
    "sick animals": "animals ill or dead: hold the lot and call the veterinarian",
    "other": "anything else, in the text",
}
MOST_BAGS = 1_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Complaint:
    """A complaint as it came in."""

    complaint: str
    customer: str
    product: str
    order: str
    lot: str
    bag: int | None
    what: str
    text: str
    received_at: dt.datetime
    by: str
    position: int


def complaints(record: Record) -> tuple[Complaint, ...]:
    """Every complaint, in order of when it came in."""

    def note(before: tuple[Complaint, ...], facts: Iterable[Recorded]) -> tuple[Complaint, ...]:
        return before + tuple(
            row_from_plain(
                Complaint,
                {
                    **item.fact.content,
                    "received_at": iso(item.fact.happened_at),
                    "by": item.fact.by,
                    "position": item.position,
                },
                where=f"fact {item.position}",
            )
            for item in facts
        )

    start: tuple[Complaint, ...] = ()
    found = folded(record, "complaints", kinds=(COMPLAINT,), start=start, fold=note)
    return tuple(sorted(found, key=lambda row: (row.received_at, row.position)))


def record_complaint(
    record: Record,
    *,
    complaint: str,
    customer: str,
    product: str = "",
    order: str = "",
    lot: str = "",
    bag: int | None = None,
    what: str,
    text: str = "",
    by: str,
    at: dt.datetime,
) -> Recorded:
    """Record a complaint.

    Asks: who may, a number of its own, a customer, a product, order or lot that the record knows
    and that agree, what is wrong. Refused when: the number is taken. Records:
    ``quality.complaint_received/1``.
    """
    mill = current_mill(record)
    check(mill, by, "complaint")
    if not CODE.fullmatch(complaint):
        raise BadInput("A complaint needs a number.", seen=repr(complaint), allowed=CODE_RULE)
    _must_be_customer(mill, customer)
    if what not in WHAT:
        raise BadInput("Say what is wrong.", seen=repr(what), allowed=", ".join(WHAT))
    if bag is not None and not (lot and 1 <= bag <= MOST_BAGS):
        raise BadInput("A bag has a number, from 1 on, within a lot.", seen=str(bag))
    product = _product(record, product=product, order=order, lot=lot)

    def act() -> Fact:
        if any(row.complaint == complaint for row in complaints(record)):
            raise Refused(
                f"Complaint {complaint} is on record already.", do="give it another number"
            )
        return Fact(
            kind=COMPLAINT,
            happened_at=at,
            by=by,
            content={
                "complaint": complaint,
                "customer": customer,
                "product": product,
                "order": order,
                "lot": lot,
                "bag": bag,
                "what": what,
                "text": text.strip(),
            },
        )

    return appended(record, act, at=at)


def _must_be_customer(mill: Mill, customer: str) -> None:
    customers = {row.firm for row in mill.firms if row.role == "customer"}
    if customer not in customers:
        near = get_close_matches(customer, sorted(customers), n=3)
        raise BadInput(
            "This is no customer of the mill.",
            seen=repr(customer),
            allowed="a firm that is a customer",
            do=f"did you mean {' or '.join(near)}?" if near else "add it to firms.csv",
        )


def _product(record: Record, *, product: str, order: str, lot: str) -> str:
    """The product that order, lot and the one named agree on."""
    said: dict[str, str] = {}
    if product:
        said["the product"] = current_mill(record).product(product).product
    if order:
        said[f"order {order}"] = find_order(record, order).order.product
    if lot:
        found, _ = record.lot(lot)
        if found.kind is LotKind.LOAD:
            raise BadInput("This lot was bought, not sold.", seen=lot, allowed="a run or a batch")
        said[f"lot {lot}"] = found.material
    if not said:
        raise BadInput("Name the product, the order or the lot.", seen="none of them")
    if len(set(said.values())) > 1:
        seen = ", ".join(f"{name} is {code}" for name, code in said.items())
        raise BadInput("Product, order and lot do not agree.", seen=seen)
    return next(iter(said.values()))
