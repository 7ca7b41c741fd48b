"""What a tag guarantees of an additive, and what the formula that runs puts in of it."""

import datetime as dt
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from bedstone.desk.formula_levels import Composed, Known, known_levels
from bedstone.desk.formula_prices import price_of
from bedstone.desk.record import Record
from bedstone.formulation.levels import unit_factor
from bedstone.formulation.model import NutrientLevel
from bedstone.mill.model import Guarantee, HeatSensitive, Mill

__all__ = ["OnTag", "Overage", "overage_of", "shares_inside", "tag_of"]

TELLS_FRAC = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class OnTag:
    """The least that a tag guarantees of an additive, and what is put in before any heat.

    Levels are of the feed as fed, in ``unit``. ``share_frac`` is the part of the feed that the
    ingredient is.
    """

    nutrient: str
    unit: str
    minimum: float
    put_in: float
    put_in_cv_frac: float
    potency: float  # of the ingredient, in unit as well
    potency_source: str
    share_frac: float
    share_max_frac: float | None  # that the inclusions table allows; None where it says nothing
    price_usd_t: float
    also_in: tuple[str, ...]  # other ingredients of the formula that hold it: not counted

    @property
    def needs_frac(self) -> float:
        """Part of what is put in that must be left."""
        return self.minimum / self.put_in


@dataclass(frozen=True, slots=True, kw_only=True)
class Overage:
    """What it takes that a tag surely holds after the heat: by the low end of what is left."""

    share_needed_frac: float  # part of the feed that the ingredient must be
    more_frac: float  # part of the feed, beside what the formula has
    more_usd_t: float
    beyond_allowed: bool  # more than the inclusions table allows


def overage_of(tag: OnTag, left_lo: float) -> Overage | None:
    """What it takes that a tag surely holds; None where no amount would.

    Parameters
    ----------
    tag : OnTag
        The tag and what is put in.
    left_lo : float
        Low end of what heat leaves, of what is put in. [0 to 1]

    Returns
    -------
    overage : Overage or None
        Nothing more where the formula has enough.
    """
    if left_lo <= 0 or tag.minimum >= tag.potency * left_lo:
        return None
    needed = tag.minimum / (tag.potency * left_lo)
    more = max(0.0, needed - tag.share_frac)
    most = tag.share_max_frac
    return Overage(
        share_needed_frac=needed,
        more_frac=more,
        more_usd_t=more * tag.price_usd_t,
        beyond_allowed=more > 0 and most is not None and needed > most * (1 + TELLS_FRAC),
    )


def shares_inside(mill: Mill, product: str) -> dict[str, float]:
    """Part of each ingredient in a product by the formulas that run, through premixes of the mill's
    own; empty where none runs.
    """
    found: dict[str, float] = {}

    def add(material: str, part_frac: float, above: tuple[str, ...]) -> None:
        formula = mill.running_formula(material)
        if formula is None or material in above:
            found[material] = found.get(material, 0.0) + part_frac
            return
        for line in mill.lines_of(material, formula.version):
            add(line.ingredient, part_frac * line.parts_frac, (*above, material))

    if mill.running_formula(product) is not None:
        add(product, 1.0, ())
    return found


def tag_of(
    record: Record,
    mill: Mill,
    product: str,
    row: HeatSensitive,
    *,
    shares: Mapping[str, float],
    on: dt.date,
) -> tuple[OnTag | None, str]:
    """What a product's tag says of an additive, or None and why it says nothing that can be held
    against what is left.

    Parameters
    ----------
    record, mill : Record, Mill
        Assays and tables.
    product : str
        Product.
    row : HeatSensitive
        The additive.
    shares : mapping of str to float
        As :func:`shares_inside`.
    on : date
        Day of the price.
    """
    tag = next((one for one in mill.guarantees if _is_of(one, product, row)), None)
    if tag is None or not tag.minimum:
        return None, _no_tag(mill, product, row)
    known = known_levels(record, sorted(shares), composed=Composed.ASSAYS)
    level = known[row.ingredient].levels.get(row.nutrient)
    factor = None if level is None else unit_factor(level.unit, tag.unit)
    if level is None or factor is None or level.mean <= 0:
        held = "not known" if level is None else f"{level.mean:g} {level.unit}"
        return None, (
            f"The tag guarantees {row.nutrient} in {tag.unit}, but what "
            f"{mill.name_of(row.ingredient)} holds of it is {held}: mend composition. Judged by the "
            "share that the table wants."
        )
    share, cv = shares[row.ingredient], _cv_frac(level)
    found = OnTag(
        nutrient=row.nutrient,
        unit=tag.unit,
        minimum=tag.minimum,
        put_in=share * level.mean * factor,
        put_in_cv_frac=cv or 0.0,
        potency=level.mean * factor,
        potency_source=level.source,
        share_frac=share,
        share_max_frac=_share_max(mill, product, row.ingredient),
        price_usd_t=price_of(mill, row.ingredient, on=on).price_usd_t,
        also_in=_also(known, row, shares),
    )
    if cv is not None:
        return found, ""
    return found, (
        f"How far {row.nutrient} of {mill.name_of(row.ingredient)} spreads between lots is not "
        "known and is counted as nothing: the interval is of the heat alone."
    )


def _is_of(one: Guarantee, product: str, row: HeatSensitive) -> bool:
    return bool(row.nutrient) and (one.product, one.nutrient) == (product, row.nutrient)


def _no_tag(mill: Mill, product: str, row: HeatSensitive) -> str:
    if not row.nutrient:
        return (
            "The table of heat-sensitive additives does not say which guarantee it is: judged by "
            "the share that the table wants."
        )
    return (
        f"The tag of {mill.name_of(product)} guarantees no least amount of {row.nutrient}: "
        "judged by the share that the table wants."
    )


def _cv_frac(level: NutrientLevel) -> float | None:
    """Spread of the next lot as a part of the mean; None where it is not known."""
    if level.sd is None:
        return None
    return level.sd * math.sqrt(1 + 1 / max(level.assays, 1)) / level.mean


def _share_max(mill: Mill, product: str, ingredient: str) -> float | None:
    rows = (
        one for one in mill.inclusions if (one.product, one.ingredient) == (product, ingredient)
    )
    return next((one.max_frac for one in rows), None)


def _also(known: Mapping[str, Known], row: HeatSensitive, shares: Iterable[str]) -> tuple[str, ...]:
    """Other ingredients of the formula that hold the same."""
    found = []
    for code in shares:
        level = known[code].levels.get(row.nutrient)
        if code != row.ingredient and level is not None and level.mean > 0:
            found.append(code)
    return tuple(found)
