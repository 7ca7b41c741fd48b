"""Steam by its state, from the industrial formulation IAPWS-IF97.

The library that carries it takes over a second to load, so it is loaded at the first call.
"""

from dataclasses import dataclass

from bedstone.errors import BadInput
from bedstone.quantities.line_figures import temperature_words

__all__ = ["Steam", "steam_at_gauge", "water_j_kg"]

ATMOSPHERE_PA = 101_325.0
_HIGHEST_PA = 2_000_000.0
_LEAST_QUALITY = 0.5
_HOTTEST_C = 400.0
_SAME_C = 0.5  # as a thermometer reads it
_KELVIN = 273.15
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
    gauge_pa: float,
    quality_frac: float = 1.0,
    ambient_pa: float = ATMOSPHERE_PA,
    *,
    superheated_c: float | None = None,
) -> Steam:
    """Steam at a gauge pressure, saturated unless its temperature says that it is hotter.

    Parameters
    ----------
    gauge_pa : float
        Pressure over the air's, 0 to 2 MPa. [Pa]
    quality_frac : float
        Vapour in the whole, 0.5 to 1. [0 to 1]
    ambient_pa : float
        Pressure of the air. [Pa]
    superheated_c : float, optional
        Temperature of superheated steam, from saturation to 400: it is dry, whatever quality was
        given. [degrees C]

    Returns
    -------
    steam : Steam
        Its temperature, enthalpy over liquid water at 0 degrees C, and volume.

    Raises
    ------
    BadInput
        If pressure, quality or temperature is outside what a mill's header can be.

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
    saturated_c = _props("T", "P", pressure_pa, "Q", 1.0) - _KELVIN
    state: tuple[str, float] = ("Q", quality_frac)
    if superheated_c is not None and superheated_c > saturated_c + _SAME_C:
        state, quality_frac = ("T", superheated_c + _KELVIN), 1.0
    _refuse_cold(superheated_c, saturated_c)
    return Steam(
        gauge_pa=gauge_pa,
        pressure_pa=pressure_pa,
        quality_frac=quality_frac,
        temperature_c=max(saturated_c, superheated_c or saturated_c),
        enthalpy_j_kg=_props("H", "P", pressure_pa, *state),
        volume_m3_kg=1 / _props("D", "P", pressure_pa, *state),
        boils_c=_props("T", "P", ambient_pa, "Q", 0.0) - _KELVIN,
    )


def _refuse_cold(superheated_c: float | None, saturated_c: float) -> None:
    if superheated_c is None:
        return
    if not saturated_c - _SAME_C <= superheated_c <= _HOTTEST_C:
        raise BadInput(
            "Steam cannot be of that temperature at this pressure: colder it is water.",
            seen=_both(superheated_c),
            allowed=f"{_both(saturated_c)}, where it is saturated, to {_both(_HOTTEST_C)}",
            do="Give pressure and quality for saturated steam, and no temperature.",
        )


def _both(temperature_c: float) -> str:
    return f"{temperature_words(temperature_c, 'US')} ({temperature_words(temperature_c, 'SI')})"


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
    return _props("H", "T", liquid_c + _KELVIN, "P", 200_000.0) + _COLD_WATER_J_KG_K * (
        temperature_c - liquid_c
    )
