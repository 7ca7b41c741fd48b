"""Pellets after the cooler: the air over them as they cool, days to mould, a night in a bin."""

import pytest

from bedstone.cooling.after_cooler import (
    HOT_C,
    KEEPS_DAYS,
    activity_as_it_cools,
    activity_at,
    bin_through_the_night,
    days_to_mould,
)
from bedstone.cooling.bin_night import WarmBin
from bedstone.cooling.model import Isotherm
from bedstone.errors import BadInput
from bedstone.materials.sorption import HENDERSON

NIGHT = (15, 13, 11, 9, 7, 6, 5, 4, 3, 3, 3, 4, 6, 9, 12, 14, 15)


def night(pellet_c: float, moisture_wb: float = 0.12, outside_c: tuple[float, ...] = NIGHT):
    """A bin of eight tonnes."""
    warm = WarmBin(
        pellet_c=pellet_c, moisture_wb=moisture_wb, mass_kg=8000, top_m2=5, roof_m2=10, wall_m2=16
    )
    return bin_through_the_night(warm, outside_c)


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


def test_a_hot_bin_is_a_matter_for_caution():
    """From 55 C on the advice keeps people out, names fire, bad air and local codes."""
    found = night(60)
    assert found.is_hot
    for word in ("Do not climb in", "carbon monoxide", "fire service", "local code"):
        assert word in found.advice
    assert not night(HOT_C - 1).is_hot


def test_advice_goes_by_the_crust():
    """Damp pellets are held; where the crust may mould its day is named; cool dry ones need nothing."""
    assert night(45, 0.15).advice.startswith("Too damp to keep")
    wet = night(38, 0.122)
    assert wet.wets
    worst = min(wet.crusts, key=lambda one: one.mould_days)
    assert f"day {worst.mould_days:.0f}" in wet.advice
    dry = night(5, 0.11, (4.0, 4.0, 5.0))
    assert not dry.sweats
    assert not dry.wets
    assert dry.advice.startswith("Nothing runs down")


def test_a_crust_is_wetter_by_what_ran_down():
    """A crust's water is the pellets' own and all that hung on its sheet, none lost."""
    found = night(40)
    top = next(one for one in found.crusts if one.where == "under the roof")
    mass_kg = 5 * 0.05 * 620
    water_kg = mass_kg * 0.12 + found.brisk.most_roof_film_kg
    assert top.moisture_wb == pytest.approx(
        water_kg / (mass_kg + found.brisk.most_roof_film_kg), rel=1e-12
    )


def test_bounds_are_in_order():
    """The least is never above the most, whichever course it is of."""
    for pellet_c in (0, 10, 20, 30, 50, 70):
        found = night(pellet_c)
        for low, high in (found.roof_kg, found.wall_kg, found.wandered_kg):
            assert low <= high


@pytest.mark.parametrize(
    "wrong",
    [
        {"moisture_wb": -0.01}, {"moisture_wb": 1.1}, {"pellet_c": 400}, {"pellet_c": -80},
        {"mass_kg": 0}, {"mass_kg": -5}, {"top_m2": 0}, {"wall_m2": -1}, {"mass_kg": 20},
    ],
)  # fmt: skip
def test_a_bin_that_cannot_be_is_refused(wrong: dict[str, float]):
    """Moisture below nothing or above one, absurd heat, an empty bin, a skin of pellets."""
    right = {"pellet_c": 30, "moisture_wb": 0.12, "mass_kg": 8000, "top_m2": 5, "roof_m2": 10,
             "wall_m2": 16}  # fmt: skip
    with pytest.raises(BadInput) as caught:
        WarmBin(**{**right, **wrong})
    assert caught.value.allowed


@pytest.mark.parametrize("outside_c", [(), (5.0,), (5.0, 200.0)])
def test_a_night_needs_its_air(outside_c: tuple[float, ...]):
    """No hour, or air that no place has, is refused in words."""
    with pytest.raises(BadInput):
        night(30, outside_c=outside_c)
