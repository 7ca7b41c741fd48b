"""One product's cheapest formula at other costs, compiled: the primal simplex from where it ended.

A week of two hundred products asks some two thousand times for a cheapest formula, and half of the
answers are the formula of the last time: a general solver then mostly prepares itself. Here is only
what such a question needs: the inverse of the basis is kept, and where it is still best nothing
but prices is reckoned. The first basis comes from the general solver, and whatever does not settle
goes back to it. Nothing here is believed: the week is proved from its prices in plain arithmetic.

Imported where it is used: it needs numba.

Sources
-------
[1] Chvatal, Linear Programming (1983), chapters 7 and 8: the revised simplex method, upper bounds
    (from memory).
"""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from bedstone.formulation.solver import Program
from bedstone.quantities.compiling import compiled_and_kept

__all__ = ["Pivots"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

BASIC, AT_LOW, AT_HIGH = 0, 1, 2
WORTH_FRAC = 1e-11
"""A reduced cost below this part of the greatest cost is none."""
SINGULAR = 1e-14
PIVOT = 1e-7
"""Less than this, relative to rows of a largest coefficient of one, is no pivot."""
SLIP = 1e-9
"""How far a bound may be overstepped so that the largest pivot can be chosen among near ones."""
AFRESH = 60
"""After so many pivots the inverse is reckoned from the basis again."""
MOST_PIVOTS = 3000
PATIENCE = 200
"""After so many pivots that gain nothing the first column that could enter does, not the best."""


class Held(NamedTuple):
    """A basis of rows that hold matrix @ shares - levels = 0, kept from call to call.

    Columns are the shares, then the level of each row; ``at`` says of each whether it is basic or at
    which end. ``duals`` are the rows' prices after a call, ``since`` the pivots since the inverse was
    reckoned from the basis.
    """

    matrix: Floats
    low: Floats
    high: Floats
    inverse: Floats
    basis: Ints
    at: Ints
    values: Floats
    duals: Floats
    since: Ints


class Pivots:
    """The basis in which a program was solved, and from there on its own simplex.

    ``low`` and ``high`` are the ends of the shares, then of the rows.
    """

    def __init__(self, program: Program, matrix: Floats, low: Floats, high: Floats) -> None:
        point, (columns, rows) = program.point(), program.basic()
        values, basic = np.concatenate([point.columns, point.rows]), np.concatenate([columns, rows])
        nearer_low = np.abs(values - low) <= np.abs(values - high)
        ends = np.where(nearer_low, low, high)
        self._held = Held(
            matrix=np.ascontiguousarray(matrix),
            low=low,
            high=high,
            inverse=np.empty((rows.size, rows.size)),
            basis=np.flatnonzero(basic).astype(np.int64),
            at=np.where(basic, BASIC, np.where(nearer_low, AT_LOW, AT_HIGH)).astype(np.int64),
            values=np.where(basic, values, ends),
            duals=np.zeros(rows.size),
            since=np.array([AFRESH]),
        )

    @property
    def duals(self) -> Floats:
        """Prices of the rows after the last call."""
        return self._held.duals

    def cheapest(self, costs_usd_t: Floats) -> Floats | None:
        """Shares of the cheapest formula at these costs; None if it does not settle."""
        held = self._held
        if held.basis.size != held.duals.size or not walk(held, costs_usd_t):
            return None
        return held.values[: costs_usd_t.size].copy()


@compiled_and_kept
def walk(held: Held, costs: Floats) -> bool:
    """Pivot until no column would lower the cost; False if it does not settle."""
    reduced, step = np.empty(costs.size), np.empty(held.basis.size)
    worth = WORTH_FRAC * max(1.0, np.abs(costs).max())
    idle = 0
    for _ in range(MOST_PIVOTS):
        if held.since[0] >= AFRESH:
            if not afresh(held):
                return False
            held.since[0] = 0
        price(held, costs, reduced)
        enters = entering(held, reduced, worth, idle > PATIENCE)
        if enters < 0:
            return True
        turned(held, enters, step)
        gained = exchange(held, step, enters)
        if gained < 0:
            held.since[0] = AFRESH
            return False
        idle = 0 if gained > 0 else idle + 1
        held.since[0] += 1
    return False


@compiled_and_kept
def afresh(held: Held) -> bool:
    """The inverse of the basis and the values of what is in it; False if it has no inverse."""
    rows, columns = held.matrix.shape
    square = np.zeros((rows, rows))
    for place, column in enumerate(held.basis):
        if column < columns:
            square[:, place] = held.matrix[:, column]
        else:
            square[column - columns, place] = -1.0
    if not inverted(square, held.inverse):
        return False
    rest = np.zeros(rows)
    for column in range(columns):
        if held.at[column] != BASIC:
            rest -= held.matrix[:, column] * held.values[column]
    for row in range(rows):
        if held.at[columns + row] != BASIC:
            rest[row] += held.values[columns + row]
    for place in range(rows):
        held.values[held.basis[place]] = np.sum(held.inverse[place] * rest)
    return True


@compiled_and_kept
def inverted(square: Floats, inverse: Floats) -> bool:
    """The inverse of a matrix, which is used up; False if it has none."""
    rows = square.shape[0]
    inverse[:, :] = np.eye(rows)
    for place in range(rows):
        best = place + np.argmax(np.abs(square[place:, place]))
        if abs(square[best, place]) < SINGULAR:
            return False
        if best != place:
            for both in (square, inverse):
                one = both[place].copy()
                both[place] = both[best]
                both[best] = one
        by = square[place, place]
        square[place] /= by
        inverse[place] /= by
        for row in range(rows):
            factor = square[row, place]
            if row != place and factor != 0.0:
                square[row] -= factor * square[place]
                inverse[row] -= factor * inverse[place]
    return True


@compiled_and_kept
def price(held: Held, costs: Floats, reduced: Floats) -> None:
    """Prices of the rows, and what is left of each share's cost at them."""
    held.duals[:] = 0.0
    for place, column in enumerate(held.basis):
        if column < costs.size:
            for row in range(held.duals.size):
                held.duals[row] += costs[column] * held.inverse[place, row]
    reduced[:] = costs
    for row in range(held.duals.size):
        dual = held.duals[row]
        if dual != 0.0:
            for column in range(costs.size):
                reduced[column] -= dual * held.matrix[row, column]


@compiled_and_kept
def entering(held: Held, reduced: Floats, worth: float, first: bool) -> int:  # noqa: FBT001 - compiled functions take no keywords
    """The column whose move from its end lowers the cost most, or the first; -1 if none does."""
    best, found = worth, -1
    for column in range(held.at.size):
        if held.at[column] == BASIC or held.low[column] == held.high[column]:
            continue
        shares = reduced.size
        left = reduced[column] if column < shares else held.duals[column - shares]
        gain = -left if held.at[column] == AT_LOW else left
        if gain > best:
            found, best = column, gain
            if first:
                return found
    return found


@compiled_and_kept
def turned(held: Held, enters: int, step: Floats) -> None:
    """How the basic values fall for each unit by which a column rises."""
    rows, columns = held.matrix.shape
    for place in range(rows):
        if enters >= columns:
            step[place] = -held.inverse[place, enters - columns]
            continue
        step[place] = 0.0
        for row in range(rows):
            step[place] += held.inverse[place, row] * held.matrix[row, enters]


@compiled_and_kept
def room(held: Held, place: int, fall: float) -> float:
    """How far a basic value is from the end that it moves to."""
    column = held.basis[place]
    end = held.low[column] if fall > 0 else held.high[column]
    return float((held.values[column] - end) * (1.0 if fall > 0 else -1.0))


@compiled_and_kept
def stopped_by(held: Held, step: Floats, sign: float, most: float) -> int:
    """The place in the basis that reaches its end first; -1 if none does within ``most``.

    Each end may be overstepped a little, so that of those near one another the largest pivot stops.
    """
    reach = most
    for place in range(step.size):
        fall = sign * step[place]
        if abs(fall) > PIVOT:
            reach = min(reach, (room(held, place, fall) + SLIP) / abs(fall))
    found, size = -1, PIVOT
    if reach < most:
        for place in range(step.size):
            fall = sign * step[place]
            if abs(fall) > size and room(held, place, fall) <= reach * abs(fall):
                found, size = place, abs(fall)
    return found


@compiled_and_kept
def exchange(held: Held, step: Floats, enters: int) -> float:
    """Move a column as far as the ends let it, and how far that was; below nothing: not settled."""
    sign = 1.0 if held.at[enters] == AT_LOW else -1.0
    far = held.high[enters] - held.low[enters]
    leaves = stopped_by(held, step, sign, far)
    if leaves >= 0:
        fall = sign * step[leaves]
        far = max(0.0, room(held, leaves, fall) / abs(fall))
    if not np.isfinite(far):
        return -1.0
    for place, column in enumerate(held.basis):
        held.values[column] -= sign * step[place] * far
    if leaves < 0:
        held.at[enters] = AT_HIGH if sign > 0 else AT_LOW
        held.values[enters] = held.high[enters] if sign > 0 else held.low[enters]
        return float(far)
    gone, falls = held.basis[leaves], sign * step[leaves] > 0
    held.at[gone] = AT_LOW if falls else AT_HIGH
    held.values[gone] = held.low[gone] if falls else held.high[gone]
    held.values[enters] += sign * far
    held.at[enters], held.basis[leaves] = BASIC, enters
    exchanged(held.inverse, step, leaves)
    return float(far)


@compiled_and_kept
def exchanged(inverse: Floats, step: Floats, leaves: int) -> None:
    """The inverse after one column of the basis gave way to another."""
    for row in range(step.size):
        inverse[leaves, row] /= step[leaves]
    for place in range(step.size):
        factor = step[place]
        if place != leaves and factor != 0.0:
            for row in range(step.size):
                inverse[place, row] -= factor * inverse[leaves, row]
