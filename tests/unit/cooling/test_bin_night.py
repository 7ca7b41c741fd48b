"""A bin of warm pellets through a night: balances, limit cases, order of its bounds."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.linalg import expm

from bedstone.cooling.bin_night import (
    BULK_W_M_K,
    CORNERS,
    SOLID_J_KG_K,
    Exchange,
    WarmBin,
    course,
)

BIN = WarmBin(pellet_c=40, moisture_wb=0.125, mass_kg=8000, top_m2=5, roof_m2=10, wall_m2=16)
NIGHT = (15, 13, 11, 9, 7, 6, 5, 4, 3, 3, 3, 4, 6, 9, 12, 14, 15)
QUIET, BRISK = CORNERS[0], CORNERS[-1]
STILL = Exchange(film_w_m2_k=3.0, outside_w_m2_k=12.0, stirs=0.0)


@settings(max_examples=12, deadline=None)
@given(
    pellet_c=st.floats(-20, 85),
    moisture_wb=st.floats(0.06, 0.28),
    mass_kg=st.floats(2000, 60_000),
    coldest_c=st.floats(-35, 35),
)
def test_water_and_heat_close(
    pellet_c: float, moisture_wb: float, mass_kg: float, coldest_c: float
):
    """No water and no heat appears or is lost, to 1e-9, still or brisk, hot or cold."""
    warm = replace(BIN, pellet_c=pellet_c, moisture_wb=moisture_wb, mass_kg=mass_kg)
    outside_c = [coldest_c + 2 * abs(hour - 3) for hour in range(7)]
    for how in (QUIET, BRISK):
        found = course(warm, outside_c, how)
        assert found.balance_frac < 1e-9
        assert min(found.roof_kg, found.wall_kg, found.most_roof_film_kg) >= 0
        assert 0 < found.top_moisture_wb < 0.4


def test_without_a_difference_nothing_runs():
    """Pellets as warm as the air: nothing condenses anywhere, and nothing cools in still air."""
    found = course(BIN, (40.0,) * 13, QUIET)
    assert found.roof_kg == found.wall_kg == 0
    assert found.hours[-1].core_c == pytest.approx(40.0, abs=1e-3)
    assert found.heat_out_j == pytest.approx(0.0, abs=2e4)  # against 3e8 J in a night at 5 C


def test_dry_pellets_cool_as_three_lumps_do():
    """Without vapour the lumps follow the matrix exponential of their conductances, outside
    constant: core to layers by k/d, surface through film, film and skin, edge through half a layer.
    """
    dry = replace(BIN, moisture_wb=0.01)
    outside_c, hours = 5.0, 24
    found = course(dry, (outside_c,) * (hours + 1), STILL)
    assert found.roof_kg == found.wall_kg == 0
    deep = 0.1
    k = BULK_W_M_K
    both = dry.top_m2 * dry.roof_m2 / (dry.top_m2 + dry.roof_m2)
    up = 1 / (1 / (3.0 * both) + 1 / (12.0 * dry.roof_m2))
    side = 1 / (deep / 2 / (k * dry.wall_m2) + 1 / (12.0 * dry.wall_m2))
    to_top, to_edge = k / deep * dry.top_m2, k / deep * dry.wall_m2
    dense = 620 * (1 - 0.01)
    layers = [dense * deep * area for area in (dry.top_m2, dry.wall_m2)]
    masses = np.array([8000 * 0.99 - sum(layers), *layers])
    capacity = masses * (SOLID_J_KG_K + 0.01 / 0.99 * 4186)
    flows = np.array(
        [
            [-(to_top + to_edge), to_top, to_edge],
            [to_top, -(to_top + up), 0],
            [to_edge, 0, -(to_edge + side)],
        ]
    )
    end = outside_c + expm(flows / capacity[:, None] * 3600 * hours) @ np.full(3, 35.0)
    last = found.hours[-1]
    assert (last.core_c, last.top_c, last.edge_c) == pytest.approx(tuple(end), abs=0.03)


def test_a_heap_of_one_lump_cools_exponentially():
    """Where the heap conducts far better than its skin, it cools as exp(-UA t / mc) (analytic)."""
    thin = Exchange(film_w_m2_k=0.3, outside_w_m2_k=0.5, stirs=0.0)
    dry = replace(BIN, moisture_wb=0.01, mass_kg=4000, bulk_w_m_k=4.0)
    found = course(dry, (0.0,) * 49, thin)
    both = dry.top_m2 * dry.roof_m2 / (dry.top_m2 + dry.roof_m2)
    ua = 1 / (1 / (0.3 * both) + 1 / (0.5 * dry.roof_m2))
    ua += 1 / (0.05 / (4.0 * dry.wall_m2) + 1 / (0.5 * dry.wall_m2))
    capacity = 4000 * 0.99 * (SOLID_J_KG_K + 0.01 / 0.99 * 4186)
    mean_c = 40.0 - found.heat_out_j / capacity
    assert mean_c == pytest.approx(40.0 * np.exp(-ua * 48 * 3600 / capacity), rel=0.01)


def test_warmer_damper_colder_gives_more_water():
    """Each of warmer pellets, damper pellets and a colder night lets more water run down."""
    base = course(BIN, NIGHT, BRISK)
    for warm, outside in (
        (replace(BIN, pellet_c=50), NIGHT),
        (replace(BIN, moisture_wb=0.14), NIGHT),
        (BIN, tuple(one - 8 for one in NIGHT)),
    ):
        more = course(warm, outside, BRISK)
        assert more.roof_kg + more.wall_kg > base.roof_kg + base.wall_kg


def test_water_wanders_towards_the_cold_and_back():
    """From warm pellets water goes to the skin at night; with a warm outside it goes inwards."""
    assert course(BIN, NIGHT, QUIET).wandered_kg > 0
    assert course(replace(BIN, pellet_c=0), (30.0,) * 13, QUIET).wandered_kg < 0


def test_films_dry_off_again():
    """What hangs on the roof at dawn is gone when the day warms it, and never less than nothing."""
    outside = (10, 6, 2, 0, 0, 0, 0, 5, 15, 25, 30, 30, 30, 30, 30, 30, 30, 30, 30)
    found = course(replace(BIN, pellet_c=30), outside, QUIET)
    films = [row.roof_film_kg for row in found.hours]
    assert max(films) > 0.1
    assert films[-1] < 0.2 * max(films)
    assert min(films) >= 0


def test_mist_hangs_where_air_is_over_full():
    """Over hot damp pellets under a cold roof the headspace's own air holds too much."""
    hot = course(replace(BIN, pellet_c=70, moisture_wb=0.18), (-10.0,) * 13, BRISK)
    assert hot.hours[1].mist
    assert not any(row.mist for row in course(replace(BIN, pellet_c=6), (5.0,) * 13, QUIET).hours)
