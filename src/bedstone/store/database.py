"""One database: connections for reading and for the one writer, and drivers' errors in our words."""

import contextlib
import re
import sqlite3
import threading
import weakref
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any, Final, Protocol

from sqlalchemy import URL, Connection, QueuePool, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError

from bedstone.errors import BedstoneError, RecordDamaged, SetupError
from bedstone.store import postgresql_ways, sqlite_ways

__all__ = ["Database"]

_WRITE: Final = "bedstone_write"


class _Ways(Protocol):
    """What differs between one kind of database and another."""

    def arguments(self, url: URL) -> dict[str, Any]: ...
    def prepare(self, raw: Any) -> None: ...
    def begin(self, raw: Any, *, writes: bool) -> None: ...
    def translated(self, error: BaseException, *, confirming: bool) -> BedstoneError: ...


_KINDS: Final[dict[str, tuple[str, _Ways]]] = {
    "sqlite": ("sqlite", sqlite_ways),
    "postgresql": ("postgresql+psycopg", postgresql_ways),
}


class Database:
    """Connections to the record's database, SQLite or PostgreSQL.

    One thread writes at a time (a lock here, one of the database's against other processes); each
    reader has a connection of its own and sees the record as it was when it began.

    Parameters
    ----------
    address : str or URL
        Such as ``sqlite:////srv/mill/bedstone.sqlite`` or ``postgresql://bedstone@server/mill``.
    """

    def __init__(self, address: str | URL) -> None:
        try:
            url = make_url(address)
            driver, self._ways = _KINDS[url.get_backend_name()]
            self.url = url.set(drivername=driver)
            # one connection for each reader at a time, and one for the writer
            self.engine = create_engine(
                self.url,
                connect_args=self._ways.arguments(self.url),
                poolclass=QueuePool,
                pool_size=8,
                max_overflow=32,
                pool_pre_ping=not self.is_sqlite,  # a server may have been started anew
            )
        except (ArgumentError, NoSuchModuleError, ImportError, KeyError, ValueError) as error:
            raise SetupError(
                "The address of the record cannot be used.",
                seen=_without_password(str(address)),
                allowed="sqlite:///FILE or postgresql://USER@SERVER/DATABASE",
                do="mend it in mill.toml, or take it out: the record is then a file in the folder",
            ) from error
        self._writer = threading.Lock()
        self._file: tuple[int, int] | None = None
        self._path = Path(self.url.database or "")
        event.listen(self.engine, "connect", partial(_prepare, self._ways))
        event.listen(self.engine, "begin", partial(_begin, self._ways))
        weakref.finalize(self, self.engine.dispose)  # who forgets to close leaves nothing open

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
        with self._as_writer() as connection:
            transaction = connection.begin()
            try:
                yield connection
            except BaseException:
                transaction.rollback()
                raise
            with self._in_our_words(confirming=True):
                transaction.commit()
            if self.is_sqlite:
                _assert_closed(connection)

    @contextlib.contextmanager
    def trying(self) -> Iterator[Connection]:
        """Give a connection that may write, and take back whatever it did."""
        with self._as_writer() as connection:
            transaction = connection.begin()
            try:
                yield connection
            finally:
                transaction.rollback()

    @contextlib.contextmanager
    def _as_writer(self) -> Iterator[Connection]:
        self._still_there()
        with self._in_our_words(), self._writer, self.engine.connect() as plain:
            yield plain.execution_options(**{_WRITE: True})

    @contextlib.contextmanager
    def _in_our_words(self, *, confirming: bool = False) -> Iterator[None]:
        """Turn errors of SQLAlchemy and of the driver itself into ours."""
        driver = self.engine.dialect.loaded_dbapi
        try:
            yield
        except (DBAPIError, driver.Error) as error:
            own: BaseException = getattr(error, "orig", None) or error
            raise self._ways.translated(own, confirming=confirming) from error


def _prepare(ways: _Ways, raw: Any, _: object) -> None:
    try:
        ways.prepare(raw)
    except BaseException:
        raw.close()
        raise


def _begin(ways: _Ways, connection: Connection) -> None:
    writes = bool(connection.get_execution_options().get(_WRITE, False))
    raw: Any = connection.connection.dbapi_connection  # no detours: somebody waits
    ways.begin(raw, writes=writes)


def _assert_closed(connection: Connection) -> None:
    """Stop if the driver still holds a transaction open after the commit."""
    raw = connection.connection.dbapi_connection
    if isinstance(raw, sqlite3.Connection) and raw.in_transaction:
        raise RecordDamaged(
            "A transaction stayed open after its commit.", do="stop and report this"
        )


def _without_password(address: str) -> str:
    """Return an address as it may be shown."""
    return re.sub(r":[^:@/]*@", ":...@", address)
