"""To the scale: a formula as whole scale divisions of a batch, checked again after rounding.

Each ingredient has a scale with a division and a least draw. What is less than its scale weighs
well goes to the hand scale; what is less even there goes into a premix, weighed for several batches
at a time and dosed from it by hand. Each draw is first rounded to its nearest division. Where that
breaks a demand that the formula kept, the divisions are chosen by a whole-number program: a few
divisions each way, every demand kept, least cost.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
import numpy.typing as npt

from bedstone.errors import BadInput, Fault
from bedstone.formulation.answers import LimitAnswer
from bedstone.formulation.arrays import Compiled, compile_problem
from bedstone.formulation.cuts import Cuts
from bedstone.formulation.judging import judged
from bedstone.formulation.model import FormulaProblem
from bedstone.formulation.solver import Outcome, Program

__all__ = ["Premix", "RoundedDraw", "RoundedFormula", "ScaleFor", "to_scale"]

Floats = npt.NDArray[np.float64]

REACH = 3
"""Divisions each way in which the whole-number program looks."""
KEPT = 1e-9
MOST_BATCHES = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleFor:
    """A scale: its code, its division, and the least draw that it weighs well enough."""

    code: str
    division_mg: int
    least_mg: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundedDraw:
    """What is weighed of one ingredient for one batch; ``premix`` names the premix it goes into."""

    ingredient: str
    scale: str
    division_mg: int
    mass_mg: int
    by_hand: bool
    premix: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Premix:
    """Micros weighed together for several batches, and how much of it goes into one batch."""

    batches: int
    scale: str
    parts_mg: Mapping[str, int]  # for all those batches
    dose_mg: int  # for one batch

    @property
    def mass_mg(self) -> int:
        """Mass of the whole premix."""
        return sum(self.parts_mg.values())


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundedFormula:
    """A formula as it can be weighed, with every demand checked again.

    ``shares`` are those really weighed. ``broken`` names the demands that rounding breaks, in
    their order; empty where all that the formula kept are kept. ``changed`` says that divisions
    other than the nearest had to be taken.
    """

    draws: tuple[RoundedDraw, ...]
    premix: Premix | None
    batch_mg: int
    shares: Mapping[str, float]
    cost_usd_t: float
    limits: tuple[LimitAnswer, ...]
    broken: tuple[str, ...]
    changed: bool


def to_scale(
    problem: FormulaProblem,
    shares: Mapping[str, float],
    *,
    batch_mg: int,
    scales: Mapping[str, ScaleFor],
    hand: ScaleFor,
) -> RoundedFormula:
    """A formula rounded to what the scales can weigh, checked again.

    Parameters
    ----------
    problem : FormulaProblem
        What the formula must keep.
    shares : mapping of str to float
        The formula.
    batch_mg : int
        Mass of a batch. [mg]
    scales : mapping of str to ScaleFor
        The scale of each ingredient that is used.
    hand : ScaleFor
        The scale for hand additions.

    Raises
    ------
    BadInput
        If the batch has no mass, an ingredient has no scale, or a division is none.
    """
    used = [row.code for row in problem.ingredients if shares.get(row.code, 0.0) > 0]
    _refuse(used, batch_mg, scales, hand)
    compiled = compile_problem(problem)
    wanted = {code: shares[code] * batch_mg for code in used}
    weighed = {code: _scale_of(wanted[code], scales[code], hand) for code in used}
    small = [code for code in used if wanted[code] < weighed[code].least_mg]
    batches = _batches([wanted[code] for code in small], hand)
    steps = np.array(
        [
            weighed[code].division_mg / (batches if code in small else 1)
            for code in used
        ]
    )
    ideal = np.array([wanted[code] for code in used]) / steps
    nearest = _whole(_nearest(ideal, steps, batch_mg))
    counts, changed = nearest, False
    if _broken(compiled, problem, shares, used, nearest * steps):
        better = _chosen(compiled, used, ideal, steps=steps, batch_mg=batch_mg)
        if better is not None:
            counts, changed = better, True
    return _rounded(
        problem, compiled, shares, used=used, counts=counts, steps=steps,
        weighed=weighed, small=small, batches=batches, hand=hand, changed=changed,
    )  # fmt: skip
