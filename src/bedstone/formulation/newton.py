"""Newton's method on the conditions of the optimum of a formula with odds.

With F the columns between their bounds, R the rows and K the cones that bind, it solves for x_F,
the rows' prices y and the cones' prices u:

    c_F - A_RF' y - sum_k u_k grad f_k(x)_F = 0,   A_R x = b_R,   f_k(x) = h_k,

f_k(x) = g_k x - z_k sd_k(x). The problem is convex, so a point that keeps every limit, with prices
of the right sign, is the optimum: that is checked, not hoped for.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bedstone.formulation.cuts import Cuts
from bedstone.formulation.solver import Point

__all__ = ["newton"]

Floats = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]

STEPS = 12
SETTLED = 1e-11
KEPT = 1e-9
"""How far a limit may be missed, or a price have the wrong sign, as a part of its size."""


@dataclass(slots=True)
class _Binding:
    """What binds at the start: free columns, rows with the limit they sit at, cones."""

    free: Places
    rows: Places
    limits: Floats
    cones: Places


def newton(
    cuts: Cuts,
    start: Point,
    columns_basic: npt.NDArray[np.bool_],
    rows_basic: npt.NDArray[np.bool_],
) -> tuple[Point, Floats] | None:
    """The optimum near a linear program's answer, with the price of each cone; None if it is not.

    Parameters
    ----------
    cuts : Cuts
        The problem and its cones.
    start : Point
        Answer of the linear program with cuts, whose rows beyond the problem's are the cuts.
    columns_basic : ndarray of bool, shape (columns,)
        Which columns lie between their bounds.
    rows_basic : ndarray of bool, shape (rows with cuts,)
        Which rows do not bind.

    Returns
    -------
    found : (Point, ndarray) or None
        The optimum and what each cone is worth, shape (cones,).
    """
    binding = _binding(cuts, start, columns_basic, rows_basic)
    worth = cuts.worth(start.row_price)[binding.cones]
    columns, price = start.columns.copy(), start.row_price[binding.rows]
    for _ in range(STEPS):
        matrix, miss = _conditions(cuts, binding, columns, price, worth)
        try:
            step = np.linalg.solve(matrix, -miss)
        except np.linalg.LinAlgError:
            return None  # more than one optimum: cutting ends at a corner
        ends = np.cumsum([binding.free.size, binding.rows.size])
        columns[binding.free] += step[: ends[0]]
        price = price + step[ends[0] : ends[1]]
        worth = worth + step[ends[1] :]
        if not np.all(np.isfinite(step)) or np.abs(step[: ends[0]]).max(initial=0.0) > 1:
            return None
        if np.abs(step[: ends[0]]).max(initial=0.0) < SETTLED:
            return _proved(cuts, binding, columns, price, worth)
    return None


def _binding(
    cuts: Cuts,
    start: Point,
    columns_basic: npt.NDArray[np.bool_],
    rows_basic: npt.NDArray[np.bool_],
) -> _Binding:
    compiled = cuts.compiled
    own = compiled.matrix.shape[0]
    rows = np.flatnonzero(~rows_basic[:own])
    low, high = compiled.row_low[rows], compiled.row_high[rows]
    values = start.rows[rows]
    limits = np.where(np.abs(values - low) <= np.abs(values - high), low, high)
    active = [cone for row, cone in cuts.rows if not rows_basic[row]]
    return _Binding(np.flatnonzero(columns_basic), rows, limits, np.unique(active).astype(np.intp))


def _conditions(
    cuts: Cuts, binding: _Binding, columns: Floats, price: Floats, worth: Floats
) -> tuple[Floats, Floats]:
    """Jacobian and residual of the conditions."""
    compiled, free = cuts.compiled, binding.free
    value, tangent = cuts.tangents(columns)
    rows = compiled.matrix[np.ix_(binding.rows, free)]
    slopes = tangent[binding.cones][:, free]
    curve = np.zeros((free.size, free.size))
    for cone, share in zip(binding.cones, worth, strict=True):
        curve += share * _curvature(cuts, int(cone), columns, free)
    count = rows.shape[0] + slopes.shape[0]
    against = np.vstack([rows, slopes])
    matrix = np.block([[curve, -against.T], [against, np.zeros((count, count))]])
    miss = np.concatenate(
        [
            compiled.cost[free] - rows.T @ price - slopes.T @ worth,
            compiled.matrix[binding.rows] @ columns - binding.limits,
            value[binding.cones] - cuts.limit[binding.cones],
        ]
    )
    return matrix, miss


def _curvature(cuts: Cuts, cone: int, columns: Floats, free: Places) -> Floats:
    """Second derivative of z times the sd of a cone, among the free columns."""
    shares = columns[: cuts.compiled.size]
    spread = cuts.compiled.cones[cone].spread
    turned = spread.times(shares)
    sd = np.sqrt(max(float(turned @ shares), 0.0))
    if sd == 0:
        return np.zeros((free.size, free.size))
    inside = np.flatnonzero(free < shares.size)
    places = free[inside]
    both = (
        np.diag(spread.variance[places])
        if spread.both is None
        else spread.both[np.ix_(places, places)]
    )
    curve = np.zeros((free.size, free.size))
    curve[np.ix_(inside, inside)] = both / sd - np.outer(turned[places], turned[places]) / sd**3
    return float(cuts.z[cone]) * curve


def _proved(
    cuts: Cuts, binding: _Binding, columns: Floats, price: Floats, worth: Floats
) -> tuple[Point, Floats] | None:
    """The point with all its prices if it keeps every limit and every price has its sign."""
    compiled = cuts.compiled
    row_price, cone_price = np.zeros(compiled.matrix.shape[0]), np.zeros(cuts.limit.size)
    row_price[binding.rows], cone_price[binding.cones] = price, worth
    value, tangent = cuts.tangents(columns)
    rows = compiled.matrix @ columns
    size = np.maximum(np.abs(compiled.matrix).max(axis=1), 1e-12)
    column_price = compiled.cost - compiled.matrix.T @ row_price - tangent.T @ cone_price
    cheap = KEPT * np.abs(compiled.cost).max(initial=1.0)
    at_low = columns <= compiled.column_low + KEPT
    at_high = columns >= compiled.column_high - KEPT
    kept = (
        np.all(rows >= compiled.row_low - KEPT * size)
        and np.all(rows <= compiled.row_high + KEPT * size)
        and np.all(columns >= compiled.column_low - KEPT)
        and np.all(columns <= compiled.column_high + KEPT)
        and np.all(value >= cuts.limit - KEPT * cuts.scale)
        and np.all(cone_price >= -cheap / cuts.scale)
        and np.all(row_price[rows < compiled.row_high - KEPT * size] >= -cheap)
        and np.all(row_price[rows > compiled.row_low + KEPT * size] <= cheap)
        and np.all(column_price[~at_high] >= -cheap)
        and np.all(column_price[~at_low] <= cheap)
    )
    if not kept:
        return None
    point = Point(
        cost=float(compiled.cost @ columns),
        columns=np.clip(columns, compiled.column_low, compiled.column_high),
        rows=rows,
        row_price=row_price,
        column_price=column_price,
    )
    return point, cone_price
