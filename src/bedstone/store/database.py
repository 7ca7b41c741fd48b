"""One database: connections for reading and for the one writer, and drivers' errors in our words."""

import contextlib
import sqlite3
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

from sqlalchemy import URL, Connection, QueuePool, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, IntegrityError, NoSuchModuleError

from bedstone.errors import BedstoneError, Conflict, RecordDamaged, SetupError

__all__ = ["PRAGMAS", "Database"]

_WRITE: Final = "bedstone_write"
_WAIT_S: Final = 10.0  # how long a writer waits for another process, in seconds
PRAGMAS: Final = (
    "PRAGMA journal_mode=WAL",
    "PRAGMA synchronous=FULL",
    "PRAGMA foreign_keys=ON",
    "PRAGMA wal_autocheckpoint=4000",
    "PRAGMA cache_size=-65536",
    "PRAGMA temp_store=MEMORY",
)


class Database:
    """Connections to the record's database.

    One thread writes at a time (a lock here, BEGIN IMMEDIATE against other processes); each reader
    has a connection of its own and sees the record as it was when it began.

    Parameters
    ----------
    address : str or URL
        Of SQLAlchemy, such as ``sqlite:////srv/mill/bedstone.sqlite``.
    """

    def __init__(self, address: str | URL) -> None:
        try:
            self.url = make_url(address)
            # one connection for each reader at a time, and one for the writer
            arguments = {"timeout": _WAIT_S} if self.is_sqlite else {}
            self.engine = create_engine(
                self.url,
                connect_args=arguments,
                poolclass=QueuePool,
                pool_size=8,
                max_overflow=32,
            )
        except (ArgumentError, NoSuchModuleError, ImportError) as error:
            raise SetupError(
                "The address of the record cannot be used.",
                seen=str(error),
                allowed="an SQLite file, or another database whose driver is installed",
            ) from error
        if self.is_sqlite and self.url.database in {None, "", ":memory:"}:
            raise SetupError("The record must be kept in a file.", allowed="sqlite:///FILE")
        self._writer = threading.Lock()
        self._file: tuple[int, int] | None = None
        self._path = Path(self.url.database or "")
        if self.is_sqlite:
            event.listen(self.engine, "connect", _prepare)
            event.listen(self.engine, "begin", _begin)

    @property
    def is_sqlite(self) -> bool:
        """True when the database is an SQLite file."""
        return self.url.get_backend_name() == "sqlite"

    def keep_watch(self) -> None:
        """Note which file this is, so that another in its place, or none, is noticed."""
        self._file = self._which_file()

    def _which_file(self) -> tuple[int, int] | None:
        if not self.is_sqlite:
            return None
        try:
            found = self._path.stat()
        except OSError:
            return None
        return found.st_dev, found.st_ino

    def _still_there(self) -> None:
        if self._file is None:
            return
        found = self._which_file()
        if found != self._file:
            raise RecordDamaged(
                "The file of the record has gone; nothing was written."
                if found is None
                else "Another file lies in the place of the record; nothing was written.",
                allowed="the file that was opened, left where it is while Bedstone runs",
                do="stop every Bedstone on it, put back the last copy, run bedstone verify, and "
                "start again",
            )

    def close(self) -> None:
        """Give back all connections."""
        self.engine.dispose()

    @contextlib.contextmanager
    def reading(self) -> Iterator[Connection]:
        """Give a connection for reading: one moment of the record, however long it takes."""
        self._still_there()
        with self._in_our_words(), self.engine.connect() as connection, connection.begin():
            yield connection

    @contextlib.contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give the writer's connection: all is kept when the block ends well, else nothing."""
        self._still_there()
        with self._in_our_words(), self._writer, self.engine.connect() as plain:
            connection = plain.execution_options(**{_WRITE: True})
            with connection.begin():
                yield connection
            if self.is_sqlite:
                _assert_closed(connection)

    @contextlib.contextmanager
    def _in_our_words(self) -> Iterator[None]:
        """Turn errors of SQLAlchemy and of the driver itself into ours."""
        driver = self.engine.dialect.loaded_dbapi
        try:
            yield
        except (IntegrityError, driver.IntegrityError) as error:
            raise Conflict(
                "Somebody else recorded first; nothing was written.",
                seen=str(getattr(error, "orig", error)),
                do="read again and repeat",
            ) from error
        except (DBAPIError, driver.Error) as error:
            raise _translated(str(getattr(error, "orig", error))) from error


def _assert_closed(connection: Connection) -> None:
    """Stop if the driver still holds a transaction open after the commit."""
    raw = connection.connection.dbapi_connection
    if isinstance(raw, sqlite3.Connection) and raw.in_transaction:
        raise RecordDamaged(
            "A transaction stayed open after its commit.", do="stop and report this"
        )


def _prepare(raw: Any, _: object) -> None:
    raw.isolation_level = None  # we send BEGIN ourselves
    for pragma in PRAGMAS:
        raw.execute(pragma).close()


def _begin(connection: Connection) -> None:
    writes = connection.get_execution_options().get(_WRITE, False)
    raw: Any = connection.connection.dbapi_connection  # straight to the driver: somebody waits
    raw.execute("BEGIN IMMEDIATE" if writes else "BEGIN").close()


def _translated(says: str) -> BedstoneError:
    """Return our error for what a driver says."""
    low = says.lower()
    if "locked" in low or "busy" in low:
        return Conflict(
            "Another program is writing to the record; nothing was written.",
            seen=says,
            do="try again; close other programs that have the file open",
        )
    if "full" in low:
        return SetupError(
            "The disk is full; nothing was written.", seen=says, do="make room, then repeat"
        )
    if "readonly" in low or "read-only" in low:
        return SetupError(
            "The record may not be written; nothing was written.",
            seen=says,
            do="give this user the right to write the mill folder and its files",
        )
    if "unable to open" in low:
        return SetupError(
            "The record cannot be opened.", seen=says, do="check the folder and who may read it"
        )
    return RecordDamaged(
        "The file of the record cannot be read as a database.",
        seen=says,
        do="stop, keep the file, put back the last copy and run bedstone verify",
    )
