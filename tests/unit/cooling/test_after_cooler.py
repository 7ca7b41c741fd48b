"""Warm pellets in a bin, and the air that a fan moves."""

import itertools

import pytest

from bedstone.cooling.after_cooler import (
    WarmBin,
    activity_at,
    bin_through_the_night,
    days_to_mould,
)
from bedstone.cooling.air_flow import air_at_fan, bed_pressure_pa, dry_air_kg_s
from bedstone.cooling.model import AirIn, Isotherm, PelletKind
from bedstone.errors import BadInput, NoAnswer

PELLET = PelletKind(diameter_mm=4, length_mm=10)
AIR = AirIn(temperature_c=20, relative_humidity_frac=0.6)
CURVE = ((0.4, 1850.0), (0.9, 1600.0), (1.4, 1150.0), (1.9, 500.0))


def night(pellet_c: float, moisture_wb: float = 0.12, wall_c: float = 5.0):
    """A bin of eight tonnes."""
    return bin_through_the_night(
        WarmBin(
            pellet_c=pellet_c, moisture_wb=moisture_wb, mass_kg=8000, wall_m2=25,
            coldest_wall_c=wall_c,
        )
    )  # fmt: skip


def test_warm_pellets_sweat_and_cool_ones_do_not():
    """Warmer pellets have a higher dew point over them and give more water; none below the wall."""
    warm, mild, cool = night(40), night(25), night(8, wall_c=7)
    assert warm.sweats
    assert warm.dew_point_c > mild.dew_point_c > cool.dew_point_c
    assert warm.water_most_kg > mild.water_most_kg >= mild.water_least_kg
    assert not cool.sweats
    assert cool.water_most_kg == 0


def test_water_lies_between_its_bounds_and_within_the_heat_there_is():
    """The least is never above the most, and the most never takes more heat than cooling gives."""
    for pellet_c in (10, 20, 30, 50, 70):
        found = night(pellet_c)
        assert 0 <= found.water_least_kg <= found.water_most_kg
        assert found.water_most_kg <= 8000 * 1900 * max(pellet_c - 5, 0) / 2.46e6 + 1e-9


def test_the_same_moisture_is_safer_cold():
    """Water activity at one moisture falls as pellets cool (Chung-Pfost, ASAE D245.5)."""
    assert activity_at(0.13, 5, Isotherm()) < activity_at(0.13, 40, Isotherm())


def test_mould_comes_sooner_damper_and_never_in_dry_feed():
    """At 0.65 and below nothing is expected; above it each step up brings the day nearer."""
    days = [days_to_mould(a, 25) for a in (0.60, 0.70, 0.75, 0.80, 0.90)]
    assert days == sorted(days, reverse=True)
    assert days[0] == 365
    assert days_to_mould(0.9, 28) == pytest.approx(3.0)


def test_a_hot_bin_is_a_matter_for_caution():
    """Somewhere above 55 C the advice keeps people out, whatever the moisture."""
    assert "keep people out" in night(60).advice
    with pytest.raises(BadInput):
        night(30, moisture_wb=1.2)


def test_dry_air_of_a_volume():
    """Dry air of 1 m3 at 20 C and 101325 Pa weighs 1.204 kg (ASHRAE Fundamentals, standard air)."""
    found = dry_air_kg_s(1.0, temperature_c=20, humidity_frac=0.0, pressure_pa=101_325)
    assert found == pytest.approx(1.204, abs=0.001)
    with pytest.raises(BadInput):
        dry_air_kg_s(-1.0, temperature_c=20, humidity_frac=0.5, pressure_pa=101_325)


def test_a_fan_runs_where_its_curve_meets_the_bed():
    """At the volume found, the fan's pressure is what bed and ducts take; a deep bed gets less."""
    volume = air_at_fan(CURVE, PELLET, 0.7, 1.3, AIR, duct_pa=400, duct_at_m3_s=1.2)
    bed = bed_pressure_pa(PELLET, depth_m=0.7, area_m2=1.3, volume_m3_s=volume, temperature_c=40)
    low, high = next((a, b) for a, b in itertools.pairwise(CURVE) if volume <= b[0])
    fan = low[1] + (volume - low[0]) / (high[0] - low[0]) * (high[1] - low[1])
    assert fan == pytest.approx(bed + 400 * (volume / 1.2) ** 2, rel=1e-6)
    assert air_at_fan(CURVE, PELLET, 1.2, 1.3, AIR) < air_at_fan(CURVE, PELLET, 0.7, 1.3, AIR)
    with pytest.raises(NoAnswer):
        air_at_fan(CURVE, PELLET, 3.0, 0.3, AIR)


def test_a_fan_without_load_runs_at_the_end_of_its_curve():
    """A bed that takes next to nothing lets the fan run out at its greatest volume."""
    assert air_at_fan(CURVE, PELLET, 0.05, 30.0, AIR) == 1.9
