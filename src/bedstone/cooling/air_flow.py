"""Dry air through a cooler: from a volume measured at the fan, or where its curve meets the bed.

The fan stands behind the bed and moves a volume of warm, moist air. How warm it is the bed says,
and the bed needs the air: the two are reckoned together.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from scipy.optimize import brentq

from bedstone.cooling.cooler import air_leaving
from bedstone.cooling.model import DEFAULT_FACTORS, AirIn, Cooler, Factors, PelletKind, PelletsIn
from bedstone.errors import BadInput, NoAnswer
from bedstone.materials.moist_air import saturation_pressure_pa

__all__ = ["Fan", "air_at_fan", "bed_pressure_pa", "cooler_at_fan", "dry_air_kg_s"]

_KELVIN: Final = 273.15
_DRY_GAS_J_KG_K: Final = 287.05
STANDARD_KG_M3: Final = 1.2
"""Density of the air that makers draw fan curves for (common practice, no source)."""
_STEPS: Final = 8
_NEAR_DK: Final = 0.3
_FIRST_SHARE: Final = 0.7
_FIRST_HUMID_FRAC: Final = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Fan:
    """The fan behind a bed: the volume measured at it, or its curve and what ducts take.

    ``curve`` has volume (m3/s) and pressure (Pa) in air of 1.2 kg/m3, volumes rising, pressures
    falling; ``duct_pa`` is lost in ducts at ``duct_at_m3_s``.
    """

    volume_m3_s: float | None = None
    curve: tuple[tuple[float, float], ...] = ()
    duct_pa: float = 0.0
    duct_at_m3_s: float | None = None


def cooler_at_fan(
    fan: Fan,
    *,
    area_m2: float,
    depth_m: float,
    pellet: PelletKind,
    pellets: PelletsIn,
    air: AirIn,
    factors: Factors = DEFAULT_FACTORS,
    leaves_c: float | None = None,
) -> Cooler:
    """The cooler with the dry air that its fan draws through it.

    Parameters
    ----------
    fan : Fan
        Behind the bed.
    area_m2, depth_m : float
        Of the bed. [m2], [m]
    pellet, pellets, air, factors
        As :func:`bedstone.cooling.cooler.cool` takes them.
    leaves_c : float, optional
        Temperature of the air at the fan where it was read. [degrees C]

    Returns
    -------
    cooler : Cooler
        With its dry air.

    Raises
    ------
    BadInput
        If no air flows, or pellets, air and bed cannot be.
    NoAnswer
        If the bed takes more pressure than the fan has.
    """
    at_c, humid = leaves_c, _FIRST_HUMID_FRAC
    if at_c is None:
        at_c = air.temperature_c + _FIRST_SHARE * (pellets.temperature_c - air.temperature_c)
    for _ in range(_STEPS):
        volume = fan.volume_m3_s
        if volume is None:
            volume = air_at_fan(fan, pellet, depth_m, area_m2, air, leaves_c=at_c)
        cooler = Cooler(
            area_m2=area_m2,
            depth_m=depth_m,
            air_kg_s=dry_air_kg_s(
                volume, temperature_c=at_c, humidity_frac=humid, pressure_pa=air.pressure_pa
            ),
        )
        found_c, humid = air_leaving(cooler, pellet, pellets, air, factors)
        if leaves_c is not None or abs(found_c - at_c) < _NEAR_DK:
            break
        at_c = found_c
    return cooler


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
    pellet: PelletKind,
    *,
    depth_m: float,
    area_m2: float,
    volume_m3_s: float,
    temperature_c: float,
    pressure_pa: float = 101_325.0,
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
    pressure_pa : float
        Of the place. [Pa]

    Returns
    -------
    bed_pa : float
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
    density = pressure_pa / (_DRY_GAS_J_KG_K * warm_k)
    speed = volume_m3_s / area_m2
    slow = 150 * viscosity * speed * (1 - void) ** 2 / (void**3 * ball_m**2)
    quick = 1.75 * density * speed**2 * (1 - void) / (void**3 * ball_m)
    return float(depth_m * (slow + quick))


def air_at_fan(
    fan: Fan, pellet: PelletKind, depth_m: float, area_m2: float, air: AirIn, *, leaves_c: float
) -> float:
    """Volume at which a fan's curve meets what bed and ducts take.

    Warm or thin air weighs less: the fan gives so much less pressure at the same volume, and the
    ducts take so much less. In the bed air is between entering and leaving.

    Parameters
    ----------
    fan : Fan
        With its curve.
    pellet, depth_m, area_m2
        The bed. [m], [m2]
    air : AirIn
        As it enters.
    leaves_c : float
        Its temperature at the fan. [degrees C]

    Returns
    -------
    volume_m3_s : float
        Air through the fan, m3/s.

    Raises
    ------
    NoAnswer
        If the bed takes more than the fan gives even at its least volume.

    Sources
    -------
    [1] Fan laws: at one speed and volume, pressure goes with the density of the air.
    """
    curve = fan.curve
    lighter = air.pressure_pa / (_DRY_GAS_J_KG_K * (leaves_c + _KELVIN)) / STANDARD_KG_M3
    middle_c = (air.temperature_c + leaves_c) / 2
    in_bed = (middle_c + _KELVIN) / (leaves_c + _KELVIN)

    def takes(volume: float) -> float:
        bed = bed_pressure_pa(
            pellet, depth_m=depth_m, area_m2=area_m2, volume_m3_s=volume * in_bed,
            temperature_c=middle_c, pressure_pa=air.pressure_pa,
        )  # fmt: skip
        at = fan.duct_at_m3_s
        return bed + (fan.duct_pa * lighter * (volume / at) ** 2 if at else 0.0)

    def over(volume: float) -> float:
        return lighter * _curve_pa(curve, volume) - takes(volume)

    least, most = curve[0][0], curve[-1][0]
    if over(least) < 0:
        raise NoAnswer(
            "The bed takes more pressure than the fan has.",
            seen=f"{takes(least):.0f} Pa at {least:g} m3/s",
            allowed=f"{lighter * curve[0][1]:.0f} Pa",
            do="A shallower bed, or measure the air at the fan and give that.",
        )
    return most if over(most) >= 0 else float(brentq(over, least, most, xtol=1e-9))


def _curve_pa(curve: Sequence[tuple[float, float]], volume_m3_s: float) -> float:
    """Pressure of a fan at a volume by its curve."""
    for (low, high_pa), (high, low_pa) in pairwise(curve):
        if volume_m3_s <= high:
            return high_pa + (volume_m3_s - low) / (high - low) * (low_pa - high_pa)
    return -math.inf
