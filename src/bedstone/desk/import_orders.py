"""A customer's own list of orders, read by a mapping, shown as understood, then kept."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from bedstone.desk.merged_rows import ORDER_SET, order_content, order_history
from bedstone.desk.orders import find_order, order_faults
from bedstone.desk.plain_values import row_plain
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import BadInput, Fault
from bedstone.ledger.model import Fact
from bedstone.mill.mapped_orders import Given, mapping_faults, order_from, unread_columns
from bedstone.mill.model import Mill, Order
from bedstone.mill.order_mapping import WORD_COLUMNS, Mapped, TheirFile

__all__ = ["OrderList", "OrderRead", "Standing", "keep_orders", "read_orders"]

GIVEN_AS = {"mass_kg": "mass", "due_at": "due", "entered_at": "entered"}
"""Our columns of a mapping that fill a column of an order under another name."""


class Standing(StrEnum):
    """What the record knows of an order that was read."""

    NEW = "new"
    CHANGED = "changed"
    SAME = "as it is"
    OLDER = "older than the record"


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderRead:
    """A row of their list as it was understood."""

    row: int
    order: Order
    standing: Standing
    change: str = ""  # what differs from the record, in words


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderList:
    """Their list as it was understood, and the place of the journal at which it was."""

    file: str
    mapping: str
    position: int
    rows: tuple[OrderRead, ...]

    @property
    def to_keep(self) -> tuple[Order, ...]:
        """Orders that say something new."""
        told = {Standing.NEW, Standing.CHANGED}
        return tuple(row.order for row in self.rows if row.standing in told)


def read_orders(record: Record, file: TheirFile, by: Mapped, *, at: dt.datetime) -> OrderList:
    """What their list says, held against the record. Nothing is recorded.

    An order that the record has had before exactly so is older than what it says now and changes
    nothing, so that the same list can be read again at any time.

    Raises
    ------
    BadInput
        With every fault of the mapping, and of every row as far as the mapping lets it be read.
    """
    position = record.head().position
    mill = current_mill(record)
    faults = mapping_faults(file, by)
    unread = unread_columns(faults)
    history = order_history(record)

    def entered_at(number: str) -> dt.datetime:
        return history[number][0].entered_at if number in history else at

    rows: list[OrderRead] = []
    seen: dict[str, int] = {}
    for row in file.rows:
        order, given, wrong = order_from(row, by, mill, entered_at=entered_at, unread=unread)
        if order is not None:
            wrong += _wrong(record, mill, order, given, line=row.line, seen=seen, unread=unread)
            seen.setdefault(order.order, row.line)
            if not wrong:
                rows.append(_standing(history.get(order.order, ()), order, line=row.line))
        faults += [replace(fault, file=file.name) for fault in wrong]
    if faults:
        why = f"The mapping {by.name} does not fit {file.name}" if unread else ""
        raise BadInput(
            f"{why or f'{file.name} cannot be taken as it stands'}; nothing was recorded.",
            do="mend the mapping" if unread else "mend the list, or the mapping that reads it",
            faults=tuple(faults),
        )
    return OrderList(file=file.name, mapping=by.name, position=position, rows=tuple(rows))


def _wrong(
    record: Record,
    mill: Mill,
    order: Order,
    given: Mapping[str, Given],
    *,
    line: int,
    seen: Mapping[str, int],
    unread: frozenset[str],
) -> list[Fault]:
    """What the mill says against an order, in the columns that could be read."""
    faults = []
    for field, fault in order_faults(mill, order):
        ours = GIVEN_AS.get(field, field)
        if ours in unread:
            continue
        do = f"if that is their word, give ours for it in the mapping, under words.{ours}"
        do = do if ours in WORD_COLUMNS else ""
        faults.append(replace(fault, row=line, column=given[ours].column, do=do))
    if unread:
        return faults  # which order it is may be the very thing that is not known
    if order.order in seen:
        found = f"order {order.order} again (first in row {seen[order.order]})"
        faults.append(Fault(row=line, column=given["order"].column, found=found, allowed="once"))
    elif order.order in order_history(record):
        standing = find_order(record, order.order)
        if standing.made_mg and standing.order.product != order.product:
            faults.append(
                Fault(
                    row=line,
                    column=given["product"].column,
                    found=f"{order.product} for order {order.order}",
                    allowed=f"{standing.order.product}, of which some was made for it already",
                )
            )
        if standing.order.customer != order.customer:
            faults.append(
                Fault(
                    row=line,
                    column=given["order"].column,
                    found=f"order {order.order}, which is one of {standing.order.customer}",
                    allowed="numbers of this customer's own",
                    do="put something of theirs before the number, such as LF-{Ref}",
                )
            )
    return faults


def _standing(history: tuple[Order, ...], order: Order, *, line: int) -> OrderRead:
    contents = [order_content(past) for past in history]
    content = order_content(order)
    standing, change = Standing.NEW, ""
    if contents and contents[-1] == content:
        standing = Standing.SAME
    elif content in contents:
        standing = Standing.OLDER
    elif contents:
        standing = Standing.CHANGED
        before, after = row_plain(history[-1]), row_plain(order)
        change = ", ".join(
            f"{name} {before[name]!r} is now {after[name]!r}"
            for name in after
            if before[name] != after[name]
        )
    return OrderRead(row=line, order=order, standing=standing, change=change)


def keep_orders(record: Record, read: OrderList, *, by: str, at: dt.datetime) -> int:
    """Record the orders of a list that say something new; return how many.

    Records: ``orders.order_set/1`` for each, all or nothing.

    Raises
    ------
    Conflict
        If somebody has recorded since the list was read.
    """
    orders = read.to_keep
    if not orders:
        return 0
    record.append_all(
        [
            Fact(kind=ORDER_SET, happened_at=at, by=by, content=order_content(order))
            for order in orders
        ],
        recorded_at=at,
        after=read.position,
    )
    return len(orders)
