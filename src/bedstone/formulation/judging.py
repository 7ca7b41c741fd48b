"""A given formula held against every demand: what it keeps, by how much, and with what odds."""

from collections.abc import Mapping

import numpy as np

from bedstone.formulation.answers import LimitAnswer
from bedstone.formulation.arrays import compile_problem
from bedstone.formulation.limit_answers import limit_answers
from bedstone.formulation.model import FormulaProblem
from bedstone.formulation.prices import NOTHING, Worth

__all__ = ["judged"]


class _NoPrices:
    """A formula that was not solved has no prices of limits."""

    def row(self, row: int) -> Worth:  # noqa: ARG002 - every row is worth nothing
        """Nothing."""
        return NOTHING


def judged(problem: FormulaProblem, shares: Mapping[str, float]) -> tuple[LimitAnswer, ...]:
    """Each demand that is a row of the problem, as the shares keep it.

    Limits on single ingredients are not among them. Prices of limits are nothing, since nothing
    was solved.

    Parameters
    ----------
    problem : FormulaProblem
        The demands, and what is known of each ingredient that has a share.
    shares : mapping of str to float
        The formula; an ingredient that is not named has no share.

    Raises
    ------
    BadInput
        If the problem cannot be understood; every fault is listed.
    """
    compiled = compile_problem(problem)
    vector = np.array([shares.get(code, 0.0) for code in compiled.codes])
    return tuple(limit_answers(compiled, _NoPrices(), vector))
