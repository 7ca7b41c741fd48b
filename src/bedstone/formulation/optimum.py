"""The optimum of a compiled problem: linear, with odds, with choices."""

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from bedstone.errors import NotSettled
from bedstone.formulation.arrays import Compiled
from bedstone.formulation.cones import Settled, settle
from bedstone.formulation.cuts import Cuts
from bedstone.formulation.solver import Outcome, Point, Program

__all__ = ["Optimum", "choose", "optimum", "program_of"]

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

HALF = 0.5
ROUNDS = 200
CHOICE_CLOSE = 1e-7
"""How far odds may be missed, as a part of the row's largest coefficient, when choices are made."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Optimum:
    """A solved problem: the arrays it was solved with, the point, prices of cones, the basis.

    In ``compiled`` the choices are fixed where there were any; ``left_out`` are the ingredients
    that choice left out.
    """

    compiled: Compiled
    point: Point
    cone_price: Floats
    columns_basic: Flags
    rows_basic: Flags
    left_out: Flags


def program_of(compiled: Compiled) -> Program:
    """The linear program of a compiled problem, choices and cones left aside."""
    return Program(
        compiled.cost,
        compiled.matrix,
        rows=(compiled.row_low, compiled.row_high),
        columns=(compiled.column_low, compiled.column_high),
    )


def optimum(compiled: Compiled, *, gap: float = CHOICE_CLOSE) -> Optimum | None:
    """The formula that costs least, None if nothing fits.

    Sets: columns (ingredients, rises over the running formula), rows, cones, choices. Decisions:
    shares, 0 to 1; used or not where a choice is asked. Must hold: every row, bound and cone of
    ``compiled``; a share is nothing or at least so much; at most so many shares are not nothing.
    Aim: least cost of a ton; with choices, within ``gap`` of it as a part.

    Raises
    ------
    NotSettled
        If a solver ends without an answer.
    """
    left_out = np.zeros(compiled.cost.size, dtype=np.bool_)
    if compiled.has_choices:
        used = choose(compiled, gap=gap)
        if used is None:
            return None
        left_out[: compiled.size] = ~used
        compiled = _fixed(compiled, used)
    program = program_of(compiled)
    cuts = Cuts.of(compiled) if compiled.cones else None
    settled = settle(program, cuts) if cuts else _plain(program)
    if settled.point is None:
        return None
    columns_basic, rows_basic = program.basic()
    return Optimum(
        compiled=compiled,
        point=settled.point,
        cone_price=settled.cone_price,
        columns_basic=columns_basic,
        rows_basic=rows_basic[: compiled.matrix.shape[0]],
        left_out=left_out,
    )


def _plain(program: Program) -> Settled:
    outcome = program.run()
    return Settled(outcome=outcome, point=program.point() if outcome is Outcome.OPTIMAL else None)


def _fixed(compiled: Compiled, used: Flags) -> Compiled:
    """The problem with its choices made: left out is nothing, used is at least so much."""
    low, high = compiled.column_low.copy(), compiled.column_high.copy()
    high[: compiled.size][~used] = 0.0
    for column, demand in compiled.at_least.items():
        if used[column]:
            low[column] = max(low[column], demand.limit)
    return replace(compiled, column_low=low, column_high=high)


def choose(compiled: Compiled, *, gap: float = CHOICE_CLOSE) -> Flags | None:
    """Which ingredients the cheapest formula uses, None if nothing fits.

    With odds, by outer approximation: the whole-number program with the cuts so far names a choice
    and a bound that no choice goes below; that choice is solved with its odds in full, and the cuts
    at its answer join. It ends when the bound reaches the best answer.
    """
    program = _choice_program(compiled, gap)
    if not compiled.cones:
        return _used(compiled, program.point()) if program.run() is Outcome.OPTIMAL else None
    cuts, columns = Cuts.of(compiled), compiled.cost.size

    def cut_at(point: Floats, which: npt.NDArray[np.intp]) -> None:
        _, tangent = cuts.tangents(point)
        lines = np.zeros((which.size, program.size))
        lines[:, :columns] = tangent[which]
        program.add_rows(lines, cuts.limit[which], np.full(which.size, np.inf))

    every = np.arange(cuts.limit.size)
    whole = settle(program_of(compiled), Cuts.of(compiled)).point
    if whole is None:
        return None  # not even without choices
    cut_at(whole.columns, every)
    best, best_used = np.inf, None
    for _ in range(ROUNDS):
        if program.run() is not Outcome.OPTIMAL:
            return best_used
        point = program.point()
        if point.cost >= best - max(gap, CHOICE_CLOSE) * abs(best):
            return best_used
        used = _used(compiled, point)
        value, _ = cuts.tangents(point.columns[:columns])
        broken = np.flatnonzero(value < cuts.limit - cuts.scale * CHOICE_CLOSE)
        if not broken.size:
            return used
        cut_at(point.columns[:columns], broken)
        fixed = _fixed(compiled, used)
        found = settle(program_of(fixed), Cuts.of(fixed)).point
        if found is not None:
            cut_at(found.columns, every)
            if found.cost < best:
                best, best_used = found.cost, used
    raise NotSettled(f"The choices of {compiled.problem.product} did not settle.")


def _used(compiled: Compiled, point: Point) -> Flags:
    """Which ingredients are chosen; one that has no choice to make is free to be used."""
    used = np.ones(compiled.size, dtype=np.bool_)
    chosen = point.columns[compiled.cost.size :]
    used[_choosable(compiled)] = chosen > HALF
    return used


def _choosable(compiled: Compiled) -> npt.NDArray[np.intp]:
    """Columns with a choice: all if there are at most so many, else those with an amount if used."""
    if compiled.count is not None:
        return np.arange(compiled.size)
    return np.array(sorted(compiled.at_least), dtype=np.intp)


def _choice_program(compiled: Compiled, gap: float) -> Program:
    """The program with a column used-or-not, 0 or 1, for each ingredient with a choice."""
    columns, places = compiled.cost.size, _choosable(compiled)
    size = places.size
    pick = np.zeros((size, columns))
    pick[np.arange(size), places] = 1.0
    high = compiled.column_high[places]
    least = np.array(
        [compiled.at_least[place].limit if place in compiled.at_least else 0.0 for place in places]
    )
    blocks = [
        np.hstack([compiled.matrix, np.zeros((compiled.matrix.shape[0], size))]),
        np.hstack([pick, -np.diag(high)]),  # not used is nothing
        np.hstack([pick, -np.diag(least)]),  # used is at least so much
    ]
    low = [compiled.row_low, np.full(size, -np.inf), np.zeros(size)]
    top = [compiled.row_high, np.zeros(size), np.full(size, np.inf)]
    if compiled.count is not None:
        blocks.append(np.hstack([np.zeros((1, columns)), np.ones((1, size))]))
        low.append(np.array([-np.inf]))
        top.append(np.array([compiled.count.limit]))
    return Program(
        np.concatenate([compiled.cost, np.zeros(size)]),
        np.vstack(blocks),
        rows=(np.concatenate(low), np.concatenate(top)),
        columns=(
            np.concatenate([compiled.column_low, np.zeros(size)]),
            np.concatenate([compiled.column_high, np.ones(size)]),
        ),
        integer=np.arange(columns + size) >= columns,
        gap=gap,
    )
