"""The cost of a formula with odds by a second way: an interior-point method on the cones themselves.

The only module that calls Clarabel. It says whether cutting planes were right; it gives no ranges.
"""

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from bedstone.errors import NotSettled
from bedstone.formulation.arrays import Compiled
from bedstone.formulation.cuts import Cuts

__all__ = ["cone_cost"]

Floats = npt.NDArray[np.float64]

TOLERANCE = 1e-10


def cone_cost(compiled: Compiled) -> float | None:
    """Least cost of a compiled problem without choices, None if nothing fits.

    Sets: columns, rows, cones. Data: those of ``Compiled``. Decisions: the columns. Must hold:
    rows and columns within their limits; for each cone z * |root of covariance times shares| at
    most its row's value less the limit. Aim: least cost. [USD/t]

    Raises
    ------
    NotSettled
        If the solver ends without an answer.
    """
    import clarabel
    from scipy import sparse

    blocks, limits = _linear(compiled)
    cones: list[object] = [clarabel.NonnegativeConeT(sum(limit.size for limit in limits))]
    for block, limit in _second_order(compiled):
        blocks.append(block)
        limits.append(limit)
        cones.append(clarabel.SecondOrderConeT(limit.size))
    settings = clarabel.DefaultSettings()
    settings.verbose = False
    settings.tol_gap_abs = settings.tol_gap_rel = settings.tol_feas = TOLERANCE
    solver = clarabel.DefaultSolver(
        sparse.csc_matrix((compiled.cost.size, compiled.cost.size)),
        compiled.cost,
        sparse.csc_matrix(np.vstack(blocks)),
        np.concatenate(limits),
        cones,
        settings,
    )
    found = solver.solve()
    if str(found.status) in {"Solved", "AlmostSolved"}:
        return float(found.obj_val)
    if str(found.status) in {"PrimalInfeasible", "AlmostPrimalInfeasible"}:
        return None
    raise NotSettled("The second way to the cost did not settle.", seen=str(found.status))


def _linear(compiled: Compiled) -> tuple[list[Floats], list[Floats]]:
    """Rows and bounds, each as blocks of "at most"."""
    blocks, limits = [], []
    for matrix, low, high in (
        (compiled.matrix, compiled.row_low, compiled.row_high),
        (np.eye(compiled.cost.size), compiled.column_low, compiled.column_high),
    ):
        for sign, limit in ((1.0, high), (-1.0, low)):
            there = np.isfinite(limit)
            blocks.append(sign * matrix[there])
            limits.append(sign * limit[there])
    return blocks, limits


def _second_order(compiled: Compiled) -> Iterator[tuple[Floats, Floats]]:
    """Each cone: the row's value less its limit stands over z times the root of the covariance."""
    if not compiled.cones:
        return
    cuts, size = Cuts.of(compiled), compiled.size
    for index, cone in enumerate(compiled.cones):
        root = np.zeros((size, compiled.cost.size))
        both = np.diag(cone.spread.variance) if cone.spread.both is None else cone.spread.both
        root[:, :size] = cone.z * _root(both)
        limit = np.zeros(1 + size)
        limit[0] = -cuts.limit[index]
        yield -np.vstack([cuts.coefficients[index], root]), limit


def _root(covariance: Floats) -> Floats:
    """A matrix whose transpose times itself is the covariance."""
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray(np.sqrt(np.maximum(values, 0.0))[:, None] * vectors.T, dtype=np.float64)
