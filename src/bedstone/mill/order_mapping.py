"""How a customer's own list of orders is to be read: which of their columns stands for which of ours.

Each of our columns is given by a text. What stands in it between { and } is the name of a column of
theirs and is filled in from each row, the rest stays as it is; so a text may be one of their
columns, a constant, or both together.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from bedstone.mill.attributes import column

__all__ = ["OUR_COLUMNS", "WORD_COLUMNS", "Mapped", "OrderMapping", "TheirFile", "TheirRow"]

OUR_COLUMNS = ("order", "customer", "product", "mass", "unit", "pack", "due", "entered", "note")
"""Columns of ours that a mapping fills."""
WORD_COLUMNS = ("customer", "product", "unit", "pack")
"""Columns of which their words may be given as ours."""
DECIMALS = {"point": "1,250.5", "comma": "1.250,5"}
SEPARATORS = {
    "comma": "columns separated by commas",
    "semicolon": "by semicolons",
    "tab": "by tabs",
    "bar": "by upright bars",
}
ENCODINGS = {
    "utf-8": "the usual one",
    "windows-1252": "western European signs of old spreadsheet programs",
    "utf-16": '"Unicode text" of spreadsheet programs',
}


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderMapping:
    """One section of ``order_mappings.toml``."""

    order: str = column("number of the order", example="LF-{Ref}")
    customer: str = column("code of the customer, or their name for it", example="LOWFIELD")
    product: str = column("code of the product, or their name for it", example="{Item}")
    mass: str = column("how much, alone or followed by its unit", example="{Quantity}")
    unit: str = column(
        "unit of the mass where it does not stand behind it: kg, lb, t (1000 kg), ton (2000 lb), "
        "or bags, which are counted and as heavy as the product's own",
        default="",
        example="lb",
    )
    pack: str = column("bags or bulk, or their word for it", example="bulk")
    due: str = column("when it must be ready", example="{Needed by}")
    entered: str = column(
        "when it came in; without it, when it was first imported", default="", example="{Date}"
    )
    note: str = column("note for the mill", default="", example="{Remarks}")
    dates: str = column(
        "how they write days and times, of YYYY, YY, MM, DD, hh, mm and am; YYYY-MM-DD and cells "
        "that a spreadsheet keeps as days are always understood",
        default="YYYY-MM-DD hh:mm",
        example="MM/DD/YYYY",
    )
    due_time: str = column(
        "time of day by which it must be ready where they give the day alone",
        default="",
        example="12:00",
    )
    decimal: str = column("sign before decimals", choices=DECIMALS, default="point")
    separator: str = column("what separates columns of a CSV", choices=SEPARATORS, default="comma")
    encoding: str = column("encoding of a CSV", choices=ENCODINGS, default="utf-8")
    sheet: str = column("sheet of a workbook; without it the first", default="")
    header_row: int = column("row in which the names of their columns stand", default=1, low=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mapped:
    """A mapping by its name, with their words for what we have words for."""

    name: str
    to: OrderMapping
    words: Mapping[str, Mapping[str, str]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class TheirRow:
    """A row of such a list, its cells by the names of their columns."""

    line: int
    cells: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class TheirFile:
    """A list that somebody sends or keeps, as text."""

    name: str
    columns: tuple[str, ...]
    rows: tuple[TheirRow, ...]
