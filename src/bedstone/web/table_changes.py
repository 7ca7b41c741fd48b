"""Differences of tables as pages show them: row by row, cell by cell, in the mill's units."""

from collections.abc import Mapping
from dataclasses import dataclass

from bedstone.mill.columns import key_fields
from bedstone.mill.model import Mill
from bedstone.mill.table_differences import SETTINGS, RowChange, differences, row_key
from bedstone.mill.table_draft import DraftRow, TableDraft, base_rows, cells_of, row_type_of
from bedstone.web.table_words import ColumnWords, column_words, table_name, table_names
from bedstone.web.typed_cell import cell_shown

__all__ = ["ShownCell", "ShownRow", "ShownTable", "draft_changes", "draft_key", "revision_changes"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownCell:
    """A cell that differs, with its label and what it was and is."""

    label: str
    before: str
    after: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownRow:
    """A row that is new, gone or changed; its number if it stands in a draft."""

    what: str
    key: str
    cells: tuple[ShownCell, ...]
    number: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownTable:
    """A table that differs, in words and numbers."""

    table: str
    name: str
    rows: tuple[ShownRow, ...]

    @property
    def counted(self) -> str:
        """How many rows are new, gone and changed."""
        parts = [
            f"{many} {what}"
            for what in ("new", "gone", "changed")
            if (many := sum(row.what == what for row in self.rows))
        ]
        return ", ".join(parts) or "the same rows in another order"


def _row(
    before: Mapping[str, str] | None,
    after: Mapping[str, str] | None,
    words: tuple[ColumnWords, ...],
    mill: Mill,
) -> tuple[str, tuple[ShownCell, ...]]:
    """What happened to a row, and its cells that differ; all that are filled of a row alone."""
    cells = []
    for one in words:
        old, new = ((side or {}).get(one.field, "") for side in (before, after))
        if old == new:
            continue
        shown = (cell_shown(text, one.column, mill.settings) for text in (old, new))
        was, now = shown
        cells.append(ShownCell(label=one.label, before=was, after=now))
    what = "new" if before is None else "gone" if after is None else "changed"
    return what, tuple(cells)


def draft_key(table: str, cells: Mapping[str, str]) -> str:
    """The words that name a row of a draft."""
    parts = (cells.get(name, "") for name in key_fields(row_type_of(table)))
    return " ".join(part for part in parts if part)


def draft_changes(draft: TableDraft) -> tuple[ShownTable, ...]:
    """What a draft changes of the tables it began with, faulty cells as they were typed."""
    units = draft.base.settings.units
    return tuple(
        ShownTable(
            table=table,
            name=table_name(table),
            rows=_draft_rows(draft, table, column_words(table, units)),
        )
        for table in table_names()
        if table in draft.tables
    )


def _draft_rows(
    draft: TableDraft, table: str, words: tuple[ColumnWords, ...]
) -> tuple[ShownRow, ...]:
    base = draft.base
    before = {at: cells_of(row, base) for at, row in enumerate(base_rows(base, table))}
    rows = draft.tables[table]
    there = {row.origin for row in rows}
    pairs: list[tuple[Mapping[str, str] | None, DraftRow | None]] = [
        (cells, None) for at, cells in before.items() if at not in there
    ]
    pairs += [
        (None if row.origin is None else before[row.origin], row)
        for row in rows
        if row.origin is None or row.cells != before[row.origin]
    ]
    found = []
    for old, row in pairs:
        what, cells = _row(old, None if row is None else row.cells, words, base)
        named = old or (row.cells if row is not None else {})
        key = "" if table == SETTINGS else draft_key(table, named)
        number = None if row is None else row.number
        found.append(ShownRow(what=what, key=key, cells=cells, number=number))
    return tuple(found)


def revision_changes(before: Mill, after: Mill, units_of: Mill) -> tuple[ShownTable, ...]:
    """What differs between two revisions, both in the units of one mill."""
    units = units_of.settings.units
    return tuple(
        ShownTable(
            table=change.table,
            name=table_name(change.table),
            rows=tuple(
                _between(row, column_words(change.table, units), units_of) for row in change.rows
            ),
        )
        for change in differences(before, after)
    )


def _between(row: RowChange, words: tuple[ColumnWords, ...], mill: Mill) -> ShownRow:
    old = None if row.before is None else cells_of(row.before, mill)
    new = None if row.after is None else cells_of(row.after, mill)
    what, cells = _row(old, new, words, mill)
    key = " ".join(row_key(row.after if row.after is not None else row.before))
    return ShownRow(what=what, key=key, cells=cells)
