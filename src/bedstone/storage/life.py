"""How grain keeps, by its temperature and moisture: the air between its kernels, and days of corn."""

import math
from dataclasses import dataclass

from bedstone.errors import BadInput
from bedstone.materials.composition import Isotherm
from bedstone.materials.sorption import FORMS, moisture_at_activity_db, water_activity

__all__ = ["PER_CENT_DRY", "SAFE_ACTIVITY", "AirBetween", "air_between", "corn_keeps_s"]

SAFE_ACTIVITY = 0.65
"""Humidity of the air between kernels up to which grain is stored safely; the first moulds grow from
about 0.61 to 0.70, as sources differ (extension sheets on grain storage; University of Guelph)."""
PER_CENT_DRY = "%, dry basis"
"""What moisture an isotherm's coefficients are for; others are not reckoned with here."""
FITTED_C = (0.0, 50.0)
WETTEST_WB = 0.5

BASE_S = 230 * 3600.0
MOISTURES_WB = (0.12, 0.19)
TEMPERATURES_C = (-10.0, 35.0)


def corn_keeps_s(*, temperature_c: float, moisture_wb: float) -> float:
    """Time in which shelled corn loses half a per cent of its dry matter by breathing and mould,
    about one market grade; damaged or dusty corn keeps for less.

    Parameters
    ----------
    temperature_c : float
        Of the grain, -10 to 35. [C]
    moisture_wb : float
        Of the grain, 0.12 to 0.19. [kg/kg]

    Returns
    -------
    keeps_s : float
        From harvest, at these conditions throughout. [s]

    Raises
    ------
    BadInput
        If the grain is warmer, colder, wetter or drier than was measured.

    Sources
    -------
    [1] Steele, Saul and Hukill 1969 and Thompson 1972: 230 h at 60 F and 25 %, times
        32.3 exp(-3.48 F/60) and 0.103 (exp(455/db^1.53) - 0.00845 db + 1.558); all from memory.
    """
    if not (
        TEMPERATURES_C[0] <= temperature_c <= TEMPERATURES_C[1]
        and MOISTURES_WB[0] <= moisture_wb <= MOISTURES_WB[1]
    ):
        raise BadInput(
            "How long corn keeps like that was not measured.",
            seen=f"{temperature_c:g} °C, {100 * moisture_wb:g} % moisture",
            allowed="-10 to 35 °C, 12 to 19 %",
        )
    fahrenheit = 1.8 * temperature_c + 32
    dry_basis = 100 * moisture_wb / (1 - moisture_wb)
    by_temperature = 32.3 * math.exp(-3.48 * fahrenheit / 60)
    by_moisture = 0.103 * (math.exp(455 / dry_basis**1.53) - 0.00845 * dry_basis + 1.558)
    return BASE_S * by_temperature * by_moisture


@dataclass(frozen=True, slots=True, kw_only=True)
class AirBetween:
    """Humidity of the air at rest between kernels, and the moisture at which it is just safe."""

    temperature_c: float
    activity: float
    safe_moisture_wb: float


def air_between(*, temperature_c: float, moisture_wb: float, isotherm: Isotherm) -> AirBetween:
    """How dry the air between the kernels of a grain is, and how wet the grain may be.

    Parameters
    ----------
    temperature_c : float
        Of the grain, 0 to 50. [C]
    moisture_wb : float
        Of the grain, above 0 and below 0.5. [kg/kg]
    isotherm : Isotherm
        Of the grain.

    Returns
    -------
    air : AirBetween
        Humidity 0 to 1, and the moisture at which it is ``SAFE_ACTIVITY``. [kg/kg, wet basis]

    Raises
    ------
    BadInput
        If grain or temperature are outside what was fitted.

    Sources
    -------
    [1] Forms and coefficients of ASAE D245.5 and .6.
    """
    if not (FITTED_C[0] <= temperature_c <= FITTED_C[1] and 0 < moisture_wb < WETTEST_WB):
        raise BadInput(
            "How grain like that holds its water was not measured.",
            seen=f"{temperature_c:g} °C, {100 * moisture_wb:g} % moisture",
            allowed="0 to 50 °C, above 0 and below 50 %",
        )
    form = FORMS[isotherm.form]
    numbers = (isotherm.a, isotherm.b, isotherm.c)
    activity, _, _ = water_activity(moisture_wb / (1 - moisture_wb), temperature_c, form, *numbers)
    safe_db = moisture_at_activity_db(SAFE_ACTIVITY, temperature_c, form, *numbers)
    return AirBetween(
        temperature_c=temperature_c,
        activity=activity,
        safe_moisture_wb=safe_db / (1 + safe_db),
    )
