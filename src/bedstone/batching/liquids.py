"""Liquids: meters and their proofs, density and viscosity by temperature, tanks by their level."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from bedstone.errors import BadInput

__all__ = [
    "Ends",
    "Proof",
    "Tank",
    "catch_test",
    "density_kg_m3",
    "pumpable_from_c",
    "viscosity_pa_s",
]

Ends = Literal["flat", "elliptical", "hemispherical"]
_HEAD_DEPTH: Final[dict[str, float]] = {"flat": 0.0, "elliptical": 0.5, "hemispherical": 1.0}
"""Depth of an end over the radius; elliptical ends are 2:1, as usual."""
_FEWEST_CATCHES: Final = 2
_KELVIN: Final = 273.15
PUMPABLE_PA_S: Final = 5.0
"""Thickest that a gear pump of a mill draws well (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """What a catch test says of a meter."""

    factor: float  # true over shown: what the meter's reading is to be multiplied with
    factor_sd: float
    repeats_within_frac: float  # range of the factors over their mean
    passes: bool
    why: str


def catch_test(
    shown_kg: Sequence[float],
    weighed_kg: Sequence[float],
    *,
    tolerance_frac: float,
    scale_sd_kg: float = 0.0,
) -> Proof:
    """Proof of a meter: what it showed against what was caught and weighed.

    Parameters
    ----------
    shown_kg, weighed_kg : sequence of float
        Of each catch, two or more. [kg]
    tolerance_frac : float
        Largest error that passes, and largest range of repeats. [0 to 1]
    scale_sd_kg : float
        Standard deviation of the scale that weighed them. [kg]

    Returns
    -------
    proof : Proof
        Factor with its standard deviation, whether error and repeatability are within tolerance.

    Raises
    ------
    BadInput
        If catches are too few, do not pair up, or are not above nothing.

    Sources
    -------
    [1] Meter factor by definition; spread of the mean of repeats with the scale's own error.
    """
    count = len(shown_kg)
    if count < _FEWEST_CATCHES or count != len(weighed_kg) or min(*shown_kg, *weighed_kg) <= 0:
        raise BadInput(
            "A catch test cannot be right.",
            seen=f"{count} shown, {len(weighed_kg)} weighed",
            allowed=f"{_FEWEST_CATCHES} catches or more, each shown and weighed, above 0 kg",
        )
    factors = [true / shown for shown, true in zip(shown_kg, weighed_kg, strict=True)]
    mean = math.fsum(factors) / count
    spread = math.sqrt(math.fsum((one - mean) ** 2 for one in factors) / (count - 1))
    scale = scale_sd_kg / (math.fsum(weighed_kg) / count)
    within = (max(factors) - min(factors)) / mean
    why = ""
    if within > tolerance_frac:
        why = (
            f"repeats differ by {100 * within:.2f} %, more than {100 * tolerance_frac:.2f} %: find "
            "air, a leaking valve or a wrong catch before adjusting"
        )
    elif abs(1 / mean - 1) > tolerance_frac:
        why = (
            f"it shows {100 * (1 / mean - 1):+.2f} %, more than {100 * tolerance_frac:.2f} %: adjust "
            "and prove again"
        )
    return Proof(
        factor=mean,
        factor_sd=math.sqrt(spread**2 / count + scale**2 / count),
        repeats_within_frac=within,
        passes=not why,
        why=why,
    )


def density_kg_m3(
    at_kg_m3: float, at_c: float, temperature_c: float, expansion_1_k: float
) -> float:
    """Density of a liquid at another temperature.

    Parameters
    ----------
    at_kg_m3 : float
        Known density. [kg/m3]
    at_c, temperature_c : float
        Where it is known and where it is wanted. [degrees C]
    expansion_1_k : float
        Thermal expansion, shares a kelvin: fats and oils near 0.0007 (from memory).

    Returns
    -------
    density_kg_m3 : float
        At the wanted temperature. [kg/m3]

    Raises
    ------
    BadInput
        If density or expansion cannot be.

    Sources
    -------
    [1] Definition of the coefficient of expansion.
    """
    swell = 1 + expansion_1_k * (temperature_c - at_c)
    if at_kg_m3 <= 0 or not 0 <= expansion_1_k < 0.01 or swell <= 0:  # noqa: PLR2004 - no liquid's
        raise BadInput(
            "Density of a liquid cannot be right.",
            seen=f"{at_kg_m3:g} kg/m3, expansion {expansion_1_k:g}",
            allowed="above 0; expansion 0 to 0.01 for each kelvin",
        )
    return at_kg_m3 / swell


def viscosity_pa_s(
    temperature_c: float, known: tuple[tuple[float, float], tuple[float, float]]
) -> float:
    """Viscosity between and near two temperatures at which it is known.

    Parameters
    ----------
    temperature_c : float
        Wanted. [degrees C]
    known : two pairs of float
        Temperature in degrees C and viscosity in Pa s, from the supplier's sheet.

    Returns
    -------
    viscosity : float
        Pascal seconds.

    Raises
    ------
    BadInput
        If the two are the same, or viscosity does not fall with heat.

    Sources
    -------
    [1] Logarithm straight over the inverse of the absolute temperature (Andrade's equation).
    """
    (cool_c, thick), (warm_c, thin) = sorted(known)
    if cool_c == warm_c or thin <= 0 or thick <= thin:
        raise BadInput(
            "Viscosity falls with heat.",
            seen=f"{thick:g} Pa s at {cool_c:g}, {thin:g} Pa s at {warm_c:g} degrees C",
            allowed="two temperatures, the warmer one thinner, above 0",
        )
    a, b = 1 / (cool_c + _KELVIN), 1 / (warm_c + _KELVIN)
    share = (1 / (temperature_c + _KELVIN) - b) / (a - b)
    return float(thin * (thick / thin) ** share)


def pumpable_from_c(
    known: tuple[tuple[float, float], tuple[float, float]], thickest: float = PUMPABLE_PA_S
) -> float:
    """Temperature from which a liquid is thin enough to pump.

    Parameters
    ----------
    known : two pairs of float
        As :func:`viscosity_pa_s` takes them.
    thickest : float
        Thickest that the pump draws, pascal seconds.

    Returns
    -------
    temperature_c : float
        Warm the tank to this; molasses burns on hot coils and should not be held above about 43
        degrees C (common practice, no source). [degrees C]

    Raises
    ------
    BadInput
        If no temperature from -20 to 90 will do.

    Sources
    -------
    [1] :func:`viscosity_pa_s` solved for the temperature.
    """
    from scipy.optimize import brentq  # slow to import, needed here alone

    def over(temperature_c: float) -> float:
        return math.log(viscosity_pa_s(temperature_c, known) / thickest)

    if over(-20.0) <= 0:
        return -20.0
    if over(90.0) > 0:
        raise BadInput(
            "No temperature makes it pumpable.",
            seen=f"{viscosity_pa_s(90.0, known):.3g} Pa s at 90 degrees C",
            allowed=f"up to {thickest:g} Pa s",
            do="Thin it, or use a pump for thicker liquids.",
        )
    return float(brentq(over, -20.0, 90.0, xtol=1e-6))


@dataclass(frozen=True, slots=True, kw_only=True)
class Tank:
    """A lying cylinder with dished ends, or a standing one (``lying`` False) with a flat floor."""

    diameter_m: float
    length_m: float  # of the cylinder without its ends; height of a standing tank
    ends: Ends = "flat"
    lying: bool = True

    def __post_init__(self) -> None:
        """Refuse a tank that cannot be."""
        if self.diameter_m <= 0 or self.length_m <= 0 or (not self.lying and self.ends != "flat"):
            raise BadInput(
                "A tank has diameter and length; a standing one a flat floor.",
                seen=f"{self.diameter_m:g} x {self.length_m:g} m, {self.ends}",
                allowed="both above 0",
            )

    @property
    def full_m(self) -> float:
        """Height of liquid when it is full."""
        return self.diameter_m if self.lying else self.length_m

    def volume_m3(self, level_m: float) -> float:
        """Volume at a height of liquid.

        Parameters
        ----------
        level_m : float
            From the bottom. [m]

        Returns
        -------
        volume_m3 : float
            Volume. [m3]

        Raises
        ------
        BadInput
            If the level is outside the tank.

        Sources
        -------
        [1] Segment of a circle times the length, and the cap of an ellipsoid for both ends,
            pi a h^2 (1 - h / (3 R)) (solid geometry).
        """
        if not 0 <= level_m <= self.full_m * (1 + 1e-9):
            raise BadInput(
                "The level is outside the tank.",
                seen=f"{level_m:g} m",
                allowed=f"0 to {self.full_m:g} m",
                do="Is it measured from the bottom, or from the top?",
            )
        radius = self.diameter_m / 2
        if not self.lying:
            return math.pi * radius**2 * level_m
        h = min(level_m, self.diameter_m)
        segment = radius**2 * math.acos(max(-1.0, min(1.0, (radius - h) / radius))) - (
            radius - h
        ) * math.sqrt(max(2 * radius * h - h * h, 0.0))
        depth = _HEAD_DEPTH[self.ends] * radius
        return segment * self.length_m + math.pi * depth * h * h * (1 - h / (3 * radius))

    def volume_sd_m3(self, level_m: float, level_sd_m: float) -> float:
        """Standard deviation of the volume from that of the level.

        Parameters
        ----------
        level_m, level_sd_m : float
            Height of liquid and its standard deviation. [m]

        Returns
        -------
        volume_sd_m3 : float
            Standard deviation. [m3]

        Sources
        -------
        [1] First-order propagation, by a difference over the deviation itself.
        """
        low = max(level_m - level_sd_m, 0.0)
        high = min(level_m + level_sd_m, self.full_m)
        return (self.volume_m3(high) - self.volume_m3(low)) / 2
