"""What is answered: the formula, what its limits and prices are worth, or what contradicts what."""

from dataclasses import dataclass
from enum import StrEnum

from bedstone.formulation.model import Basis

__all__ = [
    "Clash",
    "Demand",
    "DemandKind",
    "FormulaAnswer",
    "GiveIn",
    "IngredientAnswer",
    "LimitAnswer",
    "PriceRange",
    "Side",
    "Way",
]


class Side(StrEnum):
    """Which side of a demand is meant."""

    NONE = ""
    MIN = "min"
    MAX = "max"


class Way(StrEnum):
    """How an answer was found, which says what its prices of limits are worth."""

    LINEAR = "linear program"  # ranges are exact
    CHOICES_FIXED = "linear program with the choices fixed"  # exact as long as the choices stand
    ODDS = "second-order cone"  # prices hold at the point; ranges by re-solving


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceRange:
    """From and to, None where there is no end."""

    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class IngredientAnswer:
    """An ingredient in the answer.

    ``stays_usd_t`` is the range of its price in which the shares of the whole formula stay as they
    are (None where odds are in, until ``odds_ranges.with_ranges`` solved anew for it). ``enters_usd_t`` is
    the price below which an ingredient that is held at its minimum (mostly nothing) would be used
    more. ``bound`` says which of its own limits holds it, ``bound_price_usd_t`` what a whole
    share more of that limit would cost (below 0: save) at this rate.
    """

    code: str
    share_frac: float
    price_usd_t: float
    cost_usd_t: float  # its part of the cost of a ton
    bound: Side
    bound_price_usd_t: float
    stays_usd_t: PriceRange | None
    enters_usd_t: float | None
    chosen: bool  # False: left out by a choice (use-if-at-least, at most so many)


class DemandKind(StrEnum):
    """What kind of demand."""

    NUTRIENT = "nutrient"
    RATIO = "ratio"
    GROUP = "group"
    LEVEL = "level"  # the level part of a level-and-share limit
    SHARE = "share"  # the share part of it
    MOISTURE = "moisture"
    DENSITY = "density"
    CHANGE = "change"  # total change from the running formula
    CHANGE_EACH = "change of each"
    COUNT = "count"
    AT_LEAST = "if used, at least"
    INGREDIENT = "ingredient"
    TOTAL = "total"  # shares add up to one


IN_PER_CENT = {
    DemandKind.GROUP,
    DemandKind.SHARE,
    DemandKind.MOISTURE,
    DemandKind.CHANGE,
    DemandKind.CHANGE_EACH,
    DemandKind.AT_LEAST,
    DemandKind.INGREDIENT,
    DemandKind.TOTAL,
}
"""Kinds of demand whose limits are parts, and are said in per cent."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitAnswer:
    """How a demand is met.

    ``expected`` and ``sd`` (over lots) are in the demand's unit, as fed, in dry matter, or as a
    ratio, as it asks. ``slack_min`` and ``slack_max`` are how far the expected value is from each
    limit (with odds: how far what can be relied on is). ``marginal_usd_t`` is what a ton of feed
    costs more for each unit by which the binding limit is raised, ``true_from`` and ``true_to``
    the values of that limit between which this is so (for a limit in dry matter or a ratio: in
    which the same things bind; the price per unit drifts in between). ``marginal_down_usd_t`` is the same
    for a step down: it differs where things bind in more ways than one; None: nothing fits there. ``odds_min_frac`` and
    ``odds_max_frac`` are the probabilities of keeping each side.
    """

    kind: DemandKind
    code: str
    name: str
    unit: str
    basis: Basis
    expected: float
    sd: float | None  # None where a used ingredient's spread is not known
    minimum: float | None
    maximum: float | None
    binding: Side
    slack_min: float | None
    slack_max: float | None
    marginal_usd_t: float | None
    marginal_down_usd_t: float | None
    true_from: float | None
    true_to: float | None
    odds_min_frac: float | None
    odds_max_frac: float | None
    odds_asked_frac: float | None
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FormulaAnswer:
    """The formula that costs least, and what stands behind it.

    ``assumed`` lists each level that was taken for granted. ``notes`` says in words what a reader
    must know: choices that were fixed, ingredients that were shut out by a level.
    """

    product: str
    way: Way
    cost_usd_t: float
    ingredients: tuple[IngredientAnswer, ...]
    limits: tuple[LimitAnswer, ...]
    moisture_wb: float | None
    density_kg_m3: float | None
    assumed: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def shares(self) -> dict[str, float]:
        """Share of each ingredient that is used, by code."""
        return {row.code: row.share_frac for row in self.ingredients if row.share_frac > 0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """One demand by name, as a conflict lists it."""

    kind: DemandKind
    code: str  # of the requirement, group or ingredient; "" for total and count
    side: Side
    limit: float
    unit: str
    words: str  # in the mill's words: "crude protein at least 16 %"
    may_give: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class GiveIn:
    """A demand that gives in: to which limit, by how much, and what the formula then costs.

    ``cost_usd_t`` is that of the formula when this one (or, in ``Clash.together``, all of them)
    has given in; None if this one alone does not help.
    """

    demand: Demand
    new_limit: float
    by: float
    cost_usd_t: float | None

    @property
    def limit_words(self) -> str:
        """The new limit with its unit; a share in per cent."""
        if self.demand.kind in IN_PER_CENT:
            return f"{100 * self.new_limit:.4g} %"
        return f"{self.new_limit:.4g} {self.demand.unit}".strip()


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """Demands that contradict each other: drop any one of them and the rest can be met.

    ``alone``: for each demand that may give in, how far it must if it alone does, cheapest
    formula first. ``together``: the smallest give-in over all demands, each counted as a part of
    its limit, and among those the cheapest formula; empty where no demand may give.
    """

    product: str
    demands: tuple[Demand, ...]
    alone: tuple[GiveIn, ...]
    together: tuple[GiveIn, ...]
    together_cost_usd_t: float | None
