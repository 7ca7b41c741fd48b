"""What the mash of a product is made of, as the heat balance takes it: from formula and analyses."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from bedstone.desk.formula_levels import table_levels
from bedstone.mill.model import FormulaLine, Ingredient, Mill
from bedstone.pelleting.specific_heat import TYPICAL_FEED, Proximate

__all__ = ["MashMade", "formula_share", "liquid_made_of", "mash_made_of"]

SOUGHT = {"protein": "crude protein", "fat": "crude fat", "fibre": "crude fibre", "ash": "ash"}
ALL = "all of it"
NAMED_FROM_FRAC = 0.005  # of the formula; less moves no figure


@dataclass(frozen=True, slots=True, kw_only=True)
class MashMade:
    """Composition of a mash, and of what the usual feed's stands in for want of an analysis."""

    made_of: Proximate
    usual: tuple[str, ...]  # such as "ash of 34 % of the formula"


class _Tables:
    """The tables by who they are, not by what they hold: a key that is quick to compare."""

    def __init__(self, mill: Mill) -> None:
        self.mill = mill

    def __hash__(self) -> int:
        return id(self.mill)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Tables) and self.mill is other.mill


def mash_made_of(mill: Mill, product: str, *, without: str = "") -> MashMade:
    """Composition of a product's mash by its running formula.

    Parameters
    ----------
    mill : Mill
        The tables.
    product : str
        Whose mash.
    without : str
        An ingredient that is put in later, at the conditioner.

    Returns
    -------
    mash : MashMade
        Protein, fat, fibre and ash as composition and library have them of each ingredient, water
        as the ingredients table has it, the rest carbohydrate. Of minerals all that nothing is
        said of is ash.
    """
    return _mash_made_of(_Tables(mill), product, without)


@lru_cache(maxsize=128)
def _mash_made_of(tables: _Tables, product: str, without: str) -> MashMade:
    mill = tables.mill
    parts: dict[str, float] = {}
    _leaves(mill, product, 1.0, parts, deep=0)
    parts.pop(without, None)
    whole = math.fsum(parts.values())
    if whole <= 0:
        return MashMade(made_of=TYPICAL_FEED, usual=(ALL,))
    made = {code: _ingredient(mill, code) for code in parts}
    shares = [
        math.fsum(parts[code] / whole * made[code][0].shares[number] for code in parts)
        for number in range(len(TYPICAL_FEED.shares))
    ]
    lacking = {
        name: math.fsum(parts[code] / whole for code in parts if name in made[code][1])
        for name in SOUGHT.values()
    }
    return MashMade(
        made_of=_proximate(shares),
        usual=tuple(
            f"{name} of {100 * share:.0f} % of the formula"
            for name, share in lacking.items()
            if share >= NAMED_FROM_FRAC
        ),
    )


def formula_share(mill: Mill, product: str, ingredient: str) -> float:
    """Part of a product's running formula that an ingredient is, also inside other products."""
    parts: dict[str, float] = {}
    _leaves(mill, product, 1.0, parts, deep=0)
    return parts.get(ingredient, 0.0)


def liquid_made_of(mill: Mill, ingredient: str) -> Proximate:
    """Composition of a liquid of the ingredients table; what is not known of it counts as sugars."""
    row = mill.ingredient_by_code[ingredient]
    known = _known(mill, ingredient)
    return _filled(1 - row.moisture_wb, known, {})


def _leaves(mill: Mill, product: str, share: float, parts: dict[str, float], *, deep: int) -> None:
    """Parts of ingredients in a feed, those of products in it by their running formula."""
    formula = mill.running_formula(product)
    lines: tuple[FormulaLine, ...] = (
        () if formula is None else tuple(mill.lines_of(product, formula.version))
    )
    for line in lines:
        if line.ingredient in mill.ingredient_by_code:
            found = parts.get(line.ingredient, 0.0)
            parts[line.ingredient] = found + share * line.parts_frac
        elif deep <= len(mill.products):
            _leaves(mill, line.ingredient, share * line.parts_frac, parts, deep=deep + 1)


def _ingredient(mill: Mill, code: str) -> tuple[Proximate, tuple[str, ...]]:
    """An ingredient's composition, and what of it is the usual feed's."""
    row: Ingredient = mill.ingredient_by_code[code]
    dry, known = 1 - row.moisture_wb, _known(mill, code)
    lacking = [name for name in SOUGHT if name not in known]
    if row.ingredient_class == "mineral":
        left = max(dry - math.fsum(known.values()), 0.0)
        return _filled(dry, {**known, "ash": known.get("ash", 0.0) + left}, {}), ()
    scale = dry / (1 - TYPICAL_FEED.water)
    usual = {name: scale * getattr(TYPICAL_FEED, name) for name in lacking}
    return _filled(dry, known, usual), tuple(SOUGHT[name] for name in lacking)


def _known(mill: Mill, code: str) -> dict[str, float]:
    levels = table_levels(mill, code)
    found = {name: levels[nutrient] for name, nutrient in SOUGHT.items() if nutrient in levels}
    return {
        name: row.mean / 100
        for name, row in found.items()
        if row.unit == "%" and row.mean is not None
    }


def _filled(dry: float, known: Mapping[str, float], usual: Mapping[str, float]) -> Proximate:
    """Dry matter given to what is known first, then to what is usual; the rest is carbohydrate."""
    left, shares = dry, dict.fromkeys(SOUGHT, 0.0)
    for given in (known, usual):
        for name, share in given.items():
            shares[name] = min(share, left)
            left -= shares[name]
    return Proximate(water=1 - dry, carbohydrate=max(left, 0.0), **shares)


def _proximate(shares: list[float]) -> Proximate:
    water, protein, fat, carbohydrate, fibre, ash = (one / math.fsum(shares) for one in shares)
    return Proximate(
        water=water, protein=protein, fat=fat, carbohydrate=carbohydrate, fibre=fibre, ash=ash
    )
