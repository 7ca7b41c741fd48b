"""The cheapest week of all products together: who gets what is scarce, and what to buy.

Examples
--------
Two products share two tons of meal; the one that can do without it only dearly gets it first:

>>> from bedstone.formulation.model import FormulaIngredient, FormulaProblem, NutrientLevel
>>> from bedstone.formulation.model import Requirement, Term
>>> def parts(other_usd_t, other):
...     protein = lambda mean: {"protein": NutrientLevel(mean=mean, unit="%")}
...     return (
...         FormulaIngredient(code="MEAL", price_usd_t=0, levels=protein(50)),
...         FormulaIngredient(code="CORN", price_usd_t=200, levels=protein(10)),
...         FormulaIngredient(code=other, price_usd_t=other_usd_t, levels=protein(50)),
...     )
>>> need = Requirement(code="CP", of=(Term(nutrient="protein"),), unit="%", minimum=20)
>>> week = WeekProblem(
...     products=(
...         ProductOfWeek(
...             problem=FormulaProblem(
...                 product="LAYER", ingredients=parts(600, "GLUTEN"), requirements=(need,)
...             ),
...             mass_t=10,
...         ),
...         ProductOfWeek(
...             problem=FormulaProblem(
...                 product="CALF", ingredients=parts(900, "MILK"), requirements=(need,)
...             ),
...             mass_t=4,
...         ),
...     ),
...     materials=(SharedMaterial(code="MEAL", stock_t=2, value_usd_t=400),),
... )
>>> answer = joint_week(week)
>>> [(use.product, round(use.mass_t, 6)) for use in answer.materials[0].uses]
[('LAYER', 1.0), ('CALF', 1.0)]
>>> round(answer.materials[0].pay_at_most_usd_t, 6)
600.0
"""

from dataclasses import dataclass, field, replace

import numpy as np

from bedstone.errors import Unknown
from bedstone.formulation.arrays import Compiled, compile_problem
from bedstone.formulation.joint_arrays import Floats, JointArrays, JointOptimum, ProductArrays, Tier
from bedstone.formulation.joint_checks import refuse_bad_week
from bedstone.formulation.joint_columns import JointWork, Shortage
from bedstone.formulation.joint_model import (
    BuyingLimits,
    BuyingStep,
    Claim,
    JointAnswer,
    MaterialAnswer,
    OfferAnswer,
    ProductAnswer,
    ProductOfWeek,
    ProductUse,
    SharedMaterial,
    WeekProblem,
)
from bedstone.formulation.joint_solver import warm_products
from bedstone.formulation.joint_words import choices_kept, no_week, products_alone, why_so_much
from bedstone.formulation.optimum import optimum

__all__ = ["WeekWork", "joint_week"]

KG_T = 1e-3
LEFT_FRAC = 1e-9  # of a material's quantity: less is nothing left
DEARER_FRAC = 1e-7  # worth more than the dearest offer by this part of its price is scarce
STEPS = 5


def joint_week(week: WeekProblem) -> JointAnswer:
    """The cheapest week that keeps every demand of every product.

    Raises
    ------
    BadInput
        If the week cannot be understood; every fault is listed.
    NoAnswer
        If a product cannot be made at all, or materials do not suffice; it says which.
    """
    return WeekWork(week).answer()


@dataclass
class WeekWork:
    """A week being worked on; kept, so that questions about its answer cost little."""

    week: WeekProblem
    _work: JointWork = field(init=False)
    _compiled: list[Compiled] = field(init=False)
    _tiers_of: list[list[tuple[int, int]]] = field(init=False)  # by material: (tier, offer)
    _optimum: JointOptimum | None = field(init=False, default=None)
    _notes: list[str] = field(init=False, default_factory=list)

    def __post_init__(self) -> None:
        """Check and compile."""
        refuse_bad_week(self.week)
        self._compiled = [self._compile(product) for product in self.week.products]
        tiers, self._tiers_of = _tiers(self.week.materials)
        where = {material.code: index for index, material in enumerate(self.week.materials)}
        products = [
            _product_arrays(compiled, product.mass_t, where)
            for compiled, product in zip(self._compiled, self.week.products, strict=True)
        ]
        self._work = JointWork(
            JointArrays(products=tuple(products), materials=len(where), tiers=tuple(tiers)),
            warm_products(products, self._compiled),
        )

    def answer(self) -> JointAnswer:
        """The cheapest week.

        Raises
        ------
        NoAnswer
            If a product cannot be made at all, or materials do not suffice; it says which.
        """
        found = self._solved()
        paid_usd_t = self._paid(found)
        forced_usd = sum(
            offer.min_t * (offer.price_usd_t - material.value_usd_t)
            for material in self.week.materials
            for offer in material.offers
        )
        return JointAnswer(
            cost_usd=found.cost_usd + forced_usd,
            forced_usd=forced_usd,
            bound_usd=found.bound_usd + forced_usd,
            gap_frac=found.gap_frac,
            violation=found.violation,
            rounds=found.rounds,
            products=tuple(
                self._product(number, found, paid_usd_t)
                for number in range(len(self.week.products))
            ),
            materials=tuple(
                self._material(number, found) for number in range(len(self.week.materials))
            ),
            notes=tuple(self._notes),
        )

    def claims(self, code: str) -> tuple[Claim, ...]:
        """What each product gets of a material, and why; greatest quantity first.

        Raises
        ------
        Unknown
            If no shared material has this code.
        """
        found, number = self._solved(), self._number(code)
        worth_usd_t = float(found.prices_usd_t[number])
        claims = []
        for row in self._work.step_worth(found, number, step_t=KG_T):
            product = self.week.products[row.product]
            mass_t = row.share_frac * product.mass_t
            claims.append(
                Claim(
                    product=product.problem.product,
                    mass_t=mass_t,
                    share_frac=row.share_frac,
                    last_usd_t=row.last_usd_t,
                    next_usd_t=row.next_usd_t,
                    why=why_so_much(
                        mass_t,
                        last_usd_t=row.last_usd_t,
                        next_usd_t=row.next_usd_t,
                        worth_usd_t=worth_usd_t,
                        said=lambda usd_t: f"{usd_t:.2f} USD/t",
                    ),
                )
            )
        return tuple(sorted(claims, key=lambda claim: -claim.mass_t))

    def buying_limits(self, code: str, prices_usd_t: tuple[float, ...] = ()) -> BuyingLimits:
        """What to buy of a material at most at which price, by solving the week at each price.

        Without ``prices_usd_t`` five prices between what it is worth and its cheapest offer.

        Raises
        ------
        Unknown
            If no shared material has this code.
        """
        before, number = self._solved(), self._number(code)
        extra = self._tiers_of[number][-1][0]
        free = self._with_offer(extra, price_usd_t=0.0, most_t=1.0)
        if not prices_usd_t:
            worth = float(before.prices_usd_t[number])
            offered = [
                self._work.tiers[tier].price_usd_t for tier, _ in self._tiers_of[number][:-1]
            ]
            low = min([price for price in offered if price < worth], default=worth)
            if low < worth:
                prices_usd_t = tuple(
                    worth - (worth - low) * step / STEPS for step in range(1, STEPS + 1)
                )
        steps = []
        for price in sorted(prices_usd_t, reverse=True):
            then = self._with_offer(extra, price_usd_t=price, most_t=None)
            steps.append(
                BuyingStep(
                    price_usd_t=price,
                    up_to_t=float(then.taken_t[extra]),
                    saves_usd=before.cost_usd - then.cost_usd,
                )
            )
        return BuyingLimits(
            code=code,
            next_ton_saves_usd=before.cost_usd - free.cost_usd,
            steps=tuple(steps),
        )

    def _with_offer(self, tier: int, *, price_usd_t: float, most_t: float | None) -> JointOptimum:
        """The week with one more offer, which is taken back again."""
        self._work.offer(tier, price_usd_t=price_usd_t, most_t=most_t)
        found = self._work.optimum()
        self._work.offer(tier, price_usd_t=0.0, most_t=0.0)
        if isinstance(found, Shortage):  # more of a material cannot make it short
            raise no_week(self.week, found)
        return found

    def _solved(self) -> JointOptimum:
        if self._optimum is None:
            alone = self._work.impossible_alone()
            if alone:
                raise products_alone([self.week.products[number] for number in alone])
            found = self._work.optimum()
            if isinstance(found, Shortage):
                raise no_week(self.week, self._work.irreducible(found))
            self._optimum = found
        return self._optimum

    def _number(self, code: str) -> int:
        codes = [material.code for material in self.week.materials]
        if code not in codes:
            raise Unknown("No shared material has this code.", seen=code, allowed=", ".join(codes))
        return codes.index(code)

    def _compile(self, product: ProductOfWeek) -> Compiled:
        """A product as arrays, its choices made as if it were alone at the cheapest offers."""
        compiled = compile_problem(product.problem)
        if not compiled.has_choices:
            return compiled
        cheapest = {
            material.code: min(
                [material.value_usd_t, *(offer.price_usd_t for offer in material.offers)]
            )
            for material in self.week.materials
        }
        cost = compiled.cost.copy()
        for column, code in enumerate(compiled.codes):
            cost[column] = cheapest.get(code, cost[column])
        alone = optimum(replace(compiled, cost=cost))
        if alone is None:
            raise products_alone([product])
        self._notes.append(choices_kept(product.problem.product))
        return alone.compiled

    def _paid(self, found: JointOptimum) -> Floats:
        """What the week pays on average for a ton of each material that it uses."""
        paid = np.zeros(len(self.week.materials))
        for tier, taken in zip(self._work.tiers, found.taken_t, strict=True):
            paid[tier.material] += tier.price_usd_t * taken
        used = found.use_t > 0
        return np.where(used, paid / np.where(used, found.use_t, 1.0), found.prices_usd_t)

    def _product(self, number: int, found: JointOptimum, paid_usd_t: Floats) -> ProductAnswer:
        product, compiled = self.week.products[number], self._compiled[number]
        arrays, shares = self._work.arrays.products[number], found.shares[number]
        return ProductAnswer(
            product=product.problem.product,
            mass_t=product.mass_t,
            shares={
                code: float(share)
                for code, share in zip(compiled.codes, shares, strict=False)
                if share > 0
            },
            cost_usd_t=float(arrays.costs_usd_t(paid_usd_t) @ shares),
            worth_usd_t=float(arrays.costs_usd_t(found.prices_usd_t) @ shares),
        )

    def _material(self, number: int, found: JointOptimum) -> MaterialAnswer:
        material = self.week.materials[number]
        worth, used_t = float(found.prices_usd_t[number]), float(found.use_t[number])
        (own, _), *others, _ = self._tiers_of[number]
        taken = {offer: float(found.taken_t[tier]) for tier, offer in others}
        offers = tuple(
            OfferAnswer(
                offer=offer,
                taken_t=offer.min_t + taken[index],
                more_saves_usd_t=max(0.0, worth - offer.price_usd_t),
            )
            for index, offer in enumerate(material.offers)
        )
        tiers = [self._work.tiers[tier] for tier, _ in self._tiers_of[number][:-1]]
        there_t = sum(np.inf if tier.most_t is None else tier.most_t for tier in tiers)
        dearest = max([tier.price_usd_t for tier in tiers if tier.most_t != 0], default=0.0)
        uses = []
        for product, arrays, shares in zip(
            self.week.products, self._work.arrays.products, found.shares, strict=True
        ):
            mass_t = float(arrays.use_t(shares, len(self.week.materials))[number])
            if mass_t > 0:
                share_frac = mass_t / product.mass_t
                uses.append(
                    ProductUse(
                        product=product.problem.product, mass_t=mass_t, share_frac=share_frac
                    )
                )
        return MaterialAnswer(
            code=material.code,
            name=material.name or material.code,
            pay_at_most_usd_t=worth,
            scarce=bool(
                used_t >= there_t * (1 - LEFT_FRAC) and worth > dearest * (1 + DEARER_FRAC)
            ),
            used_t=used_t,
            left_t=(self._work.tiers[own].most_t or 0.0) - float(found.taken_t[own]),
            offers=offers,
            uses=tuple(sorted(uses, key=lambda use: -use.mass_t)),
        )


def _product_arrays(compiled: Compiled, mass_t: float, where: dict[str, int]) -> ProductArrays:
    """A compiled product as arrays of the joint week."""
    material = np.full(compiled.cost.size, -1, dtype=np.int64)
    for column, code in enumerate(compiled.codes):
        material[column] = where.get(code, -1)
    return ProductArrays(
        mass_t=mass_t,
        matrix=compiled.matrix,
        row_lower=compiled.row_low,
        row_upper=compiled.row_high,
        lower=compiled.column_low,
        upper=compiled.column_high,
        own_usd_t=compiled.cost,
        material=material,
    )


def _tiers(materials: tuple[SharedMaterial, ...]) -> tuple[list[Tier], list[list[tuple[int, int]]]]:
    """Tiers of the materials, and which are whose: first its own, then offers, then a free one.

    What lies in the bins and what contracts force on the mill is one tier at its value; the free
    one, empty, serves the question what more would be worth.
    """
    tiers: list[Tier] = []
    whose: list[list[tuple[int, int]]] = []
    for number, material in enumerate(materials):
        own_t = material.stock_t + sum(offer.min_t for offer in material.offers)
        rows: list[tuple[float, float | None]] = [(material.value_usd_t, own_t)]
        rows += [
            (offer.price_usd_t, None if offer.max_t is None else offer.max_t - offer.min_t)
            for offer in material.offers
        ]
        rows.append((0.0, 0.0))
        whose.append([(len(tiers) + at, at - 1) for at in range(len(rows))])
        tiers += [Tier(material=number, price_usd_t=price, most_t=most) for price, most in rows]
    return tiers, whose
