"""A draft of a mill's tables, as text cells that people edit; every fault of it at its cell.

A draft begins as a revision. Its cells are read as those of a folder's files are, and the same
rules across the tables look at it, so that what the pages keep is what a folder could say.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from bedstone.errors import BadInput, Fault
from bedstone.mill.cells import read_cell, write_cell
from bedstone.mill.columns import NEEDED_TABLES, Column, columns_of, key_fields
from bedstone.mill.damage import DAMAGED
from bedstone.mill.equipment import Settings
from bedstone.mill.goods import Order
from bedstone.mill.model import TABLES, Mill
from bedstone.mill.table_differences import SETTINGS, WHOLE
from bedstone.mill.validate import Places, check_folder

__all__ = [
    "DraftRead",
    "DraftRow",
    "PlacedFault",
    "TableDraft",
    "base_rows",
    "begun",
    "cells_of",
    "read_draft",
    "row_type_of",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftRow:
    """A row as text. ``number`` stays the same while the draft lives; ``origin`` is the place that
    the row has in the revision the draft began with, None for a new one.
    """

    number: int
    origin: int | None
    cells: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class TableDraft:
    """Tables that somebody is editing: the revision they began with, and the tables touched."""

    base: Mill
    tables: Mapping[str, tuple[DraftRow, ...]] = field(default_factory=dict)

    def rows(self, table: str) -> tuple[DraftRow, ...]:
        """The rows of a table, touched or not."""
        if table in self.tables:
            return self.tables[table]
        return tuple(
            DraftRow(number=at + 1, origin=at, cells=cells_of(row, self.base))
            for at, row in enumerate(base_rows(self.base, table))
        )

    def row(self, table: str, number: int) -> DraftRow | None:
        """The row of a number, None if it is gone."""
        return next((row for row in self.rows(table) if row.number == number), None)

    def with_row(
        self, table: str, cells: Mapping[str, str], number: int | None
    ) -> tuple["TableDraft", int]:
        """The draft with a row's cells set, a new row if no number is given; and its number."""
        rows = self.rows(table)
        if number is None:
            last = max((row.number for row in rows), default=0)
            number = max(last, len(base_rows(self.base, table))) + 1
            rows = (*rows, DraftRow(number=number, origin=None, cells=cells))
        else:
            rows = tuple(replace(row, cells=cells) if row.number == number else row for row in rows)
        return self.with_rows(table, rows), number

    def without_row(self, table: str, number: int) -> "TableDraft":
        """The draft without a row."""
        kept = tuple(row for row in self.rows(table) if row.number != number)
        return self.with_rows(table, kept)

    def with_rows(self, table: str, rows: tuple[DraftRow, ...]) -> "TableDraft":
        """The draft with these rows in a table; untouched again if they are those it began with."""
        tables = {name: held for name, held in self.tables.items() if name != table}
        if rows != TableDraft(base=self.base).rows(table):
            tables[table] = rows
        return replace(self, tables=tables)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedFault:
    """A fault with the row of the draft that it stands in (None: the table) and its field."""

    table: str
    row: int | None
    field: str
    fault: Fault


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftRead:
    """What a draft says: the mill if all of it is right, else every fault."""

    mill: Mill | None
    faults: tuple[PlacedFault, ...] = ()

    def at(self, table: str, row: int | None = None) -> tuple[PlacedFault, ...]:
        """The faults of a table, of one row if its number is given."""
        return tuple(one for one in self.faults if one.table == table and row in (None, one.row))


def begun(base: Mill) -> TableDraft:
    """A draft in which nothing is changed yet."""
    return TableDraft(base=base)


def row_type_of(table: str) -> type:
    """The row class of a table; that of the settings too."""
    return Settings if table == SETTINGS else TABLES[table]


def base_rows(base: Mill, table: str) -> Sequence[Any]:
    """The rows of a table of a revision; the settings are a table of one row."""
    return (base.settings,) if table == SETTINGS else getattr(base, table)


def cells_of(row: Any, mill: Mill) -> dict[str, str]:
    """A row as text, in the units and the time of a mill; it reads back as exactly the same."""
    settings = mill.settings
    row_type: type = type(row)
    return {
        column.field: write_cell(
            getattr(row, column.field), unit=column.written(settings.units)[1], zone=settings.zone
        )
        for column in columns_of(row_type)
    }


def read_draft(draft: TableDraft, *, orders: tuple[Order, ...] = ()) -> DraftRead:
    """What a draft says, judged as a mill folder is.

    Parameters
    ----------
    draft : TableDraft
        The draft.
    orders : tuple of Order
        Open orders, which the tables must still be able to make.

    Returns
    -------
    read : DraftRead
        The mill, or all faults.
    """
    reading = _Reading(draft)
    rows: dict[str, tuple[Any, ...]] = {name: reading.table(name) for name in WHOLE}
    settings = reading.settings()
    rows["orders"] = orders
    found = check_folder(rows, settings, places=reading.places())
    faults = [*reading.faults, *(reading.placed(fault) for fault in found)]
    order = {name: at for at, name in enumerate((SETTINGS, *WHOLE))}
    faults.sort(key=lambda one: (order.get(one.table, len(order)), one.row or 0))
    if faults or settings is None:
        return DraftRead(mill=None, faults=tuple(faults))
    del rows["orders"]
    return DraftRead(mill=Mill(settings=settings, revision=draft.base.revision, **rows))


class _Reading:
    """Reads the cells of one draft and keeps where everything stood."""

    def __init__(self, draft: TableDraft) -> None:
        self.draft = draft
        self.units = draft.base.settings.units
        self.zone = draft.base.settings.zone
        self.faults: list[PlacedFault] = []
        self.lines: dict[str, list[int]] = {}
        self.numbers: dict[str, tuple[int, ...]] = {}
        self.unreadable: set[str] = set()
        self.dropped: set[str] = set()

    def table(self, name: str) -> tuple[Any, ...]:
        """The rows of a table; those whose key cannot be understood are left out."""
        row_type = TABLES[name]
        if name not in self.draft.tables:
            rows: tuple[Any, ...] = getattr(self.draft.base, name)
            self.lines[name] = list(range(1, len(rows) + 1))
            self.numbers[name] = tuple(self.lines[name])
        else:
            rows = self._touched(name, row_type)
        if name in NEEDED_TABLES and not rows and name not in self.dropped:
            fault = Fault(found="no rows", allowed="at least one row", do="add a row")
            self.faults.append(PlacedFault(table=name, row=None, field="", fault=fault))
            self.unreadable.add(name)
        return rows

    def _touched(self, name: str, row_type: type) -> tuple[Any, ...]:
        read, lines, numbers = [], [], []
        for line, row in enumerate(self.draft.tables[name], start=1):
            values = self._values(name, row, columns_of(row_type))
            if any(values[key] is DAMAGED for key in key_fields(row_type)):
                self.dropped.add(name)
                continue
            read.append(row_type(**values))
            lines.append(line)
            numbers.append(row.number)
        self.lines[name], self.numbers[name] = lines, tuple(numbers)
        return tuple(read)

    def _values(self, name: str, row: DraftRow, columns: tuple[Column, ...]) -> dict[str, Any]:
        values: dict[str, Any] = {}
        for column in columns:
            unit = column.written(self.units)[1]
            try:
                values[column.field] = read_cell(
                    row.cells.get(column.field, ""), column=column, unit=unit, zone=self.zone
                )
            except BadInput as bad:
                values[column.field] = DAMAGED
                self.faults.extend(
                    PlacedFault(table=name, row=row.number, field=column.field, fault=fault)
                    for fault in bad.faults
                )
        return values

    def settings(self) -> Settings | None:
        """The settings, None if one of them cannot be understood."""
        if SETTINGS not in self.draft.tables:
            return self.draft.base.settings
        (row,) = self.draft.tables[SETTINGS]
        values = self._values(SETTINGS, row, columns_of(Settings))
        return None if any(value is DAMAGED for value in values.values()) else Settings(**values)

    def places(self) -> Places:
        """Where rows stand, counted as the pages count them, in the mill's own units."""
        headers = {
            name: {column.field: column.written(self.units)[0] for column in columns_of(row_type)}
            for name, row_type in TABLES.items()
        }
        return Places(
            lines=self.lines,
            headers=headers,
            unreadable=frozenset(self.unreadable),
            dropped=frozenset(self.dropped),
        )

    def placed(self, fault: Fault) -> PlacedFault:
        """A fault of the rules with the row of the draft it stands in."""
        table = fault.file.removesuffix(".csv")
        if fault.file == "mill.toml":
            return PlacedFault(table=SETTINGS, row=1, field=fault.column, fault=fault)
        number = None
        if fault.row is not None and table in self.lines:
            number = self.numbers[table][self.lines[table].index(fault.row)]
        by_header = {
            column.written(self.units)[0]: column.field for column in columns_of(TABLES[table])
        }
        field_name = by_header.get(fault.column, fault.column)
        return PlacedFault(table=table, row=number, field=field_name, fault=fault)
