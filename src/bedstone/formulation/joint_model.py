"""All products of a week on shared materials: what is asked and what is answered."""

from dataclasses import dataclass
from enum import StrEnum

from bedstone.formulation.model import FormulaProblem

__all__ = [
    "BuyingLimits",
    "BuyingStep",
    "Claim",
    "JointAnswer",
    "MaterialAnswer",
    "Offer",
    "OfferAnswer",
    "OfferKind",
    "ProductAnswer",
    "ProductOfWeek",
    "ProductUse",
    "SharedMaterial",
    "WeekProblem",
]


class OfferKind(StrEnum):
    """Where a material comes from."""

    BINS = "in the bins"
    CONTRACT = "contract"
    SPOT = "spot market"


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """So much of a material at a price.

    ``min_t`` must be bought in any case (a contract's least quantity); ``max_t`` None: as much as
    one wants.
    """

    kind: OfferKind
    name: str
    price_usd_t: float
    min_t: float = 0.0
    max_t: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedMaterial:
    """A material that several products take from.

    What lies in the bins and what a contract forces on the mill costs ``value_usd_t`` where it is
    used (what it takes to replace it), and is worth as much where it is left.
    """

    code: str
    stock_t: float
    value_usd_t: float
    offers: tuple[Offer, ...] = ()
    name: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProductOfWeek:
    """A product with its demands, and how much of it the week asks for.

    Prices in ``problem`` count for ingredients that are no shared material.
    """

    problem: FormulaProblem
    mass_t: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekProblem:
    """A week: its products, and the materials that they share."""

    products: tuple[ProductOfWeek, ...]
    materials: tuple[SharedMaterial, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OfferAnswer:
    """An offer, what the week takes of it, and what a ton more on these terms would save."""

    offer: Offer
    taken_t: float
    more_saves_usd_t: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ProductUse:
    """How much of a material a product gets."""

    product: str
    mass_t: float
    share_frac: float


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialAnswer:
    """A shared material in the cheapest week.

    ``pay_at_most_usd_t`` is its shadow price: more of it saves no more than this a ton. Where
    the optimum sits on a corner, the next ton may save less: ``WeekWork.buying_limits`` says.
    ``scarce``: all that can be had is used, and more would save money.
    """

    code: str
    name: str
    pay_at_most_usd_t: float
    scarce: bool
    used_t: float
    left_t: float  # of what lies in the bins and what contracts force on the mill
    offers: tuple[OfferAnswer, ...]
    uses: tuple[ProductUse, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ProductAnswer:
    """A product's formula in the cheapest week.

    ``cost_usd_t`` counts each material at what the week pays for it on average,
    ``worth_usd_t`` at what it is worth at the margin: what a ton more of this product would cost.
    """

    product: str
    mass_t: float
    shares: dict[str, float]
    cost_usd_t: float
    worth_usd_t: float


@dataclass(frozen=True, slots=True, kw_only=True)
class JointAnswer:
    """The cheapest week, with its proof: no week that keeps all demands is below ``bound_usd``.

    ``forced_usd`` is part of the cost: what contracts' least quantities cost above their value.
    ``violation`` is how far the worst demand is broken, relative to the size of its numbers.
    """

    cost_usd: float
    forced_usd: float
    bound_usd: float
    gap_frac: float
    violation: float
    rounds: int
    products: tuple[ProductAnswer, ...]
    materials: tuple[MaterialAnswer, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """What a product gets of a material, and why no more and no less.

    ``last_usd_t`` is what a kilogram less would cost the product, ``next_usd_t`` what one more
    would save it, by the ton, all other materials at their worth. None: it cannot do with less, or
    cannot take more. ``why`` says it in USD/t.
    """

    product: str
    mass_t: float
    share_frac: float
    last_usd_t: float | None
    next_usd_t: float | None
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BuyingStep:
    """Offered at this price, buy at most so much; it saves so much against the week as it is."""

    price_usd_t: float
    up_to_t: float
    saves_usd: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BuyingLimits:
    """What to buy of a material at most, at what price; steps from dear to cheap."""

    code: str
    next_ton_saves_usd: float
    steps: tuple[BuyingStep, ...]
