"""What relative humidity a grain or feed holds over itself: sorption isotherms and their heat.

The forms are those of the published grain standard; the coefficients are the mill's, or a grain's
of the packaged table. Outside 0 to 50 degrees C, where they were fitted, they are an extrapolation,
and hot pellets lie outside: whoever uses them there says so.
"""

import math
from typing import Final

from bedstone.quantities.compiling import compiled_and_kept

__all__ = [
    "CHUNG_PFOST",
    "FORMS",
    "HALSEY",
    "HENDERSON",
    "LEAST_C",
    "OSWIN",
    "SORPTION_EXTRA_J_KG",
    "SORPTION_FADES_DB",
    "binding_j_kg",
    "moisture_at_activity_db",
    "sorption_extra_j_kg",
    "water_activity",
]

HENDERSON: Final = 0
CHUNG_PFOST: Final = 1
HALSEY: Final = 2
OSWIN: Final = 3
FORMS: Final = {
    "modified Henderson": HENDERSON,
    "Chung-Pfost": CHUNG_PFOST,
    "modified Halsey": HALSEY,
    "modified Oswin": OSWIN,
}
"""Forms by the names that the library's isotherms have for them."""

LEAST_C: Final = 0.0
"""Below it the forms are held at their value there: some have a pole at -30 degrees C."""
SORPTION_EXTRA_J_KG: Final = 1.255e6
SORPTION_FADES_DB: Final = 0.0914
"""Heat over plain vaporisation: 1.255 MJ/kg times exp(-moisture / 0.0914), the curve through the
two figures measured on shelled corn at 86 to 122 F, 700 cal/g at 8 % and 602 cal/g at 22 % (dry
basis; H. Rodriguez-Arias, Cereal Chemistry 1963), water itself taken as 575 cal/g at 40 C."""


@compiled_and_kept
def water_activity(
    moisture_db: float, temperature_c: float, form: int, a: float, b: float, c: float
) -> tuple[float, float, float]:
    """Water activity of a grain and how it changes with moisture and temperature.

    Parameters
    ----------
    moisture_db : float
        Water for dry matter. [kg/kg]
    temperature_c : float
        Temperature of the grain. [degrees C]
    form : int
        ``HENDERSON``, ``CHUNG_PFOST``, ``HALSEY`` or ``OSWIN``.
    a, b, c : float
        Coefficients for moisture in per cent dry basis and degrees C.

    Returns
    -------
    activity : float
        Relative humidity of air at rest over it. [0 to 1]
    by_moisture : float
        Its change for each kg/kg of moisture.
    by_temperature : float
        Its change for each kelvin.

    Sources
    -------
    [1] The modified Henderson, Chung-Pfost, Halsey and Oswin forms of ASAE D245.5.
    """
    m = max(100.0 * moisture_db, 1e-6)
    frozen = temperature_c < LEAST_C
    if frozen:
        temperature_c = LEAST_C
    if form == HENDERSON:
        power = m**b
        e = a * (temperature_c + c) * power
        dry = math.exp(-e)
        activity = 1.0 - dry
        by_m = dry * e * b / m
        by_t = dry * a * power
    elif form == CHUNG_PFOST:
        shrink = math.exp(-b * m)
        e = a / (temperature_c + c) * shrink
        activity = math.exp(-e)
        by_m = activity * e * b
        by_t = activity * e / (temperature_c + c)
    elif form == HALSEY:
        e = math.exp(a + b * temperature_c) / m**c
        activity = math.exp(-e)
        by_m = activity * e * c / m
        by_t = -activity * e * b
    else:
        base = a + b * temperature_c
        ratio = (base / m) ** c
        activity = 1.0 / (1.0 + ratio)
        by_m = activity * activity * ratio * c / m
        by_t = -activity * activity * ratio * c * b / base
    if frozen:
        by_t = 0.0
    return activity, 100.0 * by_m, by_t


@compiled_and_kept
def moisture_at_activity_db(
    activity: float, temperature_c: float, form: int, a: float, b: float, c: float
) -> float:
    """Moisture at which a grain is at rest with air: the inverse of :func:`water_activity`.

    Parameters
    ----------
    activity : float
        Relative humidity, above 0 and below 1. [0 to 1]
    temperature_c : float
        Temperature of both. [degrees C]
    form : int
        ``HENDERSON``, ``CHUNG_PFOST``, ``HALSEY`` or ``OSWIN``.
    a, b, c : float
        Coefficients for moisture in per cent dry basis and degrees C.

    Returns
    -------
    moisture_db : float
        Water for dry matter; 0 where the form would go below it. [kg/kg]

    Sources
    -------
    [1] The forms of ASAE D245.5 solved for moisture.
    """
    temperature_c = max(temperature_c, LEAST_C)
    m: float
    if form == HENDERSON:
        m = (-math.log(1.0 - activity) / (a * (temperature_c + c))) ** (1.0 / b)
    elif form == CHUNG_PFOST:
        m = -math.log(-math.log(activity) * (temperature_c + c) / a) / b
    elif form == HALSEY:
        m = (math.exp(a + b * temperature_c) / -math.log(activity)) ** (1.0 / c)
    else:
        m = (a + b * temperature_c) / (1.0 / activity - 1.0) ** (1.0 / c)
    return max(m, 0.0) / 100.0


@compiled_and_kept
def sorption_extra_j_kg(moisture_db: float) -> float:
    """Heat that bound water takes over plain vaporisation.

    Parameters
    ----------
    moisture_db : float
        Water for dry matter. [kg/kg]

    Returns
    -------
    extra_j_kg : float
        Joule for each kilogram of water.

    Sources
    -------
    [1] See ``SORPTION_EXTRA_J_KG``.
    """
    extra_j_kg: float = SORPTION_EXTRA_J_KG * math.exp(-moisture_db / SORPTION_FADES_DB)
    return extra_j_kg


@compiled_and_kept
def binding_j_kg(moisture_db: float) -> float:
    """Heat set free when dry matter takes up its water as liquid.

    Parameters
    ----------
    moisture_db : float
        Water for dry matter. [kg/kg]

    Returns
    -------
    binding_j_kg : float
        Joule for each kilogram of dry matter.

    Sources
    -------
    [1] The integral of :func:`sorption_extra_j_kg` from dry.
    """
    return (
        SORPTION_EXTRA_J_KG * SORPTION_FADES_DB * (1.0 - math.exp(-moisture_db / SORPTION_FADES_DB))
    )
