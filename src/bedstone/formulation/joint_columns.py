"""The cheapest week of all products on shared materials, by column generation, with its proof.

Only the shared materials tie products together. So each product is asked alone for its cheapest
formula at given prices of the materials, a small program blends the formulas found so far within
what there is of each material, and its dual prices are the next question. When no product has a
cheaper formula at these prices, the blend is the optimum, and the products' least costs at these
prices, less what the tiers earn there, are a lower bound for every week [1].

Sources
-------
[1] Dantzig, Wolfe, Decomposition principle for linear programs, Operations Research 8 (1960)
    101-111 (from memory).
"""

import itertools
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np

from bedstone.errors import NotSettled
from bedstone.formulation.joint_arrays import Floats, JointArrays, JointOptimum, Tier, WeekProduct
from bedstone.formulation.joint_solver import Blend, BlendAnswer

__all__ = ["JointWork", "Shortage", "StepWorth"]

THREADS = 2
ROUNDS = 500
GAP_FRAC = 1e-10  # what may be left between answer and bound, as a part of the cost
PROVED_FRAC = 1e-6  # an answer with a greater gap, or that breaks a demand by more, is none
SHORT_FRAC = 1e-9  # short by less than this part of all feed is not short
MANY_FRAC = 0.3  # where more of the products asked have a cheaper formula, blend them first
DEAR = 3.0  # first price of what is short, in the dearest price of the week


@dataclass(frozen=True, slots=True, kw_only=True)
class Shortage:
    """Why no week fits: what is asked exceeds what there is, whatever the formulas.

    Weighted with ``weights`` the products need at least ``product_need_t``, together ``need_t``;
    of these materials ``there_t``, weighted alike, can be had. ``least_short_t`` is one way to be
    short by as little as can be.
    """

    weights: Floats  # (materials,) 0 where the material is no part of the proof
    product_need_t: Floats  # (products,)
    there_t: float
    least_short_t: Floats  # (materials,)

    @property
    def need_t(self) -> float:
        """What all products need at least."""
        return float(self.product_need_t.sum())


@dataclass(frozen=True, slots=True, kw_only=True)
class StepWorth:
    """What a step of a material is worth to a product, a ton; None: it cannot take the step."""

    product: int
    share_frac: float
    last_usd_t: float | None  # what a step less costs
    next_usd_t: float | None  # what a step more saves


@dataclass
class JointWork:
    """A week being solved; kept warm, so that further questions cost little.

    ``products`` stand in the order of ``arrays.products``; each is used by one thread at a time.
    """

    arrays: JointArrays
    products: Sequence[WeekProduct]
    threads: int = THREADS
    tiers: list[Tier] = field(init=False)
    _blend: Blend = field(init=False)
    _formulas: list[tuple[int, Floats]] = field(init=False, default_factory=list)

    def __post_init__(self) -> None:
        """Begin with no formula."""
        self.tiers = list(self.arrays.tiers)
        dearest = max(
            1.0,
            *(tier.price_usd_t for tier in self.tiers),
            *(float(product.own_usd_t.max(initial=0.0)) for product in self.arrays.products),
        )
        self._blend = Blend(
            len(self.products),
            self.arrays.materials,
            self.arrays.tiers,
            price_of_short=DEAR * dearest,
        )

    @property
    def _every(self) -> range:
        """All products."""
        return range(len(self.products))

    @property
    def mass_t(self) -> float:
        """All feed of the week."""
        return sum(product.mass_t for product in self.arrays.products)

    def impossible_alone(self) -> list[int]:
        """Products whose own demands contradict each other, whatever there is of the materials."""
        prices = np.full(self.arrays.materials, np.inf)
        for tier in self.tiers:
            prices[tier.material] = min(prices[tier.material], tier.price_usd_t)
        found = self._ask(np.where(np.isinf(prices), 0.0, prices), self._every)
        for number, (shares, _) in enumerate(found):
            if shares is not None:
                self._add(number, shares)
        return [number for number, (shares, _) in enumerate(found) if shares is None]

    def optimum(self) -> JointOptimum | Shortage:
        """The cheapest week, or why there is none. Ask ``impossible_alone`` before.

        Raises
        ------
        NotSettled
            If the rounds run out or the solver gives up.
        """
        answer, rounds = self._converge()
        if answer.short_t.sum() > SHORT_FRAC * self.mass_t:
            shortage = self.least_short(np.ones(self.arrays.materials))
            if shortage is not None:
                return shortage
            self._blend.forbid_short()
            answer, more = self._converge()
            rounds += more
        found = self._optimum(answer, rounds)
        if not found.gap_frac < PROVED_FRAC or not found.violation < PROVED_FRAC:
            raise NotSettled(
                "The joint week is not proved.",
                seen=f"a gap of {found.gap_frac:.3g}, a demand broken by {found.violation:.3g}",
                allowed=f"less than {PROVED_FRAC:g} of each",
                do="try with fewer products at once, and report the case",
            )
        return found

    def least_short(self, priced: Floats) -> Shortage | None:
        """Why at least so much must be short, weighted with ``priced``; None if nothing must."""
        self._blend.only_short(priced)
        answer, _ = self._converge(own=0.0)
        self._blend.all_costs()
        if answer.short_t @ priced <= SHORT_FRAC * self.mass_t:
            return None
        weights = answer.prices_usd_t
        there_t = sum(
            float(weights[tier.material]) * (np.inf if tier.most_t is None else tier.most_t)
            for tier in self.tiers
            if weights[tier.material] > 0
        )
        return Shortage(
            weights=weights,
            product_need_t=self._least_usd(weights, own=0.0),
            there_t=there_t,
            least_short_t=np.where(priced > 0, answer.short_t, 0.0),
        )

    def irreducible(self, shortage: Shortage) -> Shortage:
        """The same with so few materials that none of them can be left out of the proof."""
        priced = (shortage.weights > 0).astype(np.float64)
        for material in np.argsort(shortage.weights, kind="stable"):
            if not priced[material] or priced.sum() == 1:
                continue
            tried = priced.copy()
            tried[material] = 0.0
            fewer = self.least_short(tried)
            if fewer is not None:
                shortage, priced = fewer, (fewer.weights > 0).astype(np.float64)
        return shortage

    def offer(self, tier: int, *, price_usd_t: float, most_t: float | None) -> None:
        """Change what a tier offers; then ask ``optimum`` again."""
        material = self.tiers[tier].material
        self.tiers[tier] = Tier(material=material, price_usd_t=price_usd_t, most_t=most_t)
        self._blend.offer(tier, price_usd_t=price_usd_t, most_t=most_t)

    def step_worth(self, optimum: JointOptimum, material: int, *, step_t: float) -> list[StepWorth]:
        """What a step more or less of a material is worth to each product that may use it.

        All other materials are taken at their worth in ``optimum``; what the step itself costs is
        left out. A step that a bound cuts short counts as far as it goes.
        """
        prices = optimum.prices_usd_t.copy()
        prices[material] = 0.0
        rows = []
        for number, (product, shares) in enumerate(zip(self.products, optimum.shares, strict=True)):
            arrays = product.arrays
            columns = np.nonzero((arrays.material == material) & (arrays.upper > 0))[0]
            if not len(columns):
                continue
            column, costs = int(columns[0]), arrays.costs_usd_t(prices)
            share, step = float(shares[column]), step_t / arrays.mass_t
            less = max(share - step, float(arrays.lower[column]))
            more = min(share + step, float(arrays.upper[column]))
            at = [product.cheapest_with(costs, column, part) for part in (less, share, more)]
            rows.append(
                StepWorth(
                    product=number,
                    share_frac=share,
                    last_usd_t=_slope(at[0], at[1], share - less),
                    next_usd_t=_slope(at[1], at[2], more - share),
                )
            )
        return rows

    def _converge(self, *, own: float = 1.0) -> tuple[BlendAnswer, int]:
        """Ask, add, blend, until no product has a cheaper formula."""
        count = len(self.products)
        halves = (range(count // 2), range(count // 2, count))
        left = np.inf
        for rounds in range(1, ROUNDS + 1):
            answer = self._blend.solve()
            enough = max(GAP_FRAC * abs(answer.cost_usd), SHORT_FRAC / 10 * self.mass_t)
            first, second = halves if rounds % 2 else halves[::-1]
            fresh, left = self._cheaper(answer, first, own=own, enough=enough)
            if len(fresh) < MANY_FRAC * len(first):  # prices are near: ask the others too
                more, more_left = self._cheaper(answer, second, own=own, enough=enough)
                fresh, left = fresh + more, left + more_left
                if left <= enough:
                    return answer, rounds
            for number, shares in fresh:
                self._add(number, shares)
        raise NotSettled(
            f"The joint week did not settle in {ROUNDS} rounds.",
            seen=f"a gap of {left:.6g} USD",
            do="try with fewer products at once, and report the case",
        )

    def _cheaper(
        self, answer: BlendAnswer, numbers: range, *, own: float, enough: float
    ) -> tuple[list[tuple[int, Floats]], float]:
        """Formulas of some products that are cheaper than the blend, and by how much in all."""
        fresh, left = [], 0.0
        found = self._ask(answer.prices_usd_t, numbers, own=own)
        for number, (shares, cost) in zip(numbers, found, strict=True):
            cheaper = float(answer.product_usd[number]) - cost
            if shares is not None and cheaper > enough / len(self.products):
                fresh.append((number, shares))
                left += cheaper
        return fresh, left

    def _ask(
        self, prices: Floats, numbers: range, *, own: float = 1.0
    ) -> list[tuple[Floats | None, float]]:
        """Each product's cheapest formula at these prices, and what its whole mass costs."""

        def of_some(some: range) -> list[tuple[Floats | None, float]]:
            found = []
            for number in some:
                arrays = self.arrays.products[number]
                costs = arrays.costs_usd_t(prices, own=own)
                shares = self.products[number].cheapest(costs)
                cost = np.inf if shares is None else arrays.mass_t * float(costs @ shares)
                found.append((shares, cost))
            return found

        if all(self.products[number].is_quick for number in numbers):
            return of_some(numbers)
        ends = [len(numbers) * part // self.threads for part in range(self.threads + 1)]
        parts = [numbers[start:end] for start, end in itertools.pairwise(ends)]
        with ThreadPoolExecutor(self.threads) as pool:
            return [row for rows in pool.map(of_some, parts) for row in rows]

    def _least_usd(self, prices: Floats, *, own: float = 1.0) -> Floats:
        """Each product's proved least cost at these prices, for its whole mass."""
        self._ask(prices, self._every, own=own)
        return np.array(
            [
                product.arrays.mass_t
                * product.least_usd_t(product.arrays.costs_usd_t(prices, own=own))
                for product in self.products
            ]
        )

    def _add(self, number: int, shares: Floats) -> None:
        """Add a formula to the blend."""
        arrays = self.arrays.products[number]
        self._formulas.append((number, shares))
        use_t = arrays.use_t(shares, self.arrays.materials)
        self._blend.add(number, use_t, arrays.own_cost_usd(shares))

    def _optimum(self, answer: BlendAnswer, rounds: int) -> JointOptimum:
        """The blend as formulas, what it costs, and the bound at its prices."""
        shares = [np.zeros(len(product.own_usd_t)) for product in self.arrays.products]
        weights = np.zeros(len(shares))
        for (number, formula), weight in zip(self._formulas, answer.weights, strict=True):
            if weight > 0:
                shares[number] += weight * formula
                weights[number] += weight
        shares = [part / weight for part, weight in zip(shares, weights, strict=True)]
        use_t = sum(
            product.use_t(part, self.arrays.materials)
            for product, part in zip(self.arrays.products, shares, strict=True)
        )
        taken_t, lacking_t = _take(self.tiers, np.asarray(use_t))
        own_usd = sum(
            product.own_cost_usd(part)
            for product, part in zip(self.arrays.products, shares, strict=True)
        )
        prices = answer.prices_usd_t.copy()
        for tier in self.tiers:
            if tier.most_t is None:
                prices[tier.material] = min(prices[tier.material], tier.price_usd_t)
        earned = sum(
            min(0.0, tier.price_usd_t - float(prices[tier.material])) * (tier.most_t or 0.0)
            for tier in self.tiers
        )
        broken = [
            max(product.arrays.violation(part), product.miss(part))
            for product, part in zip(self.products, shares, strict=True)
        ]
        return JointOptimum(
            shares=tuple(shares),
            prices_usd_t=prices,
            use_t=np.asarray(use_t),
            taken_t=taken_t,
            cost_usd=own_usd + float(taken_t @ [tier.price_usd_t for tier in self.tiers]),
            bound_usd=float(self._least_usd(prices).sum()) + earned,
            violation=max(*broken, float((lacking_t / np.maximum(1.0, use_t)).max(initial=0.0))),
            rounds=rounds,
            columns=len(self._formulas),
        )


def _take(tiers: Sequence[Tier], use_t: Floats) -> tuple[Floats, Floats]:
    """What is taken of each tier, cheapest first, and what then still lacks of each material."""
    taken_t, lacking_t = np.zeros(len(tiers)), use_t.copy()
    for number in sorted(range(len(tiers)), key=lambda at: tiers[at].price_usd_t):
        tier = tiers[number]
        most_t = np.inf if tier.most_t is None else tier.most_t
        taken_t[number] = min(most_t, float(lacking_t[tier.material]))
        lacking_t[tier.material] -= taken_t[number]
    return taken_t, lacking_t


def _slope(less: float | None, more: float | None, step_frac: float) -> float | None:
    """What a ton costs less with the larger share, a ton of the step; None if one cannot be."""
    if less is None or more is None or step_frac <= 0:
        return None
    return (less - more) / step_frac
