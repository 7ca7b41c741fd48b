"""Masses in whole milligrams: to kilograms and pounds, to scale divisions, shown and typed.

A mass is rounded to the *nearest* division; exactly between two it goes to the larger one ("half
up"), because that is what the people at the scale expect and what makes a printed target one
that can be checked in the head. Half-even would only matter for sums of very many such ties.
"""

import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from bedstone.errors import BadInput
from bedstone.quantities.units import DIMENSIONS, Unit, from_si, plain_text, to_si

__all__ = [
    "UnderstoodMass",
    "kg_from_mg",
    "lb_from_mg",
    "mass_typed",
    "mg_from_kg",
    "mg_from_lb",
    "round_to_division",
    "shown_mass",
]

MG_KG = 1_000_000
MASS_UNITS = DIMENSIONS["kg"].units
UNIT_WORDS: dict[str, str] = {
    "kg": "kg",
    "kgs": "kg",
    "kilogram": "kg",
    "kilograms": "kg",
    "g": "g",
    "gram": "g",
    "grams": "g",
    "t": "t",
    "tonne": "t",
    "tonnes": "t",
    "lb": "lb",
    "lbs": "lb",
    "pound": "lb",
    "pounds": "lb",
    "ton": "ton",
    "tons": "ton",
    "short ton": "ton",
    "short tons": "ton",
}
"""What people write behind a mass, and the unit it means; "ton" is the short ton of 2000 lb."""
LARGEST_MG = 2**63 - 1
LONGEST_TYPED = 40


def _nearest(value: Fraction) -> int:
    """Return the nearest whole number, half away from nothing."""
    doubled = abs(value) * 2
    whole = (doubled.numerator + doubled.denominator) // (2 * doubled.denominator)
    return -whole if value < 0 else whole


def mg_from_kg(mass_kg: float | Decimal | Fraction) -> int:
    """Mass in whole milligrams, rounded half up; a float stands for the number it is shown as.

    Parameters
    ----------
    mass_kg : float, Decimal or Fraction
        Mass. [kg]

    Returns
    -------
    mass_mg : int
        The same in whole milligrams. [mg]

    Sources
    -------
    [1] The prefixes of the SI: a kilogram is a million milligrams. The ledger's unit is our own.

    Examples
    --------
    >>> mg_from_kg(0.45359237)
    453592
    """
    exact = Fraction(repr(mass_kg)) if isinstance(mass_kg, float) else Fraction(mass_kg)
    return _nearest(exact * MG_KG)


def kg_from_mg(mass_mg: int) -> Decimal:
    """Mass in kilograms, exact.

    Parameters
    ----------
    mass_mg : int
        Mass. [mg]

    Returns
    -------
    mass_kg : Decimal
        The same. [kg]

    Sources
    -------
    [1] The prefixes of the SI: a kilogram is a million milligrams.

    Examples
    --------
    >>> kg_from_mg(1_250_500_000)
    Decimal('1250.500000')
    """
    return Decimal(mass_mg).scaleb(-6)


def mg_from_lb(mass_lb: Decimal | Fraction | int) -> int:
    """Mass in whole milligrams of a mass in pounds, rounded half up.

    Parameters
    ----------
    mass_lb : Decimal, Fraction or int
        Mass. [lb]

    Returns
    -------
    mass_mg : int
        The same in whole milligrams. [mg]

    Sources
    -------
    [1] A. Thompson, B. N. Taylor, Guide for the Use of the International System of Units, NIST
        Special Publication 811, 2008 edition, appendix B.8: 1 lb = 0.453 592 37 kg exactly.

    Examples
    --------
    >>> mg_from_lb(2000)
    907184740
    """
    return _nearest(to_si(mass_lb, MASS_UNITS["lb"]) * MG_KG)


def lb_from_mg(mass_mg: int) -> Fraction:
    """Mass in pounds, exact.

    Parameters
    ----------
    mass_mg : int
        Mass. [mg]

    Returns
    -------
    mass_lb : Fraction
        The same. [lb]

    Sources
    -------
    [1] A. Thompson, B. N. Taylor, Guide for the Use of the International System of Units, NIST
        Special Publication 811, 2008 edition, appendix B.8: 1 lb = 0.453 592 37 kg exactly.

    Examples
    --------
    >>> lb_from_mg(907_184_740) == 2000
    True
    """
    return from_si(Fraction(mass_mg, MG_KG), MASS_UNITS["lb"])


def round_to_division(mass_mg: int, division_kg: float | Fraction) -> int:
    """The mass a scale can show that lies nearest; between two, the larger.

    A division need not be a whole number of milligrams (a pound is 453 592.37 mg): the number of
    divisions is what is rounded, so errors do not add up over many divisions.

    Parameters
    ----------
    mass_mg : int
        Mass. [mg]
    division_kg : float or Fraction
        Scale division, above 0; a float stands for the number it is shown as. [kg]

    Returns
    -------
    mass_shown_mg : int
        A whole number of divisions, to the nearest milligram. [mg]

    Raises
    ------
    ValueError
        If the division is not above 0.

    Sources
    -------
    [1] A scale shows whole divisions. Half up: decision of this program, see the top of the file.

    Examples
    --------
    >>> round_to_division(1_250_250_000, 0.5)
    1250500000
    >>> round_to_division(45_359_000, 0.45359237)
    45359237
    """
    exact = division_kg if isinstance(division_kg, Fraction) else Fraction(repr(division_kg))
    if exact <= 0:
        raise ValueError(f"scale division {division_kg!r} kg; allowed: above 0")
    return _nearest(_nearest(Fraction(mass_mg, MG_KG) / exact) * exact * MG_KG)


def _places(division: Fraction) -> int:
    """Return the decimals that a division needs, six at most."""
    return next((n for n in range(6) if (division * 10**n).denominator == 1), 6)


def shown_mass(
    mass_mg: int, *, units: str, division_kg: float | None = None, locale: str = "en_US"
) -> str:
    """A mass as the mill's people read it, with its unit and with no more figures than help.

    Parameters
    ----------
    mass_mg : int
        Mass. [mg]
    units : str
        "SI" or "US".
    division_kg : float or None
        Division of the scale it is read on, which says the decimals; without it figures that
        say nothing are left out: whole units from 100 up, one decimal from 10, two from 1,
        three below. [kg]
    locale : str
        How people there write numbers.

    Returns
    -------
    text : str
        Number and unit, such as "1,250.5 kg" or "2,000 lb".

    Examples
    --------
    >>> shown_mass(1_250_500_000, units="SI", division_kg=0.5)
    '1,250.5 kg'
    >>> shown_mass(907_184_740, units="US")
    '2,000 lb'
    """
    unit = MASS_UNITS["lb" if units == "US" else "kg"]
    value = from_si(Fraction(mass_mg, MG_KG), unit)
    if division_kg is not None:
        places = _places(from_si(division_kg, unit))
    else:
        size = abs(value)
        places = next((n for n, least in ((0, 100), (1, 10), (2, 1)) if size >= least), 3)
    rounded = Decimal(_nearest(value * 10**places)).scaleb(-places)
    if division_kg is None and places:
        rounded = Decimal(plain_text(rounded))
    return f"{_number_text(rounded, locale)} {unit.suffix}"


def _number_text(number: Decimal, locale: str) -> str:
    from babel.numbers import format_decimal  # slow to import, needed where masses are shown

    places = max(0, -int(number.as_tuple().exponent))
    pattern = "#,##0" + ("." + "0" * places if places else "")
    return format_decimal(number, format=pattern, locale=locale)


@dataclass(frozen=True, slots=True, kw_only=True)
class UnderstoodMass:
    """A mass as a person typed it, and what was understood; shown before it is kept."""

    mass_mg: int
    number: Decimal
    unit: Unit

    @property
    def text(self) -> str:
        """What was understood, such as "1250.5 lb = 567.217 kg"."""
        kg = plain_text(kg_from_mg(self.mass_mg).quantize(Decimal("0.001")))
        own = f"{plain_text(self.number)} {self.unit.suffix}"
        return own if self.unit.suffix == "kg" else f"{own} = {kg} kg"


def mass_typed(text: str, *, units: str, locale: str = "en_US") -> UnderstoodMass:
    """What was understood of a mass that a person typed.

    Parameters
    ----------
    text : str
        Number, with or without a unit: "1,250.5 lb", "1.2 t", "300".
    units : str
        "SI" or "US": the unit of a bare number is kg or lb.
    locale : str
        How people there write numbers; read strictly, so "1,5" is refused where a comma stands
        between thousands.

    Returns
    -------
    understood : UnderstoodMass
        Mass in milligrams with the number and unit it was read as.

    Raises
    ------
    BadInput
        If the number or the unit cannot be understood without doubt.

    Examples
    --------
    >>> mass_typed("1,250.5 lb", units="SI").mass_mg
    567217259
    >>> mass_typed("1.2 t", units="US").text
    '1.2 t = 1200 kg'
    """
    match = re.fullmatch(
        r"\s*([+-]?[0-9.,'\u2019\u00a0\u202f ]*[0-9][.,]?)\s*([A-Za-z ]*?)\.?\s*", text
    )
    if match is None or len(text) > LONGEST_TYPED:
        raise _not_a_mass(text, "a number and a unit, such as 1250.5 kg or 2000 lb")
    digits, word = match[1].strip(), " ".join(match[2].lower().split())
    suffix = UNIT_WORDS.get(word) if word else ("lb" if units == "US" else "kg")
    if suffix is None:
        raise _not_a_mass(text, "the unit kg, g, t (1000 kg), lb or ton (2000 lb)")
    number = _number_typed(digits, text=text, locale=locale)
    mass_mg = _nearest(to_si(number, MASS_UNITS[suffix]) * MG_KG)
    if not 0 <= mass_mg <= LARGEST_MG:
        raise _not_a_mass(text, "a mass of nothing or more that a mill can hold")
    return UnderstoodMass(mass_mg=mass_mg, number=number, unit=MASS_UNITS[suffix])


def _number_typed(digits: str, *, text: str, locale: str) -> Decimal:
    from babel.numbers import NumberFormatError, parse_decimal  # slow to import

    try:
        return parse_decimal(digits, locale=locale, strict=True)
    except NumberFormatError:
        example = _number_text(Decimal("1250.5"), locale)
        raise _not_a_mass(text, f"a number as people write it here, such as {example}") from None


def _not_a_mass(text: str, allowed: str) -> BadInput:
    return BadInput(
        "This mass cannot be understood.",
        seen=repr(text[:LONGEST_TYPED]),
        allowed=allowed,
        do="type it again",
    )
