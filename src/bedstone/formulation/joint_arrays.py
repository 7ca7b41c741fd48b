"""A week of products on shared materials as plain arrays: what is asked and what is answered.

Masses are tons as fed, prices USD a ton. A material comes in tiers (what lies in the bins, a
contract, the spot market), each with a price and a quantity; a linear program takes the cheapest
first by itself.
"""

from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

__all__ = ["Floats", "JointArrays", "JointOptimum", "ProductArrays", "Tier", "WeekProduct"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class ProductArrays:
    """One product: row_lower <= matrix @ shares <= row_upper, lower <= shares <= upper.

    The row that makes the shares add up to one is one of the rows. ``material`` has for each
    ingredient its number among the shared materials, or -1 for one that is bought freely at
    ``own_usd_t``. Bounds of shares are finite.
    """

    mass_t: float
    matrix: Floats  # (rows, ingredients)
    row_lower: Floats
    row_upper: Floats
    lower: Floats
    upper: Floats
    own_usd_t: Floats  # (ingredients,); counts only where material is -1
    material: Ints  # (ingredients,)

    def costs_usd_t(self, prices_usd_t: Floats, *, own: float = 1.0) -> Floats:
        """What each ingredient costs this product at prices of the shared materials."""
        shared = self.material >= 0
        return np.where(shared, prices_usd_t[self.material], own * self.own_usd_t)

    def use_t(self, shares: Floats, materials: int) -> Floats:
        """What the product takes of each shared material."""
        shared = self.material >= 0
        use_t = np.zeros(materials)
        np.add.at(use_t, self.material[shared], self.mass_t * shares[shared])
        return use_t

    def own_cost_usd(self, shares: Floats) -> float:
        """What the product's freely bought ingredients cost."""
        return float(self.mass_t * (self.own_usd_t @ np.where(self.material < 0, shares, 0.0)))

    def least_by_duality(
        self,
        costs_usd_t: Floats,
        duals: Floats,
        *,
        also: tuple[Floats, Floats] | None = None,
    ) -> float:
        """A cost per ton below which no formula of this product can be, by plain arithmetic.

        Any ``duals`` give a true bound (weak duality): a row counts at the limit that the sign of
        its dual names, what is left of each cost at the bound of the share that makes it least.
        ``also`` are further rows with their lower limits, their duals behind the others.
        """
        matrix, lower, upper = self.matrix, self.row_lower, self.row_upper
        if also is not None:
            matrix = np.vstack([matrix, also[0]])
            lower = np.concatenate([lower, also[1]])
            upper = np.concatenate([upper, np.full(len(also[1]), np.inf)])
        at = np.where(duals > 0, lower, upper)
        counts = np.isfinite(at) & (duals != 0)
        duals, at = np.where(counts, duals, 0.0), np.where(counts, at, 0.0)
        left = costs_usd_t - matrix.T @ duals
        return float(duals @ at) + float(np.minimum(left * self.lower, left * self.upper).sum())

    def violation(self, shares: Floats) -> float:
        """How far the worst demand is broken, in parts of the size of its numbers; 0 if none is."""
        level = self.matrix @ shares
        size = np.maximum(1.0, np.abs(self.matrix) @ np.abs(shares))
        rows = np.maximum(self.row_lower - level, level - self.row_upper) / size
        columns = np.maximum(self.lower - shares, shares - self.upper)
        return max(0.0, float(rows.max(initial=0.0)), float(columns.max(initial=0.0)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Tier:
    """So much of a material at a price; without ``most_t`` as much as one wants."""

    material: int
    price_usd_t: float
    most_t: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class JointArrays:
    """All products of a week and the tiers of the materials that they share."""

    products: tuple[ProductArrays, ...]
    materials: int
    tiers: tuple[Tier, ...]


class WeekProduct(Protocol):
    """A product that can be asked for its cheapest formula again and again, kept warm between."""

    @property
    def arrays(self) -> ProductArrays:
        """Its arrays."""
        ...

    @property
    def is_quick(self) -> bool:
        """True if the next answer takes less time than telling a thread to find it."""
        ...

    def cheapest(self, costs_usd_t: Floats) -> Floats | None:
        """Shares of the cheapest formula at these costs; None if no formula keeps the demands."""
        ...

    def least_usd_t(self, costs_usd_t: Floats) -> float:
        """A proved lower bound of what was asked last, at the same costs."""
        ...

    def miss(self, shares: Floats) -> float:
        """How far the worst demand that is no row is missed, in parts of its size; 0 if none is."""
        ...

    def cheapest_with(
        self, costs_usd_t: Floats, ingredient: int, share_frac: float
    ) -> float | None:
        """What a ton costs if one share is fixed; None if no formula does that."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class JointOptimum:
    """The cheapest week, with its proof.

    ``cost_usd`` is what ``shares`` and ``taken_t`` cost; ``bound_usd`` is what no week can be
    below (weak duality at ``prices_usd_t``, by plain arithmetic). ``violation`` is how far the
    worst demand or quantity is broken, relative to its size.
    """

    shares: tuple[Floats, ...]
    prices_usd_t: Floats  # (materials,) what a ton of each is worth
    use_t: Floats  # (materials,)
    taken_t: Floats  # (tiers,)
    cost_usd: float
    bound_usd: float
    violation: float
    rounds: int
    columns: int

    @property
    def gap_frac(self) -> float:
        """How much dearer than the bound the answer may be at most, as a part of it."""
        return (self.cost_usd - self.bound_usd) / max(1.0, abs(self.cost_usd))
