"""Rows as they are stored, whatever they hold, for the verifier. Nothing here trusts the file."""

import datetime as dt
from collections.abc import Iterator
from itertools import islice
from typing import Any, Final

from sqlalchemy import LargeBinary, Row, Select, Table, cast, select, tuple_

from bedstone.desk.record import StoredFact, StoredLot, StoredMovement
from bedstone.ledger.model import How, Lot, LotKind
from bedstone.store.database import Database
from bedstone.store.form import form_faults
from bedstone.store.form_postgresql import server_faults
from bedstone.store.rows import moment, movement_in_row
from bedstone.store.schema import FACTS, LOTS, MOVEMENTS
from bedstone.store.snapshots import mark_faults

__all__ = ["store_faults", "stored_facts", "stored_lots", "stored_movements"]

_PAGE: Final = 2000
_FAULTS_SHOWN: Final = 20


def stored_facts(database: Database) -> Iterator[StoredFact]:
    """Yield the rows of the journal in order of position."""
    text: Any = FACTS.c.text
    if database.is_sqlite:  # a text that is no text would stop the driver
        text = cast(FACTS.c.text, LargeBinary).label("text")
    query = select(
        FACTS.c.position,
        text,
        FACTS.c.head,
        FACTS.c.kind,
        FACTS.c.happened_at,
        FACTS.c.recorded_at,
        FACTS.c.reverses,
    )
    for row in _pages(database, query, FACTS, "position"):
        words = row.text
        yield StoredFact(
            position=row.position,
            text=words.decode("utf-8", "replace") if isinstance(words, bytes) else str(words),
            head=str(row.head),
            kind=str(row.kind),
            happened_at=_moment(row.happened_at),
            recorded_at=_moment(row.recorded_at),
            reverses=row.reverses,
        )


def stored_movements(database: Database) -> Iterator[StoredMovement]:
    """Yield the rows of the ledger in order of position and line."""
    for row in _pages(database, select(MOVEMENTS), MOVEMENTS, "position", "line"):
        known = row.how in set(How)
        yield StoredMovement(
            position=row.position,
            line=row.line,
            happened_at=_moment(row.happened_at),
            movement=movement_in_row(row) if known else None,
        )


def stored_lots(database: Database) -> Iterator[StoredLot]:
    """Yield the rows of the lots in order of position and code."""
    for row in _pages(database, select(LOTS), LOTS, "position", "lot"):
        known = row.kind in set(LotKind)
        lot = Lot(lot=row.lot, kind=LotKind(row.kind), material=row.material) if known else None
        yield StoredLot(position=row.position, code=row.lot, lot=lot)


def store_faults(database: Database) -> tuple[str, ...]:
    """Return what is wrong with the file whatever the facts in it say: its form, what the database
    itself finds, and stock that was added up at marks and does not follow from the movements.
    """
    faults = _file_faults(database) if database.is_sqlite else list(server_faults(database))
    if not faults:  # else adding up may stumble over what has just been named
        with database.reading() as connection:
            faults += islice(mark_faults(connection), _FAULTS_SHOWN)
    return tuple(faults)


def _file_faults(database: Database) -> list[str]:
    with database.reading() as connection:
        says = connection.exec_driver_sql(f"PRAGMA integrity_check({_FAULTS_SHOWN})").scalars()
        broken = [str(line) for line in says if line != "ok"]
        loose = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchmany(_FAULTS_SHOWN)
        broken += [f"a row of {row[0]} refers to a row of {row[2]} that is gone" for row in loose]
        return [*broken, *form_faults(connection)]


def _pages(database: Database, query: Select[Any], table: Table, *order: str) -> Iterator[Row[Any]]:
    """Yield rows a page at a time, so that no transaction stays open."""
    key = tuple_(*(table.c[name] for name in order))
    query = query.order_by(*(table.c[name] for name in order)).limit(_PAGE)
    page = query
    while True:
        with database.reading() as connection:
            rows = connection.execute(page).all()
        yield from rows
        if len(rows) < _PAGE:
            return
        page = query.where(key > tuple(getattr(rows[-1], name) for name in order))


def _moment(microseconds: int) -> dt.datetime | None:
    try:
        return moment(microseconds)
    except OverflowError:
        return None
