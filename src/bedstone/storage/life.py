"""How long shelled corn keeps, by its temperature and moisture."""

import math

from bedstone.errors import BadInput

__all__ = ["corn_keeps_s"]

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
            seen=f"{temperature_c:g} C, {100 * moisture_wb:g} % moisture",
            allowed="-10 to 35 C, 12 to 19 %",
        )
    fahrenheit = 1.8 * temperature_c + 32
    dry_basis = 100 * moisture_wb / (1 - moisture_wb)
    by_temperature = 32.3 * math.exp(-3.48 * fahrenheit / 60)
    by_moisture = 0.103 * (math.exp(455 / dry_basis**1.53) - 0.00845 * dry_basis + 1.558)
    return BASE_S * by_temperature * by_moisture
