"""Stock at any moment, quickly: stock is added up at marks, and only what follows is added to it.

Marks are a help that can be dropped at any time. A movement that happened at or before a mark, and
is recorded after it was made, drops that mark in the same transaction.
"""

from collections.abc import Iterator
from typing import Any, Final

from sqlalchemy import Connection, Select, delete, func, insert, select, union_all

from bedstone.desk.record import StockLine
from bedstone.errors import Conflict, SetupError
from bedstone.store.database import Database
from bedstone.store.schema import MOVEMENTS, STOCK_LINES, STOCK_MARKS

__all__ = ["drop_marks_from", "mark_faults", "read_stock", "refresh_marks"]

_APART: Final = 4_000  # movements between two marks


def read_stock(connection: Connection, at: int | None) -> tuple[StockLine, ...]:
    """Return stock after everything that happened at or before ``at`` (microseconds)."""
    marks = select(func.max(STOCK_MARKS.c.through_at))
    if at is not None:
        marks = marks.where(STOCK_MARKS.c.through_at <= at)
    mark = connection.execute(marks).scalar()
    rows = connection.execute(_stock_query(mark, at))
    return tuple(
        StockLine(place=row.place, material=row.material, mass_mg=int(row.mass_mg)) for row in rows
    )


def _stock_query(mark: int | None, at: int | None) -> Select[Any]:
    when = MOVEMENTS.c.happened_at
    parts: list[Select[Any]] = [
        select(place.label("place"), MOVEMENTS.c.material, (sign * MOVEMENTS.c.mass_mg).label("mg"))
        for place, sign in ((MOVEMENTS.c.from_place, -1), (MOVEMENTS.c.to_place, 1))
    ]
    if mark is not None:
        parts = [part.where(when > mark) for part in parts]
        parts.append(
            select(STOCK_LINES.c.place, STOCK_LINES.c.material, STOCK_LINES.c.mass_mg).where(
                STOCK_LINES.c.through_at == mark
            )
        )
    if at is not None:
        parts[:2] = [part.where(when <= at) for part in parts[:2]]
    lines = union_all(*parts).subquery()
    total = func.sum(lines.c.mg)
    return (
        select(lines.c.place, lines.c.material, total.label("mass_mg"))
        .group_by(lines.c.place, lines.c.material)
        .having(total != 0)
        .order_by(lines.c.place, lines.c.material)
    )


def drop_marks_from(connection: Connection, happened_at: int) -> None:
    """Drop the marks at or after a moment: something that happened then is being recorded."""
    for table in (STOCK_LINES, STOCK_MARKS):
        connection.execute(delete(table).where(table.c.through_at >= happened_at))


def refresh_marks(database: Database) -> bool:
    """Make the marks that are due; False if it cannot be done now (somebody else is writing, no
    room on the disk): what was just recorded stands all the same.
    """
    try:
        with database.writing() as connection:
            _make_marks(connection)
    except (Conflict, SetupError):
        return False
    return True


def mark_faults(connection: Connection) -> Iterator[str]:
    """Yield what was added up at each mark and does not follow from the movements, by place."""
    stock_mg: dict[tuple[str, str], int] = {}
    before: int | None = None
    marks = select(STOCK_MARKS.c.through_at).order_by(STOCK_MARKS.c.through_at)
    for through in connection.execute(marks).scalars().all():
        stock_mg = _stock_between(connection, stock_mg, before, through)
        given_mg = _lines_at(connection, through)
        for place, material in sorted(stock_mg.keys() | given_mg.keys()):
            is_mg, be_mg = (lines.get((place, material), 0) for lines in (given_mg, stock_mg))
            if is_mg != be_mg:
                yield (
                    f"stock of {material} in {place} was added up at a mark as {is_mg} mg, the "
                    f"movements up to then add up to {be_mg} mg"
                )
        before = through


def _lines_at(connection: Connection, mark: int | None) -> dict[tuple[str, str], int]:
    lines = select(STOCK_LINES).where(STOCK_LINES.c.through_at == mark)
    return {(row.place, row.material): row.mass_mg for row in connection.execute(lines)}


def _make_marks(connection: Connection) -> None:
    mark: int | None = connection.execute(select(func.max(STOCK_MARKS.c.through_at))).scalar()
    stock_mg = _lines_at(connection, mark)
    while True:
        following = select(MOVEMENTS.c.happened_at).order_by(MOVEMENTS.c.happened_at)
        if mark is not None:
            following = following.where(MOVEMENTS.c.happened_at > mark)
        through = connection.execute(following.offset(_APART - 1).limit(1)).scalar()
        if through is None:
            return
        stock_mg = _stock_between(connection, stock_mg, mark, through)
        connection.execute(insert(STOCK_MARKS), {"through_at": through})
        if stock_mg:
            connection.execute(
                insert(STOCK_LINES),
                [
                    {"through_at": through, "place": place, "material": material, "mass_mg": mass}
                    for (place, material), mass in stock_mg.items()
                ],
            )
        mark = through


def _stock_between(
    connection: Connection,
    stock_mg: dict[tuple[str, str], int],
    mark: int | None,
    through: int,
) -> dict[tuple[str, str], int]:
    """Return stock at ``through`` from that at ``mark`` (microseconds)."""
    query = (
        select(
            MOVEMENTS.c.from_place,
            MOVEMENTS.c.to_place,
            MOVEMENTS.c.material,
            func.sum(MOVEMENTS.c.mass_mg),
        )
        .where(MOVEMENTS.c.happened_at <= through)
        .group_by(MOVEMENTS.c.from_place, MOVEMENTS.c.to_place, MOVEMENTS.c.material)
    )
    if mark is not None:
        query = query.where(MOVEMENTS.c.happened_at > mark)
    sums = connection.execute(query)
    out = dict(stock_mg)
    for start, end, material, mass_mg in sums:
        out[start, material] = out.get((start, material), 0) - int(mass_mg)
        out[end, material] = out.get((end, material), 0) + int(mass_mg)
    return {key: mass_mg for key, mass_mg in out.items() if mass_mg}
