"""Exact factors, the suffixes that name units, and text that is read back as the same number."""

from decimal import Decimal
from fractions import Fraction

import pytest

from bedstone.quantities.units import (
    DIMENSIONS,
    dimension_of,
    from_si,
    plain_text,
    shortest_text,
    to_si,
)


@pytest.mark.parametrize(
    ("suffix", "unit", "value", "si"),
    [
        ("kg", "lb", "1", "0.45359237"),
        ("kg", "ton", "1", "907.18474"),
        ("kg", "t", "1.25", "1250"),
        ("m3", "ft3", "1", "0.028316846592"),
        ("m3", "gal", "1", "0.003785411784"),
        ("m3", "l", "250", "0.25"),
        ("mm", "in", "0.25", "6.35"),
        ("m", "ft", "10", "3.048"),
        ("c", "f", "212", "100"),
        ("c", "f", "-40", "-40"),
        ("frac", "pct", "2.5", "0.025"),
        ("s", "min", "3.5", "210"),
        ("pa", "hpa", "1013.25", "101325"),
        ("mg_kg", "pct", "0.5", "5000"),
        ("mg_kg", "g_t", "80", "80"),
    ],
)
def test_factors_are_exact(suffix: str, unit: str, value: str, si: str):
    """Each unit becomes SI by its exact factor, and comes back."""
    one = DIMENSIONS[suffix].units[unit]
    assert to_si(Decimal(value), one) == Fraction(si)
    assert from_si(Fraction(si), one) == Fraction(value)


@pytest.mark.parametrize(
    ("suffix", "unit", "value", "published"),
    [
        ("kg_m3", "lb_ft3", 1, 16.01846),
        ("kg_s", "lb_h", 1, 1.259979e-4),
        ("kg_s", "ton_h", 1, 0.2519958),
        ("pa", "psi", 1, 6894.757),
        ("pa", "inhg", 1, 3386.389),
    ],
)
def test_factors_agree_with_published_ones(suffix: str, unit: str, value: int, published: float):
    """Derived factors agree to seven figures with NIST SP 811, appendix B.8 (from memory)."""
    si = float(to_si(value, DIMENSIONS[suffix].units[unit]))
    assert si == pytest.approx(published, rel=1e-6)


def test_price_of_a_short_ton():
    """A price per tonne is higher than the same price per short ton, by the masses' ratio."""
    unit = DIMENSIONS["usd_t"].units["usd_ton"]
    assert to_si(Decimal("907.18474"), unit) == 1000


@pytest.mark.parametrize(
    ("field", "suffix"),
    [
        ("mass_max_kg", "kg"),
        ("rate_kg_s", "kg_s"),
        ("fill_s", "s"),
        ("density_kg_m3", "kg_m3"),
        ("content_mg_kg", "mg_kg"),
        ("moisture_wb", "wb"),
        ("price_usd_t", "usd_t"),
        ("late_usd_t_h", "usd_t_h"),
        ("temperature_c", "c"),
    ],
)
def test_longest_suffix_names_the_dimension(field: str, suffix: str):
    """A field's longest suffix says its dimension: a rate is not a duration."""
    dimension = dimension_of(field)
    assert dimension is not None
    assert dimension.si_suffix == suffix


@pytest.mark.parametrize("field", ["species", "feeds", "assays", "mean", "labour_usd_h", "address"])
def test_names_without_unit_have_no_dimension(field: str):
    """A name that merely ends in a letter of a unit has no unit."""
    assert dimension_of(field) is None


@pytest.mark.parametrize(
    ("number", "text"),
    [("1E+3", "1000"), ("0.0500", "0.05"), ("-0", "0"), ("1E-7", "0.0000001"), ("120", "120")],
)
def test_plain_text_has_no_exponent(number: str, text: str):
    """Numbers are written without exponent and without zeros that say nothing."""
    assert plain_text(Decimal(number)) == text


def test_shortest_text_of_what_was_typed():
    """A number typed in pounds is written as it was typed."""
    pounds = DIMENSIONS["kg"].units["lb"]
    assert shortest_text(float(to_si(Decimal("2204.6"), pounds)), pounds) == "2204.6"


def test_each_dimension_has_its_own_si_unit():
    """Every dimension holds the unit in which values are inside, with factor one."""
    for suffix, dimension in DIMENSIONS.items():
        assert dimension.units[suffix].factor == 1
        assert dimension.units[suffix].offset == 0
        assert dimension.written("SI").suffix in dimension.units
        assert dimension.written("US").suffix in dimension.units
