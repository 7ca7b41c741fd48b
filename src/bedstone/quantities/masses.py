"""Masses in words: the mill's own units at the edge, with figures enough for the scale division."""

from decimal import ROUND_HALF_UP, Context, Decimal

__all__ = ["mass_digits", "mass_unit", "show_mass"]

LB_MG = Decimal("453592.37")
"""Milligrams in a pound, exact by definition [1]."""
KG_MG = Decimal(1_000_000)
# [1] A. Thompson, B. N. Taylor, Guide for the Use of the International System of Units, NIST
#     Special Publication 811, 2008 edition, appendix B.8.

FEW_FIGURES = Context(prec=4)
MOST_PLACES = 6
FIGURES_SHOWN = 4


def mass_unit(units: str) -> str:
    """The unit that masses are shown in: "lb" for "US", else "kg"."""
    return "lb" if units == "US" else "kg"


def _in_unit(mass_mg: int, units: str) -> Decimal:
    return Decimal(mass_mg) / (LB_MG if units == "US" else KG_MG)


def _places_of(division_mg: int, units: str) -> int:
    """Decimals that a division needs; divisions are round numbers in their own unit."""
    division = FEW_FIGURES.plus(_in_unit(max(1, division_mg), units)).normalize()
    exponent = division.as_tuple().exponent
    return min(MOST_PLACES, max(0, -exponent)) if isinstance(exponent, int) else 0


def mass_digits(mass_mg: int, division_mg: int, *, units: str) -> str:
    """A mass as a number with the decimals of a scale division, thousands apart by commas.

    Parameters
    ----------
    mass_mg : int
        Mass. [mg]
    division_mg : int
        Division of the instrument it is read on, to the nearest milligram. [mg]
    units : str
        "SI" or "US".

    Returns
    -------
    digits : str
        The number alone, in kilograms or pounds.

    Examples
    --------
    >>> mass_digits(907_184_740, 226_796, units="US")
    '2,000.0'
    >>> mass_digits(1_234_500_000, 500_000, units="SI")
    '1,234.5'
    """
    step = Decimal(1).scaleb(-_places_of(division_mg, units))
    return f"{_in_unit(mass_mg, units).quantize(step, rounding=ROUND_HALF_UP):,f}"


def show_mass(mass_mg: int, units: str) -> str:
    """A mass with its unit in about four figures, for sentences.

    Parameters
    ----------
    mass_mg : int
        Mass. [mg]
    units : str
        "SI" or "US".

    Returns
    -------
    words : str
        Number and unit; whole numbers stay whole, at most six decimals.

    Examples
    --------
    >>> show_mass(907_184_740, "US")
    '2,000 lb'
    >>> show_mass(1_234_567, "SI")
    '1.235 kg'
    """
    value = _in_unit(mass_mg, units)
    places = min(MOST_PLACES, max(0, FIGURES_SHOWN - 1 - value.adjusted())) if value else 0
    text = f"{value.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP):,f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return f"{text} {mass_unit(units)}"
