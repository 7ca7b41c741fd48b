"""Temperatures typed on the command line, with their unit."""

import math

__all__ = ["read_temperature_c"]


def read_temperature_c(text: str, *, rise: bool = False) -> float:
    """The temperature, or the difference of two, that was typed with its unit.

    Raises
    ------
    BadInput
        If it is no number with C or F behind it.
    """
    from bedstone.errors import BadInput

    number, unit = text[:-1].strip().removesuffix("°").strip(), text[-1:].upper()
    try:
        value = float(number)
    except ValueError:
        value = math.nan
    if unit not in {"C", "F"} or not math.isfinite(value):
        raise BadInput(
            "Not a difference of temperatures." if rise else "Not a temperature.",
            seen=repr(text[:40]),
            allowed="such as 33C or 59F" if rise else "such as 65C or 150F",
        )
    if unit == "C":
        return value
    return value / 1.8 if rise else (value - 32) / 1.8
