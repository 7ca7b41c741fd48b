"""Customary and SI units at the edges: exact factors, and the suffixes that name them in files.

Inside, everything is SI. A column of a file carries its unit as the suffix of its name, so that
the field ``mass_max_kg`` may stand in a file as ``mass_max_kg``, ``mass_max_lb``, ``mass_max_t``
or ``mass_max_ton`` ("ton" is the short ton of 2000 lb, "t" the tonne of 1000 kg). Factors are
exact fractions; only the last step rounds to a float, so that what was typed comes back as typed.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Context, Decimal
from fractions import Fraction
from functools import cache

__all__ = [
    "DIMENSIONS",
    "LB_KG",
    "Dimension",
    "Unit",
    "dimension_of",
    "from_si",
    "plain_text",
    "shortest_text",
    "to_si",
]

LB_KG = Fraction("0.45359237")
"""Kilograms in a pound, exact by definition [1]."""
SHORT_TON_KG = 2000 * LB_KG
INCH_M = Fraction("0.0254")
FOOT_M = 12 * INCH_M
GALLON_M3 = 231 * INCH_M**3
"""Cubic metres in a US gallon of 231 cubic inches, exact by definition [1]."""
STANDARD_GRAVITY_M_S2 = Fraction("9.80665")
INCH_MERCURY_PA = Fraction("3386.389")
"""Pascals in a conventional inch of mercury [1], seven figures, from memory."""
# [1] A. Thompson, B. N. Taylor, Guide for the Use of the International System of Units, NIST
#     Special Publication 811, 2008 edition, appendix B.8 (factors in bold are exact).

MOST_DIGITS = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """A unit that a column may have: its suffix in a file, how it is written for people, and how
    it becomes SI (``si = value * factor + offset``).
    """

    suffix: str
    label: str
    factor: Fraction = Fraction(1)
    offset: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Dimension:
    """The units that may stand for one SI suffix, and which of them an export writes."""

    si_suffix: str
    units: Mapping[str, Unit]
    written_si: str
    written_us: str

    def written(self, system: str) -> Unit:
        """Return the unit in which tables are written for a mill that shows "SI" or "US"."""
        return self.units[self.written_us if system == "US" else self.written_si]


def _dimension(si_suffix: str, *units: Unit, si: str = "", us: str = "") -> Dimension:
    by_suffix = {unit.suffix: unit for unit in units}
    return Dimension(
        si_suffix=si_suffix,
        units=by_suffix,
        written_si=si or si_suffix,
        written_us=us or si or si_suffix,
    )


def _unit(suffix: str, label: str, factor: Fraction | int = 1, offset: Fraction | int = 0) -> Unit:
    return Unit(suffix=suffix, label=label, factor=Fraction(factor), offset=Fraction(offset))


def _all_dimensions() -> tuple[Dimension, ...]:
    hour, minute, percent = Fraction(3600), Fraction(60), Fraction(1, 100)
    return (
        _dimension(
            "kg",
            _unit("kg", "kg"),
            _unit("lb", "lb", LB_KG),
            _unit("t", "t (1000 kg)", 1000),
            _unit("ton", "short ton (2000 lb)", SHORT_TON_KG),
            _unit("g", "g", Fraction(1, 1000)),
            us="lb",
        ),
        _dimension(
            "kg_s",
            _unit("t_h", "t/h", 1000 / hour),
            _unit("kg_h", "kg/h", 1 / hour),
            _unit("ton_h", "short tons an hour", SHORT_TON_KG / hour),
            _unit("lb_h", "lb/h", LB_KG / hour),
            _unit("kg_min", "kg/min", 1 / minute),
            _unit("lb_min", "lb/min", LB_KG / minute),
            _unit("kg_s", "kg/s"),
            si="t_h",
            us="ton_h",
        ),
        _dimension("s", _unit("s", "s"), _unit("min", "min", 60)),
        _dimension("frac", _unit("pct", "%", percent), _unit("frac", "0 to 1"), si="pct"),
        _dimension(
            "wb",
            _unit("pct_wb", "% wet basis", percent),
            _unit("wb", "kg/kg wet basis"),
            si="pct_wb",
        ),
        _dimension(
            "kg_m3",
            _unit("kg_m3", "kg/m3"),
            _unit("lb_ft3", "lb/ft3", LB_KG / FOOT_M**3),
            us="lb_ft3",
        ),
        _dimension(
            "m3",
            _unit("m3", "m3"),
            _unit("ft3", "ft3", FOOT_M**3),
            _unit("l", "litres", Fraction(1, 1000)),
            _unit("gal", "US gallons", GALLON_M3),
            us="ft3",
        ),
        _dimension(
            "mg_kg",
            _unit("mg_kg", "mg/kg"),
            _unit("g_t", "g/t"),
            _unit("g_ton", "g per short ton", 1000 / SHORT_TON_KG),
            _unit("pct", "%", 10_000),
        ),
        _dimension(
            "usd_t",
            _unit("usd_t", "USD/t"),
            _unit("usd_ton", "USD per short ton", 1000 / SHORT_TON_KG),
            us="usd_ton",
        ),
        _dimension(
            "usd_t_h",
            _unit("usd_t_h", "USD per tonne and hour"),
            _unit("usd_ton_h", "USD per short ton and hour", 1000 / SHORT_TON_KG),
            us="usd_ton_h",
        ),
        _dimension(
            "c",
            _unit("c", "degrees C"),
            _unit("f", "degrees F", Fraction(5, 9), Fraction(-160, 9)),
            us="f",
        ),
        _dimension(
            "pa",
            _unit("pa", "Pa"),
            _unit("hpa", "hPa", 100),
            _unit("kpa", "kPa", 1000),
            _unit("inhg", "inches of mercury", INCH_MERCURY_PA),
            _unit("psi", "psi", LB_KG * STANDARD_GRAVITY_M_S2 / INCH_M**2),
        ),
        _dimension("m2", _unit("m2", "m2"), _unit("ft2", "ft2", FOOT_M**2), us="ft2"),
        _dimension(
            "m3_s",
            _unit("m3_s", "m3/s"),
            _unit("m3_h", "m3/h", 1 / hour),
            _unit("cfm", "cfm", FOOT_M**3 / minute),
            us="cfm",
        ),
        _dimension(
            "dk", _unit("dk", "K"), _unit("df", "°F, a difference", Fraction(5, 9)), us="df"
        ),
        _dimension("m", _unit("m", "m"), _unit("ft", "ft", FOOT_M), us="ft"),
        _dimension("mm", _unit("mm", "mm"), _unit("in", "in", 1000 * INCH_M), us="in"),
    )


DIMENSIONS: Mapping[str, Dimension] = {item.si_suffix: item for item in _all_dimensions()}
"""SI suffix of a field to the units its column may have in a file."""


@cache
def dimension_of(field: str) -> Dimension | None:
    """Return the dimension that the suffix of a field names, or None if it has no unit.

    Parameters
    ----------
    field : str
        Name with its SI suffix; the longest suffix counts, so ``rate_kg_s`` is a rate.

    Returns
    -------
    dimension : Dimension or None
        Units that the column of this field may have in a file.
    """
    for suffix in sorted(DIMENSIONS, key=len, reverse=True):
        if field.endswith(f"_{suffix}") or field == suffix:
            return DIMENSIONS[suffix]
    return None


def to_si(value: Decimal | Fraction | int, unit: Unit) -> Fraction:
    """Return a value of a unit in SI, without any rounding.

    Parameters
    ----------
    value : Decimal, Fraction or int
        Number in ``unit``.
    unit : Unit
        Unit it is given in.

    Returns
    -------
    si : Fraction
        The same in SI, exact.

    Sources
    -------
    [1] A. Thompson, B. N. Taylor, Guide for the Use of the International System of Units, NIST
        Special Publication 811, 2008 edition, appendix B.8.

    Examples
    --------
    >>> float(to_si(Decimal("2.5"), DIMENSIONS["kg"].units["ton"]))
    2267.96185
    >>> float(to_si(Decimal(185), DIMENSIONS["c"].units["f"]))
    85.0
    """
    return Fraction(value) * unit.factor + unit.offset


def from_si(si: float | Fraction, unit: Unit) -> Fraction:
    """Return an SI value in a unit, without any rounding.

    Parameters
    ----------
    si : float or Fraction
        Value in SI; a float stands for the decimal number it is shown as.
    unit : Unit
        Unit wanted.

    Returns
    -------
    value : Fraction
        The same in ``unit``, exact.

    Sources
    -------
    [1] A. Thompson, B. N. Taylor, Guide for the Use of the International System of Units, NIST
        Special Publication 811, 2008 edition, appendix B.8.

    Examples
    --------
    >>> float(from_si(0.45359237, DIMENSIONS["kg"].units["lb"]))
    1.0
    """
    exact = si if isinstance(si, Fraction) else Fraction(repr(si))
    return (exact - unit.offset) / unit.factor


def shortest_text(si: float, unit: Unit) -> str:
    """Return the shortest decimal number in a unit that is read back as exactly the same SI float.

    Parameters
    ----------
    si : float
        Value in SI, finite.
    unit : Unit
        Unit to write it in.

    Returns
    -------
    text : str
        Plain decimal notation, no exponent.

    Raises
    ------
    ArithmeticError
        If 400 figures are not enough, which no sensible value reaches.

    Examples
    --------
    >>> shortest_text(907.18474, DIMENSIONS["kg"].units["lb"])
    '2000'
    >>> shortest_text(2.5, DIMENSIONS["kg_s"].units["t_h"])
    '9'
    """
    exact = from_si(si, unit)
    for digits in range(1, MOST_DIGITS):
        rounded = Context(prec=digits).divide(Decimal(exact.numerator), Decimal(exact.denominator))
        if float(to_si(rounded, unit)) == si:
            return plain_text(rounded)
    raise ArithmeticError(f"{si!r} cannot be written in {unit.label}")


def plain_text(number: Decimal) -> str:
    """Return a decimal number without exponent and without zeros that say nothing.

    Parameters
    ----------
    number : Decimal
        Any finite number.

    Returns
    -------
    text : str
        Plain decimal notation.
    """
    text = format(number, "f")
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text
