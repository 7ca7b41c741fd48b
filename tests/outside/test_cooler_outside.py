"""The cooler's bed against SciPy's boundary-value solver, closed forms, and published figures."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest

from bedstone.cooling.bed import MODES, BedNumbers, Floats, solve_bed
from bedstone.cooling.cooler import CELLS, CLOSE_C, CLOSE_DB, cool
from bedstone.cooling.model import AirIn, Cooler, PelletKind, PelletsIn
from bedstone.materials.moist_air import (
    saturated_humidity,
    saturation_pressure_pa,
    vapour_pressure_pa,
)
from bedstone.materials.sorption import water_activity
from fakes.cooler_cases import random_bed, scipy_leaving

SEED = 11
VALUES = Path(__file__).parent / "values" / "cooler_reference.csv"
CFM_M3_S = 0.3048**3 / 60
SHORT_TON_KG = 907.18474


def leaving_of(k: BedNumbers, modes: int, cells: int = CELLS, close: float = 1.0) -> Floats:
    """What leaves a bed, which must settle."""
    none = np.zeros((0, 2 + modes)), np.zeros((0, 2))
    settled, *_, leaving, _, _ = solve_bed(
        k, modes, cells, CLOSE_C * close, CLOSE_DB * close, *none
    )
    assert settled
    return leaving


def test_two_hundred_beds_agree_with_scipy() -> None:
    """Over the whole range of inputs the quick answer lies within 0.02 K and 0.005 points of what
    scipy.integrate.solve_bvp found to a tolerance of 1e-7 (values kept by bench_cooler.py).
    """
    with VALUES.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 200
    for row in rows:
        number = int(row["case"])
        leaving = leaving_of(random_bed(SEED, number), MODES if number % 2 else 0)
        moisture = float(row["moisture_db"])
        assert leaving[0] == pytest.approx(float(row["pellet_c"]), abs=0.02), number
        assert leaving[1] / (1 + leaving[1]) == pytest.approx(
            moisture / (1 + moisture), abs=5e-5
        ), number


def test_hot_dry_air_that_wet_pellets_cool_below_their_own_coldest_is_solved() -> None:
    """A case in which air at 42 C and 14 % falls to 10 C within the bed, by SciPy's answer."""
    leaving = leaving_of(random_bed(SEED, 4499), MODES)
    assert leaving[0] == pytest.approx(26.5608390, abs=0.02)
    assert leaving[1] == pytest.approx(0.2181624045, abs=5e-5)


@pytest.mark.parametrize("number", [2, 3, 8, 13])
def test_a_fine_bed_agrees_with_scipy_solved_now(number: int) -> None:
    """With 48 cells and more the answer lies within 1e-5 K and 1e-8 kg/kg of SciPy's."""
    modes = MODES if number % 2 else 0
    k = random_bed(SEED, number)
    none = np.zeros((0, 2 + modes)), np.zeros((0, 2))
    settled, height, inside, _, leaving, _, _ = solve_bed(k, modes, 48, 1e-6, 1e-9, *none)
    done, pellet_c, moisture = scipy_leaving(k, modes, height, inside.T.copy())

    assert settled
    assert done
    assert leaving[0] == pytest.approx(pellet_c, abs=1e-5)
    assert leaving[1] == pytest.approx(moisture, abs=1e-8)


@pytest.mark.parametrize("units", [0.3, 2.0, 8.0])
@pytest.mark.parametrize("ratio", [0.4, 1.6])
def test_without_moisture_it_is_the_counterflow_exchanger(units: float, ratio: float) -> None:
    """No transfer of vapour: effectiveness of the counterflow exchanger, (1 - e) / (1 - C e) with
    e = exp(-NTU (1 - C)) (Kays and London, Compact Heat Exchangers; from memory, and derived from
    the two linear equations).
    """
    pellet_j = 1.2 * (1650 + 0.15 * 4186)
    air_in_db = 0.006
    air_j = ratio * pellet_j
    air = air_j / (1006 + air_in_db * 1860)
    least = min(pellet_j, air_j)
    k = random_bed(SEED, 0)._replace(
        pellet_kg_s_m2=1.2, air_kg_s_m2=air, depth_m=0.8, heat_w_m3_k=units * least / 0.8,
        vapour_1_s=1e-9, solid_j_kg_k=1650.0, pressure_pa=101_325.0, pellet_in_c=80.0,
        pellet_in_db=0.15, air_in_c=20.0, air_in_db=air_in_db,
    )  # fmt: skip
    share = least / max(pellet_j, air_j)
    decay = math.exp(-units * (1 - share))
    effectiveness = (1 - decay) / (1 - share * decay)
    expected_c = 80 - effectiveness * least / pellet_j * 60

    leaving = leaving_of(k, 0, cells=24, close=1e-3)

    assert leaving[0] == pytest.approx(expected_c, abs=1e-4)


@pytest.mark.parametrize("number", range(40))
def test_water_and_heat_balances_close(number: int) -> None:
    """What pellets lose is what air gains, in water and in enthalpy, to 1e-9; and air leaves no
    wetter than saturated, the rest as droplets.
    """
    draw = np.random.default_rng(number)
    leaving, profile = cool(
        Cooler(area_m2=2.0, depth_m=float(draw.uniform(0.2, 1.5)), air_kg_s=float(draw.uniform(0.3, 4))),
        PelletKind(diameter_mm=float(draw.uniform(2.5, 12)), length_mm=14),
        PelletsIn(
            rate_kg_s=float(draw.uniform(0.5, 6)),
            temperature_c=float(draw.uniform(60, 92)),
            moisture_wb=float(draw.uniform(0.12, 0.19)),
        ),
        AirIn(
            temperature_c=float(draw.uniform(-25, 38)),
            relative_humidity_frac=float(draw.uniform(0.1, 1.0)),
        ),
    )  # fmt: skip

    assert leaving.balance_frac < 1e-9
    assert leaving.air_humidity_frac <= 1.0
    assert max(profile.air_humidity_frac) <= 1.0 + 1e-12
    assert min(profile.fog_db) >= 0.0
    assert leaving.fog_db >= 0.0


@pytest.mark.parametrize("air_kg_s_m2", [0.15, 2.5])
def test_at_a_hundredfold_exchange_the_bed_settles_at_its_pinch(air_kg_s_m2: float) -> None:
    """Without resistance, pellets and air in mid-bed are at rest with one another (same temperature,
    water activity equal to relative humidity), more exchange changes nothing, and with plenty of
    air that state is the entering air's; the theory of equilibrium waves in a moving bed.
    """

    def bed(exchange: float) -> BedNumbers:
        return random_bed(SEED, 6)._replace(
            pellet_kg_s_m2=1.0, air_kg_s_m2=air_kg_s_m2, depth_m=1.0, heat_w_m3_k=6e4 * exchange,
            vapour_1_s=40.0 * exchange, solid_j_kg_k=1650.0, pressure_pa=101_325.0, isotherm=1.0,
            isotherm_a=312.3, isotherm_b=0.16958, isotherm_c=30.205, pellet_in_c=80.0,
            pellet_in_db=0.17, air_in_c=20.0, air_in_db=0.5 * saturated_humidity(20.0, 101_325.0),
        )  # fmt: skip

    none = np.zeros((0, 2)), np.zeros((0, 2))
    settled, _, pellets, air, leaving, _, _ = solve_bed(bed(100.0), 0, 24, 1e-4, 1e-7, *none)
    assert settled
    middle = len(pellets) // 2
    activity = water_activity(pellets[middle, 1], pellets[middle, 0], 1, 312.3, 0.16958, 30.205)[0]
    vapour = vapour_pressure_pa(air[middle, 1], 101_325.0)
    relative = vapour / saturation_pressure_pa(air[middle, 0])
    assert pellets[middle, 0] == pytest.approx(air[middle, 0], abs=0.01)
    assert activity == pytest.approx(relative, abs=1e-3)
    further = leaving_of(bed(1000.0), 0, cells=24, close=1e-2)
    assert further[:2] == pytest.approx(leaving[:2], abs=0.02)
    if air_kg_s_m2 > 1:
        assert leaving[0] == pytest.approx(20.0, abs=0.2)
        assert activity == pytest.approx(0.5, abs=0.01)


def test_published_sizing_cools_as_published() -> None:
    """25 short tons an hour over 40.2 ft2 with 10,000 ft3/min (400 ft3/min for each ton an hour):
    a trade journal's sizing of a cooler (World Grain, May 2014). Published outlets of such coolers
    are 3 to 8 K above ambient and 10 to 13 % moisture from 15 to 17 %.
    """
    cooler = Cooler(area_m2=40.2 * 0.3048**2, depth_m=0.75, air_kg_s=10_000 * CFM_M3_S * 1.19)
    for air_c, relative in ((12.0, 0.6), (20.0, 0.55), (28.0, 0.6)):
        leaving, _ = cool(
            cooler,
            PelletKind(diameter_mm=4.8, length_mm=12),
            PelletsIn(rate_kg_s=25 * SHORT_TON_KG / 3600, temperature_c=82, moisture_wb=0.158),
            AirIn(temperature_c=air_c, relative_humidity_frac=relative),
        )
        assert 0.5 < leaving.above_ambient_dk < 8.0
        assert 0.10 < leaving.moisture_wb < 0.135
        # the trade's mirror of conditioning: about 11 to 25 K for each point (two sources differ)
        points = 100 * (0.158 - leaving.moisture_wb)
        assert 11.0 < (82 - leaving.pellet_c) / points < 28.0
