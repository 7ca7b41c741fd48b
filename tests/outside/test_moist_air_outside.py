"""Moist air and sorption against general-purpose libraries and the published grain standard."""

import math

import psychrolib
import pytest
from CoolProp.HumidAirProp import HAPropsSI

from bedstone.materials.moist_air import (
    air_temperature_c,
    dew_point_c,
    enthalpy_j_kg,
    humidity_at,
    pressure_at_altitude_pa,
    saturated_humidity,
    saturation_pressure_pa,
    saturation_slope_pa_dk,
    vapour_pressure_pa,
)
from bedstone.materials.sorption import (
    CHUNG_PFOST,
    HALSEY,
    HENDERSON,
    OSWIN,
    moisture_at_activity_db,
    sorption_extra_j_kg,
    water_activity,
)

psychrolib.SetUnitSystem(psychrolib.SI)


@pytest.mark.parametrize("temperature_c", [-40.0, -5.0, 0.005, 1.0, 25.0, 60.0, 95.0])
def test_pressure_at_saturation_is_that_of_ashrae(temperature_c: float) -> None:
    """psychrolib, which carries ASHRAE Fundamentals (2017) chapter 1, gives the same pressure."""
    assert saturation_pressure_pa(temperature_c) == pytest.approx(
        psychrolib.GetSatVapPres(temperature_c), rel=1e-12
    )


@pytest.mark.parametrize("temperature_c", [-20.0, 5.0, 40.0, 90.0])
def test_slope_at_saturation_is_its_derivative(temperature_c: float) -> None:
    """The slope is the central difference of psychrolib's pressures."""
    step = 1e-3
    difference = (
        psychrolib.GetSatVapPres(temperature_c + step)
        - psychrolib.GetSatVapPres(temperature_c - step)
    ) / (2 * step)
    pressure = saturation_pressure_pa(temperature_c)
    assert saturation_slope_pa_dk(temperature_c, pressure) == pytest.approx(difference, rel=1e-6)


def test_published_example_of_humidity() -> None:
    """25 C, 100 kPa, 75 %: vapour 2.38 kPa, humidity ratio 0.0152 (worked example of a course on
    heating, ventilating and air conditioning at Pennsylvania State University; ideal and real gas differ by 0.45 %).
    """
    vapour = 0.75 * saturation_pressure_pa(25.0)
    assert vapour == pytest.approx(2380, abs=5)
    assert humidity_at(vapour, 100_000.0) == pytest.approx(0.0152, abs=1e-4)
    assert vapour_pressure_pa(humidity_at(vapour, 1e5), 1e5) == pytest.approx(vapour, rel=1e-12)


@pytest.mark.parametrize(
    ("temperature_c", "relative"), [(5.0, 0.9), (20.0, 0.5), (35.0, 0.7), (60.0, 0.3)]
)
def test_real_gas_air_is_near(temperature_c: float, relative: float) -> None:
    """CoolProp's real moist air differs by less than 0.7 % in humidity and 1 % in enthalpy."""
    humidity = humidity_at(relative * saturation_pressure_pa(temperature_c), 101_325.0)
    real = HAPropsSI("W", "T", temperature_c + 273.15, "P", 101_325, "R", relative)
    assert humidity == pytest.approx(real, rel=7e-3)
    over_zero = HAPropsSI("H", "T", temperature_c + 273.15, "P", 101_325, "W", humidity)
    over_zero -= HAPropsSI("H", "T", 273.15, "P", 101_325, "W", 0.0)
    assert enthalpy_j_kg(temperature_c, humidity, 101_325.0) == pytest.approx(over_zero, rel=1e-2)


def test_the_handbook_s_worked_example_of_moist_air() -> None:
    """40 C dry bulb and 20 C wet bulb at 101.325 kPa: 6.5 g/kg, 56.7 kJ/kg, dew point 7 C by the chart, 14 %
    (ASHRAE Handbook - Fundamentals, chapter 1, example 1; from memory, and CoolProp gives the same
    state from the two bulbs).
    """
    bulbs = ("T", 313.15, "P", 101_325, "B", 293.15)
    humidity = HAPropsSI("W", *bulbs)
    assert humidity == pytest.approx(0.0065, abs=1e-4)
    relative = vapour_pressure_pa(humidity, 101_325.0) / saturation_pressure_pa(40.0)
    assert relative == pytest.approx(0.14, abs=0.005)
    assert relative == pytest.approx(HAPropsSI("R", *bulbs), rel=0.007)
    assert dew_point_c(humidity, 101_325.0) == pytest.approx(7.0, abs=0.6)
    assert dew_point_c(humidity, 101_325.0) == pytest.approx(
        HAPropsSI("D", *bulbs) - 273.15, abs=0.08
    )
    assert enthalpy_j_kg(40.0, humidity, 101_325.0) == pytest.approx(56_700, rel=0.01)


@pytest.mark.parametrize("temperature_c", [-15.0, 2.0, 21.0, 48.0])
def test_dew_point_is_that_of_ashrae(temperature_c: float) -> None:
    """Psychrolib's dew point of the same vapour agrees within its own tolerance of 0.001 K."""
    humidity = 0.6 * saturated_humidity(temperature_c, 101_325.0)
    theirs = psychrolib.GetTDewPointFromHumRatio(temperature_c, humidity, 101_325.0)
    assert dew_point_c(humidity, 101_325.0) == pytest.approx(theirs, abs=2e-3)


@pytest.mark.parametrize("water_db", [0.002, 0.02, 0.08, 0.3])
def test_temperature_of_air_undoes_its_enthalpy_with_and_without_fog(water_db: float) -> None:
    """Whatever the fog, the temperature found gives the enthalpy back."""
    for temperature_c in (-10.0, 3.0, 30.0, 70.0):
        enthalpy = enthalpy_j_kg(temperature_c, water_db, 95_000.0)
        found = air_temperature_c(enthalpy, water_db, 95_000.0)
        assert found == pytest.approx(temperature_c, abs=1e-7)


def test_standard_atmosphere() -> None:
    """Psychrolib's pressure at 500 m (ASHRAE Fundamentals (2017), chapter 1, equation 3)."""
    assert pressure_at_altitude_pa(500.0) == pytest.approx(
        psychrolib.GetStandardAtmPressure(500.0), rel=1e-12
    )
    with pytest.raises(ValueError, match="altitude"):
        pressure_at_altitude_pa(9000.0)


# per cent wet basis at 10, 25 and 40 C and 50, 65, 80 % relative humidity, reckoned once from the
# forms and coefficients of ASAE D245.5 (2001), table 2, by hand outside this program
TABLE = {
    "corn, Henderson": ((HENDERSON, 8.6541e-5, 1.8634, 49.810), (
        12.16, 14.75, 17.87, 10.94, 13.30, 16.18, 10.02, 12.21, 14.89,
    )),
    "corn, Chung-Pfost": ((CHUNG_PFOST, 312.3, 0.16958, 30.205), (
        12.47, 14.57, 17.31, 11.02, 13.18, 16.01, 9.88, 12.10, 15.00,
    )),
    "corn, Chung-Pfost of D245.6": ((CHUNG_PFOST, 374.34, 0.18662, 31.696), (
        12.07, 14.00, 16.53, 10.78, 12.76, 15.36, 9.76, 11.79, 14.45,
    )),
    "corn, Oswin": ((OSWIN, 15.303, -0.10184, 3.0358), (
        12.50, 14.90, 18.40, 11.31, 13.53, 16.76, 10.10, 12.10, 15.06,
    )),
    "wheat, Henderson": ((HENDERSON, 2.3007e-5, 2.2857, 55.815), (
        12.73, 14.89, 17.42, 11.77, 13.79, 16.16, 11.02, 12.93, 15.18,
    )),
    "durum, Oswin": ((OSWIN, 13.101, -0.052626, 2.9987), (
        11.17, 13.39, 16.64, 10.54, 12.65, 15.76, 9.91, 11.91, 14.86,
    )),
    "barley, Henderson": ((HENDERSON, 2.2919e-5, 2.0123, 195.267), (
        10.68, 12.81, 15.38, 10.35, 12.42, 14.93, 10.05, 12.07, 14.51,
    )),
    "oats, Chung-Pfost": ((CHUNG_PFOST, 442.85, 0.21228, 35.803), (
        11.04, 12.78, 15.08, 9.97, 11.75, 14.10, 9.13, 10.94, 13.33,
    )),
    "soybeans, Halsey": ((HALSEY, 2.87, -0.0054, 1.38), (
        9.12, 12.41, 18.58, 8.65, 11.78, 17.71, 8.19, 11.19, 16.87,
    )),
    "soybeans, Henderson": ((HENDERSON, 30.5327e-5, 1.2164, 134.136), (
        8.80, 11.95, 16.16, 8.16, 11.12, 15.09, 7.63, 10.41, 14.16,
    )),
}  # fmt: skip
COEFFICIENTS = [row for row, _ in TABLE.values()]


@pytest.mark.parametrize("grain", TABLE)
def test_moistures_of_the_grain_standard(grain: str) -> None:
    """Ten grains and forms agree with the table to 0.02 points."""
    coefficients, row = TABLE[grain]
    expected = iter(row)
    for temperature_c in (10.0, 25.0, 40.0):
        for relative in (0.50, 0.65, 0.80):
            dry = moisture_at_activity_db(relative, temperature_c, *coefficients)
            assert 100 * dry / (1 + dry) == pytest.approx(next(expected), abs=0.02)


def test_worked_examples_of_the_grain_standard() -> None:
    """60 F and 80 %: corn 16.1 % wet basis (ASAE D245.6 set), soybeans 18.3 % (D245.5 Halsey)."""
    temperature_c = (60 - 32) / 1.8
    corn = moisture_at_activity_db(0.8, temperature_c, CHUNG_PFOST, 374.34, 0.18662, 31.696)
    beans = moisture_at_activity_db(0.8, temperature_c, HALSEY, 2.87, -0.0054, 1.38)
    assert 100 * corn / (1 + corn) == pytest.approx(16.1, abs=0.05)
    assert 100 * beans / (1 + beans) == pytest.approx(18.3, abs=0.06)


@pytest.mark.parametrize("coefficients", COEFFICIENTS, ids=TABLE)
def test_slopes_of_activity_are_its_derivatives(
    coefficients: tuple[int, float, float, float],
) -> None:
    """Central differences give the slopes by moisture and by temperature."""
    for moisture, temperature_c in ((0.11, 15.0), (0.15, 60.0), (0.2, 85.0)):
        _, by_m, by_t = water_activity(moisture, temperature_c, *coefficients)
        up, down = (
            water_activity(moisture + step, temperature_c, *coefficients)[0]
            for step in (1e-6, -1e-6)
        )
        assert by_m == pytest.approx((up - down) / 2e-6, rel=1e-5)
        up, down = (
            water_activity(moisture, temperature_c + step, *coefficients)[0]
            for step in (1e-3, -1e-3)
        )
        assert by_t == pytest.approx((up - down) / 2e-3, rel=1e-5)
        back = moisture_at_activity_db(
            water_activity(moisture, temperature_c, *coefficients)[0], temperature_c, *coefficients
        )
        assert back == pytest.approx(moisture, rel=1e-9)


def test_heat_of_sorption_goes_through_the_two_measured_figures() -> None:
    """700 and 602 cal/g at 8 and 22 % dry basis, shelled corn at 86 to 122 F (Rodriguez-Arias,
    Cereal Chemistry 1963), with water taken as 575 cal/g at 40 C.
    """
    for moisture, measured in ((0.08, 700.0), (0.22, 602.0)):
        ours = 575.0 + sorption_extra_j_kg(moisture) / 4186.8
        assert ours == pytest.approx(measured, abs=2.0)
    assert math.isclose(sorption_extra_j_kg(0.0), 1.255e6)
