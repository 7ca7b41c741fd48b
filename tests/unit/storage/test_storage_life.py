"""How long corn keeps."""

import pytest

from bedstone.errors import BadInput
from bedstone.storage.life import corn_keeps_s

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
