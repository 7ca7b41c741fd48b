"""Readings of the record a page at a time, so that no transaction stays open between pages."""

import datetime as dt
from collections.abc import Iterator, Sequence
from heapq import merge
from typing import Any, Final

from sqlalchemy import Connection, Row, Select, and_, exists, select, tuple_

from bedstone.desk.record import Head, MovementRecorded
from bedstone.errors import Unknown
from bedstone.ledger.chain import NO_HEAD
from bedstone.ledger.model import Recorded
from bedstone.store.database import Database
from bedstone.store.rows import instant, movement_from_row, recorded_from_row
from bedstone.store.schema import FACTS, LOTS, MOVEMENTS

__all__ = ["lots_query", "read_fact", "read_facts", "read_head", "read_movements"]

_PAGE: Final = 1000
_LATER: Final = FACTS.alias("later")
_HEAD: Final = select(FACTS.c.position, FACTS.c.head).order_by(FACTS.c.position.desc()).limit(1)


def read_head(connection: Connection) -> Head:
    """Return the end of the chain."""
    row = connection.execute(_HEAD).first()
    return Head(position=0, head=NO_HEAD) if row is None else Head(position=row[0], head=row[1])


def read_fact(connection: Connection, position: int) -> Recorded:
    """Return one fact.

    Raises
    ------
    Unknown
        If there is none.
    """
    row = connection.execute(
        select(FACTS.c.text, FACTS.c.head).where(FACTS.c.position == position)
    ).first()
    if row is None:
        last = read_head(connection).position
        raise Unknown(
            f"There is no fact {position}.", allowed=f"1 to {last}" if last else "none is recorded"
        )
    return recorded_from_row(position, row[0], row[1])


def lots_query() -> Select[Any]:
    """Return the query of all lots whose making was not taken back."""
    taken_back = exists().where(_LATER.c.reverses == LOTS.c.position)
    return select(LOTS).where(~taken_back)


def read_facts(
    database: Database,
    *,
    kinds: Sequence[str],
    after: int,
    until: dt.datetime | None,
    newest_first: bool,
    reversed_too: bool,
) -> Iterator[Recorded]:
    """Yield facts; see :meth:`SqlRecord.facts`."""
    column = FACTS.c.position
    with database.reading() as connection:
        last = read_head(connection).position
    query = select(column, FACTS.c.text, FACTS.c.head).where(column > after, column <= last)
    if kinds:
        query = query.where(FACTS.c.kind.in_(list(kinds)))
    if until is not None:
        query = query.where(FACTS.c.happened_at <= instant(until))
    if not reversed_too:
        taken_back = exists().where(_LATER.c.reverses == column, _LATER.c.position <= last)
        query = query.where(FACTS.c.reverses.is_(None), ~taken_back)
    query = query.order_by(column.desc() if newest_first else column).limit(_PAGE)
    page = query
    while True:
        with database.reading() as connection:
            rows = connection.execute(page).all()
        for row in rows:
            yield recorded_from_row(row.position, row.text, row.head)
        if len(rows) < _PAGE:
            return
        seen = rows[-1].position
        page = query.where(column < seen if newest_first else column > seen)


def read_movements(
    database: Database,
    *,
    place: str | None,
    lot: str | None,
    position: int | None,
    until: dt.datetime | None,
    reversed_too: bool,
    newest_first: bool,
) -> Iterator[MovementRecorded]:
    """Yield movements; see :meth:`SqlRecord.movements`."""
    with database.reading() as connection:
        last = read_head(connection).position
    query = _movements_query(last, newest_first=newest_first)
    if lot is not None:
        query = query.where(MOVEMENTS.c.lot == lot)
    if position is not None:
        query = query.where(MOVEMENTS.c.position == position)
    if until is not None:
        query = query.where(MOVEMENTS.c.happened_at <= instant(until))
    if not reversed_too:
        query = query.where(FACTS.c.reverses.is_(None), _LATER.c.position.is_(None))
    if place is None:
        return map(movement_from_row, _movement_pages(database, query, newest_first=newest_first))
    sides = (MOVEMENTS.c.from_place, MOVEMENTS.c.to_place)
    rows = [
        _movement_pages(database, query.where(side == place), newest_first=newest_first)
        for side in sides
    ]
    return map(movement_from_row, merge(*rows, key=_order, reverse=newest_first))


def _order(row: Row[Any]) -> tuple[int, int, int]:
    return row.happened_at, row.position, row.line


_WHEN: Final = (MOVEMENTS.c.happened_at, MOVEMENTS.c.position, MOVEMENTS.c.line)


def _movement_pages(
    database: Database, query: Select[Any], *, newest_first: bool
) -> Iterator[Row[Any]]:
    """Yield rows of movements a page at a time, each page behind the last row of the one before."""
    order = tuple_(*_WHEN)
    page = query
    while True:
        with database.reading() as connection:
            rows: Sequence[Row[Any]] = connection.execute(page).all()
        yield from rows
        if len(rows) < _PAGE:
            return
        seen = _order(rows[-1])
        page = query.where(order < seen if newest_first else order > seen)


def _movements_query(last: int, *, newest_first: bool) -> Select[Any]:
    """Return the query of movements with kind and reversal of their facts, in order of time."""
    joined = MOVEMENTS.join(FACTS, FACTS.c.position == MOVEMENTS.c.position).outerjoin(
        _LATER, and_(_LATER.c.reverses == MOVEMENTS.c.position, _LATER.c.position <= last)
    )
    return (
        select(
            MOVEMENTS,
            FACTS.c.kind,
            FACTS.c.reverses,
            _LATER.c.position.label("reversed_by"),
        )
        .select_from(joined)
        .where(MOVEMENTS.c.position <= last)
        .order_by(*(column.desc() if newest_first else column.asc() for column in _WHEN))
        .limit(_PAGE)
    )
