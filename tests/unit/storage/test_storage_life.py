"""How long corn keeps."""

import pytest

from bedstone.errors import BadInput
from bedstone.materials.library import library
from bedstone.storage.life import PER_CENT_DRY, air_between, corn_keeps_s

DAY_S = 86_400.0


def test_dry_and_cool_corn_keeps_longest():
    """Each point of moisture and each degree takes time away; 15 % at 60 F keeps for most of a year."""
    at = corn_keeps_s(temperature_c=15.56, moisture_wb=0.15) / DAY_S
    assert 200 < at < 365
    assert corn_keeps_s(temperature_c=15.56, moisture_wb=0.17) / DAY_S < at / 2
    assert corn_keeps_s(temperature_c=26.67, moisture_wb=0.15) / DAY_S < at / 2


def test_twenty_degrees_fahrenheit_are_a_factor_of_three():
    """exp(3.48 / 3) = 3.19, whatever the moisture."""
    cool = corn_keeps_s(temperature_c=10, moisture_wb=0.14)
    warm = corn_keeps_s(temperature_c=10 + 20 / 1.8, moisture_wb=0.14)
    assert cool / warm == pytest.approx(3.190, rel=1e-3)


@pytest.mark.parametrize(("warm", "wet"), [(40, 0.15), (15, 0.25), (15, 0.05)])
def test_what_was_not_measured_is_refused(warm: float, wet: float):
    """Outside the range there is no answer."""
    with pytest.raises(BadInput, match="not measured"):
        corn_keeps_s(temperature_c=warm, moisture_wb=wet)


def test_air_between_is_safe_just_at_the_safe_moisture():
    """At the moisture that is said to be safe the humidity is 65 %, for every grain of the library."""
    for isotherm in library().isotherms:
        if isotherm.moisture_in != PER_CENT_DRY:
            continue
        safe = air_between(temperature_c=20, moisture_wb=0.1, isotherm=isotherm).safe_moisture_wb
        again = air_between(temperature_c=20, moisture_wb=safe, isotherm=isotherm)
        assert again.activity == pytest.approx(0.65, abs=1e-9)


def test_air_between_outside_what_was_fitted_is_refused():
    """Frozen grain, and grain that is half water, have no answer."""
    corn = library().isotherms[0]
    for warm, wet in ((-5.0, 0.15), (20.0, 0.6)):
        with pytest.raises(BadInput, match="not measured"):
            air_between(temperature_c=warm, moisture_wb=wet, isotherm=corn)
