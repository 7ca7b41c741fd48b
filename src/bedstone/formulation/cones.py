"""Demands kept with odds, by cutting planes on a warm linear program.

A row kept with probability p over lots is mean(x) - z sd(x) >= limit, z the normal quantile of p:
a second-order cone [1]. sd is convex, so its tangent at any point lies below it and gives a linear
cut that every formula that keeps the odds keeps too. Cuts are added where the linear program's answer
breaks its odds. Where the best formula is no corner, cuts alone close in slowly: once they
are close, Newton's method solves the conditions of the optimum for the rows, bounds and cones that
bind, and what it finds counts only if it is feasible and every price has the right sign, which
proves it optimal because the problem is convex. Else cutting goes on. Cuts depend on compositions
and odds, not on prices, so that they stay good when prices move.

Sources
-------
[1] M. S. Lobo, L. Vandenberghe, S. Boyd, H. Lebret, Applications of second-order cone programming,
    Linear Algebra and its Applications 284 (1998), section 2.6, robust linear programming
    (from memory).
"""

from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from bedstone.errors import NotSettled
from bedstone.formulation.cuts import Cuts
from bedstone.formulation.newton import newton
from bedstone.formulation.solver import Outcome, Point, Program

__all__ = ["Settled", "settle"]

Floats = npt.NDArray[np.float64]

ROUNDS = 200
CLOSE = 2e-9
"""How far, as a part of the row's largest coefficient, odds may be missed when cutting ends."""
NEAR = 1e-3
"""How far they may be missed when Newton's method is tried."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """How a program with cones ended: the point with the rows of the problem alone, and cones.

    ``cone_price`` is the change of cost for each unit by which the cone's limit, turned to "at
    least", rises, shape (cones,). There is no point where the outcome is not optimal.
    """

    outcome: Outcome
    point: Point | None = None
    cone_price: Floats = field(default_factory=lambda: np.zeros(0))


def settle(program: Program, cuts: Cuts) -> Settled:
    """Solve a program and cut until every cone is kept.

    Raises
    ------
    NotSettled
        If cutting does not end.
    """
    rows = cuts.compiled.matrix.shape[0]
    for _ in range(ROUNDS):
        outcome = program.run()
        if outcome is not Outcome.OPTIMAL:
            return Settled(outcome=outcome)
        point = program.point()
        if not cuts.limit.size:
            return Settled(outcome=outcome, point=point)
        value, tangent = cuts.tangents(point.columns)
        miss = (cuts.limit - value) / cuts.scale
        if miss.max() < NEAR:
            found = newton(cuts, point, *program.basic())
            if found is not None:
                return Settled(outcome=outcome, point=found[0], cone_price=found[1])
        broken = np.flatnonzero(miss > CLOSE)
        if not broken.size:
            worth = cuts.worth(point.row_price)
            return Settled(outcome=outcome, point=own_rows(point, rows), cone_price=worth)
        cuts.add(program, tangent, broken)
    raise NotSettled(
        f"The odds of {cuts.compiled.problem.product} did not settle in {ROUNDS} rounds.",
        do="report this formula",
    )


def own_rows(point: Point, rows: int) -> Point:
    """A point without the rows of the cuts."""
    return replace(point, rows=point.rows[:rows], row_price=point.row_price[:rows])
