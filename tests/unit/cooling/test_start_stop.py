"""A bed that fills, runs and stands comes to the steady bed, and says when pellets are good."""

from dataclasses import replace

import pytest

from bedstone.cooling.cooler import cool
from bedstone.cooling.limits import Limits
from bedstone.cooling.model import AirIn, Cooler, PelletKind, PelletsIn
from bedstone.cooling.start_stop import start_and_stop

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
