"""Linear programs by HiGHS, arrays in and arrays out. The only module that calls it.

HiGHS lets go of Python's lock while it runs, so that programs run side by side in threads; each
program is one thread's at a time. Presolve is off: at the size of a formula it costs more than it
saves.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cache

import numpy as np
import numpy.typing as npt
from highspy import _core

from bedstone.errors import NotSettled

__all__ = ["Conflict", "Outcome", "Point", "Program"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int32]
Flags = npt.NDArray[np.bool_]

TOLERANCE = 1e-9
"""How far a row or a reduced cost may be off; HiGHS's own default is 1e-7."""
SMALLEST_SET = 6
"""HiGHS's way to conflict sets that gives irreducible ones with bounds in them."""
CONTINUOUS, INTEGER = 0, 1
PRIMAL_SIMPLEX = 4
"""HiGHS's number for it."""
NO_INTS: Ints = np.empty(0, dtype=np.int32)


class Outcome(StrEnum):
    """How a run ended."""

    OPTIMAL = "optimal"
    INFEASIBLE = "infeasible"
    UNBOUNDED = "unbounded"
    UNFINISHED = "unfinished"  # only where a time was set


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """A solution: values of columns and rows, and what each is worth.

    ``row_price`` is the change of cost for each unit by which the row's binding limit rises,
    ``column_price`` likewise for the column's binding bound (its reduced cost).
    """

    cost: float
    columns: Floats
    rows: Floats
    row_price: Floats
    column_price: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Conflict:
    """Rows and columns whose limits contradict each other, by index."""

    rows: tuple[int, ...]
    columns: tuple[int, ...]


@cache
def _options(tolerance: float, gap: float, seconds: float) -> _core.HighsOptions:
    options = _core.HighsOptions()
    options.time_limit = seconds
    options.output_flag = False
    options.log_to_console = False
    options.presolve = "off"
    options.solver = "choose"
    options.primal_feasibility_tolerance = tolerance
    options.dual_feasibility_tolerance = tolerance
    options.mip_rel_gap = gap
    options.mip_abs_gap = 1e-7
    options.mip_feasibility_tolerance = TOLERANCE
    return options


class Program:
    """A linear program, or one with whole-number columns, kept warm from run to run.

    Sets: columns and rows. Data: ``cost`` (columns,), ``matrix`` (rows, columns), limits of rows
    and bounds of columns, infinite where there is none. Decisions: the columns. Must hold: each
    row and column within its limits. Aim: least cost. ``gap`` is how far, as a part, a cost with
    whole numbers may be from the least; ``seconds`` how long a run may take;
    ``scaled`` that rows are of like size, so that the solver need not see to it.
    """

    def __init__(
        self,
        cost: Floats,
        matrix: Floats,
        *,
        rows: tuple[Floats, Floats],
        columns: tuple[Floats, Floats],
        integer: Flags | None = None,
        tolerance: float = TOLERANCE,
        gap: float = 1e-7,
        seconds: float = np.inf,
        scaled: bool = False,
    ) -> None:
        self._highs = _core._Highs()  # noqa: SLF001 - the bare class; the one around it costs more
        self._highs.passOptions(_options(tolerance, gap, seconds))
        if scaled:  # from the start on: switched between runs it spoils them
            self._highs.setOptionValue("simplex_scale_strategy", 0)
        self.size = cost.size
        self.rows = matrix.shape[0]
        start, index, value = _by_column(matrix)
        whole = np.full(cost.size, CONTINUOUS, dtype=np.int32)
        if integer is not None:
            whole[integer] = INTEGER
        self._whole = integer is not None and bool(np.any(integer))
        status = self._highs.passModel(
            cost.size, matrix.shape[0], value.size,
            int(_core.MatrixFormat.kColwise), int(_core.ObjSense.kMinimize), 0.0,
            cost, columns[0], columns[1], rows[0], rows[1], start, index, value, whole,
        )  # fmt: skip
        self._kept(status)

    def _kept(self, status: _core.HighsStatus) -> None:
        if status == _core.HighsStatus.kError:
            raise NotSettled("The linear program was refused by the solver.", seen=str(status))

    def run(self) -> Outcome:
        """Solve, from where the last run ended.

        Raises
        ------
        NotSettled
            If the solver ends neither with an answer nor with a proof that there is none.
        """
        kinds = _core.HighsModelStatus
        self._highs.run()
        if self._highs.getModelStatus() == kinds.kUnknown:  # seen warm, now and then
            self.forget()
            self._highs.run()
        status = self._highs.getModelStatus()
        if status == kinds.kOptimal:
            return Outcome.OPTIMAL
        if status in {kinds.kInfeasible, kinds.kUnboundedOrInfeasible}:
            return Outcome.INFEASIBLE
        if status == kinds.kUnbounded:
            return Outcome.UNBOUNDED
        if status == kinds.kTimeLimit:
            return Outcome.UNFINISHED
        raise NotSettled(
            "The linear program did not settle.",
            seen=self._highs.modelStatusToString(status),
            do="report this formula; its numbers may differ by very many orders of magnitude",
        )

    def point(self) -> Point:
        """The solution of the last run."""
        found = self._highs.getSolution()
        empty = np.zeros(0)
        return Point(
            cost=self._highs.getObjectiveValue(),
            columns=np.asarray(found.col_value, dtype=np.float64),
            rows=np.asarray(found.row_value, dtype=np.float64),
            row_price=empty if self._whole else np.asarray(found.row_dual, dtype=np.float64),
            column_price=empty if self._whole else np.asarray(found.col_dual, dtype=np.float64),
        )

    def basic(self) -> tuple[Flags, Flags]:
        """Which columns and which rows are basic in the last run's solution."""
        basis = self._highs.getBasis()
        within = _core.HighsBasisStatus.kBasic
        columns = np.array([status == within for status in basis.col_status], dtype=np.bool_)
        rows = np.array([status == within for status in basis.row_status], dtype=np.bool_)
        return columns, rows

    def set_costs(self, cost: Floats) -> None:
        """Replace the cost of every column."""
        self._kept(
            self._highs.changeColsCost(self.size, np.arange(self.size, dtype=np.int32), cost)
        )

    def only_costs_move(self) -> None:
        """Say, after a run, that only costs will change or columns come in.

        The point then stays feasible, and the primal simplex goes on from there.
        """
        self._highs.setOptionValue("simplex_strategy", PRIMAL_SIMPLEX)

    def forget(self) -> None:
        """Forget where the last run ended, so that the next starts from nothing.

        Seen: warm, the primal simplex calls a program infeasible, once in thousands of runs, that
        it solves from nothing.
        """
        self._kept(self._highs.clearSolver())

    def add_column(self, cost: float, low: float, high: float, rows: Ints, values: Floats) -> None:
        """Append a column with its coefficients in some rows."""
        self._kept(self._highs.addCol(cost, low, high, rows.size, rows, values))
        self.size += 1

    def set_row(self, row: int, low: float, high: float) -> None:
        """Replace the limits of a row."""
        self._kept(self._highs.changeRowBounds(row, low, high))

    def set_column(self, column: int, low: float, high: float) -> None:
        """Replace the bounds of a column."""
        self._kept(self._highs.changeColBounds(column, low, high))

    def set_coefficient(self, row: int, column: int, value: float) -> None:
        """Replace one coefficient."""
        self._kept(self._highs.changeCoeff(row, column, value))

    def add_rows(self, matrix: Floats, low: Floats, high: Floats) -> None:
        """Append rows; the next run starts from the present solution."""
        start, index, value = _by_column(np.ascontiguousarray(matrix.T))
        self._kept(self._highs.addRows(matrix.shape[0], low, high, value.size, start, index, value))
        self.rows += matrix.shape[0]

    def delete_rows(self, rows: Sequence[int]) -> None:
        """Take rows out; those behind move up."""
        self._kept(self._highs.deleteRows(len(rows), np.array(rows, dtype=np.int32)))
        self.rows -= len(rows)

    def conflict(self) -> Conflict:
        """Rows and columns whose limits contradict each other, after a run that found no answer."""
        self._highs.setOptionValue("iis_strategy", SMALLEST_SET)
        self._kept(self._highs.getIis()[0])
        found = self._highs.getIis()[1]
        return Conflict(
            rows=tuple(int(row) for row in found.row_index_),
            columns=tuple(int(column) for column in found.col_index_),
        )


def _by_column(matrix: Floats) -> tuple[Ints, Ints, Floats]:
    """A dense matrix as starts, row indices and values by column, nothings left out."""
    turned = np.ascontiguousarray(matrix.T)
    column, row = np.nonzero(turned)
    counts = np.bincount(column, minlength=turned.shape[0])
    start = np.zeros(turned.shape[0], dtype=np.int32)
    np.cumsum(counts[:-1], out=start[1:])
    return start, row.astype(np.int32), turned[column, row]
