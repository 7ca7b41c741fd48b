"""A number as a person types it, with or without a unit behind it.

The number may have the marks between thousands that people there write, and any unit of the
column's kind: "150F", "3 ton/h", "30 psi", "12 %".
"""

import re
from dataclasses import dataclass
from decimal import Decimal

from bedstone.errors import BadInput, Fault
from bedstone.mill.cells import quoted, read_cell
from bedstone.mill.columns import Column
from bedstone.mill.equipment import Settings
from bedstone.quantities.masses import UNIT_WORDS
from bedstone.quantities.units import Unit, plain_text

__all__ = ["Quantity", "number_and_word", "quantity_typed", "unit_named"]

TYPED = re.compile(r"\s*([+-]?[0-9][0-9.,'\u2019\u00a0\u202f ]*|[+-]?[.,][0-9]+)(.*)", re.DOTALL)
OTHER_WORDS = {
    "°c": "c", "deg c": "c", "celsius": "c", "°f": "f", "deg f": "f", "fahrenheit": "f",
    "psig": "psi", "tons/h": "ton_h", "ton/hour": "ton_h", "tph": "ton_h", "lbs/h": "lb_h",
    "lb/hour": "lb_h", "cu ft": "ft3", "cubic feet": "ft3", "gallons": "gal", "litre": "l",
    "ft3/min": "cfm", "cu ft/min": "cfm", "inch": "in", "inches": "in", "feet": "ft", "seconds": "s", "sec": "s", "minutes": "min",
}  # fmt: skip
DIFFERENCES = {"f": "df", "°f": "df", "deg f": "df", "c": "dk", "°c": "dk", "deg c": "dk"}
"""How a difference of temperatures is typed: in the degrees of either."""
PER_CENT = {"frac": "pct", "wb": "pct_wb"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """What was typed: the value inside, and number and unit as they were understood."""

    value: float
    number: Decimal
    unit: Unit | None


def number_and_word(text: str, locale: str) -> tuple[Decimal | None, str]:
    """The number that a text begins with, and the word behind it; None if there is no number."""
    from babel.numbers import NumberFormatError, parse_decimal

    match = TYPED.fullmatch(text)
    if match is None:
        return None, ""
    try:
        number = parse_decimal(match[1].strip(), locale=locale, strict=True)
    except NumberFormatError:
        return None, ""
    return number, " ".join(match[2].split()).rstrip(".")


def unit_named(word: str, column: Column) -> Unit | None:
    """The unit of the column's kind that a word names, by its short name or its label."""
    if column.dimension is None:
        return None
    units = column.dimension.units
    folded = word.casefold()
    if column.dimension.si_suffix == "kg" and folded in UNIT_WORDS:
        return units[UNIT_WORDS[folded]]
    if folded == "%":
        return units.get(PER_CENT.get(column.dimension.si_suffix, "pct"))
    others = DIFFERENCES if column.dimension.si_suffix == "dk" else OTHER_WORDS
    if others.get(folded) in units:
        return units[others[folded]]
    for suffix, unit in units.items():
        if folded in (
            suffix.casefold(),
            suffix.replace("_", "/").casefold(),
            unit.label.casefold(),
        ):
            return unit
    return None


def quantity_typed(text: str, column: Column, settings: Settings, bare: Unit | None) -> Quantity:
    """The value of a typed number in SI, held against the column's range.

    Parameters
    ----------
    text : str
        As it was typed.
    column : Column
        What it is to be; a number.
    settings : Settings
        Whose locale and zone count.
    bare : Unit or None
        Unit where none is typed; None refuses a bare number of a column that has units.

    Raises
    ------
    BadInput
        With one fault, its range in the unit that was typed.
    """
    number, word = number_and_word(text, settings.locale)
    unit = unit_named(word, column) if word else bare
    if number is not None and column.dimension is not None and unit is None:
        units = [one.suffix.replace("_", "/") for one in column.dimension.units.values()]
        found = quoted(text) if word else f"{quoted(text)} without a unit"
        allowed = f"a number with one of {', '.join(units)} behind it"
        raise BadInput(
            "A number cannot be understood.", faults=(Fault(found=found, allowed=allowed),)
        )
    plain = text.strip() if number is None or (word and unit is None) else plain_text(number)
    value = read_cell(plain, column=column, unit=unit, zone=settings.zone)
    if not isinstance(value, float) or number is None:
        raise TypeError(f"{column.field} is no column of numbers")
    return Quantity(value=value, number=number, unit=unit)
