"""A line of a file of readings: its columns, the units that it may have, and what it means."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType
from typing import Final

from bedstone.mill.attributes import column
from bedstone.quantities.units import LB_KG

__all__ = ["READ_IN", "ReadingLine", "in_unit"]

HOUR_S, MINUTE_S = Fraction(3600), Fraction(60)
READ_IN: Final[Mapping[str, Mapping[str, tuple[Fraction, Fraction]]]] = MappingProxyType(
    {
        "C": {"C": (Fraction(1), Fraction(0)), "F": (Fraction(5, 9), Fraction(-160, 9))},
        "A": {"A": (Fraction(1), Fraction(0))},
        "kg": {"kg": (Fraction(1), Fraction(0)), "lb": (LB_KG, Fraction(0))},
        "kg/kg": {"kg/kg": (Fraction(1), Fraction(0)), "%": (Fraction(1, 100), Fraction(0))},
        "kg/s": {
            "kg/s": (Fraction(1), Fraction(0)),
            "kg/h": (1 / HOUR_S, Fraction(0)),
            "lb/h": (LB_KG / HOUR_S, Fraction(0)),
            "lb/min": (LB_KG / MINUTE_S, Fraction(0)),
            "t/h": (1000 / HOUR_S, Fraction(0)),
            "ton/h": (2000 * LB_KG / HOUR_S, Fraction(0)),
        },
    }
)
"""Unit of a quantity to the units in which it may be read: factor and offset, exact."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingLine:
    """One reading as it stands in a file."""

    machine: str = column("machine, bin, scale or meter", example="PL1")
    quantity: str = column("what was read", example="conditioner temperature")
    read_at: dt.datetime = column("when, in the mill's time or with an offset")
    value: float = column("the number that was read")
    unit: str = column("its unit", example="F")
    run: str = column("run it belongs to", default="", example="R-4107")


def in_unit(value: float, *, unit: str, wanted: str) -> float:
    """A reading in the unit of its quantity; a float stands for the number it is shown as.

    Parameters
    ----------
    value : float
        The number that was read. [unit]
    unit : str
        Its unit, one of ``READ_IN[wanted]``.
    wanted : str
        Unit of the quantity.

    Returns
    -------
    found : float
        The same in that unit. [wanted]

    Raises
    ------
    KeyError
        If a quantity of that unit is not read in this one.

    Sources
    -------
    [1] A. Thompson, B. N. Taylor, NIST Special Publication 811, 2008, appendix B.8.

    Examples
    --------
    >>> in_unit(212, unit="F", wanted="C")
    100.0
    """
    factor, offset = READ_IN[wanted][unit]
    return float(Fraction(repr(value)) * factor + offset)
