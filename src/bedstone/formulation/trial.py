"""Does anything keep these demands? Asked again and again of subsets, on one warm program."""

from collections.abc import Collection
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from bedstone.errors import NotSettled
from bedstone.formulation.arrays import Compiled
from bedstone.formulation.cuts import Cuts
from bedstone.formulation.demands import Entry, only
from bedstone.formulation.optimum import choose
from bedstone.formulation.solver import Outcome, Program

__all__ = ["Trial"]

Flags = npt.NDArray[np.bool_]

KEPT = 1e-8
"""How far odds may be missed, as a part of the row's largest coefficient, and count as kept."""
CLOSE = 2e-9
ROUNDS = 300


class Trial:
    """Tells of subsets of a problem's demands whether anything keeps them, whatever it costs.

    Where odds are in, the smallest miss over all cones is sought (below nothing: the largest room),
    each as a part of its row's largest coefficient. It drives the program to the middle of what
    fits, where a few cuts tell, and cutting ends as soon as a point keeps every cone or the program
    proves that none does.
    """

    def __init__(self, compiled: Compiled) -> None:
        self._compiled, self._last = compiled, compiled
        self._cuts = Cuts.of(compiled) if compiled.cones else None
        rows, columns = compiled.matrix.shape
        extra = 1 if self._cuts is not None else 0
        self._program = Program(
            np.concatenate([np.zeros(columns), np.ones(extra)]),
            np.hstack([compiled.matrix, np.zeros((rows, extra))]),
            rows=(compiled.row_low, compiled.row_high),
            columns=(
                np.concatenate([compiled.column_low, -np.ones(extra)]),
                np.concatenate([compiled.column_high, np.full(extra, np.inf)]),
            ),
        )

    def fits(self, kept: Collection[Entry]) -> bool:
        """True if something keeps every one of these demands.

        Raises
        ------
        NotSettled
            If the odds do not settle.
        """
        wanted = only(self._compiled, kept)
        if wanted.has_choices:
            return choose(replace(wanted, cost=np.zeros(wanted.cost.size))) is not None
        self._move_to(wanted)
        if self._cuts is None:
            return self._program.run() is Outcome.OPTIMAL
        active = np.array([cone in wanted.cones for cone in self._compiled.cones])
        for row, cone in self._cuts.rows:
            low = self._cuts.limit[cone] if active[cone] else -np.inf
            self._program.set_row(row, float(low), np.inf)
        return self._keeps(self._cuts, active)

    def _move_to(self, wanted: Compiled) -> None:
        """Change the limits that differ from those of the last question."""
        last = self._last
        for row in np.flatnonzero(
            (last.row_low != wanted.row_low) | (last.row_high != wanted.row_high)
        ):
            self._program.set_row(int(row), wanted.row_low[row], wanted.row_high[row])
        for column in np.flatnonzero(
            (last.column_low != wanted.column_low) | (last.column_high != wanted.column_high)
        ):
            low, high = wanted.column_low[column], wanted.column_high[column]
            self._program.set_column(int(column), low, high)
        self._last = wanted

    def _keeps(self, cuts: Cuts, active: Flags) -> bool:
        """Cut until a formula keeps the active cones or nothing does."""
        for _ in range(ROUNDS):
            if self._program.run() is not Outcome.OPTIMAL:
                return False
            point = self._program.point()
            if point.cost > KEPT:
                return False
            value, tangent = cuts.tangents(point.columns[:-1])
            miss = np.where(active, (cuts.limit - value) / cuts.scale, -np.inf)
            if miss.max(initial=-np.inf) <= KEPT:
                return True
            broken = np.flatnonzero(miss > point.cost + CLOSE)
            cuts.add(self._program, np.column_stack([tangent, cuts.scale]), broken)
        raise NotSettled(f"The odds of {self._compiled.problem.product} did not settle.")
