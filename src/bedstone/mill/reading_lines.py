"""A line of a file of readings: its columns, the units that it may have, and what it means."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType
from typing import Final

from bedstone.mill.attributes import column
from bedstone.mill.readings import QUANTITIES
from bedstone.quantities.units import LB_KG

__all__ = ["READ_IN", "ReadingLine", "in_unit", "reading_words", "shown_unit", "unit_named"]

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
SHOWN_US: Final[Mapping[str, str]] = MappingProxyType(
    {"C": "F", "A": "A", "kg": "lb", "kg/kg": "%", "kg/s": "ton/h"}
)
SHOWN_SI: Final[Mapping[str, str]] = MappingProxyType(
    {"C": "C", "A": "A", "kg": "kg", "kg/kg": "%", "kg/s": "t/h"}
)
STEAM = "steam flow"
DEGREES = ("C", "F")


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingLine:
    """One reading as it stands in a file."""

    machine: str = column("machine, bin, scale or meter", example="PL1")
    quantity: str = column("what was read", example="conditioner temperature")
    read_at: dt.datetime = column("when, in the mill's time or with an offset")
    value: float = column("the number that was read")
    unit: str = column("its unit", example="F")
    run: str = column("run it belongs to", default="", example="R-4107")


def shown_unit(quantity: str, units: str) -> str:
    """The unit in which a mill reads a quantity; steam by the pound or kilogram.

    Examples
    --------
    >>> shown_unit("conditioner temperature", "US"), shown_unit("steam flow", "SI")
    ('F', 'kg/h')
    """
    if quantity == STEAM:
        return "lb/h" if units == "US" else "kg/h"
    return (SHOWN_US if units == "US" else SHOWN_SI)[QUANTITIES[quantity].unit]


def unit_named(text: str, wanted: str) -> str | None:
    """The unit of ``READ_IN[wanted]`` that a person means, None if there is none.

    Examples
    --------
    >>> unit_named("°f", "C"), unit_named("TON/H", "kg/s"), unit_named("psi", "C")
    ('F', 'ton/h', None)
    """
    plain = text.strip().replace("°", "").replace("deg ", "").strip().casefold()
    return next((unit for unit in READ_IN[wanted] if unit.casefold() == plain), None)


def reading_words(value: float, quantity: str, units: str) -> str:
    """A reading in the unit in which the mill reads it.

    Parameters
    ----------
    value : float
        In the unit of the quantity.
    quantity : str
        One of ``QUANTITIES``.
    units : str
        "US" or "SI".

    Returns
    -------
    words : str
        Number and unit.

    Examples
    --------
    >>> reading_words(80.0, "conditioner temperature", "US")
    '176 °F'
    >>> reading_words(0.125, "cooler outlet moisture", "US")
    '12.5 %'
    """
    unit = shown_unit(quantity, units)
    factor, offset = READ_IN[QUANTITIES[quantity].unit][unit]
    number = float((Fraction(repr(float(value))) - offset) / factor)
    places = 1 if unit in ("%", "C", "t/h", "ton/h") else 0
    text = f"{number:,.{places}f}".removesuffix(".0")
    return f"{text} {'°' if unit in DEGREES else ''}{unit}"


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
