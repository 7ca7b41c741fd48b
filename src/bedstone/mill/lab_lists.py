"""Lists of tests as a laboratory keeps them: tumbled pellets, and samples on a stack of sieves."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from bedstone.mill.attributes import column
from bedstone.mill.cells import NUMBER
from bedstone.mill.columns import columns_of

__all__ = ["LIST_KINDS", "PAN", "SievedLine", "TumbledLine", "openings_of"]

PAN = "pan"


@dataclass(frozen=True, slots=True, kw_only=True)
class TumbledLine:
    """One tumbling; those of one run, line and time are one test."""

    run: str = column("run, as on its sheet", example="R-4107")
    line: str = column("pellet line", example="PL1")
    tested_at: dt.datetime = column("when, in the mill's time or with an offset")
    retained_g: float = column("left on the sieve", unit="g", low=0, high=1000)
    test_g: float = column("put into the box", unit="g", default=500.0, low=50, high=1000)
    note: str = column("anything else", default="")


@dataclass(frozen=True, slots=True, kw_only=True)
class SievedLine:
    """A sample on a stack of sieves, beside the columns of the sieves themselves and of the pan."""

    of: str = column("ingredient or product", example="CORN-G")
    tested_at: dt.datetime = column("when, in the mill's time or with an offset")
    machine: str = column("grinder, if one is to be named", default="")
    sample_g: float | None = column(
        "put on the stack", unit="g", default=None, low=0, low_open=True, high=2000
    )
    note: str = column("anything else", default="")
    pan: float = column("in the pan", unit="g", low=0, high=2000)


LIST_KINDS: Mapping[str, type] = {
    item.field: item.kind for row in (TumbledLine, SievedLine) for item in columns_of(row)
}
"""What cells of either list are, by the names of their columns."""


def openings_of(names: Iterable[str]) -> tuple[str, ...]:
    """The columns of sieves among names of columns, in their order.

    Examples
    --------
    >>> openings_of(["of", "840", "590", "pan"])
    ('840', '590')
    """
    return tuple(name for name in names if NUMBER.fullmatch(name) and float(name) > 0)
