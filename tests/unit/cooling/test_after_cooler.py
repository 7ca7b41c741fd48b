"""Pellets after the cooler: the air over them as they cool, and days to mould."""

import pytest

from bedstone.cooling.after_cooler import (
    KEEPS_DAYS,
    activity_as_it_cools,
    activity_at,
    days_to_mould,
)
from bedstone.cooling.model import Isotherm
from bedstone.materials.sorption import HENDERSON


def test_the_same_moisture_is_safer_cold():
    """Water activity at one moisture falls as pellets cool (Chung-Pfost, ASAE D245.5)."""
    assert activity_at(0.13, 5, Isotherm()) < activity_at(0.13, 40, Isotherm())


def test_mould_comes_sooner_damper_and_never_in_dry_feed():
    """At 0.65 and below nothing is expected; above it each step up brings the day nearer."""
    days = [days_to_mould(a, 25) for a in (0.60, 0.70, 0.75, 0.80, 0.90)]
    assert days == sorted(days, reverse=True)
    assert days[0] == KEEPS_DAYS
    assert days_to_mould(0.9, 28) == pytest.approx(3.0)


def test_as_it_cools_the_middle_lies_between_the_isotherms():
    """Each row spans every isotherm given, and its days are by the dampest of them."""
    other = Isotherm(form=HENDERSON, a=2.3007e-5, b=2.2857, c=55.815, source="wheat")
    rows = activity_as_it_cools(0.145, (40.0, 25.0, 5.0), Isotherm(), (other,))
    assert [row.temperature_c for row in rows] == [40.0, 25.0, 5.0]
    for row in rows:
        both = [activity_at(0.145, row.temperature_c, one) for one in (Isotherm(), other)]
        assert row.activity_frac == both[0]
        assert (row.low_frac, row.high_frac) == (min(both), max(both))
        assert row.mould_days == days_to_mould(max(both), row.temperature_c)
