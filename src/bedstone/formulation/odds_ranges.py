"""Ranges of prices where odds are in, by solving again: each end was tried from both sides.

With odds every share moves a little with every price, so that nothing stays exactly. A formula
counts as staying while no share moves by more than ``MOVES_FRAC`` of the mash. An entering price is
that of the optimum's own prices, tried just above and just below; where it does not hold (more
binds than need to) it is looked for.
"""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from bedstone.formulation.answers import FormulaAnswer, IngredientAnswer, PriceRange, Way
from bedstone.formulation.arrays import Compiled, compile_problem
from bedstone.formulation.model import FormulaProblem
from bedstone.formulation.optimum import optimum
from bedstone.formulation.warm import WarmFormula

__all__ = ["MOVES_FRAC", "with_ranges"]

Floats = npt.NDArray[np.float64]

MOVES_FRAC = 0.005
"""How far a share may move, as a part of the mash, while the formula counts as staying."""
USED_FRAC = 1e-6
"""A share below this is none, when it is asked whether an ingredient comes in."""
CLOSE = 1e-3
"""How near, as a part of the price, an end is found."""
FARTHEST = 100.0
"""How many times its price an ingredient is followed upwards."""
FIRST_STEP = 0.02
PARTS = 4
"""A range found is tried once more at so many points less one within it."""

NOTE = (
    f"With odds in, every share moves a little with every price. A price range is that in which no "
    f"share moves by more than {MOVES_FRAC * 100:g} % of the mash, found by solving anew."
)

CHOICE_NOTE = "What was left out by a choice has the price below which it would be chosen, all choices made anew."


def with_ranges(problem: FormulaProblem, answer: FormulaAnswer) -> FormulaAnswer:
    """An answer with odds, with price ranges and entering prices found by solving anew.

    What a choice left out gets the price at which it would be chosen. An answer without odds and
    choices has exact ones already and is given back as it is.

    Parameters
    ----------
    problem : FormulaProblem
        What was asked.
    answer : FormulaAnswer
        Its answer.
    """
    if answer.way is Way.LINEAR:
        return answer
    compiled = compile_problem(problem)
    found = optimum(compiled)
    if found is None:
        return answer
    rows = tuple(
        row if row.chosen else replace(row, enters_usd_t=_chosen_below(compiled, column))
        for column, row in enumerate(answer.ingredients)
    )
    left = [CHOICE_NOTE] if any(not row.chosen and row.enters_usd_t for row in rows) else []
    answer = replace(answer, ingredients=rows, notes=(*answer.notes, *left))
    if answer.way is not Way.ODDS:
        return answer
    fixed = replace(found.compiled, at_least={}, count=None)
    ranges = _Ranges(WarmFormula(fixed), fixed.cost, found.point.columns[: fixed.size])
    rows = tuple(
        ranges.of(column, row, free=fixed.column_low[column] < fixed.column_high[column])
        for column, row in enumerate(answer.ingredients)
    )
    return replace(answer, ingredients=rows, notes=(*answer.notes, NOTE))


def _chosen_below(compiled: Compiled, column: int) -> float | None:
    """The price below which an ingredient that a choice left out is chosen, all choices made anew."""

    def out(at: float) -> bool:
        cost = compiled.cost.copy()
        cost[column] = at
        found = optimum(replace(compiled, cost=cost))
        return found is None or float(found.point.columns[column]) <= USED_FRAC

    return _end(float(compiled.cost[column]), 0.0, out) or None


class _Ranges:
    """A formula solved again and again with one price moved."""

    def __init__(self, formula: WarmFormula, cost: Floats, shares: Floats) -> None:
        self._formula, self._cost, self._shares = formula, cost, shares

    def of(self, column: int, row: IngredientAnswer, *, free: bool) -> IngredientAnswer:
        """An ingredient's answer with its range, or its entering price."""
        if not row.chosen or (not free and row.share_frac <= 0):
            return row
        if not free:
            return replace(row, stays_usd_t=PriceRange(low=None, high=None))
        if row.share_frac <= 0:
            return replace(row, enters_usd_t=self._enters(column, row.enters_usd_t))
        return replace(row, stays_usd_t=self._stays(column))

    def _at(self, column: int, price_usd_t: float) -> Floats:
        cost = self._cost.copy()
        cost[column] = price_usd_t
        point = self._formula.at(cost).point
        return self._shares * np.inf if point is None else point.columns[: self._shares.size]

    def _stays(self, column: int) -> PriceRange:
        price = float(self._cost[column])

        def same(at: float) -> bool:
            moved = np.abs(self._at(column, at) - self._shares)
            return bool(moved.max() <= MOVES_FRAC)

        if price <= 0:
            return PriceRange(low=None, high=None)
        low = _end(price, 0.0, same)
        return PriceRange(low=low or None, high=_end(price, FARTHEST * price, same))

    def _enters(self, column: int, told: float | None) -> float | None:
        """The price below which an ingredient is used, None if at no price."""

        def out(at: float) -> bool:
            return float(self._at(column, at)[column]) <= USED_FRAC

        price = float(self._cost[column])
        if told is not None and out(told * (1 + CLOSE)) and not out(told * (1 - CLOSE)):
            return told
        return _end(price, 0.0, out) or None


def _end(start: float, last: float, holds: Callable[[float], bool]) -> float | None:
    """The last place between a start and an end up to which something holds; None: all the way."""
    if holds(last) and _holds_within(start, last, holds) is None:
        return None
    step, good, bad = FIRST_STEP * (1.0 if last > start else -1.0), start, last
    while abs(step * start) < abs(last - start):
        at = start * (1 + step)
        if not holds(at):
            bad = at
            break
        good, step = at, 2 * step
    while abs(bad - good) > CLOSE * start:
        at = (good + bad) / 2
        good, bad = (at, bad) if holds(at) else (good, at)
    within = _holds_within(start, good, holds)
    return good if within is None else _end(start, within, holds)


def _holds_within(start: float, end: float, holds: Callable[[float], bool]) -> float | None:
    """The first point within a range at which something does not hold; None if it does at all."""
    for part in range(1, PARTS):
        at = start + (end - start) * part / PARTS
        if not holds(at):
            return at
    return None
