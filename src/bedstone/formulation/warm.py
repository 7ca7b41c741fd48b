"""Formulas kept warm: solved again after prices moved, one or a thousand."""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from bedstone.formulation.arrays import Compiled
from bedstone.formulation.cones import Settled, settle
from bedstone.formulation.cuts import Cuts
from bedstone.formulation.optimum import optimum, program_of
from bedstone.formulation.solver import Outcome

__all__ = ["WarmFormula", "solve_again"]

Floats = npt.NDArray[np.float64]


class WarmFormula:
    """A compiled problem with its program, which starts from the last answer when prices move.

    Cuts for odds stay good when prices move. Where choices are to be made they are made anew.
    """

    def __init__(self, compiled: Compiled) -> None:
        self.compiled = compiled
        self._program = program_of(compiled)
        self._cuts = Cuts.of(compiled) if compiled.cones else None

    def at(self, cost: Floats) -> Settled:
        """The optimum at other prices, shape (columns,) as in the arrays. [USD/t]

        Raises
        ------
        NotSettled
            If the solver ends without an answer.
        """
        if self.compiled.has_choices:
            found = optimum(replace(self.compiled, cost=cost))
            if found is None:
                return Settled(outcome=Outcome.INFEASIBLE)
            return Settled(outcome=Outcome.OPTIMAL, point=found.point, cone_price=found.cone_price)
        self._program.set_costs(cost)
        if self._cuts is not None:
            self._cuts.compiled = replace(self.compiled, cost=cost)
            return settle(self._program, self._cuts)
        outcome = self._program.run()
        point = self._program.point() if outcome is Outcome.OPTIMAL else None
        return Settled(outcome=outcome, point=point)


def solve_again(
    formulas: Sequence[WarmFormula], costs: Sequence[Floats], *, threads: int = 2
) -> list[Settled]:
    """Many formulas at other prices, side by side: the solver lets go of Python's lock.

    Parameters
    ----------
    formulas : sequence of WarmFormula
        Each formula once.
    costs : sequence of ndarray, shape (columns,)
        Prices of each, in the same order. [USD/t]
    threads : int
        How many run at a time.

    Returns
    -------
    settled : list of Settled
        In the same order.
    """

    def part(first: int) -> list[Settled]:
        places = range(first, len(formulas), threads)
        return [formulas[place].at(costs[place]) for place in places]

    with ThreadPoolExecutor(threads) as pool:
        parts = list(pool.map(part, range(threads)))
    found: list[Settled] = [Settled(outcome=Outcome.INFEASIBLE)] * len(formulas)
    for first, settled in enumerate(parts):
        found[first::threads] = settled
    return found
