"""The two programs of the joint week: one product, and the blend of formulas found so far."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from bedstone.errors import NotSettled
from bedstone.formulation.arrays import Compiled
from bedstone.formulation.cones import Settled, settle
from bedstone.formulation.cuts import Cuts
from bedstone.formulation.joint_arrays import Floats, ProductArrays, Tier
from bedstone.formulation.solver import Outcome, Point, Program

if TYPE_CHECKING:
    from bedstone.formulation.joint_pivots import Pivots

__all__ = ["Blend", "BlendAnswer", "WarmProduct", "warm_products"]

NOTHING = 1e-12  # tons; less is none
MANY = 50
"""From so many products on the compiled code is worth loading."""

WEAK_FRAC = 1e-9
"""A bound this far below the answer, as a part of its cost, is looked for once more."""


@dataclass(slots=True)
class KeptCuts(Cuts):
    """Cuts that remember themselves, so that a bound can be proved with them."""

    kept: list[Floats] = field(default_factory=list)
    limits: list[Floats] = field(default_factory=list)

    def add(self, program: Program, tangent: Floats, broken: npt.NDArray[np.intp]) -> None:
        """Put the cuts of the cones that are broken into a program that holds these cuts."""
        Cuts.add(self, program, tangent, broken)
        self.kept.append(tangent[broken])
        self.limits.append(self.limit[broken])


class WarmProduct:
    """One product's demands, with odds if it has any, solved again and again for other costs.

    Each is used by one thread at a time. Rows are scaled to a largest coefficient of one.
    ``quick``: after the first answer go on with compiled code of our own, where no odds are in.
    """

    def __init__(
        self, arrays: ProductArrays, compiled: Compiled | None = None, *, quick: bool = False
    ) -> None:
        self.arrays = arrays
        size = np.abs(arrays.matrix).max(axis=1, initial=0.0)
        self._scale = 1.0 / np.where(size > 0, size, 1.0)
        self._cuts = None
        if compiled is not None and compiled.cones:
            self._cuts = KeptCuts.of(compiled)
        if self._cuts is not None:
            self._scale = np.ones(len(size))  # the cones' own rows are not scaled
        self._program = Program(
            arrays.own_usd_t,
            arrays.matrix * self._scale[:, None],
            rows=(arrays.row_lower * self._scale, arrays.row_upper * self._scale),
            columns=(arrays.lower, arrays.upper),
            scaled=self._cuts is None,
        )
        self._fresh = True
        self._last = Settled(outcome=Outcome.INFEASIBLE)
        self._quick = quick and self._cuts is None
        self._pivots: Pivots | None = None

    @property
    def is_quick(self) -> bool:
        """True if the next answer takes less time than telling a thread to find it."""
        return self._pivots is not None

    def cheapest(self, costs_usd_t: Floats) -> Floats | None:
        """Shares of the cheapest formula at these costs; None if no formula keeps the demands."""
        if self._pivots is not None:
            shares = self._pivots.cheapest(costs_usd_t)
            if shares is not None:
                self._last = _answer(costs_usd_t, shares, self._pivots.duals)
                return shares
        shares = self._generally(costs_usd_t)
        if shares is not None and self._quick:
            self._pivots = self._from_here()
        return shares

    def _generally(self, costs_usd_t: Floats) -> Floats | None:
        """The same from the general solver."""
        self._program.set_costs(costs_usd_t)
        self._last = self._solved()
        if self._last.point is None:  # what a warm solver says is believed when a cold one agrees
            self._program.forget()
            self._last = self._solved()
        if self._last.point is None:
            return None
        if self._fresh and self._cuts is None:
            self._program.only_costs_move()
        self._fresh = False
        return self._last.point.columns

    def _from_here(self) -> "Pivots":
        """What goes on from the basis of the general solver."""
        from bedstone.formulation.joint_pivots import Pivots  # numba takes a while to import

        arrays, scale = self.arrays, self._scale
        return Pivots(
            self._program,
            arrays.matrix * scale[:, None],
            np.concatenate([arrays.lower, arrays.row_lower * scale]),
            np.concatenate([arrays.upper, arrays.row_upper * scale]),
        )

    def least_usd_t(self, costs_usd_t: Floats) -> float:
        """A proved lower bound of what was asked last, at the same costs.

        A demand with odds counts by its tangents, which every formula that keeps the odds keeps
        too: by those that the program was cut with, or by those at the answer, whichever proves
        more.
        """
        point = self._last.point
        if point is None:
            return np.inf
        duals = point.row_price * self._scale
        if self._cuts is None:
            return self.arrays.least_by_duality(costs_usd_t, duals)
        at_answer = self.arrays.least_by_duality(
            costs_usd_t,
            np.concatenate([duals, self._last.cone_price]),
            also=(self._cuts.tangents(point.columns)[1], self._cuts.limit),
        )
        if not self._cuts.kept:
            return at_answer
        cut = self.arrays.least_by_duality(
            costs_usd_t,
            self._program.point().row_price,
            also=(np.vstack(self._cuts.kept), np.concatenate(self._cuts.limits)),
        )
        found = max(cut, at_answer)
        cost = float(costs_usd_t @ point.columns)
        if cost - found <= WEAK_FRAC * abs(cost):
            return found
        return max(found, self._least_with_tangents(costs_usd_t, point.columns))

    def _least_with_tangents(self, costs_usd_t: Floats, shares: Floats) -> float:
        """A bound by a linear program of its own: all cuts so far, and the tangents at an answer.

        At the true answer its optimum is the answer's cost, and its prices agree with one another,
        which those of a point that was polished afterwards need not.
        """
        if self._cuts is None:
            return -np.inf
        tangents = np.vstack([*self._cuts.kept, self._cuts.tangents(shares)[1]])
        limits = np.concatenate([*self._cuts.limits, self._cuts.limit])
        arrays = self.arrays
        program = Program(
            costs_usd_t,
            np.vstack([arrays.matrix, tangents]),
            rows=(
                np.concatenate([arrays.row_lower, limits]),
                np.concatenate([arrays.row_upper, np.full(len(limits), np.inf)]),
            ),
            columns=(arrays.lower, arrays.upper),
        )
        if program.run() is not Outcome.OPTIMAL:
            return -np.inf
        duals = program.point().row_price
        return arrays.least_by_duality(costs_usd_t, duals, also=(tangents, limits))

    def cheapest_with(self, costs_usd_t: Floats, column: int, share_frac: float) -> float | None:
        """What a ton costs if one share is fixed; None if no formula does that."""
        self._program.set_column(column, share_frac, share_frac)
        shares = self._generally(costs_usd_t)
        self._program.set_column(
            column, float(self.arrays.lower[column]), float(self.arrays.upper[column])
        )
        return None if shares is None else float(costs_usd_t @ shares)

    def miss(self, shares: Floats) -> float:
        """How far the worst demand with odds is missed, in parts of its size; 0 if none is."""
        if self._cuts is None:
            return 0.0
        value = self._cuts.tangents(shares)[0]
        return max(0.0, float(((self._cuts.limit - value) / self._cuts.scale).max(initial=0.0)))

    def _solved(self) -> Settled:
        if self._cuts is not None:
            return settle(self._program, self._cuts)
        outcome = self._program.run()
        point = self._program.point() if outcome is Outcome.OPTIMAL else None
        return Settled(outcome=outcome, point=point)


def warm_products(
    arrays: Sequence[ProductArrays], compiled: Sequence[Compiled | None]
) -> list[WarmProduct]:
    """Products to be asked again and again; of many the compiled code, which takes a while to load."""
    plain = sum(one is None or not one.cones for one in compiled)
    return [
        WarmProduct(one, demands, quick=plain >= MANY)
        for one, demands in zip(arrays, compiled, strict=True)
    ]


def _answer(costs_usd_t: Floats, shares: Floats, duals: Floats) -> Settled:
    """An answer of compiled code: what a bound needs of it."""
    nothing = np.zeros(0)
    point = Point(
        cost=float(costs_usd_t @ shares),
        columns=shares,
        rows=nothing,
        row_price=duals.copy(),
        column_price=nothing,
    )
    return Settled(outcome=Outcome.OPTIMAL, point=point)


@dataclass(frozen=True, slots=True, kw_only=True)
class BlendAnswer:
    """The cheapest blend of the formulas so far, and what it says things are worth."""

    cost_usd: float
    prices_usd_t: Floats  # (materials,)
    product_usd: Floats  # (products,) what each product costs at these prices
    weights: Floats  # (formulas,)
    short_t: Floats  # (materials,)


class Blend:
    """The program that chooses weights of the formulas found so far, and what to take of each tier.

    Sets
    ----
    products, materials, tiers; formulas of each product found so far

    Data
    ----
    use of each material by a formula at the product's whole mass [t], its own cost [USD];
    price [USD/t] and quantity [t] of each tier

    Decisions
    ---------
    weight of each formula (0 to 1), taken of each tier [t], short of each material [t]

    Must hold
    ---------
    weights of a product's formulas add up to one;
    of each material the formulas use no more than what is taken and what is short

    Aim
    ---
    least cost, with a dear price on what is short; or least short alone (``only_short``)
    """

    def __init__(
        self, products: int, materials: int, tiers: tuple[Tier, ...], *, price_of_short: float
    ) -> None:
        self._materials, self._tiers = materials, len(tiers)
        self._costs = [tier.price_usd_t for tier in tiers] + [price_of_short] * materials
        most = [np.inf if tier.most_t is None else tier.most_t for tier in tiers]
        where = np.array([*(tier.material for tier in tiers), *range(materials)])
        matrix = np.zeros((materials + products, len(self._costs)))
        matrix[where, np.arange(len(where))] = -1.0
        one = np.ones(products)
        self._program = Program(
            np.array(self._costs),
            matrix,
            rows=(
                np.concatenate([np.full(materials, -np.inf), one]),
                np.concatenate([np.zeros(materials), one]),
            ),
            columns=(np.zeros(len(where)), np.array(most + [np.inf] * materials)),
        )
        self._program.only_costs_move()
        self._only_short = False

    def add(self, product: int, use_t: Floats, cost_usd: float) -> None:
        """Add a formula of a product."""
        used = np.nonzero(use_t > NOTHING)[0]
        rows = np.append(used, self._materials + product).astype(np.int32)
        self._costs.append(cost_usd)
        counts = 0.0 if self._only_short else cost_usd
        self._program.add_column(counts, 0.0, np.inf, rows, np.append(use_t[used], 1.0))

    def forbid_short(self) -> None:
        """Nothing may be short from now on."""
        for material in range(self._materials):
            self._program.set_column(self._tiers + material, 0.0, 0.0)

    def only_short(self, priced: Floats) -> None:
        """Let only what is short count, at these prices."""
        costs = np.zeros(len(self._costs))
        costs[self._tiers : self._tiers + self._materials] = priced
        self._program.set_costs(costs)
        self._only_short = True

    def all_costs(self) -> None:
        """Let all costs count again."""
        self._program.set_costs(np.array(self._costs))
        self._only_short = False

    def offer(self, tier: int, *, price_usd_t: float, most_t: float | None) -> None:
        """Change the price and the quantity of a tier."""
        self._costs[tier] = price_usd_t
        self._program.set_column(tier, 0.0, np.inf if most_t is None else most_t)
        self.all_costs()

    def solve(self) -> BlendAnswer:
        """The cheapest blend.

        Raises
        ------
        NotSettled
            If there is no blend, which cannot be while materials may be short.
        """
        if self._program.run() is not Outcome.OPTIMAL:
            self._program.forget()
        if self._program.run() is not Outcome.OPTIMAL:
            raise NotSettled("The formulas of the week found so far cannot be blended.")
        point = self._program.point()
        ends = self._tiers + self._materials
        return BlendAnswer(
            cost_usd=point.cost,
            prices_usd_t=np.maximum(0.0, -point.row_price[: self._materials]),
            product_usd=point.row_price[self._materials :],
            weights=point.columns[ends:],
            short_t=point.columns[self._tiers : ends],
        )
