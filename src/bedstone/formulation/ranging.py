"""What limits and prices are worth at the optimum of a linear program, and how far that is true.

Everything follows from the optimal basis: the columns between their bounds, J, and the rows that
bind, R. With B = A_RJ, x_J = B^-1 (limits of R - A_RN x_N), and prices of rows y = B^-T c_J [1]. A
limit may move until another column or row meets its own; a price until another column would do.
Where a column of the basis itself lies on a bound the basis is not the only one and these ranges
may be too short: ``corners.py`` then finds them by re-solving.

A limit m in dry matter, or of a ratio, stands in the coefficients: (over - m under) x >= 0. Moving
m by d moves the basis by one row, a change of rank one, so that x moves as if the row's limit were
moved by t = d U / (1 - d g), and reduced costs by s = d y / (1 - d g) times fixed directions,
U = under(x), g = under_J B^-1 e_r (Sherman and Morrison). Both are solved for d where something
else comes to bind.

Sources
-------
[1] V. Chvatal, Linear Programming, 1983, chapter 10, sensitivity analysis (from memory).
"""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bedstone.formulation.optimum import Optimum

__all__ = ["Basis", "basis_of"]

Floats = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]

SMALL = 1e-9
"""A direction or a distance below this, as a part of its size, is none."""


@dataclass(frozen=True, slots=True)
class Basis:
    """The optimal basis. ``inverse`` has shape (columns between, rows that bind)."""

    optimum: Optimum
    columns: Places
    others: Places
    rows: Places
    slack_rows: Places
    inverse: Floats

    @property
    def is_corner(self) -> bool:
        """True if a column of the basis, or a row outside it, lies on its own limit.

        Prices of limits then differ up and down, and more than one basis is optimal.
        """
        compiled, point = self.optimum.compiled, self.optimum.point
        x, rows = point.columns[self.columns], point.rows[self.slack_rows]
        size = 1 + np.abs(rows)
        return bool(
            np.any(x - compiled.column_low[self.columns] < SMALL)
            or np.any(compiled.column_high[self.columns] - x < SMALL)
            or np.any(rows - compiled.row_low[self.slack_rows] < SMALL * size)
            or np.any(compiled.row_high[self.slack_rows] - rows < SMALL * size)
        )

    def move_of(self, row: int) -> tuple[Floats, Floats]:
        """How the basis' columns and the slack rows move for a unit more of a binding row's limit."""
        place = int(np.flatnonzero(self.rows == row)[0])
        columns = self.inverse[:, place]
        matrix = self.optimum.compiled.matrix
        return columns, matrix[np.ix_(self.slack_rows, self.columns)] @ columns

    def limit_range(self, row: int) -> tuple[float, float]:
        """How far a binding row's limit may move, down and up, while the same things bind."""
        compiled, point = self.optimum.compiled, self.optimum.point
        columns, rows = self.move_of(row)
        values = np.concatenate([point.columns[self.columns], point.rows[self.slack_rows]])
        low = np.concatenate([compiled.column_low[self.columns], compiled.row_low[self.slack_rows]])
        high = np.concatenate(
            [compiled.column_high[self.columns], compiled.row_high[self.slack_rows]]
        )
        return _room(np.concatenate([columns, rows]), values - low, high - values)

    def price_range(self, column: int) -> tuple[float, float]:
        """How far the price of a column between its bounds may move while every share stays."""
        place = int(np.flatnonzero(self.columns == column)[0])
        row_move = self.inverse[place]
        matrix = self.optimum.compiled.matrix
        column_move = -matrix[np.ix_(self.rows, self.others)].T @ row_move
        return self._prices_room(row_move, column_move)

    def _prices_room(self, row_move: Floats, column_move: Floats) -> tuple[float, float]:
        """How far along a direction of prices every price keeps its sign, back and forth."""
        compiled, point = self.optimum.compiled, self.optimum.point
        row_low, row_high = compiled.row_low[self.rows], compiled.row_high[self.rows]
        x = point.columns[self.others]
        low, high = compiled.column_low[self.others], compiled.column_high[self.others]
        prices = np.concatenate([point.row_price[self.rows], point.column_price[self.others]])
        values = np.concatenate([point.rows[self.rows], x])
        lows, highs = np.concatenate([row_low, low]), np.concatenate([row_high, high])
        free = highs - lows <= 0  # an equality, or a fixed part: its price may have any sign
        at_low = np.abs(values - lows) <= np.abs(highs - values)
        below = np.where(free, np.inf, np.where(at_low, np.maximum(prices, 0.0), np.inf))
        above = np.where(free, np.inf, np.where(at_low, np.inf, np.maximum(-prices, 0.0)))
        return _room(np.concatenate([row_move, column_move]), below, above)

    def ratio_range(self, row: int, under: Floats) -> tuple[float, float]:
        """How far a limit that stands in a row's coefficients may move, down and up.

        ``under`` has shape (columns,): what the limit is multiplied with in the row.
        """
        compiled, point = self.optimum.compiled, self.optimum.point
        whole = float(under @ point.columns)
        columns, _ = self.move_of(row)
        bend = float(under[self.columns] @ columns)
        back = self.inverse.T @ under[self.columns]
        matrix = compiled.matrix
        direction = under[self.others] - matrix[np.ix_(self.rows, self.others)].T @ back
        worth = float(point.row_price[row])
        moves = [_limit_move(t, whole, bend) for t in self.limit_range(row)]
        if worth:
            turned = sorted(math.copysign(1, worth) * s for s in self._prices_room(back, direction))
            prices = [_limit_move(s, abs(worth), bend) for s in turned]
            moves = [max(moves[0], prices[0]), min(moves[1], prices[1])]
        return moves[0], moves[1]


def _limit_move(effect: float, size: float, bend: float) -> float:
    """The d for which d * size / (1 - d * bend) is an effect, size above 0; infinite for none."""
    if math.isinf(effect):
        return 1 / bend if bend * effect > 0 else effect
    total = size + effect * bend
    return effect / total if total > 0 else math.copysign(math.inf, effect)


def _room(direction: Floats, below: Floats, above: Floats) -> tuple[float, float]:
    """How far along a direction, back and forth, values keep their room below and above."""
    moves = np.abs(direction) > SMALL * max(1.0, float(np.abs(direction).max(initial=0.0)))
    step, below, above = direction[moves], np.maximum(below[moves], 0), np.maximum(above[moves], 0)
    forth = np.where(step > 0, above / np.abs(step), below / np.abs(step))
    back = np.where(step > 0, below / np.abs(step), above / np.abs(step))
    return -float(back.min(initial=np.inf)), float(forth.min(initial=np.inf))


def basis_of(optimum: Optimum) -> Basis:
    """The basis of an optimum that a linear program found."""
    columns = np.flatnonzero(optimum.columns_basic)
    rows = np.flatnonzero(~optimum.rows_basic)
    matrix = optimum.compiled.matrix
    return Basis(
        optimum=optimum,
        columns=columns,
        others=np.flatnonzero(~optimum.columns_basic),
        rows=rows,
        slack_rows=np.flatnonzero(optimum.rows_basic),
        inverse=np.asarray(np.linalg.inv(matrix[np.ix_(rows, columns)]), dtype=np.float64),
    )
