"""Lengths, temperatures and plain numbers that people type into forms, with their unit."""

import re
from collections.abc import Mapping
from fractions import Fraction

from bedstone.errors import BadInput
from bedstone.mill.reading_lines import READ_IN, in_unit, shown_unit, unit_named
from bedstone.mill.readings import QUANTITIES
from bedstone.quantities.units import DIMENSIONS, to_si
from bedstone.web.show import Show

__all__ = ["typed_length_m", "typed_number", "typed_reading", "typed_temperature_c"]

LENGTHS = {"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": 0.3048, "in": 0.0254}
LONGEST = 40


def typed_number(text: str, *, what: str, unit: str = "") -> float:
    """The number that a person means; a comma between thousands is understood.

    Raises
    ------
    BadInput
        If it is no number.
    """
    plain = text.strip()
    if re.fullmatch(r"-?\d{1,3}(,\d{3})+(\.\d+)?", plain):
        plain = plain.replace(",", "")
    if not re.fullmatch(r"-?(\d{1,12}(\.\d{0,20})?|\.\d{1,20})", plain):
        raise BadInput(
            f"The {what} is no number.",
            seen=repr(text[:LONGEST]),
            allowed=f"a number such as 12.5{f' ({unit})' if unit else ''}",
        )
    return float(plain)


def _split(text: str, words: Mapping[str, float], what: str, allowed: str) -> tuple[float, str]:
    found = re.fullmatch(r"\s*(-?[\d.,]+)\s*°?\s*([A-Za-z]*)\.?\s*", text)
    unit = found[2].lower() if found else ""
    if found is None or (unit and unit not in words):
        raise BadInput(
            f"The {what} cannot be understood.", seen=repr(text[:LONGEST]), allowed=allowed
        )
    return typed_number(found[1], what=what), unit


def typed_length_m(text: str, show: Show, *, what: str) -> float:
    """The length that a person means; without a unit in feet or metres, as the mill has it. [m]

    Raises
    ------
    BadInput
        If it cannot be understood, or is below nothing.
    """
    number, unit = _split(text, LENGTHS, what, "a length such as 4.25 ft, 51 in or 1.3 m")
    if number < 0:
        raise BadInput(f"The {what} is below nothing.", seen=repr(text[:LONGEST]))
    return number * LENGTHS[unit or ("ft" if show.us else "m")]


def typed_temperature_c(text: str, show: Show, *, what: str) -> float:
    """The temperature that a person means; without a unit in the mill's own. [degrees C]

    Raises
    ------
    BadInput
        If it cannot be understood.
    """
    number, unit = _split(text, {"c": 1.0, "f": 1.0}, what, "a temperature such as 104 °F or 40 °C")
    return float(
        to_si(Fraction(str(number)), DIMENSIONS["c"].units[unit or ("f" if show.us else "c")])
    )


def typed_reading(text: str, show: Show, quantity: str) -> float:
    """The reading that a person means, in the unit of its quantity; without a unit in the mill's own.

    Raises
    ------
    BadInput
        If it is no number, or has a unit in which the quantity is not read.
    """
    wanted = QUANTITIES[quantity].unit
    found = re.fullmatch(r"\s*([-+]?[\d.,]+)\s*(.*?)\.?\s*", text)
    unit = unit_named(found[2], wanted) if found and found[2] else shown_unit(quantity, show.units)
    if found is None or unit is None:
        raise BadInput(
            f"The {quantity} cannot be understood.",
            seen=repr(text[:LONGEST]),
            allowed=f"a number, and behind it no unit or {' or '.join(READ_IN[wanted])}",
        )
    number = typed_number(found[1].removeprefix("+"), what=quantity)
    return in_unit(number, unit=unit, wanted=wanted)
