"""Where rows stand in the files, and the tables as the rules look at them."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, TypeVar

from bedstone.errors import Fault
from bedstone.mill.columns import Column, columns_of
from bedstone.mill.equipment import Bin, Machine, Meter, Scale, Settings
from bedstone.mill.goods import FormulaLine, Ingredient, Product
from bedstone.mill.model import TABLES
from bedstone.quantities.units import from_si

__all__ = ["Check", "Places"]

Row = TypeVar("Row")
NAME_OF: Mapping[type, str] = {row_type: name for name, row_type in TABLES.items()}


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """Where the rows stand in the files, for the faults; empty when there are no files.

    ``unreadable`` names tables that could not be read at all, ``dropped`` those of which rows are
    missing because their key could not be understood.
    """

    lines: Mapping[str, Sequence[int]] = field(default_factory=dict)
    headers: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    unreadable: frozenset[str] = frozenset()
    dropped: frozenset[str] = frozenset()
    settings_lines: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Check:
    """The tables held against each other, with look-ups by key and a way to say where."""

    tables: Mapping[str, tuple[Any, ...]]
    settings: Settings | None
    places: Places

    def each(self, row_type: type[Row]) -> Iterator[tuple[int, Row]]:
        """Yield place and row of every row of a table."""
        yield from enumerate(self.tables.get(NAME_OF[row_type], ()))

    def readable(self, *tables: str) -> bool:
        """True when all of these tables could be read, but for single cells."""
        return not self.places.unreadable.intersection(tables)

    def whole(self, *tables: str) -> bool:
        """True when these tables could be read and no row of them is left out."""
        return self.readable(*tables) and not self.places.dropped.intersection(tables)

    def fault(
        self, row_type: type, at: int, column: str, *, found: str, allowed: str, do: str = ""
    ) -> Fault:
        """Return a fault with file, row and the column's name as it stands in the file."""
        table = NAME_OF[row_type]
        lines = self.places.lines.get(table, ())
        return Fault(
            file=f"{table}.csv",
            row=lines[at] if at < len(lines) else None,
            column=self._header(row_type, column),
            found=found,
            allowed=allowed,
            do=do,
        )

    def _header(self, row_type: type, field: str) -> str:
        """Return the name of a field's column in the file, or the one an export gives it."""
        header = self.places.headers.get(NAME_OF[row_type], {}).get(field)
        return header or next(iter(self._column(row_type, field).headers))

    def _column(self, row_type: type, field: str) -> Column:
        return next(item for item in columns_of(row_type) if item.field == field)

    def shown(self, row_type: type, field: str, si: float) -> str:
        """Return a value in the unit that its column has in the file, with that unit."""
        unit = self._column(row_type, field).headers[self._header(row_type, field)]
        return (
            f"{si:.7g}" if unit is None else f"{float(from_si(float(si), unit)):.7g} {unit.label}"
        )

    def settings_fault(self, key: str, *, found: str, allowed: str, do: str = "") -> Fault:
        """Return a fault in ``mill.toml``."""
        row = self.places.settings_lines.get(key)
        return Fault(file="mill.toml", row=row, column=key, found=found, allowed=allowed, do=do)

    def row_of(self, row_type: type, at: int) -> str:
        """Return "row 7", or nothing where there are no files."""
        lines = self.places.lines.get(NAME_OF[row_type], ())
        return f"row {lines[at]}" if at < len(lines) else "another row"

    @cached_property
    def bins(self) -> dict[str, Bin]:
        """Bins by code."""
        return {row.bin: row for _, row in self.each(Bin)}

    @cached_property
    def machines(self) -> dict[str, Machine]:
        """Machines by code."""
        return {row.machine: row for _, row in self.each(Machine)}

    @cached_property
    def scales(self) -> dict[str, Scale]:
        """Scales by code."""
        return {row.scale: row for _, row in self.each(Scale)}

    @cached_property
    def meters(self) -> dict[str, Meter]:
        """Meters by code."""
        return {row.meter: row for _, row in self.each(Meter)}

    @cached_property
    def ingredients(self) -> dict[str, Ingredient]:
        """Ingredients by code."""
        return {row.ingredient: row for _, row in self.each(Ingredient)}

    @cached_property
    def products(self) -> dict[str, Product]:
        """Products by code."""
        return {row.product: row for _, row in self.each(Product)}

    @cached_property
    def lines_of(self) -> dict[tuple[str, int], list[tuple[int, FormulaLine]]]:
        """Lines of each version of a formula, with their places."""
        lines: dict[tuple[str, int], list[tuple[int, FormulaLine]]] = {}
        for at, row in self.each(FormulaLine):
            lines.setdefault((row.product, row.version), []).append((at, row))
        return lines

    def machine_kind(self, code: str) -> str:
        """Return the kind of a machine, or nothing if the code is no machine."""
        row = self.machines.get(code)
        return row.kind if row is not None else ""
