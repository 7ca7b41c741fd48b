"""How long a batch is mixed: dry first, longer once liquids are in."""

from collections.abc import Sequence
from dataclasses import dataclass

from bedstone.mill.model import Mill

__all__ = ["MixTimes", "mix_times"]


@dataclass(frozen=True, slots=True, kw_only=True)
class MixTimes:
    """Mixing time of a batch."""

    dry_mix_s: float
    wet_mix_s: float  # nothing when no liquid goes in


def mix_times(mill: Mill, mixer: str, *, material: str, ingredients: Sequence[str]) -> MixTimes:
    """Mixing times of a batch: the product's own where it has any, else the mixer's.

    A flush has the mixer's times. Without a liquid among the ingredients nothing is mixed wet.

    Parameters
    ----------
    mill : Mill
        The mill.
    mixer : str
        Code of the mixer.
    material : str
        Product, or the flush material.
    ingredients : sequence of str
        What goes in.

    Returns
    -------
    times : MixTimes
        Dry and wet mixing time.
    """
    machine = mill.machine_by_code[mixer]
    product = mill.product_by_code.get(material)
    dry_mix_s, wet_mix_s = machine.dry_mix_s, machine.wet_mix_s
    if product is not None:
        dry_mix_s = dry_mix_s if product.dry_mix_s is None else product.dry_mix_s
        wet_mix_s = wet_mix_s if product.wet_mix_s is None else product.wet_mix_s
    rows = (mill.ingredient_by_code.get(code) for code in ingredients)
    has_liquid = any(row is not None and row.ingredient_class == "liquid" for row in rows)
    return MixTimes(dry_mix_s=dry_mix_s, wet_mix_s=wet_mix_s if has_liquid else 0.0)
