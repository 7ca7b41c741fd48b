"""The cheapest round as a linear program with cuts, and as one in whole numbers: HiGHS alone here.

Sets: items, the pairs that may follow each other. Data: the cost of each pair. Decisions: 0 to 1,
one item follows another. Must hold: each item is left once and entered once; each group of items
is left at least once (added where an answer breaks it). Aim: least cost. With whole decisions the
answer is the cheapest round; without, its cost is a lower bound.
"""

import math
from dataclasses import dataclass, field

import highspy
import numpy as np
from numpy.typing import NDArray

from bedstone.planning.order_cuts import groups_left_too_seldom

__all__ = ["Program", "Row"]

Costs = NDArray[np.float64]
Flags = NDArray[np.bool_]
LARGEST_COST = 10_000.0  # what costs are scaled to: the solver's tolerances are absolute
INFINITE = highspy.kHighsInf
OPTIMAL = highspy.HighsModelStatus.kOptimal
BOTH = 2  # rows in which each pair stands


@dataclass(frozen=True, slots=True, eq=False)
class Row:
    """One thing that must hold: items left or entered once, or a group left at all."""

    kind: str  # "left", "entered" or "group"
    items: Flags


@dataclass(eq=False)
class Program:
    """The program over the pairs that are allowed, with a limit of time for all it does."""

    costs: Costs
    allowed: Flags
    seconds: float
    rows: list[Row] = field(default_factory=list)
    reduced: Costs = field(default_factory=lambda: np.zeros(0))

    def __post_init__(self) -> None:
        """Hand the pairs and the rows of single items to the solver."""
        self.before, self.after = np.nonzero(self.allowed & ~np.eye(len(self.costs), dtype=bool))
        pair_costs = self.costs[self.before, self.after]
        largest = float(np.abs(pair_costs).max(initial=0.0))
        self.scale = LARGEST_COST / largest if largest > 0 else 1.0
        count, pairs = len(self.costs), len(self.before)
        program = highspy.HighsLp()
        program.num_col_, program.num_row_ = pairs, BOTH * count
        program.col_cost_ = pair_costs * self.scale
        program.col_lower_ = np.zeros(pairs)
        program.col_upper_ = np.full(pairs, INFINITE)
        program.row_lower_ = program.row_upper_ = np.ones(BOTH * count)
        program.a_matrix_.format_ = highspy.MatrixFormat.kColwise
        program.a_matrix_.start_ = np.arange(0, BOTH * pairs + 1, BOTH)
        program.a_matrix_.index_ = np.column_stack((self.before, count + self.after)).ravel()
        program.a_matrix_.value_ = np.ones(BOTH * pairs)
        self.solver = highspy._core._Highs()  # noqa: SLF001 - the one around it prints a banner
        self.solver.setOptionValue("output_flag", False)  # noqa: FBT003 - the call has no other form
        self.solver.setOptionValue("mip_rel_gap", 0.0)
        self.solver.passModel(program)
        alone = np.eye(count, dtype=bool)
        self.rows = [Row("left", row) for row in alone] + [Row("entered", row) for row in alone]

    @property
    def is_infeasible(self) -> bool:
        """True where the last thing asked has no answer."""
        return bool(self.solver.getModelStatus() == highspy.HighsModelStatus.kInfeasible)

    def bound(self) -> float:
        """The least cost with parts of decisions allowed, or a lower one where time is too short."""
        found = float(np.where(self.allowed, self.costs, np.inf).min(axis=1).sum())
        while self._is_solved():
            found = float(self.solver.getInfo().objective_function_value) / self.scale
            self.reduced = np.array(self.solver.getSolution().col_dual)
            if not self._cut():
                break
        return found

    def drop_dear(self, gap: float) -> None:
        """Leave out every pair that no round can have which costs less than the bound and ``gap``."""
        if not math.isfinite(gap) or self.solver.getModelStatus() != OPTIMAL:
            return
        dear = np.flatnonzero(self.reduced > gap * self.scale).astype(np.int32)
        nothing = np.zeros(len(dear))
        self.solver.changeColsBounds(len(dear), dear, nothing, nothing)

    def cheapest(self) -> tuple[list[int] | None, float | None]:
        """The cheapest round, from item 0, over the pairs that are left; None where there is none.

        The second is the bound reached where time was too short.
        """
        pairs = len(self.before)
        whole = np.full(pairs, highspy.HighsVarType.kInteger)
        self.solver.changeColsIntegrality(pairs, np.arange(pairs, dtype=np.int32), whole)
        while self._is_solved():
            if not self._cut():
                return self._round(), None
        if self.is_infeasible:
            return None, None
        return None, float(self.solver.getInfo().mip_dual_bound) / self.scale

    def irreducible(self) -> list[Row]:
        """Of a program without answer: rows that cannot all hold, though any but one of them can."""
        clash: list[Row] = []
        for number, row in enumerate(self.rows):
            self.solver.changeRowBounds(number, -INFINITE, INFINITE)
            self.solver.run()
            if not self.is_infeasible:
                highest = INFINITE if row.kind == "group" else 1.0
                self.solver.changeRowBounds(number, 1.0, highest)
                clash.append(row)
        return clash

    def _is_solved(self) -> bool:
        left_s = max(0.0, self.seconds - self.solver.getRunTime())  # of all runs so far together
        self.solver.setOptionValue("time_limit", left_s)
        self.solver.run()
        return bool(self.solver.getModelStatus() == OPTIMAL)

    def _flow(self) -> Costs:
        flow = np.zeros(self.costs.shape)
        flow[self.before, self.after] = self.solver.getSolution().col_value
        return flow

    def _cut(self) -> bool:
        """Add rows for groups that the answer leaves too seldom; False where there are none."""
        groups = groups_left_too_seldom(self._flow())
        for group in groups:
            leaving = np.flatnonzero(group[self.before] & ~group[self.after]).astype(np.int32)
            self.solver.addRow(1.0, INFINITE, len(leaving), leaving, np.ones(len(leaving)))
            self.rows.append(Row("group", group))
        return bool(groups)

    def _round(self) -> list[int]:
        follows = self._flow().argmax(axis=1)
        order = [0]
        while len(order) < len(self.costs):
            order.append(int(follows[order[-1]]))
        return order
