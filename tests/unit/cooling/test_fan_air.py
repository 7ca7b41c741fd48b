"""The dry air that a fan draws through a cooler."""

import itertools

import pytest

from bedstone.cooling.air_flow import (
    STANDARD_KG_M3,
    Fan,
    air_at_fan,
    bed_pressure_pa,
    cooler_at_fan,
    dry_air_kg_s,
)
from bedstone.cooling.cooler import cool
from bedstone.cooling.model import AirIn, Cooler, PelletKind, PelletsIn
from bedstone.errors import BadInput, NoAnswer
from bedstone.materials.moist_air import saturation_pressure_pa

PELLET = PelletKind(diameter_mm=4, length_mm=10)
PELLETS = PelletsIn(rate_kg_s=2.0, temperature_c=82.0, moisture_wb=0.16)
AIR = AirIn(temperature_c=20, relative_humidity_frac=0.6)
CURVE = ((0.4, 1850.0), (0.9, 1600.0), (1.4, 1150.0), (1.9, 500.0))
FAN = Fan(curve=CURVE, duct_pa=400, duct_at_m3_s=1.2)


def at_fan(air: AirIn, fan: Fan = FAN, depth_m: float = 0.6, area_m2: float = 1.7) -> Cooler:
    """A cooler of 1.7 m2 with its fan."""
    return cooler_at_fan(
        fan, area_m2=area_m2, depth_m=depth_m, pellet=PELLET, pellets=PELLETS, air=air
    )


def test_dry_air_of_a_volume() -> None:
    """Dry air of 1 m3 at 20 C and 101325 Pa weighs 1.204 kg (ASHRAE Fundamentals, standard air)."""
    found = dry_air_kg_s(1.0, temperature_c=20, humidity_frac=0.0, pressure_pa=101_325)
    assert found == pytest.approx(1.204, abs=0.001)


@pytest.mark.parametrize("volume_m3_s", [0.0, -1.0])
def test_no_air_or_air_that_runs_backward_is_refused(volume_m3_s: float) -> None:
    """A fan that stands, or turns the wrong way, is said."""
    with pytest.raises(BadInput, match="No air"):
        at_fan(AIR, Fan(volume_m3_s=volume_m3_s))


@pytest.mark.parametrize("air_c", [-20.0, 5.0, 30.0])
def test_air_and_bed_agree_at_the_fan(air_c: float) -> None:
    """The volume of the dry air, at the temperature and humidity with which the bed says that it
    leaves, is the volume that was measured at the fan (within one per cent: the air is reckoned
    with uniform pellets).
    """
    air = AirIn(temperature_c=air_c, relative_humidity_frac=0.7)
    cooler = at_fan(air, Fan(volume_m3_s=2.0))
    leaving, _ = cool(cooler, PELLET, PELLETS, air)
    of_one = dry_air_kg_s(
        1.0,
        temperature_c=leaving.air_c,
        humidity_frac=leaving.air_humidity_frac,
        pressure_pa=air.pressure_pa,
    )
    assert cooler.air_kg_s / of_one == pytest.approx(2.0, rel=0.01)


def test_a_read_temperature_at_the_fan_is_believed() -> None:
    """Where the air that leaves was read, its density goes by that reading: dry air as an ideal gas
    beside vapour at half saturation.
    """
    warm, cold = (
        cooler_at_fan(
            Fan(volume_m3_s=2.0), area_m2=1.7, depth_m=0.6, pellet=PELLET, pellets=PELLETS,
            air=AIR, leaves_c=leaves_c,
        )
        for leaves_c in (60.0, 40.0)
    )  # fmt: skip
    dry_pa = [101_325 - 0.5 * saturation_pressure_pa(at_c) for at_c in (60.0, 40.0)]
    expected = dry_pa[1] / dry_pa[0] * (273.15 + 60) / (273.15 + 40)
    assert cold.air_kg_s / warm.air_kg_s == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("pressure_pa", [101_325.0, 80_000.0])
def test_a_fan_runs_where_its_curve_meets_the_bed(pressure_pa: float) -> None:
    """At the volume found, the fan's pressure in this air is what bed and ducts take."""
    air = AirIn(temperature_c=20, relative_humidity_frac=0.6, pressure_pa=pressure_pa)
    volume = air_at_fan(FAN, PELLET, 0.7, 1.3, air, leaves_c=60.0)
    lighter = pressure_pa / (287.05 * 333.15) / STANDARD_KG_M3
    bed = bed_pressure_pa(
        PELLET, depth_m=0.7, area_m2=1.3, volume_m3_s=volume * 313.15 / 333.15,
        temperature_c=40, pressure_pa=pressure_pa,
    )  # fmt: skip
    low, high = next((a, b) for a, b in itertools.pairwise(CURVE) if volume <= b[0])
    fan = low[1] + (volume - low[0]) / (high[0] - low[0]) * (high[1] - low[1])
    assert fan * lighter == pytest.approx(bed + 400 * lighter * (volume / 1.2) ** 2, rel=1e-6)


def test_a_deep_bed_gets_less_air_and_one_too_deep_none() -> None:
    """More bed takes more pressure; a bed that takes more than the fan has is said."""
    assert at_fan(AIR, depth_m=1.2).air_kg_s < at_fan(AIR, depth_m=0.6).air_kg_s
    with pytest.raises(NoAnswer, match="more pressure than the fan has"):
        at_fan(AIR, depth_m=3.0, area_m2=0.3)


def test_high_up_the_same_fan_moves_less_dry_air() -> None:
    """At 5,000 ft (84.3 kPa) the volume is much the same, and its mass smaller by the pressure."""
    low, high = (
        at_fan(AirIn(temperature_c=20, relative_humidity_frac=0.6, pressure_pa=pressure))
        for pressure in (101_325.0, 84_300.0)
    )
    assert 0.75 < high.air_kg_s / low.air_kg_s < 0.87


def test_a_fan_without_load_runs_at_the_end_of_its_curve() -> None:
    """A bed that takes next to nothing lets the fan run out at its greatest volume."""
    assert air_at_fan(Fan(curve=CURVE), PELLET, 0.05, 30.0, AIR, leaves_c=40.0) == 1.9


def test_ergun_s_two_terms() -> None:
    """Worked by hand: 4 x 10 mm pellets (ball of 5 mm by surface), void 0.48333, 0.5 m/s of air at
    20 C (viscosity 1.813e-5 Pa s by Sutherland's law, 1.2041 kg/m3): 150 mu v (1-e)^2/(e^3 d^2) is
    129 and 1.75 rho v^2 (1-e)/(e^3 d) is 482 Pa a metre.
    """
    found = bed_pressure_pa(PELLET, depth_m=1.0, area_m2=1.0, volume_m3_s=0.5, temperature_c=20.0)
    assert found == pytest.approx(129 + 482, rel=0.005)
