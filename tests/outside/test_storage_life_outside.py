"""Moisture at which grain is at rest with air of 65 %, against figures that others printed."""

import pytest

from bedstone.materials.library import library
from bedstone.storage.life import air_between

FAHRENHEIT_60 = 15.556


def safe_pct(printed_as: str, form: str, temperature_c: float) -> float:
    """Safe moisture of a grain, per cent wet basis."""
    found = next(
        row for row in library().isotherms if row.printed_as == printed_as and row.form == form
    )
    air = air_between(temperature_c=temperature_c, moisture_wb=0.12, isotherm=found)
    return 100 * air.safe_moisture_wb


def test_wheat_at_65_per_cent():
    """Printed: wheat at 60 F is at rest with 65 % at 13.2 %, at 30 F at 14.1 % (experts123.com, an
    extension answer); the standard's curve says a point more, as fits of wheat differ.
    """
    assert safe_pct("wheat", "modified Henderson", FAHRENHEIT_60) == pytest.approx(13.2, abs=1.4)


@pytest.mark.parametrize(
    ("printed_as", "form", "warm", "pct"),
    [
        ("corn", "modified Henderson", 10, 14.75),
        ("corn", "modified Henderson", 25, 13.30),
        ("barley", "modified Henderson", 25, 12.42),
        ("oats", "Chung-Pfost", 25, 11.75),
        ("soybean", "modified Halsey", 25, 11.78),
        ("durum wheat", "modified Oswin", 10, 13.39),
    ],
)
def test_the_standards_curves_at_65_per_cent(printed_as: str, form: str, warm: float, pct: float):
    """Forms and coefficients of ASAE D245.5, reckoned apart from this program."""
    assert safe_pct(printed_as, form, warm) == pytest.approx(pct, abs=0.011)
