"""Orders cut into batches.

The rule: as few batches as the mixer's largest mass and volume allow (the volume of the feed or of
what is weighed in for it, whichever is more), all of the same mass, which
is a whole number of the coarsest division of the mixer's scales. Together they make at least what
is wanted (whole bags, what is lost as dust on the way added), so the surplus is less than one
division a batch. Where that mass lies below the mixer's smallest fill, each batch is the smallest
fill, and a finding names the surplus.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from bedstone.mill.model import Machine, Mill, Product

__all__ = [
    "Cut",
    "bags_of",
    "cut_into_batches",
    "division_mg",
    "filling_kg_m3",
    "largest_steps",
]

MG_KG = 1_000_000
DIVISION_WITHOUT_SCALE_KG = 1.0  # a mixer that nothing weighs for: common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """An order as batches of one mass."""

    batches: int
    batch_mg: int
    surplus_mg: int  # made beyond what is wanted, because of smallest fill or division
    is_smallest_fill: bool  # the mixer's smallest fill decided the mass

    @property
    def mass_mg(self) -> int:
        """Mass of all batches [mg]."""
        return self.batches * self.batch_mg


def division_mg(mill: Mill, mixer: str) -> Fraction:
    """The coarsest division of the scales that weigh for a mixer, exact [mg]."""
    divisions = [
        Fraction(repr(row.division_kg)) for row in mill.scales if row.machine == mixer
    ] or [Fraction(DIVISION_WITHOUT_SCALE_KG)]
    return max(divisions) * MG_KG


def largest_steps(mill: Mill, machine: Machine, *, density_kg_m3: float) -> int:
    """The most whole divisions that a mixer takes of a material, by mass and by volume."""
    mass_kg = machine.mass_max_kg or 0.0
    if machine.volume_max_m3 is not None:
        mass_kg = min(mass_kg, machine.volume_max_m3 * density_kg_m3)
    return math.floor(Fraction(repr(mass_kg)) * MG_KG / division_mg(mill, machine.machine))


def filling_kg_m3(mill: Mill, product: Product, parts: Mapping[str, float]) -> float:
    """Mass of a feed that a mixer's volume takes: the lighter of the feed and what goes into it.

    Parameters
    ----------
    mill : Mill
        The mill.
    product : Product
        What is made.
    parts : mapping of str to float
        Share of each ingredient. [0 to 1]

    Returns
    -------
    density_kg_m3 : float
        The product's bulk density, or the sum of the bulk volumes of its ingredients where that
        is more: volumes add up, and what seeps between particles makes them less. [kg/m3]
    """
    sheets = {row.ingredient: row.density_kg_m3 for row in mill.liquids}
    volume_m3 = mass_kg = 0.0
    for code, share in parts.items():
        row = mill.ingredient_by_code.get(code)
        own_kg_m3 = row.density_kg_m3 if row else mill.product(code).density_kg_m3
        volume_m3 += share / sheets.get(code, own_kg_m3)
        mass_kg += share
    return min(product.density_kg_m3, mass_kg / volume_m3) if volume_m3 else product.density_kg_m3


def bags_of(product: Product, mass_mg: int) -> int:
    """Whole bags that hold at least a mass; none for a product without a bag."""
    if product.pack_kg is None:
        return 0
    return math.ceil(Fraction(mass_mg) / (Fraction(repr(product.pack_kg)) * MG_KG))


def cut_into_batches(
    mill: Mill,
    product: Product,
    machine: Machine,
    *,
    wanted_mg: int,
    loss_frac: float,
    parts: Mapping[str, float],
) -> Cut | None:
    """Batches that make at least what is wanted once dust is lost; None if the mixer cannot.

    Parameters
    ----------
    mill : Mill
        The mill.
    product : Product
        What is made.
    machine : Machine
        The mixer.
    wanted_mg : int
        What must be there after the last machine. [mg]
    loss_frac : float
        What is lost on the way after the mixer. [0 to 1]
    parts : mapping of str to float
        Share of each ingredient, for the volume that they take up. [0 to 1]

    Returns
    -------
    cut : Cut or None
        None where not even one division fits, or the smallest fill is above the largest batch.

    Sources
    -------
    The rule is the mill's own, see the module; common practice, no source.
    """
    step = division_mg(mill, machine.machine)
    most = largest_steps(mill, machine, density_kg_m3=filling_kg_m3(mill, product, parts))
    least = math.ceil(Fraction(repr(machine.mass_min_kg or 0.0)) * MG_KG / step)
    if most < 1 or least > most or wanted_mg <= 0:
        return None
    needed = math.ceil(Fraction(wanted_mg) / (1 - Fraction(repr(loss_frac))) / step)
    batches = math.ceil(Fraction(needed, most))
    steps = math.ceil(Fraction(needed, batches))
    is_smallest_fill = steps < least
    steps = max(steps, least)
    return Cut(
        batches=batches,
        batch_mg=math.ceil(steps * step),
        surplus_mg=round((batches * steps - needed) * step),
        is_smallest_fill=is_smallest_fill,
    )
