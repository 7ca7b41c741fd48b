"""The columns of a table as they may stand in a file: name with unit, type, whether needed.

Made from the attribute dictionary alone; the reader, the writer, the starter folder and the docs
use it, so that they cannot differ.
"""

import datetime as dt
import types
from collections.abc import Mapping
from dataclasses import MISSING, dataclass, fields
from functools import cache
from typing import Any, Union, get_args, get_origin

from bedstone.mill.attributes import Attribute
from bedstone.quantities.units import Dimension, Unit, dimension_of

__all__ = ["NEEDED_TABLES", "Column", "columns_of", "key_fields"]

NEEDED_TABLES: frozenset[str] = frozenset(
    {
        "people",
        "bins",
        "machines",
        "scales",
        "routes",
        "shifts",
        "ingredients",
        "products",
        "formulas",
        "formula_lines",
    }
)
"""Tables without which nothing can be planned: their file must be there and have a row."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column: the field it fills, what its cells are, and the units it may have."""

    field: str
    attribute: Attribute
    kind: type
    default: Any
    dimension: Dimension | None

    @property
    def needed(self) -> bool:
        """True when the column must be there and no cell of it may be empty."""
        return self.default is MISSING

    @property
    def headers(self) -> Mapping[str, Unit | None]:
        """Names that the column may have in a file, the SI one that an export writes first."""
        if self.dimension is None:
            return {self.field: None}
        first = self.dimension.written("SI")
        others = [unit for unit in self.dimension.units.values() if unit is not first]
        return {self.stem + unit.suffix: unit for unit in (first, *others)}

    @property
    def stem(self) -> str:
        """Name of the column up to its unit, with the last underscore."""
        return self.field if self.dimension is None else self._stem(self.dimension.si_suffix)

    def _stem(self, suffix: str) -> str:
        return self.field[: len(self.field) - len(suffix)]

    def written(self, system: str) -> tuple[str, Unit | None]:
        """Return the name and unit that an export writes for a mill that shows "SI" or "US"."""
        if self.dimension is None:
            return self.field, None
        unit = self.dimension.written(system)
        return self.stem + unit.suffix, unit


def _plain_type(annotation: Any) -> type:
    if get_origin(annotation) in (types.UnionType, Union):
        annotation = next(part for part in get_args(annotation) if part is not type(None))
    if annotation not in (str, int, float, bool, dt.date, dt.datetime, dt.time):
        raise TypeError(f"a column cannot hold {annotation!r}")
    found: type = annotation
    return found


@cache
def columns_of(row_type: type) -> tuple[Column, ...]:
    """Return the columns of a table's row class, in order."""
    columns = []
    for item in fields(row_type):
        kind = _plain_type(item.type)
        columns.append(
            Column(
                field=item.name,
                attribute=item.metadata["attribute"],
                kind=kind,
                default=item.default,
                dimension=dimension_of(item.name) if kind is float else None,
            )
        )
    return tuple(columns)


@cache
def key_fields(row_type: type) -> tuple[str, ...]:
    """Return the fields that together name a row."""
    return tuple(item.field for item in columns_of(row_type) if item.attribute.key)
