"""The record in a database: append-only facts, and the ledger drawn from them."""

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from difflib import get_close_matches
from itertools import islice
from pathlib import Path
from typing import Final

from sqlalchemy import URL, select

from bedstone.desk.record import (
    Head,
    MovementRecorded,
    StockLine,
    StoredFact,
    StoredLot,
    StoredMovement,
)
from bedstone.errors import Conflict, SetupError, Unknown
from bedstone.ledger.model import Fact, Lot, Recorded
from bedstone.ledger.reversal import reversal_of
from bedstone.store.database import Database
from bedstone.store.reading import lots_query, read_fact, read_facts, read_head, read_movements
from bedstone.store.rows import instant, lot_from_row
from bedstone.store.schema import LOTS
from bedstone.store.snapshots import read_stock, refresh_marks
from bedstone.store.stored import store_faults, stored_facts, stored_lots, stored_movements
from bedstone.store.upgrade import no_record, upgrade
from bedstone.store.writing import Writing

__all__ = ["FILE_NAME", "SqlRecord", "open_record"]

FILE_NAME: Final = "bedstone.sqlite"
_CHUNK: Final = 2000  # facts written by one statement of an import
_MARK_EVERY: Final = 2000  # movements after which a new mark of stock is worth its while


def open_record(folder: Path, *, create: bool = True) -> "SqlRecord":
    """Return the record of a mill folder; made if ``create`` allows it, brought up to date.

    Raises
    ------
    SetupError
        If the folder is not there or may not be written, or a newer program has written the
        file, or there is no record and none may be made.
    RecordDamaged
        If the file is no database.
    """
    if not folder.is_dir():
        raise SetupError(
            f"There is no folder {folder.name!r}.", do="run bedstone new or bedstone demo first"
        )
    return SqlRecord(folder / FILE_NAME, create=create)


class SqlRecord:
    """The record in SQLite, or in PostgreSQL by its address.

    May be used by several threads: one writes at a time, each read has its own connection.

    Parameters
    ----------
    address : Path, str or URL
        File, or address of a database.
    create : bool
        Whether a record may be begun where there is none.
    """

    def __init__(self, address: Path | str | URL, *, create: bool = True) -> None:
        if isinstance(address, Path):
            if not create and not address.exists():
                raise no_record()
            address = URL.create("sqlite", database=str(address))
        self.database = Database(address)
        self._since_mark = _MARK_EVERY
        try:
            upgrade(self.database, create=create)
        except BaseException:
            self.database.close()
            raise
        self.database.keep_watch()

    def close(self) -> None:
        """Give back all connections."""
        self.database.close()

    def append(self, fact: Fact, *, recorded_at: dt.datetime, after: int | None = None) -> Recorded:
        """Append one fact in one transaction, confirmed when this returns.

        Raises
        ------
        Conflict
            If somebody has recorded since ``after``; nothing is written.
        Refused
            If one of its lots is recorded already, or it takes back what has been taken back.
        BadInput
            If the fact may not be kept.
        """
        with self.database.writing() as connection:
            writing = Writing(connection, recorded_at)
            _nobody_else(writing.head, after)
            recorded = writing.add_one(fact)
        self._after_writing(writing.movements)
        return recorded

    def append_all(
        self, facts: Iterable[Fact], *, recorded_at: dt.datetime, after: int | None = None
    ) -> int:
        """Append many facts in one transaction, all or nothing; return the last position.

        Raises
        ------
        Conflict
            If somebody has recorded since ``after``; nothing is written.
        """
        with self.database.writing() as connection:
            writing = Writing(connection, recorded_at)
            _nobody_else(writing.head, after)
            source = iter(facts)
            while chunk := list(islice(source, _CHUNK)):
                writing.add(chunk)
        self._after_writing(writing.movements)
        return writing.head.position

    def reverse(self, position: int, *, by: str, why: str, recorded_at: dt.datetime) -> Recorded:
        """Take back a fact by a new one with mirrored movements.

        Raises
        ------
        Unknown
            If there is no such fact.
        Refused
            If it has been taken back already, or takes another back itself.
        """
        with self.database.writing() as connection:
            fact = reversal_of(read_fact(connection, position), by=by, why=why)
            writing = Writing(connection, recorded_at)
            recorded = writing.add_one(fact)
        self._after_writing(writing.movements)
        return recorded

    def _after_writing(self, movements: int) -> None:
        self._since_mark += movements
        if self._since_mark >= _MARK_EVERY:
            self.refresh_stock_marks()

    def refresh_stock_marks(self) -> None:
        """Add up stock at moments where none has been added up yet, so that reading is quick."""
        if refresh_marks(self.database):
            self._since_mark = 0

    def head(self) -> Head:
        """Return the end of the chain."""
        with self.database.reading() as connection:
            return read_head(connection)

    def facts(
        self,
        *,
        kinds: Sequence[str] = (),
        after: int = 0,
        until: dt.datetime | None = None,
        newest_first: bool = False,
        reversed_too: bool = False,
    ) -> Iterator[Recorded]:
        """Yield facts in order of position, a page at a time; those that happened at or before
        ``until``. Facts recorded after the first is asked for are not seen.
        """
        return read_facts(
            self.database,
            kinds=kinds,
            after=after,
            until=until,
            newest_first=newest_first,
            reversed_too=reversed_too,
        )

    def fact(self, position: int) -> Recorded:
        """Return one fact.

        Raises
        ------
        Unknown
            If there is none.
        """
        with self.database.reading() as connection:
            return read_fact(connection, position)

    def movements(
        self,
        *,
        place: str | None = None,
        lot: str | None = None,
        position: int | None = None,
        until: dt.datetime | None = None,
        reversed_too: bool = False,
        newest_first: bool = False,
    ) -> Iterator[MovementRecorded]:
        """Yield movements ordered by happened_at, position and line, or the newest first, a page at
        a time.
        """
        return read_movements(
            self.database,
            place=place,
            lot=lot,
            position=position,
            until=until,
            reversed_too=reversed_too,
            newest_first=newest_first,
        )

    def stock(self, at: dt.datetime | None = None) -> tuple[StockLine, ...]:
        """Return book stock of every place and material after all that happened at or before
        ``at``; after everything recorded if it is left out.
        """
        with self.database.reading() as connection:
            return read_stock(connection, None if at is None else instant(at))

    def lot(self, code: str) -> tuple[Lot, int]:
        """Return a lot and the position of the fact that made it.

        Raises
        ------
        Unknown
            If there is none; near names are offered.
        """
        with self.database.reading() as connection:
            row = connection.execute(lots_query().where(LOTS.c.lot == code)).first()
            if row is not None:
                return lot_from_row(row)
            known = connection.execute(select(LOTS.c.lot).distinct()).scalars().all()
        near = get_close_matches(code, known, n=3)
        raise Unknown(
            f"There is no lot {code!r}.",
            do=f"did you mean {', '.join(near)}?" if near else "see the lots of the record",
        )

    def lots(self) -> tuple[tuple[Lot, int], ...]:
        """Return every lot with the position of the fact that made it, in that order."""
        with self.database.reading() as connection:
            rows = connection.execute(lots_query().order_by(LOTS.c.position, LOTS.c.lot))
            return tuple(lot_from_row(row) for row in rows)

    def stored_facts(self) -> Iterator[StoredFact]:
        """Yield the rows of the journal as they are stored, in order of position."""
        return stored_facts(self.database)

    def stored_movements(self) -> Iterator[StoredMovement]:
        """Yield the rows of the ledger as they are stored, in order of position and line."""
        return stored_movements(self.database)

    def stored_lots(self) -> Iterator[StoredLot]:
        """Yield the rows of the lots as they are stored, in order of position and code."""
        return stored_lots(self.database)

    def store_faults(self) -> tuple[str, ...]:
        """Return what is wrong with the file itself, whatever the facts say; nothing if all is well."""
        return store_faults(self.database)


def _nobody_else(head: Head, after: int | None) -> None:
    """Raise Conflict if the record does not end where the caller last read."""
    if after is not None and after != head.position:
        raise Conflict(
            "Somebody else recorded first; nothing was written.",
            seen=f"the record stands at {head.position}",
            allowed=f"{after}, where you last read",
            do="read again and repeat",
        )
