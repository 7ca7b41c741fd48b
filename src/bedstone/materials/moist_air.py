"""Moist air at the pressure of the place, compiled for the beds that call it by the million.

The forms and coefficients are those of ASHRAE Handbook - Fundamentals (2017), chapter 1
(psychrometrics), which general-purpose libraries carry as well; the tests hold the two together.
Fog is air whose water is more than it can hold as vapour: the rest floats as droplets.
"""

import math
from typing import Final

from bedstone.quantities.compiling import compiled_and_kept

__all__ = [
    "DRY_AIR_J_KG_K",
    "MOLAR_RATIO",
    "STEAM_J_KG_K",
    "VAPOUR_GAS_J_KG_K",
    "VAPOUR_J_KG",
    "WATER_J_KG_K",
    "air_temperature_c",
    "dew_point_c",
    "enthalpy_j_kg",
    "humidity_at",
    "pressure_at_altitude_pa",
    "saturated_humidity",
    "saturation_pressure_pa",
    "saturation_slope_pa_dk",
    "vapour_pressure_pa",
]

MOLAR_RATIO: Final = 0.621945
"""Water to dry air, kg/kmol each: ASHRAE Handbook - Fundamentals (2017), chapter 1, equation 20."""
DRY_AIR_J_KG_K: Final = 1006.0
STEAM_J_KG_K: Final = 1860.0
WATER_J_KG_K: Final = 4186.0
VAPOUR_J_KG: Final = 2_501_000.0
"""Enthalpy of vapour at 0 degrees C over liquid water: the same chapter, equation 30."""
VAPOUR_GAS_J_KG_K: Final = 461.526
"""Gas constant of water: 8.314462 / 0.01801528."""

_KELVIN: Final = 273.15
_TRIPLE_C: Final = 0.01
_LOWEST_M: Final = -500
_HIGHEST_M: Final = 5000


@compiled_and_kept
def saturation_pressure_pa(temperature_c: float) -> float:
    """Pressure of vapour over water, over ice below the triple point.

    Parameters
    ----------
    temperature_c : float
        From -100 to 200. [degrees C]

    Returns
    -------
    pressure_pa : float
        Pressure at saturation. [Pa]

    Sources
    -------
    [1] ASHRAE Handbook - Fundamentals (2017), chapter 1, equations 5 and 6.
    """
    t = temperature_c + _KELVIN
    if temperature_c <= _TRIPLE_C:
        return math.exp(
            -5.6745359e3 / t
            + 6.3925247
            - 9.677843e-3 * t
            + 6.2215701e-7 * t * t
            + 2.0747825e-9 * t**3
            - 9.484024e-13 * t**4
            + 4.1635019 * math.log(t)
        )
    return math.exp(
        -5.8002206e3 / t
        + 1.3914993
        - 4.8640239e-2 * t
        + 4.1764768e-5 * t * t
        - 1.4452093e-8 * t**3
        + 6.5459673 * math.log(t)
    )


@compiled_and_kept
def saturation_slope_pa_dk(temperature_c: float, pressure_pa: float) -> float:
    """How fast the pressure at saturation rises with temperature.

    Parameters
    ----------
    temperature_c : float
        From -100 to 200. [degrees C]
    pressure_pa : float
        The pressure at saturation at that temperature. [Pa]

    Returns
    -------
    slope_pa_dk : float
        Pascal for each kelvin.

    Sources
    -------
    [1] The derivative of the equations named at :func:`saturation_pressure_pa`.
    """
    t = temperature_c + _KELVIN
    if temperature_c <= _TRIPLE_C:
        rate = (
            5.6745359e3 / (t * t)
            - 9.677843e-3
            + 2 * 6.2215701e-7 * t
            + 3 * 2.0747825e-9 * t * t
            - 4 * 9.484024e-13 * t**3
            + 4.1635019 / t
        )
    else:
        rate = (
            5.8002206e3 / (t * t)
            - 4.8640239e-2
            + 2 * 4.1764768e-5 * t
            - 3 * 1.4452093e-8 * t * t
            + 6.5459673 / t
        )
    return pressure_pa * rate


@compiled_and_kept
def humidity_at(vapour_pa: float, pressure_pa: float) -> float:
    """Vapour for each kilogram of dry air at a vapour pressure.

    Parameters
    ----------
    vapour_pa : float
        Pressure of the vapour, below the whole pressure. [Pa]
    pressure_pa : float
        Whole pressure. [Pa]

    Returns
    -------
    humidity_db : float
        Vapour for dry air. [kg/kg]

    Sources
    -------
    [1] ASHRAE Handbook - Fundamentals (2017), chapter 1, equation 20.
    """
    return MOLAR_RATIO * vapour_pa / (pressure_pa - vapour_pa)


@compiled_and_kept
def vapour_pressure_pa(humidity_db: float, pressure_pa: float) -> float:
    """Pressure of vapour in air of a humidity: the inverse of :func:`humidity_at`.

    Parameters
    ----------
    humidity_db : float
        Vapour for dry air. [kg/kg]
    pressure_pa : float
        Whole pressure. [Pa]

    Returns
    -------
    vapour_pa : float
        Pressure of the vapour. [Pa]

    Sources
    -------
    [1] ASHRAE Handbook - Fundamentals (2017), chapter 1, equation 20 solved for the vapour.
    """
    return pressure_pa * humidity_db / (MOLAR_RATIO + humidity_db)


@compiled_and_kept
def saturated_humidity(temperature_c: float, pressure_pa: float) -> float:
    """The most vapour that air can hold; without bound where water boils.

    Parameters
    ----------
    temperature_c : float
        Temperature of the air. [degrees C]
    pressure_pa : float
        Whole pressure. [Pa]

    Returns
    -------
    humidity_db : float
        Vapour for dry air. [kg/kg]

    Sources
    -------
    [1] ASHRAE Handbook - Fundamentals (2017), chapter 1, equation 22.
    """
    vapour_pa = saturation_pressure_pa(temperature_c)
    if vapour_pa >= pressure_pa:
        return math.inf
    return MOLAR_RATIO * vapour_pa / (pressure_pa - vapour_pa)


@compiled_and_kept
def enthalpy_j_kg(temperature_c: float, water_db: float, pressure_pa: float) -> float:
    """Enthalpy of air with its water, what it cannot hold as vapour floating as droplets.

    Parameters
    ----------
    temperature_c : float
        Temperature of air and droplets. [degrees C]
    water_db : float
        Vapour and droplets for dry air. [kg/kg]
    pressure_pa : float
        Whole pressure. [Pa]

    Returns
    -------
    enthalpy_j_kg : float
        Over dry air and liquid water at 0 degrees C, joule for each kilogram of dry air.

    Sources
    -------
    [1] ASHRAE Handbook - Fundamentals (2017), chapter 1, equation 30; droplets are water at
        the temperature of the air.
    """
    vapour_db = min(water_db, saturated_humidity(temperature_c, pressure_pa))
    return (
        DRY_AIR_J_KG_K * temperature_c
        + vapour_db * (VAPOUR_J_KG + STEAM_J_KG_K * temperature_c)
        + (water_db - vapour_db) * WATER_J_KG_K * temperature_c
    )


@compiled_and_kept
def air_temperature_c(enthalpy_j_kg: float, water_db: float, pressure_pa: float) -> float:
    """Temperature of air of an enthalpy and a water content: the inverse of :func:`enthalpy_j_kg`.

    Parameters
    ----------
    enthalpy_j_kg : float
        Joule for each kilogram of dry air.
    water_db : float
        Vapour and droplets for dry air. [kg/kg]
    pressure_pa : float
        Whole pressure. [Pa]

    Returns
    -------
    temperature_c : float
        Temperature of air, vapour and droplets together. [degrees C]

    Sources
    -------
    [1] Solves :func:`enthalpy_j_kg`; Newton steps where there is fog.
    """
    clear_c = (enthalpy_j_kg - water_db * VAPOUR_J_KG) / (DRY_AIR_J_KG_K + water_db * STEAM_J_KG_K)
    if water_db <= saturated_humidity(clear_c, pressure_pa):
        return clear_c
    # With fog, vapour that condenses warms the air: it is warmer than it would be clear, and
    # cooler than the temperature at which all its water would be vapour.
    high_c = dew_point_c(water_db, pressure_pa)
    low_c = min(clear_c, high_c)
    temperature_c = 0.5 * (low_c + high_c)
    for _ in range(60):
        vapour_pa = saturation_pressure_pa(temperature_c)
        vapour_db = MOLAR_RATIO * vapour_pa / (pressure_pa - vapour_pa)
        slope_pa = saturation_slope_pa_dk(temperature_c, vapour_pa)
        slope_db = MOLAR_RATIO * pressure_pa * slope_pa / (pressure_pa - vapour_pa) ** 2
        latent_j_kg = VAPOUR_J_KG + (STEAM_J_KG_K - WATER_J_KG_K) * temperature_c
        over = (
            DRY_AIR_J_KG_K * temperature_c
            + vapour_db * latent_j_kg
            + water_db * WATER_J_KG_K * temperature_c
            - enthalpy_j_kg
        )
        if over > 0:
            high_c = temperature_c
        else:
            low_c = temperature_c
        slope = (
            DRY_AIR_J_KG_K
            + slope_db * latent_j_kg
            + vapour_db * (STEAM_J_KG_K - WATER_J_KG_K)
            + water_db * WATER_J_KG_K
        )
        step_c = over / slope
        temperature_c -= step_c
        if abs(step_c) < 1e-12 * (1.0 + abs(temperature_c)):
            break
        if not low_c < temperature_c < high_c:
            temperature_c = 0.5 * (low_c + high_c)
    return temperature_c


@compiled_and_kept
def dew_point_c(humidity_db: float, pressure_pa: float) -> float:
    """The temperature at which air of a humidity is saturated.

    Parameters
    ----------
    humidity_db : float
        Vapour for dry air, above nothing. [kg/kg]
    pressure_pa : float
        Whole pressure. [Pa]

    Returns
    -------
    temperature_c : float
        Dew point, frost point below 0. [degrees C]

    Sources
    -------
    [1] Solves :func:`saturation_pressure_pa` by Newton steps in the logarithm.
    """
    wanted_pa = max(vapour_pressure_pa(humidity_db, pressure_pa), 1e-3)
    # Starting value: Magnus form; the steps remove its error.
    log_ratio = math.log(wanted_pa / 611.2)
    temperature_c = 243.12 * log_ratio / (17.62 - log_ratio)
    temperature_c = min(max(temperature_c, -100.0), 199.0)
    for _ in range(40):
        seen_pa = saturation_pressure_pa(temperature_c)
        rate = saturation_slope_pa_dk(temperature_c, seen_pa) / seen_pa
        step_c = math.log(seen_pa / wanted_pa) / rate
        temperature_c -= step_c
        if abs(step_c) < 1e-12 * (1.0 + abs(temperature_c)):
            break
    return temperature_c


def pressure_at_altitude_pa(altitude_m: float) -> float:
    """Pressure of the standard atmosphere at a height above the sea.

    Parameters
    ----------
    altitude_m : float
        Height above the sea, -500 to 5000. [m]

    Returns
    -------
    pressure_pa : float
        Pressure of the air. [Pa]

    Raises
    ------
    ValueError
        If no mill stands that low or that high.

    Sources
    -------
    [1] ASHRAE Handbook - Fundamentals (2017), chapter 1, equation 3.
    """
    if not _LOWEST_M <= altitude_m <= _HIGHEST_M:
        raise ValueError(f"altitude {altitude_m!r} m; allowed: {_LOWEST_M} to {_HIGHEST_M}")
    return float(101_325.0 * (1.0 - 2.25577e-5 * altitude_m) ** 5.2559)
