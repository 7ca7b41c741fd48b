"""Names of tables and columns as people read them, from the one attribute dictionary."""

import inspect
from dataclasses import dataclass

from bedstone.mill.attribute_docs import allowed_words
from bedstone.mill.columns import NEEDED_TABLES, Column, columns_of
from bedstone.mill.table_differences import SETTINGS, WHOLE
from bedstone.mill.table_draft import row_type_of

__all__ = ["FIXED", "ColumnWords", "column_words", "table_meaning", "table_name", "table_names"]

FIXED = ("format", "time_zone", "units", "locale")
"""Settings by which everything else is read; they are changed in mill.toml and loaded."""


MEASURES = {"usd kwh": "USD a kWh", "usd": "USD", "cp": "cP", "v": "V", "deg": "degrees"}
"""Ends of names of columns that are measures of no dimension of ours, as people write them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnWords:
    """A column as a page shows it: label with its unit, meaning, what is allowed, its source."""

    column: Column
    label: str
    meaning: str
    allowed: str
    source: str

    @property
    def field(self) -> str:
        """The field that the column fills."""
        return self.column.field

    @property
    def is_number(self) -> bool:
        """Whether its cells are numbers."""
        return self.column.kind in (int, float)

    @property
    def choices(self) -> dict[str, str]:
        """Words that a cell may be, each with its meaning; nothing if any text may stand there."""
        if self.column.attribute.choices is not None:
            return dict(self.column.attribute.choices)
        return {"yes": "yes", "no": "no"} if self.column.kind is bool else {}

    @property
    def is_long(self) -> bool:
        """Whether its cells may be whole sentences."""
        return self.column.kind is str and self.column.attribute.longest > 1000  # noqa: PLR2004 - a few lines of text


def table_names() -> tuple[str, ...]:
    """Every table that makes a revision, the settings last."""
    return (*WHOLE, SETTINGS)


def table_name(table: str) -> str:
    """A table as people call it."""
    if table == SETTINGS:
        return "Settings"
    return table.replace("_", " ").capitalize()


def table_meaning(table: str) -> str:
    """What a row of a table is."""
    text = inspect.getdoc(row_type_of(table)) or ""
    if table == SETTINGS:
        text = "Settings of the mill as a whole."
    needed = table in NEEDED_TABLES
    return " ".join(text.replace("``", "").split()) + (" At least one row." if needed else "")


def column_words(table: str, units: str) -> tuple[ColumnWords, ...]:
    """The columns of a table in the units of a mill that shows "SI" or "US"."""
    return tuple(
        ColumnWords(
            column=column,
            label=_label(column, units),
            meaning=column.attribute.meaning,
            allowed=allowed_words(column, units),
            source=column.attribute.source,
        )
        for column in columns_of(row_type_of(table))
    )


def _label(column: Column, units: str) -> str:
    unit = column.written(units)[1]
    words = column.stem.strip("_").replace("_", " ")
    for ending, measure in MEASURES.items():
        if unit is None and words.endswith(f" {ending}"):
            words = f"{words.removesuffix(ending).strip()}, {measure}"
            break
    words = "Standard deviation" if words == "sd" else words[:1].upper() + words[1:]
    return f"{words}, {unit.label}" if unit is not None else words
