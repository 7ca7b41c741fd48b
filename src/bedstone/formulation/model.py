"""What is asked of one product's formula. What is answered stands in ``answers.py``.

Shares are parts of the finished mash, 0 to 1, as fed. Levels of nutrients are as fed in the
ingredient and carry their unit; a requirement says its own unit and basis. What is not known stays
unknown: a nutrient that is not in ``levels`` is an error where a demand needs it, unless an
assumption is made by name, and then the answer shows it.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

__all__ = [
    "Assumption",
    "Basis",
    "ChangeLimit",
    "Correlation",
    "FormulaIngredient",
    "FormulaProblem",
    "IngredientGroup",
    "LevelAndShare",
    "MashLimits",
    "NutrientLevel",
    "Requirement",
    "Term",
]


class Basis(StrEnum):
    """What a level is a part of."""

    AS_FED = "as fed"
    DRY_MATTER = "dry matter"


@dataclass(frozen=True, slots=True, kw_only=True)
class NutrientLevel:
    """What is known of a nutrient in an ingredient, as fed.

    ``sd`` is between lots, None if not known. With ``assays`` behind the mean, the next lot is
    reckoned with sd * sqrt(1 + 1/assays); 0 assays (a table that does not say) leaves sd as it is.
    """

    mean: float
    unit: str  # "%", "g/kg", "mg/kg", "IU/kg", "MJ/kg", or a word of the mill's own
    sd: float | None = None
    assays: int = 0
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FormulaIngredient:
    """An ingredient (or a product, or one lot of either) that may go into the formula.

    A fixed part has ``min_frac == max_frac``. ``use_at_least_frac``: if used at all, then at
    least so much. ``current_frac`` is its share in the formula now running, None if none runs.
    """

    code: str
    name: str = ""
    price_usd_t: float
    levels: Mapping[str, NutrientLevel] = field(default_factory=dict)
    dry_matter_frac: float | None = None
    dry_matter_sd: float | None = None
    density_kg_m3: float | None = None
    min_frac: float = 0.0
    max_frac: float = 1.0
    use_at_least_frac: float | None = None
    current_frac: float | None = None
    may_give: bool = True  # False: its min and max are law or safety, never offered for giving in


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """A nutrient in a sum, with its weight."""

    nutrient: str
    weight: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Requirement:
    """A limit on a nutrient, on a sum of nutrients, or on the ratio of two sums.

    With ``per`` the demand is on the ratio ``of`` / ``per``; without, on ``of`` as fed or in dry
    matter. ``unit`` is that of the limits (of the upper sum in a ratio), ``per_unit`` that of the
    lower sum. With ``odds_frac`` each side is met with that probability over lots, else by the
    expected value.
    """

    code: str
    of: tuple[Term, ...]
    unit: str
    name: str = ""
    per: tuple[Term, ...] = ()
    per_unit: str = ""
    basis: Basis = Basis.AS_FED
    minimum: float | None = None
    maximum: float | None = None
    odds_frac: float | None = None
    source: str = ""  # law, guidance, handbook, customer or mill policy
    may_give: bool = True  # False: law or safety, never offered for giving in

    @property
    def is_ratio(self) -> bool:
        """True if the demand is on a ratio of two sums."""
        return bool(self.per)


@dataclass(frozen=True, slots=True, kw_only=True)
class IngredientGroup:
    """Limits on the sum of the shares of some ingredients, as fed."""

    code: str
    ingredients: tuple[str, ...]
    name: str = ""
    min_frac: float | None = None
    max_frac: float | None = None
    source: str = ""
    may_give: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelAndShare:
    """A limit on both: none of these ingredients above a level, and together at most a share.

    As guidance has it for fumonisin in feed for horses: corn and corn products at most 5 ppm, and
    at most a fifth of the diet. The feed is taken as the whole diet. An ingredient above the level
    (with ``odds_frac``: not below it with that probability) must not be used at all.
    """

    code: str
    ingredients: tuple[str, ...]
    nutrient: str
    level_max: float
    unit: str
    share_max_frac: float
    name: str = ""
    basis: Basis = Basis.DRY_MATTER
    odds_frac: float | None = None
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeLimit:
    """How far the formula may go from the one now running, so that animals still eat it.

    ``each_frac``: no share moves by more. ``total_frac``: no more than this part of the mash is
    replaced. An ingredient without ``current_frac`` counts as not in the running formula.
    """

    each_frac: float | None = None
    total_frac: float | None = None
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MashLimits:
    """Moisture and bulk density of the finished mash.

    Volume is taken as the sum of the ingredients' volumes (common practice, no source; fine
    particles fill gaps, so that real mash is somewhat denser).
    """

    moisture_min_wb: float | None = None
    moisture_max_wb: float | None = None
    density_min_kg_m3: float | None = None
    density_max_kg_m3: float | None = None
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Correlation:
    """How two uncertain levels go together from lot to lot, -1 to 1.

    Each is (ingredient, nutrient); the nutrient "dry matter" is the dry matter of the ingredient.
    Levels that no correlation names are independent.
    """

    first: tuple[str, str]
    second: tuple[str, str]
    r: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumption:
    """A level taken for granted where it is not known; the answer shows each use.

    ``ingredient`` "" stands for every ingredient that lacks the nutrient. With ``mean`` None only
    the standard deviation is assumed, ``cv_frac`` of the known mean.
    """

    nutrient: str  # "" for every nutrient, allowed where only the spread is assumed
    why: str
    ingredient: str = ""
    mean: float | None = None
    unit: str = ""
    cv_frac: float = 0.0  # sd as a part of the mean


@dataclass(frozen=True, slots=True, kw_only=True)
class FormulaProblem:
    """Everything that is asked of one product's formula. Shares add up to one."""

    product: str
    ingredients: tuple[FormulaIngredient, ...]
    requirements: tuple[Requirement, ...] = ()
    groups: tuple[IngredientGroup, ...] = ()
    level_and_share: tuple[LevelAndShare, ...] = ()
    mash: MashLimits = field(default_factory=MashLimits)
    change: ChangeLimit = field(default_factory=ChangeLimit)
    ingredients_max: int | None = None
    correlations: tuple[Correlation, ...] = ()
    assumptions: tuple[Assumption, ...] = ()
