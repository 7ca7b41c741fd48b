"""Steam by its state, from the industrial formulation IAPWS-IF97.

The library that carries it takes over a second to load, so it is loaded at the first call.
"""

from dataclasses import dataclass

from bedstone.errors import BadInput

__all__ = ["Steam", "steam_at_gauge", "water_j_kg"]

ATMOSPHERE_PA = 101_325.0
_HIGHEST_PA = 2_000_000.0
_LEAST_QUALITY = 0.5
_COLDEST_C = 0.01
_COLD_WATER_J_KG_K = 4217.0  # at 0 degrees C, IAPWS-IF97


@dataclass(frozen=True, slots=True, kw_only=True)
class Steam:
    """Steam as it enters the conditioner; ``quality_frac`` is vapour in the whole, 1 is dry."""

    gauge_pa: float
    pressure_pa: float
    quality_frac: float
    temperature_c: float
    enthalpy_j_kg: float
    volume_m3_kg: float
    boils_c: float  # where water boils in the air outside: hotter, steam does not condense


def _props(what: str, name1: str, value1: float, name2: str, value2: float) -> float:
    from CoolProp.CoolProp import PropsSI

    return float(PropsSI(what, name1, value1, name2, value2, "IF97::Water"))


def steam_at_gauge(
    gauge_pa: float, quality_frac: float = 1.0, ambient_pa: float = ATMOSPHERE_PA
) -> Steam:
    """Saturated steam at a gauge pressure.

    Parameters
    ----------
    gauge_pa : float
        Pressure over the air's, 0 to 2 MPa. [Pa]
    quality_frac : float
        Vapour in the whole, 0.5 to 1. [0 to 1]
    ambient_pa : float
        Pressure of the air. [Pa]

    Returns
    -------
    steam : Steam
        Its temperature, enthalpy over liquid water at 0 degrees C, and volume.

    Raises
    ------
    BadInput
        If pressure or quality is outside what a mill's header can be.

    Sources
    -------
    [1] IAPWS-IF97, regions 1, 2 and 4, as the general-purpose library CoolProp carries it.
    """
    if not 0 <= gauge_pa <= _HIGHEST_PA:
        raise BadInput(
            "Steam pressure cannot be right.",
            seen=f"{gauge_pa / 1000:g} kPa gauge",
            allowed=f"0 to {_HIGHEST_PA / 1000:g} kPa gauge",
            do="Read the gauge at the harness, after the pressure reducing valve.",
        )
    if not _LEAST_QUALITY <= quality_frac <= 1:
        raise BadInput(
            "Steam quality cannot be right.",
            seen=f"{quality_frac:g}",
            allowed="0.5 (half water) to 1 (dry)",
            do="Check separator and trap.",
        )
    pressure_pa = gauge_pa + ambient_pa
    return Steam(
        gauge_pa=gauge_pa,
        pressure_pa=pressure_pa,
        quality_frac=quality_frac,
        temperature_c=_props("T", "P", pressure_pa, "Q", 1.0) - 273.15,
        enthalpy_j_kg=_props("H", "P", pressure_pa, "Q", quality_frac),
        volume_m3_kg=1 / _props("D", "P", pressure_pa, "Q", quality_frac),
        boils_c=_props("T", "P", ambient_pa, "Q", 0.0) - 273.15,
    )


def water_j_kg(temperature_c: float) -> float:
    """Enthalpy of liquid water over 0 degrees C at mill pressures.

    Parameters
    ----------
    temperature_c : float
        -20 to 110; below 0, where it would be ice, that of water that has not frozen. [degrees C]

    Returns
    -------
    enthalpy_j_kg : float
        Joule for each kilogram.

    Sources
    -------
    [1] IAPWS-IF97, region 1, at 2 bar (pressure hardly matters).
    """
    liquid_c = max(temperature_c, _COLDEST_C)
    return _props("H", "T", liquid_c + 273.15, "P", 200_000.0) + _COLD_WATER_J_KG_K * (
        temperature_c - liquid_c
    )
