"""Facts on their way into the database: text, head, and what is drawn from them, all at once."""

import datetime as dt
from collections.abc import Sequence
from functools import cache
from typing import TYPE_CHECKING, Any, Final

from sqlalchemy import Connection, Dialect, Select, Table, bindparam, func, insert, select
from sqlalchemy.sql.compiler import SQLCompiler

from bedstone.desk.record import Head
from bedstone.errors import Refused
from bedstone.ledger.chain import NO_HEAD, next_head
from bedstone.ledger.model import Fact, Recorded
from bedstone.ledger.reversal import check_reversal, reversed_position
from bedstone.ledger.text import fact_text
from bedstone.store.reading import lots_query, read_fact
from bedstone.store.rows import instant, lot_rows, movement_rows, recorded_from_row
from bedstone.store.schema import FACTS, LOTS, MOVEMENTS, STOCK_MARKS
from bedstone.store.snapshots import drop_marks_from

if TYPE_CHECKING:
    from psycopg import Connection as PgConnection

__all__ = ["Writing"]

_Rows = tuple[Table, list[dict[str, Any]]]

_MANY: Final = 20  # facts from which on they are an import, and sent to a server as a stream
_ASK: Final = 500  # lots asked for in one query
_LOTS_MADE: Final = lots_query().where(LOTS.c.lot.in_(bindparam("lots", expanding=True))).limit(1)
_LOT_MADE: Final = lots_query().where(LOTS.c.lot == bindparam("lot")).limit(1)
_END: Final = (  # the end of the chain and the last mark of stock
    select(
        FACTS.c.position,
        FACTS.c.head,
        select(func.max(STOCK_MARKS.c.through_at)).scalar_subquery().label("mark"),
    )
    .order_by(FACTS.c.position.desc())
    .limit(1)
)


class Writing:
    """The end of the chain within one transaction; facts are added to it.

    Parameters
    ----------
    connection : Connection
        The writer's, with its transaction begun.
    recorded_at : datetime
        Time of recording of all facts added.
    """

    def __init__(self, connection: Connection, recorded_at: dt.datetime) -> None:
        self.connection = connection
        self.recorded_at = recorded_at
        end = _first(connection, _END)
        self.head = (
            Head(position=0, head=NO_HEAD) if end is None else Head(position=end[0], head=end[1])
        )
        self._mark: int | None = None if end is None else end[2]
        self.movements = 0
        self._facts: list[dict[str, Any]] = []
        self._movements: list[dict[str, Any]] = []
        self._lots: list[dict[str, Any]] = []

    def add_one(self, fact: Fact) -> Recorded:
        """Write one fact and return it as it is kept."""
        row = self._take(fact)
        self._flush()
        return recorded_from_row(row["position"], row["text"], row["head"])

    def add(self, facts: Sequence[Fact]) -> None:
        """Write facts, one statement for each table."""
        for fact in facts:
            self._take(fact)
        self._flush()

    def _take(self, fact: Fact) -> dict[str, Any]:
        position = self.head.position + 1
        text = fact_text(fact, position=position, recorded_at=self.recorded_at)
        head = next_head(self.head.head, text)
        row = {
            "position": position,
            "kind": fact.kind,
            "happened_at": instant(fact.happened_at),
            "recorded_at": instant(self.recorded_at),
            "text": text,
            "head": head,
            "reverses": self._checked_reversal(fact),
        }
        self._facts.append(row)
        self._movements.extend(movement_rows(position, fact))
        self._lots.extend(lot_rows(position, fact))
        self.head = Head(position=position, head=head)
        return row

    def _checked_reversal(self, fact: Fact) -> int | None:
        """Return the position that the fact takes back, if it may."""
        position = reversed_position(fact)
        if position is None:
            return None
        self._flush()
        check_reversal(fact, read_fact(self.connection, position))
        taken_by = self.connection.execute(
            select(FACTS.c.position).where(FACTS.c.reverses == position)
        ).scalar()
        if taken_by is not None:
            raise Refused(
                f"Fact {position} has been taken back already.",
                seen=f"fact {taken_by} took it back",
                do="nothing more is needed",
            )
        return position

    def _flush(self) -> None:
        if not self._facts:
            return
        self._check_lots()
        tables = ((FACTS, self._facts), (MOVEMENTS, self._movements), (LOTS, self._lots))
        some = [(table, rows) for table, rows in tables if rows]
        if self.connection.dialect.name == "sqlite":
            _insert_rows(self.connection, some)
        elif len(self._facts) < _MANY:
            with self._server.pipeline():  # one way there and back for all of them
                _insert_rows(self.connection, some)
        else:
            _copy_rows(self._server, some)
        first = min((row["happened_at"] for row in self._movements), default=None)
        if first is not None and self._mark is not None and first <= self._mark:
            drop_marks_from(self.connection, first)
        self.movements += len(self._movements)
        self._facts, self._movements, self._lots = [], [], []

    @property
    def _server(self) -> "PgConnection[Any]":
        """PostgreSQL's connection itself."""
        raw: Any = self.connection.connection.dbapi_connection
        server: PgConnection[Any] = raw
        return server

    def _check_lots(self) -> None:
        """Refuse a lot that a fact has made already, unless that fact was taken back."""
        codes: dict[str, int] = {}
        for row in self._lots:
            if row["lot"] in codes:
                raise _made_already(row["lot"], codes[row["lot"]])
            codes[row["lot"]] = row["position"]
        asked = list(codes)
        for start in range(0, len(asked), _ASK):
            some = asked[start : start + _ASK]
            found = (
                _first(self.connection, _LOT_MADE, lot=some[0])
                if len(some) == 1
                else self.connection.execute(_LOTS_MADE, {"lots": some}).first()
            )
            if found is not None:
                raise _made_already(found[0], found[1])


def _first(connection: Connection, query: Select[Any], **values: Any) -> Sequence[Any] | None:
    """Return the first row of an answer, asked of SQLite's driver without detours."""
    if connection.dialect.name != "sqlite":
        return connection.execute(query, values).first()
    words, names, standing = _query_words(query, connection.dialect)
    cursor = connection.connection.cursor()
    cursor.execute(words, [values.get(name, standing[name]) for name in names])
    row: Sequence[Any] | None = cursor.fetchone()
    cursor.close()
    return row


@cache
def _query_words(
    query: Select[Any], dialect: Dialect
) -> tuple[str, tuple[str, ...], dict[str, Any]]:
    """Return the words of a query, the names of its values in order, and those that stand in it."""
    compiled = query.compile(dialect=dialect)
    assert isinstance(compiled, SQLCompiler)  # noqa: S101 - for the type checker
    return compiled.string, tuple(compiled.positiontup or ()), dict(compiled.params)


def _insert_rows(connection: Connection, tables: Sequence[_Rows]) -> None:
    """Insert rows straight through the driver: they are plain values already, and this is what a
    person at the scale waits for.
    """
    cursor = connection.connection.cursor()
    for table, rows in tables:
        words, names = _insert_words(table, connection.dialect)
        if names is None:
            cursor.executemany(words, rows)
        else:
            cursor.executemany(words, [tuple(map(row.__getitem__, names)) for row in rows])
    cursor.close()


def _copy_rows(server: "PgConnection[Any]", tables: Sequence[_Rows]) -> None:
    """Send the rows of an import to PostgreSQL in one stream for each table."""
    for table, rows in tables:
        names = [column.name for column in table.columns]
        columns = ", ".join(f'"{name}"' for name in names)
        words = f'COPY "{table.name}" ({columns}) FROM STDIN'
        with server.cursor() as cursor, cursor.copy(words.encode()) as stream:
            for row in rows:
                stream.write_row([row[name] for name in names])


@cache
def _insert_words(table: Table, dialect: Dialect) -> tuple[str, tuple[str, ...] | None]:
    """Return the words of an insert, and its columns in order if the driver counts them."""
    compiled = insert(table).compile(dialect=dialect)
    assert isinstance(compiled, SQLCompiler)  # noqa: S101 - for the type checker
    names = compiled.positiontup
    return compiled.string, None if names is None else tuple(names)


def _made_already(lot: str, position: int) -> Refused:
    return Refused(
        f"Lot {lot} is recorded already; nothing was written.",
        seen=f"fact {position} made it",
        allowed="each lot once",
        do="look at that fact; take it back first if it was wrong",
    )
