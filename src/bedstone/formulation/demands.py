"""The demands of a compiled problem one by one: kept, dropped, or made to give at a price."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from bedstone.formulation.answers import Demand, DemandKind, Side
from bedstone.formulation.arrays import Compiled, Row

__all__ = ["Entry", "bounds_of", "elastic", "entries_of", "moved", "only"]

Floats = npt.NDArray[np.float64]

FIRST_TO_GO = (
    DemandKind.CHANGE_EACH,
    DemandKind.INGREDIENT,
    DemandKind.AT_LEAST,
    DemandKind.COUNT,
    DemandKind.CHANGE,
    DemandKind.DENSITY,
    DemandKind.MOISTURE,
    DemandKind.GROUP,
    DemandKind.SHARE,
    DemandKind.LEVEL,
    DemandKind.RATIO,
    DemandKind.NUTRIENT,
    DemandKind.TOTAL,
)
"""A conflict is told by nutrients and the whole where it can, by many small bounds where it must."""


@dataclass(slots=True)
class Entry:
    """A demand and where it stands in the arrays: sides of rows, bounds of columns, a choice."""

    demand: Demand
    rows: list[tuple[int, Side]] = field(default_factory=list)
    bounds: list[int] = field(default_factory=list)


def entries_of(compiled: Compiled) -> list[Entry]:
    """Every demand of a problem, those first that a conflict would rather do without."""
    found: dict[int, Entry] = {}

    def entry(demand: Demand) -> Entry:
        return found.setdefault(id(demand), Entry(demand))

    for index, row in enumerate(compiled.rows):
        if row.lower:
            entry(row.lower).rows.append((index, Side.MIN))
        if row.upper:
            entry(row.upper).rows.append((index, Side.MAX))
    for index, bound in enumerate(compiled.bounds):
        entry(bound.demand).bounds.append(index)
    for demand in compiled.at_least.values():
        entry(demand)
    if compiled.count is not None:
        entry(compiled.count)
    return sorted(found.values(), key=lambda row: FIRST_TO_GO.index(row.demand.kind))


def only(compiled: Compiled, kept: Collection[Entry]) -> Compiled:
    """The problem with these demands alone; shares stay at nothing or more and at most one."""
    sides = {place for entry in kept for place in entry.rows}
    bounds = {index for entry in kept for index in entry.bounds}
    demands = {id(entry.demand) for entry in kept}
    row_low, row_high = compiled.row_low.copy(), compiled.row_high.copy()
    for index, row in enumerate(compiled.rows):
        if row.lower and (index, Side.MIN) not in sides:
            row_low[index] = -np.inf
        if row.upper and (index, Side.MAX) not in sides:
            row_high[index] = np.inf
    low, high = bounds_of(compiled, bounds)
    return replace(
        compiled,
        row_low=row_low,
        row_high=row_high,
        column_low=low,
        column_high=high,
        cones=tuple(cone for cone in compiled.cones if (cone.row, cone.side) in sides),
        at_least={
            column: demand for column, demand in compiled.at_least.items() if id(demand) in demands
        },
        count=compiled.count if id(compiled.count) in demands else None,
    )


def elastic(compiled: Compiled, kept: Collection[Entry], giving: Sequence[Entry]) -> Compiled:
    """The problem with a column more for each demand that gives: by how much it does.

    Costs are all nothing. A bound that gives becomes a row.
    """
    whole = only(compiled, [*kept, *(entry for entry in giving if not entry.bounds)])
    size, count = compiled.cost.size, len(giving)
    gives = np.zeros((whole.matrix.shape[0], count))
    extra: list[tuple[Floats, float, float]] = []
    for place, entry in enumerate(giving):
        for row, side in entry.rows:
            gives[row, place] = 1.0 if side is Side.MIN else -1.0
        for index in entry.bounds:
            bound = compiled.bounds[index]
            line = np.zeros(size + count)
            line[bound.column] = 1.0
            line[size + place] = 1.0 if bound.side is Side.MIN else -1.0
            is_low = bound.side is Side.MIN
            extra.append(
                (line, bound.value if is_low else -np.inf, np.inf if is_low else bound.value)
            )
    lines = np.array([line for line, _, _ in extra]).reshape(len(extra), size + count)
    return replace(
        whole,
        cost=np.zeros(size + count),
        matrix=np.vstack([np.hstack([whole.matrix, gives]), lines]),
        row_low=np.concatenate([whole.row_low, [low for _, low, _ in extra]]),
        row_high=np.concatenate([whole.row_high, [high for _, _, high in extra]]),
        column_low=np.concatenate([whole.column_low, np.zeros(count)]),
        column_high=np.concatenate([whole.column_high, np.full(count, np.inf)]),
        rows=(
            *whole.rows,
            *(Row(coefficients=line, low=low, high=high) for line, low, high in extra),
        ),
    )


def moved(compiled: Compiled, entry: Entry, limit: float) -> tuple[Compiled, Entry]:
    """The problem with another limit in one demand, and where that demand now stands."""
    demand = replace(entry.demand, limit=limit)
    matrix, rows, bounds = compiled.matrix.copy(), list(compiled.rows), list(compiled.bounds)
    row_low, row_high, cones = compiled.row_low.copy(), compiled.row_high.copy(), []
    for index, side in entry.rows:
        row = rows[index]
        rows[index] = replace(row, lower=demand) if side is Side.MIN else replace(row, upper=demand)
        coefficients, value = (
            (row.coefficients, limit) if row.measure is None else row.measure.row(limit)
        )
        matrix[index, : coefficients.size] = coefficients
        (row_low if side is Side.MIN else row_high)[index] = value
    for cone in compiled.cones:
        measure = compiled.rows[cone.row].measure
        if measure is None or measure.as_fed or (cone.row, cone.side) not in entry.rows:
            cones.append(cone)
            continue
        correlations, codes = compiled.problem.correlations, list(compiled.codes)
        spread = measure.spread(limit, compiled.levels, correlations, codes)
        cones.append(replace(cone, spread=spread))
    for index in entry.bounds:
        bounds[index] = replace(bounds[index], value=limit, demand=demand)
    changed = replace(
        compiled,
        matrix=matrix,
        rows=tuple(rows),
        row_low=row_low,
        row_high=row_high,
        cones=tuple(cones),
        bounds=tuple(bounds),
    )
    stands = Entry(demand, list(entry.rows), list(entry.bounds))
    low, high = bounds_of(changed, range(len(bounds)))
    return replace(changed, column_low=low, column_high=high), stands


def bounds_of(compiled: Compiled, kept: Iterable[int]) -> tuple[Floats, Floats]:
    """Bounds of the columns from these bounds alone, nothing to one where there is none."""
    low, high = np.zeros(compiled.cost.size), np.ones(compiled.cost.size)
    for index in kept:
        bound = compiled.bounds[index]
        if bound.side is Side.MIN:
            low[bound.column] = max(low[bound.column], bound.value)
        else:
            high[bound.column] = min(high[bound.column], bound.value)
    return low, high
