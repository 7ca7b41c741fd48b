"""A problem as the arrays of a linear program, with what each row and bound means.

Columns are the ingredients in the problem's order, then, where the total change from the running
formula is limited, one for each ingredient by how much its share rises. Row 0 says that shares add
up to one.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

from bedstone.errors import BadInput
from bedstone.formulation.answers import Demand, DemandKind, Side
from bedstone.formulation.checks import refuse_bad_input
from bedstone.formulation.levels import DRY_MATTER, Levels, resolve
from bedstone.formulation.measures import Measure, Spread, odds_of, requirement_measure
from bedstone.formulation.model import Basis, FormulaProblem, LevelAndShare, Requirement
from bedstone.formulation.words import (
    change_demand,
    change_each_demand,
    choice_demands,
    group_demand,
    ingredient_demand,
    level_demand,
    mash_demand,
    requirement_demand,
    share_demand,
    total_demand,
)

__all__ = ["Bound", "Compiled", "Cone", "Row", "compile_problem", "measure_rows"]

Floats = npt.NDArray[np.float64]
ROUNDED = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What a row of the program is: its coefficients, limits and the demands behind them.

    ``measure`` is the quantity that is limited, None for the total and the change. A demand that
    is met with odds has its cone beside the row; the row itself asks it of the expected value.
    """

    coefficients: Floats
    low: float
    high: float
    lower: Demand | None = None
    upper: Demand | None = None
    measure: Measure | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """A demand that bounds one column."""

    column: int
    side: Side
    value: float
    demand: Demand


@dataclass(frozen=True, slots=True, kw_only=True)
class Cone:
    """One side of a row that is kept with odds: value -+ z sd(shares) against the row's limit."""

    row: int
    side: Side
    z: float
    spread: Spread


@dataclass(frozen=True, slots=True, kw_only=True)
class Compiled:
    """A problem as arrays.

    ``matrix`` has shape (rows, columns), ``cost`` and the columns' bounds shape (columns,), the
    rows' bounds shape (rows,). ``at_least`` is the choice "if used, at least" by column; ``count``
    at most so many ingredients.
    """

    problem: FormulaProblem
    codes: tuple[str, ...]
    levels: Levels
    cost: Floats
    matrix: Floats
    row_low: Floats
    row_high: Floats
    column_low: Floats
    column_high: Floats
    rows: tuple[Row, ...]
    bounds: tuple[Bound, ...]
    cones: tuple[Cone, ...]
    at_least: dict[int, Demand] = field(default_factory=dict)
    count: Demand | None = None
    notes: tuple[str, ...] = ()

    @property
    def size(self) -> int:
        """Number of ingredients."""
        return len(self.codes)

    @property
    def has_choices(self) -> bool:
        """True if ingredients must be chosen, so that a linear program alone does not do."""
        return bool(self.at_least) or self.count is not None


def compile_problem(problem: FormulaProblem) -> Compiled:
    """A problem as arrays.

    Raises
    ------
    BadInput
        If the problem cannot be understood; every fault is listed.
    """
    levels = resolve(problem)
    refuse_bad_input(problem, levels)
    codes = [row.code for row in problem.ingredients]
    rows, cones = _rows_and_cones(problem, levels, codes)
    bounds, notes = _bounds(problem, levels)
    size = len(codes)
    extra = size if problem.change.total_frac is not None else 0
    matrix = np.zeros((len(rows), size + extra))
    for index, row in enumerate(rows):
        matrix[index, : row.coefficients.size] = row.coefficients
    low, high = np.zeros(size + extra), np.ones(size + extra)
    for bound in bounds:
        if bound.side is Side.MIN:
            low[bound.column] = max(low[bound.column], bound.value)
        else:
            high[bound.column] = min(high[bound.column], bound.value)
    at_least, count = choice_demands(problem)
    return Compiled(
        problem=problem,
        codes=tuple(codes),
        levels=levels,
        cost=np.array([row.price_usd_t for row in problem.ingredients] + [0.0] * extra),
        matrix=matrix,
        row_low=np.array([row.low for row in rows]),
        row_high=np.array([row.high for row in rows]),
        column_low=low,
        column_high=high,
        rows=tuple(rows),
        bounds=tuple(bounds),
        cones=tuple(cones),
        at_least=at_least,
        count=count,
        notes=tuple(notes),
    )


def measure_rows(measure: Measure, lower: Demand | None, upper: Demand | None) -> Iterator[Row]:
    """The rows that keep a quantity within its limits: one as fed, else one for each side."""
    if measure.as_fed:
        yield Row(
            coefficients=measure.over,
            low=lower.limit if lower else -np.inf,
            high=upper.limit if upper else np.inf,
            lower=lower,
            upper=upper,
            measure=measure,
        )
        return
    if lower:
        coefficients, limit = measure.row(lower.limit)
        yield Row(coefficients=coefficients, low=limit, high=np.inf, lower=lower, measure=measure)
    if upper:
        coefficients, limit = measure.row(upper.limit)
        yield Row(coefficients=coefficients, low=-np.inf, high=limit, upper=upper, measure=measure)


def _rows_and_cones(
    problem: FormulaProblem, levels: Levels, codes: list[str]
) -> tuple[list[Row], list[Cone]]:
    size = len(codes)
    total = total_demand()
    rows = [Row(coefficients=np.ones(size), low=1.0, high=1.0, lower=total, upper=total)]
    cones: list[Cone] = []
    for requirement in problem.requirements:
        measure = requirement_measure(requirement, levels, size)
        for row in measure_rows(measure, *_sides(requirement)):
            rows.append(row)
            cones.extend(_cones(problem, requirement, levels, row=row, index=len(rows) - 1))
    for group in problem.groups:
        members = np.isin(codes, group.ingredients).astype(np.float64)
        measure = Measure(over=members, under=np.ones(size), as_fed=True)
        lower, upper = (
            group_demand(group, side, limit) if limit is not None else None
            for side, limit in ((Side.MIN, group.min_frac), (Side.MAX, group.max_frac))
        )
        rows.extend(measure_rows(measure, lower, upper))
    for limit in problem.level_and_share:
        members = np.isin(codes, limit.ingredients).astype(np.float64)
        dry = limit.basis is Basis.DRY_MATTER
        weight = levels.mean[DRY_MATTER] if dry else np.ones(size)
        measure = Measure(over=members * weight, under=weight, as_fed=not dry)
        rows.extend(measure_rows(measure, None, share_demand(limit)))
    rows.extend(_mash_rows(problem, levels))
    rows.extend(_change_rows(problem, size))
    return rows, cones


def _sides(row: Requirement) -> tuple[Demand | None, Demand | None]:
    lower = None if row.minimum is None else requirement_demand(row, Side.MIN, row.minimum)
    upper = None if row.maximum is None else requirement_demand(row, Side.MAX, row.maximum)
    return lower, upper


def _cones(
    problem: FormulaProblem, requirement: Requirement, levels: Levels, *, row: Row, index: int
) -> Iterator[Cone]:
    """The sides of a requirement's row that are kept with odds; even odds are the mean itself."""
    if requirement.odds_frac is None or row.measure is None:
        return
    z = NormalDist().inv_cdf(requirement.odds_frac)
    codes = [ingredient.code for ingredient in problem.ingredients]
    for side, demand in ((Side.MIN, row.lower), (Side.MAX, row.upper)):
        if demand is None or z <= 0:
            continue
        spread = row.measure.spread(demand.limit, levels, problem.correlations, codes)
        if spread.both is not None:
            _refuse_impossible(requirement.code, spread.both)
        if np.any(spread.variance > 0):
            yield Cone(row=index, side=side, z=z, spread=spread)


def _refuse_impossible(code: str, both: Floats) -> None:
    """Raise for correlations that no lots can have together."""
    least = float(np.linalg.eigvalsh(both).min())
    if least < -ROUNDED * float(np.abs(both).max()):
        raise BadInput(
            f"The correlations of levels in {code} cannot all be true.",
            seen=f"a mixture whose variance would be {least:g}",
            allowed="correlations that leave every mixture a variance of 0 or more",
            do="lower them",
        )


def _mash_rows(problem: FormulaProblem, levels: Levels) -> Iterator[Row]:
    """Moisture of the mash, and its volume: a density at least is a volume at most."""
    mash, size = problem.mash, len(problem.ingredients)
    lower = mash_demand(DemandKind.MOISTURE, Side.MIN, mash.moisture_min_wb)
    upper = mash_demand(DemandKind.MOISTURE, Side.MAX, mash.moisture_max_wb)
    if lower or upper:
        water = 1.0 - levels.mean[DRY_MATTER]
        measure = Measure(
            over=water, under=np.ones(size), as_fed=True, over_weights={DRY_MATTER: -1.0}
        )
        yield from measure_rows(measure, lower, upper)
    lower = mash_demand(DemandKind.DENSITY, Side.MIN, mash.density_min_kg_m3)
    upper = mash_demand(DemandKind.DENSITY, Side.MAX, mash.density_max_kg_m3)
    if lower or upper:
        # an ingredient without a density cannot be used (the checks see to it)
        volume = np.array([1.0 / (row.density_kg_m3 or 1.0) for row in problem.ingredients])
        yield from measure_rows(
            Measure(over=np.ones(size), under=volume, as_fed=False), lower, upper
        )


def _change_rows(problem: FormulaProblem, size: int) -> Iterator[Row]:
    """Total change: each rise is at least share less running share, and the rises are limited."""
    total_frac = problem.change.total_frac
    if total_frac is None:
        return
    for index, row in enumerate(problem.ingredients):
        coefficients = np.zeros(2 * size)
        coefficients[index], coefficients[size + index] = -1.0, 1.0
        yield Row(coefficients=coefficients, low=-(row.current_frac or 0.0), high=np.inf)
    coefficients = np.concatenate([np.zeros(size), np.ones(size)])
    demand = change_demand(problem.change)
    yield Row(coefficients=coefficients, low=-np.inf, high=total_frac, upper=demand)


def _bounds(problem: FormulaProblem, levels: Levels) -> tuple[list[Bound], list[str]]:
    """Every demand on one ingredient's share, and notes on those shut out."""
    found: list[Bound] = []
    notes: list[str] = []

    def add(column: int, side: Side, value: float, demand: Demand) -> None:
        found.append(Bound(column=column, side=side, value=value, demand=demand))

    each = problem.change.each_frac
    for column, row in enumerate(problem.ingredients):
        if row.min_frac > 0:
            add(column, Side.MIN, row.min_frac, ingredient_demand(row, Side.MIN, row.min_frac))
        if row.max_frac < 1:
            add(column, Side.MAX, row.max_frac, ingredient_demand(row, Side.MAX, row.max_frac))
        if each is not None:
            now = row.current_frac or 0.0
            demand = change_each_demand(problem.change, row)
            add(column, Side.MIN, now - each, demand)
            add(column, Side.MAX, now + each, demand)
    for limit in problem.level_and_share:
        for column, row in enumerate(problem.ingredients):
            if row.code not in limit.ingredients or _keeps_level(limit, levels, column):
                continue
            demand = level_demand(limit, row)
            add(column, Side.MAX, 0.0, demand)
            notes.append(f"{row.name or row.code} must not be used: {demand.words}")
    return found, notes


def _keeps_level(limit: LevelAndShare, levels: Levels, column: int) -> bool:
    """True if an ingredient is not above the level, with the odds that are asked."""
    margin = limit.level_max - levels.mean[limit.nutrient][column]
    if limit.odds_frac is None:
        return bool(margin >= 0)
    return odds_of(margin, levels.sd[limit.nutrient][column]) >= limit.odds_frac
