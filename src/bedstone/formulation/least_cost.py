"""The formula that costs least, read out of the optimum for people."""

import math
from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from bedstone.errors import NoAnswer
from bedstone.formulation.answers import FormulaAnswer, IngredientAnswer, Side, Way
from bedstone.formulation.arrays import Compiled, compile_problem
from bedstone.formulation.conflicts import nothing_fits
from bedstone.formulation.limit_answers import limit_answers
from bedstone.formulation.model import FormulaProblem
from bedstone.formulation.optimum import Optimum, optimum
from bedstone.formulation.prices import BINDS, Prices

__all__ = ["answer_of", "least_cost"]

Floats = npt.NDArray[np.float64]

NONE_FRAC = 1e-9
"""A share below this is none: a milligram in a tonne."""


def least_cost(problem: FormulaProblem, *, explained: bool = True) -> FormulaAnswer:
    """The formula that costs least and keeps every demand.

    Without ``explained`` it is told at once that nothing fits; ``conflicts.why_not`` then says why.

    Raises
    ------
    BadInput
        If the problem cannot be understood; every fault is listed.
    NoAnswer
        If nothing fits; explained, with an irreducible set of demands that contradict each other.
    """
    compiled = compile_problem(problem)
    found = optimum(compiled)
    if found is None and explained:
        raise nothing_fits(compiled)
    if found is None:
        raise NoAnswer(f"No formula of {problem.product} keeps every demand.")
    return answer_of(compiled, found)


def answer_of(compiled: Compiled, found: Optimum) -> FormulaAnswer:
    """An optimum as people read it."""
    problem, shares = compiled.problem, found.point.columns[: compiled.size]
    shares = np.where(shares > NONE_FRAC, shares, 0.0)
    prices = Prices(found)
    way = Way.ODDS if compiled.cones else Way.LINEAR
    notes = list(compiled.notes)
    if compiled.has_choices:
        way = Way.ODDS if compiled.cones else Way.CHOICES_FIXED
        notes.append(
            "Which ingredients are used was chosen first. Prices of limits and ranges hold as long "
            "as that choice stands."
        )
    dry = [row.dry_matter_frac for row in problem.ingredients]
    density = [row.density_kg_m3 for row in problem.ingredients]
    used = [index for index in range(compiled.size) if shares[index] > 0]
    return FormulaAnswer(
        product=problem.product,
        way=way,
        cost_usd_t=float(compiled.cost[: compiled.size] @ shares),
        ingredients=tuple(_ingredients(compiled, found, prices, shares)),
        limits=tuple(limit_answers(compiled, prices, shares)),
        moisture_wb=_water(shares, dry, used),
        density_kg_m3=_density(shares, density, used),
        assumed=compiled.levels.assumed,
        notes=tuple(notes),
    )


def _water(shares: Floats, dry: list[float | None], used: list[int]) -> float | None:
    """Moisture of the mash, None where a used ingredient's is not known."""
    parts = [(float(shares[index]), dry[index]) for index in used]
    if any(matter is None for _, matter in parts):
        return None
    return sum(share * (1 - (matter or 0.0)) for share, matter in parts)


def _density(shares: Floats, density: list[float | None], used: list[int]) -> float | None:
    """Bulk density of the mash from the sum of volumes, None where one is not known."""
    volume = [float(shares[index]) / (density[index] or math.inf) for index in used]
    return 1 / sum(volume) if all(volume) and volume else None


def _ingredients(
    compiled: Compiled, found: Optimum, prices: Prices, shares: Floats
) -> Iterator[IngredientAnswer]:
    point, arrays = found.point, found.compiled
    for column, row in enumerate(compiled.problem.ingredients):
        price = float(point.column_price[column])
        at_low = shares[column] <= arrays.column_low[column] + BINDS
        at_high = shares[column] >= arrays.column_high[column] - BINDS
        bound = Side.MIN if at_low else Side.MAX if at_high else Side.NONE
        if at_low and at_high:
            bound = Side.MIN if price >= 0 else Side.MAX
        left_out = bool(found.left_out[column])
        yield IngredientAnswer(
            code=row.code,
            share_frac=float(shares[column]),
            price_usd_t=row.price_usd_t,
            cost_usd_t=float(shares[column]) * row.price_usd_t,
            bound=bound,
            bound_price_usd_t=price if bound else 0.0,
            stays_usd_t=prices.stays(column),
            enters_usd_t=None if left_out else prices.enters(column),
            chosen=not left_out,
        )
