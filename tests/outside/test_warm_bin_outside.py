"""Warm bins held against an independent library of moist air and against published limits.

CoolProp's moist air (ASHRAE RP-1485 formulation) for dew point and saturation; 65 % humidity as the
limit of safe storage (extension sheets on grain storage), 0.70 as about the least at which most
moulds grow (University of Guelph, food science notes); shelled corn's loss of half a per cent of
its dry matter (Steele, Saul and Hukill 1969; Thompson 1972) as the time that mould needs at most;
the half-space that loses heat through a film (Carslaw and Jaeger, Conduction of Heat in Solids,
chapter 2; the formula from memory) for what a layer of 10 cm leaves out.
"""

import math

import pytest
from CoolProp.HumidAirProp import HAPropsSI
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import erfcx

from bedstone.cooling.after_cooler import KEEPS_DAYS, activity_at, days_to_mould
from bedstone.cooling.bin_night import (
    BULK_W_M_K,
    CORNERS,
    LATENT_J_KG,
    SOLID_J_KG_K,
    Exchange,
    WarmBin,
    course,
)
from bedstone.cooling.model import Isotherm
from bedstone.storage.life import corn_keeps_s

KELVIN = 273.15
QUIET, BRISK = CORNERS[0], CORNERS[-1]


def bin_of(pellet_c: float, moisture_wb: float, pressure_pa: float = 101_325.0) -> WarmBin:
    """Eight tonnes of pellets."""
    return WarmBin(
        pellet_c=pellet_c, moisture_wb=moisture_wb, mass_kg=8000, top_m2=5, roof_m2=10, wall_m2=16,
        pressure_pa=pressure_pa,
    )  # fmt: skip


@pytest.mark.parametrize("pellet_c", [15.0, 30.0, 45.0, 60.0])
@pytest.mark.parametrize("pressure_pa", [101_325.0, 84_000.0])
def test_the_dew_point_over_pellets_is_coolprops(pellet_c: float, pressure_pa: float):
    """Air at the pellets' temperature and water activity has CoolProp's dew point, to 0.15 K."""
    warm = bin_of(pellet_c, 0.125, pressure_pa)
    first = course(warm, (10.0, 10.0), QUIET).hours[0]
    activity = activity_at(0.125, first.top_c, Isotherm())
    theirs = HAPropsSI("D", "T", first.top_c + KELVIN, "P", pressure_pa, "R", activity) - KELVIN
    assert first.dew_point_c == pytest.approx(theirs, abs=0.15)


@pytest.mark.parametrize("how", [QUIET, BRISK], ids=["quiet", "brisk"])
@pytest.mark.parametrize(("pellet_c", "outside_c"), [(30.0, 8.0), (45.0, 2.0), (60.0, 15.0)])
def test_the_roof_is_where_coolprops_air_has_it(how: Exchange, pellet_c: float, outside_c: float):
    """Roof temperature and water by hand with CoolProp's humidities: what comes through two films
    (Lewis number one) leaves outside. The skin agrees to 0.1 K; the first hour brings less water than it begins with.
    """
    warm = bin_of(pellet_c, 0.13)
    found = course(warm, (outside_c, outside_c), how)
    first = found.hours[0]
    over = HAPropsSI("W", "T", first.top_c + KELVIN, "P", 101_325, "R",
                     activity_at(0.13, first.top_c, Isotherm()))  # fmt: skip
    both = 5 * 10 / (5 + 10)
    out_c = outside_c - how.sky_dk

    def runs_kg_s(roof_c: float) -> float:
        at_roof = HAPropsSI("W", "T", roof_c + KELVIN, "P", 101_325, "R", 1.0)
        return how.film_w_m2_k / 1006.0 * both * (over - at_roof)

    def more_w(roof_c: float) -> float:
        inside_w = how.film_w_m2_k * both * (first.top_c - roof_c)
        return (
            inside_w + LATENT_J_KG * runs_kg_s(roof_c) - how.outside_w_m2_k * 10 * (roof_c - out_c)
        )

    roof_c = brentq(more_w, out_c, pellet_c)
    assert first.roof_c == pytest.approx(roof_c, abs=0.1)
    begins_kg_h = runs_kg_s(roof_c) * 3600
    assert 0.4 * begins_kg_h < found.hours[1].roof_kg < begins_kg_h  # it slackens as the top cools


@pytest.mark.parametrize("film_w_m2_k", [8.0, 25.0])
@pytest.mark.parametrize(("hours", "within"), [(6, 0.25), (12, 0.15), (24, 0.15), (48, 0.25)])
def test_a_layer_and_its_heap_lose_what_a_half_space_does(
    film_w_m2_k: float, hours: int, within: float
):
    """Heat that a heap loses through its wall in a night is within 15 % of the analytic solution,
    within 25 % from six hours to two days; the wall's own temperature within 2 K of 40.
    """
    heap = WarmBin(pellet_c=40, moisture_wb=0.01, mass_kg=40_000, top_m2=0.5, roof_m2=0.5,
                   wall_m2=16)  # fmt: skip
    how = Exchange(film_w_m2_k=1e-6, outside_w_m2_k=film_w_m2_k, stirs=0.0)
    found = course(heap, (0.0,) * (hours + 1), how)
    diffusivity = BULK_W_M_K / (620 * (SOLID_J_KG_K * 0.99 + 4186 * 0.01))

    def wall_c(after_s: float) -> float:
        return float(40 * erfcx(film_w_m2_k * math.sqrt(diffusivity * after_s) / BULK_W_M_K))

    lost_j_m2 = film_w_m2_k * quad(wall_c, 0, hours * 3600)[0]
    assert found.heat_out_j / 16 == pytest.approx(lost_j_m2, rel=within)
    assert found.hours[-1].wall_c == pytest.approx(wall_c(hours * 3600), abs=2.0)


@pytest.mark.parametrize("pellet_c", [10.0, 20.0, 30.0])
def test_mould_is_expected_no_later_than_corn_loses_its_grade(pellet_c: float):
    """Wherever corn's published keeping time is measured, below 300 days, and moulds grow, the
    cautious days are no more than that time.
    """
    for moisture_wb in (0.145, 0.155, 0.165, 0.175, 0.185):
        activity = activity_at(moisture_wb, pellet_c, Isotherm())
        keeps_days = corn_keeps_s(temperature_c=pellet_c, moisture_wb=moisture_wb) / 86_400
        if activity > 0.70 and keeps_days < 300:
            assert days_to_mould(activity, pellet_c) <= keeps_days


def test_the_published_limits_of_growth():
    """Up to 65 % humidity nothing is expected; from 0.70 on, where most moulds begin, it is."""
    assert days_to_mould(0.65, 25.0) == KEEPS_DAYS
    assert days_to_mould(0.70, 25.0) < KEEPS_DAYS
