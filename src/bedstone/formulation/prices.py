"""What each row and each ingredient of an optimum is worth, one way for every kind of optimum.

Where a linear program was solved the ranges are exact. Where odds are in, a price holds at the
point and a formula moves with every price, so there are no ranges; curves are re-solved.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from bedstone.formulation.answers import PriceRange, Side
from bedstone.formulation.corners import limit_one_sided, price_ranges
from bedstone.formulation.optimum import Optimum, optimum
from bedstone.formulation.ranging import Basis, basis_of

__all__ = ["Prices", "Worth"]

Floats = npt.NDArray[np.float64]

BINDS = 1e-7
"""A limit is at work if it is missed by less than this part of its size."""
STEP = 1e-5
"""Part of a limit by which it is moved to see how the spread changes with it."""
NO_WORTH = 1e-9
RATIO_STEP = 1e-6
NO_LIMIT = 1e-2


@dataclass(frozen=True, slots=True, kw_only=True)
class Worth:
    """What one unit more of a row's limit costs, going up and going down, from where to where."""

    binding: Side
    up_usd_t: float | None  # None: nothing fits on that side
    down_usd_t: float | None
    true_from: float | None
    true_to: float | None


NOTHING = Worth(binding=Side.NONE, up_usd_t=0.0, down_usd_t=0.0, true_from=None, true_to=None)


class Prices:
    """The prices of an optimum."""

    def __init__(self, solved: Optimum) -> None:
        self._optimum = solved
        self._basis: Basis | None = None
        if not solved.compiled.cones:
            self._basis = basis_of(solved)
        self._corner = self._basis is not None and self._basis.is_corner
        self._stays = self._all_stays()

    def row(self, row: int) -> Worth:
        """What a row's binding limit is worth."""
        compiled, point = self._optimum.compiled, self._optimum.point
        low, high, value = compiled.row_low[row], compiled.row_high[row], point.rows[row]
        cone = self._of_cones(row)
        if cone is not None:
            return cone
        size = BINDS * max(1e-3, float(np.abs(compiled.matrix[row]).max()))
        if min(value - low, high - value) > size:
            return NOTHING
        side = Side.MIN if value - low <= high - value else Side.MAX
        if low == high and point.row_price[row] < 0:
            side = Side.MAX
        if compiled.rows[row].lower is compiled.rows[row].upper or not self._basis:
            scale = self._scale(row)
            price = float(point.row_price[row]) * scale
            return Worth(
                binding=side, up_usd_t=price, down_usd_t=price, true_from=None, true_to=None
            )
        return self._linear(row, side)

    def _scale(self, row: int) -> float:
        """How much of a row's own limit one unit of the demand's limit is."""
        measure = self._optimum.compiled.rows[row].measure
        if measure is None or measure.as_fed:
            return 1.0
        return float(measure.under @ self._optimum.point.columns[: measure.under.size])

    def _limit(self, row: int, side: Side) -> float:
        found = self._optimum.compiled.rows[row]
        demand = found.lower if side is Side.MIN else found.upper
        return demand.limit if demand else math.nan

    def _linear(self, row: int, side: Side) -> Worth:
        """A row's worth with its exact range, from the basis or, at a corner, by re-solving."""
        basis, found = self._basis, self._optimum
        measure = found.compiled.rows[row].measure
        limit, scale = self._limit(row, side), self._scale(row)
        if basis is None or self._corner:
            if measure is not None and not measure.as_fed:
                return self._one_sided_ratio(row, side, limit)
            return self._one_sided(row, side, limit)
        if found.rows_basic[row]:
            return NOTHING
        price = float(found.point.row_price[row]) * scale
        if measure is None or measure.as_fed:
            down, up = basis.limit_range(row)
            other = self._limit(row, Side.MAX if side is Side.MIN else Side.MIN)
            up = min(up, other - limit) if side is Side.MIN and not math.isnan(other) else up
            down = max(down, other - limit) if side is Side.MAX and not math.isnan(other) else down
        else:
            down, up = basis.ratio_range(row, self._under(row))
        return Worth(
            binding=side,
            up_usd_t=price,
            down_usd_t=price,
            true_from=_end(limit + down),
            true_to=_end(limit + up),
        )

    def _one_sided(self, row: int, side: Side, limit: float) -> Worth:
        furthest = 10 * max(1.0, abs(limit))
        up = limit_one_sided(self._optimum, row, side=side, up=True, furthest=furthest)
        down = limit_one_sided(self._optimum, row, side=side, up=False, furthest=furthest)
        return Worth(
            binding=side,
            up_usd_t=up.slope,
            down_usd_t=down.slope,
            true_from=_end(limit - down.reach) if down.reach < furthest else None,
            true_to=_end(limit + up.reach) if up.reach < furthest else None,
        )

    def _one_sided_ratio(self, row: int, side: Side, limit: float) -> Worth:
        """The same for a limit that stands in the coefficients: solved a little to either side."""
        ends: list[tuple[float | None, float]] = []
        for sign in (1.0, -1.0):
            step = sign * RATIO_STEP * max(NO_LIMIT, abs(limit))
            found = self._with_limit(row, limit + step)
            if found is None:
                ends.append((None, 0.0))
                continue
            if found.rows_basic[row]:
                ends.append((0.0, sign * math.inf))
                continue
            under = self._under(row)
            price = float(found.point.row_price[row]) * float(under @ found.point.columns)
            down, up = basis_of(found).ratio_range(row, under)
            ends.append((price, step + (up if sign > 0 else down)))
        return Worth(
            binding=side,
            up_usd_t=ends[0][0],
            down_usd_t=ends[1][0],
            true_from=_end(limit + ends[1][1]),
            true_to=_end(limit + ends[0][1]),
        )

    def _with_limit(self, row: int, limit: float) -> Optimum | None:
        """The optimum with another limit in a row's coefficients, choices as they are."""
        compiled = self._optimum.compiled
        measure, matrix = compiled.rows[row].measure, compiled.matrix.copy()
        if measure is not None:
            coefficients, _ = measure.row(limit)
            matrix[row, : coefficients.size] = coefficients
        return optimum(replace(compiled, matrix=matrix, at_least={}, count=None))

    def _under(self, row: int) -> Floats:
        """What a limit in a row's coefficients is multiplied with, by column."""
        measure = self._optimum.compiled.rows[row].measure
        under = np.zeros(self._optimum.compiled.cost.size)
        if measure is not None:
            under[: measure.under.size] = measure.under
        return under

    def _of_cones(self, row: int) -> Worth | None:
        """A row's worth where it is kept with odds that bind, None where they do not."""
        compiled, point = self._optimum.compiled, self._optimum.point
        for index, cone in enumerate(compiled.cones):
            worth = float(self._optimum.cone_price[index]) if cone.row == row else 0.0
            if worth <= NO_WORTH:
                continue
            sign = 1.0 if cone.side is Side.MIN else -1.0
            drift = self._spread_slope(row, cone.side) * cone.z
            measure = compiled.rows[row].measure
            under = 1.0 if measure is None or measure.as_fed else self._scale(row)
            price = worth * (sign * under + drift) + float(point.row_price[row]) * under
            return Worth(
                binding=cone.side, up_usd_t=price, down_usd_t=price, true_from=None, true_to=None
            )
        return None

    def _spread_slope(self, row: int, side: Side) -> float:
        """How the sd of a row changes with its limit; as fed it does not."""
        compiled = self._optimum.compiled
        measure = compiled.rows[row].measure
        if measure is None or measure.as_fed or not measure.under_weights:
            return 0.0
        limit, problem = self._limit(row, side), compiled.problem
        step = STEP * max(1e-3, abs(limit))
        shares = self._optimum.point.columns[: compiled.size]
        above, below = (
            measure.spread(at, compiled.levels, problem.correlations, list(compiled.codes)).sd(
                shares
            )
            for at in (limit + step, limit - step)
        )
        return (above - below) / (2 * step)

    def _all_stays(self) -> list[tuple[float, float]] | None:
        """How far each ingredient's price may move while the formula stays, by column."""
        basis, solved = self._basis, self._optimum
        if basis is None:
            return None
        size = solved.compiled.size
        if self._corner:
            return price_ranges(solved, list(range(size)))
        found = []
        compiled, point = solved.compiled, solved.point
        for column in range(size):
            if solved.columns_basic[column]:
                found.append(basis.price_range(column))
                continue
            spare = abs(float(point.column_price[column]))
            low, high = compiled.column_low[column], compiled.column_high[column]
            if low == high:
                found.append((-math.inf, math.inf))
            elif point.columns[column] - low <= high - point.columns[column]:
                found.append((-spare, math.inf))
            else:
                found.append((-math.inf, spare))
        return found

    def stays(self, column: int) -> PriceRange | None:
        """The prices of an ingredient between which the formula stays; None where odds are in."""
        if self._stays is None or self._optimum.left_out[column]:
            return None
        price = float(self._optimum.compiled.cost[column])
        down, up = self._stays[column]
        low = price + down
        return PriceRange(low=low if low > 0 else None, high=_end(price + up))

    def enters(self, column: int) -> float | None:
        """The price below which an ingredient held at its minimum would be used more."""
        compiled, point = self._optimum.compiled, self._optimum.point
        low, high = compiled.column_low[column], compiled.column_high[column]
        if point.columns[column] > low + BINDS or low == high:
            return None
        price = float(compiled.cost[column])
        if self._stays is not None:
            price += self._stays[column][0]
        else:
            price -= float(point.column_price[column])
        return price if price > 0 else None


def _end(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None
