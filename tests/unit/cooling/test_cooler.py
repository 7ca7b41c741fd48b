"""What a cooler refuses, and which way its answers must move."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from bedstone.cooling.calibrate import CoolerReading, calibrate
from bedstone.cooling.cooler import CELLS, CLOSE_C, CLOSE_DB, cool
from bedstone.cooling.limits import HourAir, HourLimit, Limits, ToCool, hourly_limits
from bedstone.cooling.model import AirIn, Cooler, Factors, PelletKind, PelletsIn
from bedstone.cooling.rates import greatest_shares
from bedstone.errors import BadInput
from fakes.cooler_cases import random_bed

COOLER = Cooler(area_m2=2.0, depth_m=0.6, air_kg_s=2.6)
PELLET = PelletKind(diameter_mm=4.8, length_mm=12)
PELLETS = PelletsIn(rate_kg_s=3.0, temperature_c=82.0, moisture_wb=0.155)
AIR = AirIn(temperature_c=22.0, relative_humidity_frac=0.6)
START = dt.datetime(2026, 7, 1, tzinfo=dt.UTC)


def test_humidity_over_saturation_is_refused() -> None:
    """Relative humidity of 110 % is no weather."""
    with pytest.raises(BadInput, match="Relative humidity"):
        AirIn(temperature_c=20.0, relative_humidity_frac=1.10)


@pytest.mark.parametrize("air_kg_s", [0.0, -2.6, float("nan")])
def test_a_cooler_without_air_is_refused(air_kg_s: float) -> None:
    """No air, or air the wrong way round, is said."""
    with pytest.raises(BadInput, match="Air through the cooler"):
        Cooler(area_m2=2.0, depth_m=0.6, air_kg_s=air_kg_s)


def test_pellets_colder_than_the_air_are_refused() -> None:
    """There is nothing to cool."""
    with pytest.raises(BadInput, match="colder than the air"):
        cool(COOLER, PELLET, replace(PELLETS, temperature_c=18.0), AIR)


def test_moisture_below_nothing_is_refused() -> None:
    """A moisture of -1 % is a slip."""
    with pytest.raises(BadInput, match="Moisture of hot pellets"):
        replace(PELLETS, moisture_wb=-0.01)


def test_pellets_that_would_boil_are_refused() -> None:
    """At 2,000 m water boils near 93 degrees C: hotter pellets were measured wrong."""
    with pytest.raises(BadInput, match="boil"):
        cool(
            COOLER, PELLET, replace(PELLETS, temperature_c=97.0), replace(AIR, pressure_pa=79_500.0)
        )


def test_more_air_for_each_pellet_cools_more_and_dries_less() -> None:
    """More air or fewer pellets cool so quickly that less heat is left to drive water out (the
    trade's warning of cooling too fast); a deeper bed cools more at the same air.
    """
    usual, _ = cool(COOLER, PELLET, PELLETS, AIR)
    more_air, _ = cool(replace(COOLER, air_kg_s=3.6), PELLET, PELLETS, AIR)
    slower, _ = cool(COOLER, PELLET, replace(PELLETS, rate_kg_s=2.0), AIR)
    deeper, _ = cool(replace(COOLER, depth_m=0.9), PELLET, PELLETS, AIR)

    assert more_air.pellet_c < usual.pellet_c
    assert slower.pellet_c < usual.pellet_c
    assert deeper.pellet_c < usual.pellet_c
    assert more_air.moisture_wb > usual.moisture_wb
    assert slower.moisture_wb > usual.moisture_wb


def test_thin_pellets_cool_better_than_thick_ones() -> None:
    """At the same mass, 9 mm leave warmer and wetter than 3 mm."""
    thin, _ = cool(COOLER, replace(PELLET, diameter_mm=3.0), PELLETS, AIR)
    thick, _ = cool(COOLER, replace(PELLET, diameter_mm=9.0), PELLETS, AIR)

    assert thin.pellet_c < thick.pellet_c
    assert thin.moisture_wb < thick.moisture_wb


def test_little_air_over_hot_moist_pellets_makes_fog_not_110_percent() -> None:
    """Where the balance would put more vapour into the air than it holds, the rest is fog."""
    starved, profile = cool(
        replace(COOLER, air_kg_s=0.12),
        PELLET,
        replace(PELLETS, moisture_wb=0.18),
        replace(AIR, temperature_c=-15.0),
    )
    assert starved.air_humidity_frac <= 1.0
    assert max(profile.air_humidity_frac) <= 1.0 + 1e-12
    assert starved.wet_duct


def limits_of(
    hours: list[HourAir], product: ToCool | None = None, limits: Limits | None = None
) -> list[HourLimit]:
    """Limits of one product."""
    return list(hourly_limits([product or LINE], hours, limits, with_interval=False))


LINE = ToCool(
    product="P", line="PL1", cooler=COOLER, pellet=PELLET, pellets=replace(PELLETS, rate_kg_s=4.5)
)


def hours_of(*temperatures_c: float) -> list[HourAir]:
    """One hour a temperature, at 60 %."""
    return [
        HourAir(starts_at=START + dt.timedelta(hours=i), air=replace(AIR, temperature_c=value))
        for i, value in enumerate(temperatures_c)
    ]


def test_the_greatest_rate_just_keeps_the_limit() -> None:
    """At the rate found the stricter limit holds, and 1 % above it does not."""
    limits = Limits(above_ambient_dk=4.0, water_activity_frac=0.75)
    for hour, found in zip(
        hours_of(5.0, 20.0, 31.0), limits_of(hours_of(5.0, 20.0, 31.0), limits=limits), strict=True
    ):
        assert 0 < found.rate_kg_s < 4.5
        assert found.because
        at, _ = cool(COOLER, PELLET, replace(PELLETS, rate_kg_s=found.rate_kg_s), hour.air)
        over, _ = cool(COOLER, PELLET, replace(PELLETS, rate_kg_s=1.01 * found.rate_kg_s), hour.air)
        assert at.above_ambient_dk <= 4.001
        assert at.water_activity_frac <= 0.7501
        assert over.above_ambient_dk > 4.0 or over.water_activity_frac > 0.75


def test_neighbouring_hours_do_not_change_an_answer() -> None:
    """The warm start is only a start: an hour alone gives the same rate."""
    together = limits_of(hours_of(5.0, 20.0, 31.0, 12.0))
    for index, temperature_c in enumerate((5.0, 20.0, 31.0, 12.0)):
        alone = limits_of(hours_of(temperature_c))[0]
        assert alone.rate_kg_s == pytest.approx(together[index].rate_kg_s, rel=1e-3)


def test_an_uncalibrated_limit_carries_its_wide_interval() -> None:
    """Low, middle and high of the rate are in order, and the interval is not a point."""
    found = hourly_limits([LINE], hours_of(20.0), Limits(water_activity_frac=0.75))[0]
    assert found.rate_lo_kg_s <= found.rate_kg_s <= found.rate_hi_kg_s
    assert found.rate_lo_kg_s < found.rate_hi_kg_s


@pytest.mark.parametrize(
    ("number", "activity", "above_dk"), [(279, 0.473, 10.54), (1124, 0.531, 6.39)]
)
def test_a_rate_between_too_damp_and_too_quick_is_found(
    number: int, activity: float, above_dk: float
) -> None:
    """Slow pellets come near to damp air, quick ones stay wet: the rate between is found, none
    that is quicker on a grid keeps the limits.
    """
    row = np.array(random_bed(5, number), dtype=np.float64)
    numbers = (0, CELLS, CLOSE_C, CLOSE_DB, above_dk, activity)
    (share,), _ = greatest_shares(row[None], *numbers, 0.2)

    def keeps(at: float) -> bool:
        slow = row.copy()
        slow[0] *= at
        slow[6] /= at
        (found,), _ = greatest_shares(slow[None], *numbers, 0.999)
        return bool(found == 1.0)

    assert 0.3 < share < 1.0
    assert keeps(share)
    assert not keeps(0.2)
    assert not any(keeps(at) for at in np.linspace(share + 0.002, 1.0, 30))


def test_limits_without_room_are_refused() -> None:
    """Zero degrees above ambient can never be reached."""
    with pytest.raises(BadInput, match="leave room"):
        limits_of(hours_of(20.0), limits=Limits(above_ambient_dk=0.0))


def logged(count: int, *, seed: int, read: str) -> list[CoolerReading]:
    """Runs of a cooler with factors 0.7 and 1.4: ``t`` outlet, ``m`` moisture, ``a`` leaving air."""
    draw = np.random.default_rng(seed)
    made = []
    for _ in range(count):
        cooler = replace(COOLER, air_kg_s=float(draw.uniform(2, 3)))
        pellets = PelletsIn(
            rate_kg_s=float(draw.uniform(2, 4)),
            temperature_c=float(draw.uniform(70, 88)),
            moisture_wb=float(draw.uniform(0.14, 0.17)),
        )
        air = AirIn(
            temperature_c=float(draw.uniform(0, 30)),
            relative_humidity_frac=float(draw.uniform(0.3, 0.95)),
        )
        true, _ = cool(cooler, PELLET, pellets, air, Factors(heat=0.7, moisture=1.4))
        made.append(
            CoolerReading(
                cooler=cooler, pellet=PELLET, pellets=pellets, air=air,
                outlet_c=true.pellet_c + 0.5 * float(draw.normal()),
                moisture_wb=true.moisture_wb + 0.002 * float(draw.normal()) if "m" in read else None,
                exhaust_c=true.air_c + float(draw.normal()) if "a" in read else None,
            )
        )  # fmt: skip
    return made


def test_calibration_finds_the_true_factors_within_its_interval() -> None:
    """24 runs with the leaving air: 90 % intervals hold the truth in at least 7 of 9 trials, and
    are no wider than a fifth either way.
    """
    held = 0
    for seed in range(9):
        found = calibrate(logged(24, seed=seed, read="tma")).factors
        held += found.heat_lo <= 0.7 <= found.heat_hi and (
            found.moisture_lo <= 1.4 <= found.moisture_hi
        )
        assert found.heat_hi / found.heat_lo < 1.44
        assert found.moisture_hi / found.moisture_lo < 1.44
    assert held >= 6  # both at once: 0.81 of 9 are expected


def test_without_air_readings_the_heat_factor_is_held_and_keeps_its_range() -> None:
    """Pellet readings alone do not tell the factors apart; the answer says so."""
    found = calibrate(logged(24, seed=3, read="tm"))
    assert found.factors.heat == 1.0
    assert (found.factors.heat_lo, found.factors.heat_hi) == (0.5, 2.0)
    assert found.factors.moisture_lo < 1.4 < found.factors.moisture_hi
    assert "never read" in found.factors.source


def test_the_reading_worth_logging_next_is_the_leaving_air() -> None:
    """With only pellet readings so far, logging the air narrows the heat factor most."""
    found = calibrate(logged(12, seed=5, read="t"))
    spreads = [one.heat_spread for one in found.next_readings]
    assert spreads == sorted(spreads, reverse=True)
    assert "air that leaves" in found.next_readings[-1].what


def test_one_reading_far_off_is_left_out_and_named() -> None:
    """A thermometer read in the wrong place does not bend the fit."""
    readings = logged(24, seed=7, read="tma")
    readings[10] = replace(readings[10], outlet_c=readings[10].outlet_c + 25)
    found = calibrate(readings)
    assert found.left_out == (10,)
    assert found.factors.heat_lo < 0.75
    assert found.factors.heat_hi > 0.65


def test_too_few_readings_are_refused() -> None:
    """Four runs are not enough, and the message says what to log."""
    with pytest.raises(BadInput, match="Too few readings"):
        calibrate(logged(4, seed=1, read="tma"))
