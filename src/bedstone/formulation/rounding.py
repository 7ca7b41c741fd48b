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
"""Divisions each way in which the whole-number program looks at least."""
HALF = 0.5
KEPT = 1e-9
"""How far a demand may be missed, as a part of its value, and count as kept."""
MOST_BATCHES = 200
SECONDS = 2.0
"""How long the whole-number program may look."""


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

    An ingredient's own minimum and maximum may be missed by what its division makes unavoidable.

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
    weighing = _Weighing.of(used, shares, batch_mg=batch_mg, scales=scales, hand=hand)
    counts, changed = weighing.nearest(), False
    before = judged(problem, shares)
    if _broken(before, judged(problem, weighing.shares(counts))):
        better = _chosen(compiled, weighing, before)
        if better is not None:
            counts, changed = better, True
    real = weighing.shares(counts)
    after = judged(problem, real)
    prices = {row.code: row.price_usd_t for row in problem.ingredients}
    return RoundedFormula(
        draws=weighing.draws(counts),
        premix=weighing.premix(counts),
        batch_mg=round(float(counts @ weighing.steps)),
        shares=real,
        cost_usd_t=sum(share * prices[code] for code, share in real.items()),
        limits=after,
        broken=_broken(before, after),
        changed=changed,
    )


def _refuse(
    used: Sequence[str], batch_mg: int, scales: Mapping[str, ScaleFor], hand: ScaleFor
) -> None:
    faults = [
        Fault(column=f"scale of {code}", found="none", allowed="a scale with its division")
        for code in used
        if code not in scales
    ]
    faults += [
        Fault(
            column=f"division of {scale.code}", found=f"{scale.division_mg} mg", allowed="1 or more"
        )
        for scale in {*scales.values(), hand}
        if scale.division_mg < 1
    ]
    if batch_mg < 1:
        faults.append(Fault(column="batch", found=f"{batch_mg} mg", allowed="a mass above 0"))
    if not used:
        faults.append(Fault(column="formula", found="no ingredient", allowed="at least one"))
    if faults:
        raise BadInput(
            "This formula cannot be weighed.", faults=tuple(faults), do="put these right"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Weighing:
    """What each used ingredient is weighed on, and its mass for each count.

    ``steps`` is the mass for a batch of one count, ``ideal`` the count wanted, shape (used,). A
    part of the premix is weighed for ``batches`` at once, so that its step is that much finer.
    """

    used: tuple[str, ...]
    on: tuple[ScaleFor, ...]
    hand: ScaleFor
    small: frozenset[str]
    batches: int
    steps: Floats
    ideal: Floats
    batch_mg: int

    @classmethod
    def of(
        cls,
        used: Sequence[str],
        shares: Mapping[str, float],
        *,
        batch_mg: int,
        scales: Mapping[str, ScaleFor],
        hand: ScaleFor,
    ) -> "_Weighing":
        """Each ingredient on its own scale, on the hand scale if less, in the premix if less still."""
        wanted = np.array([shares[code] for code in used]) * batch_mg
        on = tuple(
            hand if mass < scales[code].least_mg else scales[code]
            for code, mass in zip(used, wanted, strict=True)
        )
        small = frozenset(
            code
            for code, mass, scale in zip(used, wanted, on, strict=True)
            if mass < scale.least_mg
        )
        least = min(
            (mass for code, mass in zip(used, wanted, strict=True) if code in small), default=0.0
        )
        batches = min(MOST_BATCHES, math.ceil(hand.least_mg / least)) if least else 1
        steps = np.array(
            [
                scale.division_mg / (batches if code in small else 1)
                for code, scale in zip(used, on, strict=True)
            ]
        )
        return cls(
            used=tuple(used), on=on, hand=hand, small=small, batches=batches, steps=steps,
            ideal=wanted / steps, batch_mg=batch_mg,
        )  # fmt: skip

    def nearest(self) -> Floats:
        """Nearest counts, none of them nothing; the largest draw takes up what the batch misses."""
        counts = np.maximum(1.0, np.floor(self.ideal + 0.5))
        largest = int(np.argmax(self.ideal * self.steps))
        missing = self.batch_mg - float(counts @ self.steps)
        counts[largest] = max(
            1.0, counts[largest] + math.floor(missing / self.steps[largest] + 0.5)
        )
        return counts

    def shares(self, counts: Floats) -> dict[str, float]:
        """Shares really weighed."""
        masses = counts * self.steps
        return dict(zip(self.used, (masses / masses.sum()).tolist(), strict=True))

    def draws(self, counts: Floats) -> tuple[RoundedDraw, ...]:
        """What is weighed of each for one batch."""
        masses = counts * self.steps
        return tuple(
            RoundedDraw(
                ingredient=code,
                scale=scale.code,
                division_mg=scale.division_mg,
                mass_mg=round(float(mass)),
                by_hand=scale == self.hand,
                premix=code in self.small,
            )
            for code, scale, mass in zip(self.used, self.on, masses, strict=True)
        )

    def premix(self, counts: Floats) -> Premix | None:
        """The premix of the micros that are too little for the hand scale, None if there are none."""
        parts = {
            code: round(float(count)) * scale.division_mg
            for code, scale, count in zip(self.used, self.on, counts, strict=True)
            if code in self.small
        }
        if not parts:
            return None
        return Premix(
            batches=self.batches,
            scale=self.hand.code,
            parts_mg=parts,
            dose_mg=round(sum(parts.values()) / self.batches),
        )


def _broken(before: Sequence[LimitAnswer], after: Sequence[LimitAnswer]) -> tuple[str, ...]:
    """Demands that were kept and are not any more."""
    return tuple(
        now.code for was, now in zip(before, after, strict=True) if _kept(was) > _kept(now)
    )


def _kept(limit: LimitAnswer) -> bool:
    close = KEPT * max(1.0, abs(limit.expected))
    return all(slack >= -close for slack in (limit.slack_min, limit.slack_max) if slack is not None)


def _chosen(
    compiled: Compiled, weighing: _Weighing, before: Sequence[LimitAnswer]
) -> Floats | None:
    """Counts near the ideal that keep every demand the formula kept, None if there are none.

    Sets: used ingredients, rows. Decisions: counts, whole, a few each way of the ideal. Must hold:
    each row's limit, multiplied with the mass of the batch so that it stays linear; cones by their
    tangent at the formula; the batch within half the coarsest division. Aim: least cost of a ton.
    """
    places = np.array([compiled.codes.index(code) for code in weighing.used])
    ideal = np.zeros(compiled.cost.size)
    ideal[places] = weighing.ideal * weighing.steps / weighing.batch_mg
    kept = {row.code for row in before if _kept(row)}
    lines = _lines(compiled, ideal, kept)
    parts = weighing.steps / weighing.batch_mg
    room = float(parts.max()) / 2
    matrix = np.vstack(
        [parts, (lines[:, places] if lines.size else np.zeros((0, places.size))) * parts]
    )
    size = np.maximum(np.abs(matrix).max(axis=1), 1e-12)
    low = np.concatenate([[1 - room], np.full(lines.shape[0], KEPT)])
    high = np.concatenate([[1 + room], np.full(lines.shape[0], np.inf)])
    costs = (compiled.cost[places] - float(compiled.cost @ ideal)) * parts
    program = Program(
        costs,
        matrix / size[:, None],
        rows=(low / size, high / size),
        columns=_window(compiled, weighing, places),
        integer=np.ones(places.size, dtype=np.bool_),
        gap=0.01,
        seconds=SECONDS,
    )
    if program.run() is not Outcome.OPTIMAL:
        return None
    return np.floor(program.point().columns + 0.5)


def _window(
    compiled: Compiled, weighing: _Weighing, places: npt.NDArray[np.intp]
) -> tuple[Floats, Floats]:
    """Counts to look at: a few each way, a fine scale as far as the coarsest division, own limits kept."""
    ideal, steps = weighing.ideal, weighing.steps
    reach = np.maximum(REACH, np.ceil(steps.max() / steps))
    least = np.ceil(compiled.column_low[places] * weighing.batch_mg / steps - HALF)
    most = np.floor(compiled.column_high[places] * weighing.batch_mg / steps + HALF)
    low = np.maximum(np.maximum(1.0, np.floor(ideal) - reach), least)
    return low, np.maximum(low, np.minimum(np.ceil(ideal) + reach, most))


def _lines(compiled: Compiled, ideal: Floats, kept: set[str]) -> Floats:
    """Each kept side of a row as a line that must not be below nothing whatever the batch weighs."""
    lines = []
    for index, row in enumerate(compiled.rows):
        if row.measure is None:
            continue
        if row.lower and row.lower.code in kept:
            lines.append(compiled.matrix[index] - compiled.row_low[index])
        if row.upper and row.upper.code in kept:
            lines.append(compiled.row_high[index] - compiled.matrix[index])
    if compiled.cones:
        cuts = Cuts.of(compiled)
        _, tangent = cuts.tangents(ideal)
        lines.extend(
            tangent[place] - cuts.limit[place]
            for place, cone in enumerate(compiled.cones)
            if _code(compiled, cone.row) in kept
        )
    return np.array(lines).reshape(len(lines), compiled.cost.size)


def _code(compiled: Compiled, row: int) -> str:
    demand = compiled.rows[row].lower or compiled.rows[row].upper
    return demand.code if demand else ""
