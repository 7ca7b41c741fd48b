"""Particle size of ground grain by a stack of sieves."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from bedstone.errors import BadInput

__all__ = ["STANDARD_STACK_UM", "ParticleSize", "particle_size"]

STANDARD_STACK_UM: Final = (4760, 3360, 2380, 1680, 1190, 840, 590, 420, 297, 210, 149, 105, 74, 53)
"""Openings of the usual stack, pan below: a course note's list."""
PAN_UM: Final = 37.0
"""Size put on what is in the pan of the usual stack: the next opening below (common practice)."""
_MOST_LOST: Final = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class ParticleSize:
    """Geometric mean and spread, and what follows from them for a lognormal grind."""

    mean_um: float
    spread: float  # geometric standard deviation, a ratio
    half_width_um: float
    surface_cm2_g: float
    particles_g: float
    lost_frac: float  # sample mass that the sieves do not account for
    pan_um: float  # the next opening below the stack, down to which the pan is taken to reach


def particle_size(
    openings_um: Sequence[float],
    retained_g: Sequence[float],
    *,
    sample_g: float | None = None,
    density_kg_m3: float = 1320.0,
) -> ParticleSize:
    """Geometric mean diameter and geometric standard deviation by mass.

    Parameters
    ----------
    openings_um : sequence of float
        From the coarsest sieve down, without the pan. [um]
    retained_g : sequence of float
        On each sieve, and last in the pan, grams.
    sample_g : float, optional
        Put on the stack, grams; more than 5 % lost is refused.
    density_kg_m3 : float
        Of a particle; corn from memory. [kg/m3]

    Returns
    -------
    size : ParticleSize
        Mean, spread, half width, surface and number of particles.

    Raises
    ------
    BadInput
        If the stack is out of order, masses are below nothing, or too much was lost.

    Sources
    -------
    [1] The forms of ASABE S319 (from memory): a fraction has the geometric mean of the openings it
        lies between. Surface 6 / density exp(s^2 / 2 - ln mean) and number
        exp(4.5 s^2 - 3 ln mean) / density by mass, s natural log: moments of a lognormal of cubes.
    """
    sizes = [*openings_um]
    lost = _checked(sizes, retained_g, sample_g)
    whole = sum(retained_g)
    ratio = sizes[0] / sizes[1] if len(sizes) > 1 else math.sqrt(2)
    pan_um = min(PAN_UM, sizes[-1] / math.sqrt(2))
    edges = [sizes[0] * ratio, *sizes, pan_um]
    middles = [math.sqrt(a * b) for a, b in pairwise(edges)]
    mean = sum(m * math.log(d) for m, d in zip(retained_g, middles, strict=True)) / whole
    square = sum(m * (math.log(d) - mean) ** 2 for m, d in zip(retained_g, middles, strict=True))
    log_sd = math.sqrt(square / whole)
    mean_um, spread = math.exp(mean), math.exp(log_sd)
    density_g_cm3 = density_kg_m3 / 1000
    log_cm = math.log(mean_um * 1e-4)
    return ParticleSize(
        mean_um=mean_um,
        spread=spread,
        half_width_um=mean_um * (spread - 1 / spread) / 2,
        surface_cm2_g=6 / density_g_cm3 * math.exp(0.5 * log_sd**2 - log_cm),
        particles_g=math.exp(4.5 * log_sd**2 - 3 * log_cm) / density_g_cm3,
        lost_frac=lost,
        pan_um=pan_um,
    )


def _checked(sizes: Sequence[float], retained_g: Sequence[float], sample_g: float | None) -> float:
    """Share of the sample that the sieves do not account for, refusing what cannot be."""
    whole = sum(retained_g)
    if len(retained_g) != len(sizes) + 1 or not sizes or min(sizes) <= 0:
        raise BadInput(
            "The stack of sieves is not whole.",
            seen=f"{len(sizes)} openings, {len(retained_g)} masses",
            allowed="openings above 0, a mass for each, and the pan's last",
        )
    turned = [(above, below) for above, below in pairwise(sizes) if above <= below]
    if turned:
        raise BadInput(
            "The stack of sieves is not in order.",
            seen=f"{turned[0][0]:g} µm above {turned[0][1]:g} µm",
            allowed="openings from coarse to fine, each once",
            do="put them in the order of the stack, the coarsest first",
        )
    if min(retained_g) < 0 or whole <= 0:
        raise BadInput(
            "Masses on sieves cannot be right.",
            seen=", ".join(f"{mass:g}" for mass in retained_g),
            allowed="0 g or more, and something in all",
        )
    lost = 0.0 if sample_g is None else (sample_g - whole) / sample_g
    if abs(lost) > _MOST_LOST:
        raise BadInput(
            "The sieves do not account for the sample.",
            seen=f"{whole:g} g of {sample_g:g} g",
            allowed=f"within {100 * _MOST_LOST:g} %",
            do="Brush the sieves out and weigh again.",
        )
    return lost
