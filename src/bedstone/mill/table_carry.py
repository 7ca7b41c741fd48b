"""A draft carried over to tables that somebody else kept meanwhile: nothing of either is lost."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from bedstone.errors import Refused
from bedstone.mill.model import Mill
from bedstone.mill.table_differences import row_key
from bedstone.mill.table_draft import DraftRow, TableDraft, base_rows, cells_of

__all__ = ["Clash", "carried_over"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """Where both changed the same: what stood first, what the other wrote, what the draft has.

    Without a field it is the row: one removed it, the other changed it.
    """

    table: str
    key: tuple[str, ...]
    row: int
    field: str
    was: str
    theirs: str
    mine: str


def carried_over(draft: TableDraft, onto: Mill) -> tuple[TableDraft, tuple[Clash, ...]]:
    """The same changes made to newer tables, and where they meet changes of somebody else.

    Where both changed a cell the draft keeps its own and the clash says what the other wrote. A
    row that one removed and the other changed stays, and the clash says so.

    Parameters
    ----------
    draft : TableDraft
        A draft of older tables.
    onto : Mill
        The tables as they stand now.

    Returns
    -------
    carried : tuple
        The draft on the newer tables, and its clashes.

    Raises
    ------
    Refused
        If the newer tables are written in other units or another time.
    """
    old, new = draft.base.settings, onto.settings
    if (old.units, old.time_zone) != (new.units, new.time_zone):
        raise Refused(
            "The mill's units or its time zone have changed meanwhile.",
            seen=f"{old.units}, {old.time_zone}; now {new.units}, {new.time_zone}",
            do="note what you changed, throw the draft away and make the changes again",
        )
    carried = TableDraft(base=onto)
    clashes: list[Clash] = []
    for table, rows in draft.tables.items():
        carried = carried.with_rows(table, _rows(draft, onto, table, rows, clashes))
    return carried, tuple(clashes)


def _rows(
    draft: TableDraft,
    onto: Mill,
    table: str,
    rows: tuple[DraftRow, ...],
    clashes: list[Clash],
) -> tuple[DraftRow, ...]:
    before = base_rows(draft.base, table)
    origin_of = {row_key(row): at for at, row in enumerate(before)}
    mine = {row.origin: row for row in rows if row.origin is not None}
    found: list[DraftRow] = []
    there = set()
    for at, row in enumerate(base_rows(onto, table)):
        theirs = cells_of(row, onto)
        origin = origin_of.get(row_key(row))
        fresh = DraftRow(number=at + 1, origin=at, cells=theirs)
        if origin is None:
            found.append(fresh)
            continue
        there.add(origin)
        was = cells_of(before[origin], draft.base)
        kept = _cells(_Meeting(table, row, fresh, was), mine.get(origin), clashes)
        if kept is not None:
            found.append(DraftRow(number=at + 1, origin=at, cells=kept))
    number = len(base_rows(onto, table))
    for own in rows:
        gone = own.origin is not None and own.origin not in there
        if own.origin is None or (gone and own.cells != cells_of(before[own.origin], draft.base)):
            number += 1
            found.append(DraftRow(number=number, origin=None, cells=own.cells))
            if own.origin is not None:
                key = row_key(before[own.origin])
                clashes.append(_row_clash(table, key, number, theirs="removed", mine="changed"))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class _Meeting:
    table: str
    row: Any
    theirs: DraftRow
    was: Mapping[str, str]


def _cells(
    meeting: _Meeting, own: DraftRow | None, clashes: list[Clash]
) -> Mapping[str, str] | None:
    """The cells of a row that both know; None if the draft removed it and nobody changed it."""
    theirs, was = meeting.theirs.cells, meeting.was
    key, number = row_key(meeting.row), meeting.theirs.number
    if own is None:
        if theirs == was:
            return None
        clashes.append(
            _row_clash(meeting.table, key, number, theirs="changed", mine="removed; it stays now")
        )
        return theirs
    cells = dict(theirs)
    for name, text in own.cells.items():
        if text == was[name]:
            continue
        cells[name] = text
        if theirs[name] not in (was[name], text):
            clashes.append(
                Clash(
                    table=meeting.table,
                    key=key,
                    row=number,
                    field=name,
                    was=was[name],
                    theirs=theirs[name],
                    mine=text,
                )
            )
    return cells


def _row_clash(table: str, key: tuple[str, ...], row: int, *, theirs: str, mine: str) -> Clash:
    return Clash(table=table, key=key, row=row, field="", was="there", theirs=theirs, mine=mine)
