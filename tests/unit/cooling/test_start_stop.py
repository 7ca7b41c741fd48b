"""A bed that fills, runs and stands comes to the steady bed, and says when pellets are good."""

from dataclasses import replace

import numpy as np
import pytest

from bedstone.cooling.bed import MODES
from bedstone.cooling.cooler import bed_numbers, cool
from bedstone.cooling.limits import Limits
from bedstone.cooling.model import AirIn, Cooler, PelletKind, PelletsIn
from bedstone.cooling.moving import fill_and_run, stand
from bedstone.cooling.start_stop import start_and_stop
from bedstone.materials.moist_air import enthalpy_j_kg, saturated_humidity
from bedstone.materials.sorption import CHUNG_PFOST, moisture_at_activity_db

COOLER = Cooler(area_m2=2.0, depth_m=0.6, air_kg_s=2.6)
PELLET = PelletKind(diameter_mm=4.8, length_mm=12)
PELLETS = PelletsIn(rate_kg_s=3.0, temperature_c=82.0, moisture_wb=0.155)
AIR = AirIn(temperature_c=22.0, relative_humidity_frac=0.6)


@pytest.mark.parametrize("air_c", [-10.0, 22.0])
def test_after_the_filling_it_runs_as_the_steady_bed(air_c: float) -> None:
    """The moving layers and the steady equations, solved in different ways, end alike."""
    air = replace(AIR, temperature_c=air_c)
    moving = start_and_stop(COOLER, PELLET, PELLETS, air)
    steady, _ = cool(COOLER, PELLET, PELLETS, air)

    assert moving.steady_c == pytest.approx(steady.pellet_c, abs=0.05)
    assert moving.steady_wb == pytest.approx(steady.moisture_wb, abs=5e-5)


def test_the_first_pellets_out_had_the_whole_filling_time_in_the_air() -> None:
    """They leave colder than the run does later, and wetter: they were cooled in a thin bed."""
    found = start_and_stop(COOLER, PELLET, PELLETS, AIR)
    assert found.first_out_c < found.steady_c
    assert found.first_out_wb > found.steady_wb
    assert found.fill_s == pytest.approx(248, abs=1)


def test_the_fan_runs_on_until_the_top_of_the_bed_is_cool() -> None:
    """A stricter limit takes longer, and none is shorter than nothing."""
    loose = start_and_stop(COOLER, PELLET, PELLETS, AIR, limits=Limits(above_ambient_dk=10))
    strict = start_and_stop(COOLER, PELLET, PELLETS, AIR, limits=Limits(above_ambient_dk=2))
    assert 0 < loose.run_on_s < strict.run_on_s


def test_a_rate_that_never_gets_cool_says_slow_down() -> None:
    """No pellet keeps the limits in steady running: the advice is to hold the run."""
    found = start_and_stop(
        COOLER, PELLET, replace(PELLETS, rate_kg_s=6.0), AIR, limits=Limits(above_ambient_dk=1.0)
    )
    assert "slow down" in found.advice


def test_layers_and_steps_do_not_matter() -> None:
    """Twice as many layers and steps give the same bed and nearly the same first pellets."""
    k = bed_numbers(COOLER, PELLET, PELLETS, AIR)
    settled, out, bed = fill_and_run(k, MODES, 40, 1, 2)
    again, fine, fine_bed = fill_and_run(k, MODES, 80, 1, 4)
    assert settled
    assert again
    assert out[0, 0] == pytest.approx(fine[0, 0], abs=0.1)
    assert out[-1, 0] == pytest.approx(fine[-1, 0], abs=0.2)
    assert out[0, 1] == pytest.approx(fine[0, 1], abs=1e-3)
    assert bed[:, 1].mean() == pytest.approx(fine_bed[:, 1].mean(), abs=3e-4)


def test_a_bed_that_stands_in_the_air_comes_to_rest_with_it() -> None:
    """After hours of air pellets are as warm as it is, and hold the water that they are at rest with
    it (the isotherm of corn, Chung-Pfost, at its temperature and humidity).
    """
    k = bed_numbers(COOLER, PELLET, PELLETS, AIR)
    bed = np.zeros((10, 2 + MODES))
    bed[:, 0], bed[:, 1] = 60.0, 0.16
    cooled, _ = stand(k, bed, 10.0, 5000, 1e-9)
    at_rest = moisture_at_activity_db(0.6, 22.0, CHUNG_PFOST, 312.3, 0.16958, 30.205)
    assert bed[:, 0] == pytest.approx(22.0, abs=0.05)
    assert bed[:, 1] == pytest.approx(at_rest, abs=2e-4)
    assert not cooled or bed[:, 0].max() <= 22.0 + 1e-9


def test_no_bed_cools_faster_than_air_can_carry_its_heat() -> None:
    """After the last pellet the fan runs on at least as long as air that left saturated at the
    temperature of the pellet mill would take for the heat over the limit.
    """
    found = start_and_stop(COOLER, PELLET, PELLETS, AIR)
    k = bed_numbers(COOLER, PELLET, PELLETS, AIR)
    bed_kg_m2 = k.pellet_kg_s_m2 * k.residence_s
    # half of the bed is still at half of the way down, at least: heat over the limit of 5 K
    over_j_m2 = 0.25 * bed_kg_m2 * k.solid_j_kg_k * (82.0 - 27.0)
    most_j_kg = enthalpy_j_kg(82.0, saturated_humidity(82.0, k.pressure_pa), k.pressure_pa)
    most_j_kg -= enthalpy_j_kg(22.0, k.air_in_db, k.pressure_pa)
    assert found.run_on_s is not None
    assert found.run_on_s > over_j_m2 / (k.air_kg_s_m2 * most_j_kg)
    double = start_and_stop(replace(COOLER, air_kg_s=5.2), PELLET, PELLETS, AIR)
    assert double.run_on_s is not None
    assert double.run_on_s < found.run_on_s
