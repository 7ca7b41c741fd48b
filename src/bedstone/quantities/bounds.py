"""Figures that are known only between a least and a most, as people read them."""

from bedstone.quantities.line_figures import temperature_words
from bedstone.quantities.units import DIMENSIONS, from_si

__all__ = ["between_words", "bound_words"]

LEAST_SHOWN = 0.005


def bound_words(ends_kg: tuple[float, float], units: str) -> str:
    """A mass known only between two bounds, each to two figures.

    Parameters
    ----------
    ends_kg : tuple of float
        The least and the most. [kg]
    units : str
        "SI" or "US".

    Returns
    -------
    text : str
        Both with the unit; one where both look alike; "none" where the most is less than shown.

    Examples
    --------
    >>> bound_words((1.234, 12.34), "SI"), bound_words((0.0, 0.45359237), "US")
    ('1.2 to 12 kg', '0 to 1 lb')
    >>> bound_words((0.0, 0.001), "SI")
    'none'
    """
    unit = DIMENSIONS["kg"].units["lb" if units == "US" else "kg"]
    shown = []
    for end_kg in ends_kg:
        number = float(from_si(end_kg, unit))
        shown.append(f"{float(f'{number:.2g}'):g}" if number >= LEAST_SHOWN else "0")
    low, high = shown
    if high == "0":
        return "none"
    return f"{low} {unit.suffix}" if low == high else f"{low} to {high} {unit.suffix}"


def between_words(ends_c: tuple[float, float], units: str) -> str:
    """A temperature known only between two ends.

    Parameters
    ----------
    ends_c : tuple of float
        The least and the most. [degrees C]
    units : str
        "US" or "SI".

    Returns
    -------
    words : str
        Both with the unit; one where both look alike.

    Examples
    --------
    >>> between_words((20.0, 25.0), "US"), between_words((20.0, 20.1), "SI")
    ('68 to 77 °F', '20 °C')
    """
    low, high = (temperature_words(end_c, units) for end_c in ends_c)
    return low if low == high else f"{low.split(' ')[0]} to {high}"
