"""Masses shown with the figures that a scale division has."""

from fractions import Fraction
from functools import cache

from bedstone.quantities.masses import shown_mass
from bedstone.quantities.units import LB_KG

__all__ = ["digits_on_scale", "mass_on_scale"]

MG_KG = 1_000_000


def mass_on_scale(mass_mg: int, division_mg: int, *, units: str) -> str:
    """A mass with its unit and the decimals of the division it is read on.

    A plan keeps divisions in whole milligrams; a pound is none. The division is taken as the
    round number (four figures) that it is in the mill's unit.

    Parameters
    ----------
    mass_mg : int
        Mass. [mg]
    division_mg : int
        Division, to the nearest milligram. [mg]
    units : str
        "SI" or "US".

    Returns
    -------
    text : str
        Number and unit.

    Examples
    --------
    >>> mass_on_scale(907_184_740, 226_796, units="US")
    '2,000.0 lb'
    >>> mass_on_scale(1_234_500_000, 500_000, units="SI")
    '1,234.5 kg'
    """
    return shown_mass(mass_mg, units=units, division_kg=_division_kg(division_mg, units))


@cache
def _division_kg(division_mg: int, units: str) -> float:
    """A division as the round number that it is in the unit. [kg]"""
    unit_kg = LB_KG if units == "US" else Fraction(1)
    in_unit = Fraction(max(1, division_mg), MG_KG) / unit_kg
    return float(Fraction(f"{float(in_unit):.4g}") * unit_kg)


def digits_on_scale(mass_mg: int, division_mg: int, *, units: str) -> str:
    """The number of ``mass_on_scale`` alone.

    Parameters
    ----------
    mass_mg : int
        Mass. [mg]
    division_mg : int
        Division, to the nearest milligram. [mg]
    units : str
        "SI" or "US".

    Returns
    -------
    digits : str
        Number without its unit.
    """
    return mass_on_scale(mass_mg, division_mg, units=units).rsplit(" ", 1)[0]
