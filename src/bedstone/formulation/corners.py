"""What limits and prices are worth where more than one basis is optimal, by re-solving.

At a corner where more things bind than are needed, a step up of a limit and a step down cost
differently, and one basis does not say how far each is true. The cost against a limit as fed is
convex and piecewise straight: from the slope here and the slope at the far end the lines' meeting
point is tried, until it lies on the line that starts here. The prices between which a formula
stays are those for which some prices of limits prove it optimal: two small linear programs.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bedstone.formulation.answers import Side
from bedstone.formulation.optimum import Optimum, program_of
from bedstone.formulation.solver import Outcome, Program

__all__ = ["OneSided", "limit_one_sided", "price_ranges"]

Floats = npt.NDArray[np.float64]

STEP = 1e-6
"""First step along a limit, as a part of its size, to see the slope on that side."""
SAME = 1e-7
"""Slopes or costs that differ by less, as a part of their size, are the same."""
TURNS = 60
TIGHT = 1e-8
"""A row or column this close to its limit binds."""
FAR = 1e7
"""Prices beyond this, in USD/t, are no end."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OneSided:
    """Cost of a unit more of a limit, on one side, and how far (from 0) that is true.

    ``slope`` is None where nothing fits on that side.
    """

    slope: float | None
    reach: float


class _LimitWalk:
    """The program of an optimum with one limit that can be moved by a distance, one way."""

    def __init__(self, optimum: Optimum, row: int, *, side: Side, sign: float) -> None:
        compiled = optimum.compiled
        self._compiled, self._row, self._sign = compiled, row, sign
        self._program = program_of(compiled)
        self.is_low = side is Side.MIN
        self.limit = float((compiled.row_low if self.is_low else compiled.row_high)[row])

    def at(self, distance: float) -> tuple[float, float] | None:
        """Cost and its slope along the way at a distance, None where nothing fits."""
        value, row = self.limit + self._sign * distance, self._row
        if self.is_low:
            self._program.set_row(row, value, max(value, self._compiled.row_high[row]))
        else:
            self._program.set_row(row, min(value, self._compiled.row_low[row]), value)
        if self._program.run() is not Outcome.OPTIMAL:
            return None
        point = self._program.point()
        price = float(point.row_price[row])
        # a price of the other sign is that of the row's other limit, which stays where it is
        own = max(price, 0.0) if self.is_low else min(price, 0.0)
        return point.cost, self._sign * own

    def end(self, furthest: float) -> float:
        """How far the limit can be moved this way at most."""
        if self.is_low != (self._sign > 0):
            return furthest  # loosening
        self._program.set_row(self._row, -np.inf, np.inf)
        self._program.set_costs(-self._sign * self._compiled.matrix[self._row])
        self._program.run()
        reach = float(self._program.point().rows[self._row]) - self.limit
        self._program.set_costs(self._compiled.cost)
        other = self._compiled.row_high if self.is_low else self._compiled.row_low
        room = float(other[self._row]) - self.limit
        return max(0.0, min(self._sign * reach, self._sign * room, furthest))


def limit_one_sided(
    optimum: Optimum, row: int, *, side: Side, up: bool, furthest: float
) -> OneSided:
    """Slope and reach of the cost against a binding row's limit, upwards or downwards.

    Parameters
    ----------
    optimum : Optimum
        Solved by a linear program.
    row : int
        A row with a limit that binds.
    side : Side
        Which of its limits.
    up : bool
        True for a higher limit.
    furthest : float
        How far the limit is followed at most, above 0.
    """
    sign = 1.0 if up else -1.0
    walk = _LimitWalk(optimum, row, side=side, sign=sign)
    here = optimum.point.cost
    close = SAME * max(1.0, abs(here))
    reach = walk.end(furthest)
    if reach <= 0:
        return OneSided(slope=None, reach=0.0)
    step = min(STEP * max(1.0, abs(walk.limit)), reach / 2)
    first, far = walk.at(step), walk.at(reach * (1 - SAME))
    if first is None or far is None:
        return OneSided(slope=None, reach=0.0)
    slope = first[1]
    for _ in range(TURNS):
        if far[0] <= here + slope * reach + close or far[1] <= slope:
            break
        # where the line from here meets the line at the far end
        reach = (far[0] - far[1] * reach - here) / (slope - far[1])
        met = walk.at(reach)
        if met is None or reach <= step:
            break
        far = met
    return OneSided(slope=sign * slope, reach=max(reach, 0.0))


def price_ranges(optimum: Optimum, columns: list[int]) -> list[tuple[float, float]]:
    """How far the price of each column may move, down and up, while the formula stays the best.

    The point is optimal for prices c just if c = A'y + z for prices of rows y and columns z that
    bind, each of the sign of its side. For each column the least and the largest change of its
    price are sought for which there are such y and z.
    """
    program, change = _proofs(optimum)
    found = []
    for column in columns:
        program.set_coefficient(column, change, -1.0)
        at_low, at_high = _at_bounds(optimum, column)
        # dearer, what is held at its least stays there; cheaper, what is held at its most
        down = -np.inf if at_high else _end(program, change, sign=1.0)
        up = np.inf if at_low else _end(program, change, sign=-1.0)
        program.set_coefficient(column, change, 0.0)
        found.append((min(down, 0.0), max(up, 0.0)))
    return found


def _at_bounds(optimum: Optimum, column: int) -> tuple[bool, bool]:
    compiled, value = optimum.compiled, optimum.point.columns[column]
    return (
        bool(value - compiled.column_low[column] <= TIGHT),
        bool(compiled.column_high[column] - value <= TIGHT),
    )


def _end(program: Program, change: int, *, sign: float) -> float:
    """The least (sign 1) or the largest (sign -1) change of a price with a proof, infinite for none."""
    cost = np.zeros(program.size)
    cost[change] = sign
    program.set_costs(cost)
    if program.run() is not Outcome.OPTIMAL:
        return 0.0
    end = float(program.point().columns[change])
    return end if abs(end) < FAR / 2 else -sign * np.inf


def _proofs(optimum: Optimum) -> tuple[Program, int]:
    """The program whose solutions are prices of what binds that prove the formula optimal."""
    compiled, point = optimum.compiled, optimum.point
    size = 1 + np.abs(point.rows)
    blocks, lows, highs = [], [], []
    for vectors, value, low, high, close in (
        (compiled.matrix, point.rows, compiled.row_low, compiled.row_high, TIGHT * size),
        (
            np.eye(compiled.cost.size),
            point.columns,
            compiled.column_low,
            compiled.column_high,
            np.full(compiled.cost.size, TIGHT),
        ),
    ):
        at_low, at_high = value - low <= close, high - value <= close
        binds = at_low | at_high
        blocks.append(vectors[binds])
        lows.append(np.where(at_high, -np.inf, 0.0)[binds])
        highs.append(np.where(at_low, np.inf, 0.0)[binds])
    proofs = np.vstack(blocks)
    change = proofs.shape[0]
    program = Program(
        np.zeros(change + 1),
        np.hstack([proofs.T, np.zeros((compiled.cost.size, 1))]),
        rows=(compiled.cost, compiled.cost),
        columns=(np.append(np.concatenate(lows), -FAR), np.append(np.concatenate(highs), FAR)),
    )
    return program, change
