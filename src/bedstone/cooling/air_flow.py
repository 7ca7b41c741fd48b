"""Dry air through a cooler: from a volume measured at the fan, or where its curve meets the bed."""

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Final

from scipy.optimize import brentq

from bedstone.cooling.model import AirIn, PelletKind
from bedstone.errors import BadInput, NoAnswer
from bedstone.materials.moist_air import saturation_pressure_pa

__all__ = ["air_at_fan", "bed_pressure_pa", "dry_air_kg_s"]

_KELVIN: Final = 273.15
_DRY_GAS_J_KG_K: Final = 287.05


def dry_air_kg_s(
    volume_m3_s: float, *, temperature_c: float, humidity_frac: float, pressure_pa: float
) -> float:
    """Dry air in a volume of moist air.

    Parameters
    ----------
    volume_m3_s : float
        Moist air where it was measured, m3/s.
    temperature_c : float
        Of the air there: behind the bed that is the air that leaves. [degrees C]
    humidity_frac : float
        Relative humidity there. [0 to 1]
    pressure_pa : float
        Absolute. [Pa]

    Returns
    -------
    air_kg_s : float
        Dry air. [kg/s]

    Raises
    ------
    BadInput
        If no air flows, or it flows backward.

    Sources
    -------
    [1] Dry air behaves as an ideal gas at its own partial pressure (ASHRAE Handbook Fundamentals,
        Psychrometrics).
    """
    if volume_m3_s <= 0:
        raise BadInput(
            "No air goes through the cooler.",
            seen=f"{volume_m3_s:g} m3/s",
            allowed="above 0; air that runs downward is another machine",
            do="Check fan, damper and the sign of the reading.",
        )
    vapour_pa = humidity_frac * saturation_pressure_pa(temperature_c)
    density = (pressure_pa - vapour_pa) / (_DRY_GAS_J_KG_K * (temperature_c + _KELVIN))
    return float(volume_m3_s * density)


def bed_pressure_pa(
    pellet: PelletKind, *, depth_m: float, area_m2: float, volume_m3_s: float, temperature_c: float
) -> float:
    """Pressure that a bed of pellets takes.

    Parameters
    ----------
    pellet : PelletKind
        Size and densities.
    depth_m, area_m2 : float
        Of the bed. [m], [m2]
    volume_m3_s : float
        Air through it, m3/s.
    temperature_c : float
        Of that air. [degrees C]

    Returns
    -------
    pressure_pa : float
        Lost in the bed. [Pa]

    Sources
    -------
    [1] S. Ergun (1952), Fluid flow through packed columns: 150 mu v (1-e)^2/(e^3 d^2) +
        1.75 rho v^2 (1-e)/(e^3 d), d six volumes over the surface (from memory). Fines between
        pellets raise it; nothing here knows of fines.
    """
    diameter_m, length_m = pellet.diameter_mm / 1000, pellet.length_mm / 1000
    ball_m = 6 / (4 / diameter_m + 2 / length_m)
    void = 1 - pellet.bulk_density_kg_m3 / pellet.unit_density_kg_m3
    warm_k = temperature_c + _KELVIN
    viscosity = 1.458e-6 * warm_k**1.5 / (warm_k + 110.4)
    density = 101_325 / (_DRY_GAS_J_KG_K * warm_k)
    speed = volume_m3_s / area_m2
    slow = 150 * viscosity * speed * (1 - void) ** 2 / (void**3 * ball_m**2)
    quick = 1.75 * density * speed**2 * (1 - void) / (void**3 * ball_m)
    return float(depth_m * (slow + quick))


def air_at_fan(
    curve: Sequence[tuple[float, float]],
    pellet: PelletKind,
    depth_m: float,
    area_m2: float,
    air: AirIn,
    *,
    duct_pa: float = 0.0,
    duct_at_m3_s: float | None = None,
) -> float:
    """Volume at which a fan's curve meets what bed and ducts take.

    Parameters
    ----------
    curve : sequence of tuple of float
        Volume (m3/s) and pressure (Pa), volumes rising, pressures falling.
    pellet, depth_m, area_m2
        The bed. [m], [m2]
    air : AirIn
        As it enters; the bed's resistance is reckoned 20 K warmer.
    duct_pa, duct_at_m3_s : float
        Lost in ducts at a volume; it rises with the volume's square. [Pa]

    Returns
    -------
    volume_m3_s : float
        Air through the fan, m3/s.

    Raises
    ------
    NoAnswer
        If the bed takes more than the fan gives even at its least volume.
    """

    def gives(volume: float) -> float:
        for (low, high_pa), (high, low_pa) in pairwise(curve):
            if volume <= high:
                return high_pa + (volume - low) / (high - low) * (low_pa - high_pa)
        return -math.inf

    def over(volume: float) -> float:
        takes = bed_pressure_pa(
            pellet,
            depth_m=depth_m,
            area_m2=area_m2,
            volume_m3_s=volume,
            temperature_c=air.temperature_c + 20,
        )
        ducts = duct_pa * (volume / duct_at_m3_s) ** 2 if duct_at_m3_s else 0.0
        return gives(volume) - takes - ducts

    least, most = curve[0][0], curve[-1][0]
    if over(least) < 0:
        raise NoAnswer(
            "The bed takes more pressure than the fan has.",
            seen=f"{curve[0][1] - over(least):.0f} Pa at {least:g} m3/s",
            allowed=f"{curve[0][1]:.0f} Pa",
            do="A shallower bed, or measure the air at the fan and give that.",
        )
    return most if over(most) >= 0 else float(brentq(over, least, most, xtol=1e-9))
