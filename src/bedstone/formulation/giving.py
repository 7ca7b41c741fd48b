"""The cheapest way to give in: one demand alone, or the smallest give-in over all of them."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from bedstone.formulation.answers import Demand, DemandKind, GiveIn, Side
from bedstone.formulation.arrays import Compiled
from bedstone.formulation.demands import Entry, elastic, moved
from bedstone.formulation.optimum import Optimum, optimum

__all__ = ["alone_give_in", "may_move", "together_give_in"]

Floats = npt.NDArray[np.float64]

LOOSE = 1e-7
"""A limit that has given in is loosened by this part of its size more, so that rounding fits."""
TURNS = 30
GIVEN = 1e-7
"""A give-in below this part of a limit is none."""
NO_LIMIT = 0.01
"""Size that counts for a limit of nothing, where give-ins are compared as parts of limits."""
ROUGH = 1e-3
"""How far, as a part, a give-in may be from the smallest where ingredients must be chosen."""
CHOICES = {DemandKind.COUNT, DemandKind.AT_LEAST}


def may_move(demand: Demand) -> bool:
    """True if a demand may be offered for giving in."""
    return demand.may_give and demand.kind is not DemandKind.CHANGE_EACH


def alone_give_in(compiled: Compiled, entries: Sequence[Entry], entry: Entry) -> GiveIn:
    """How far a demand must give in if it alone does, and what the formula then costs."""
    demand = entry.demand
    limit: float | None = demand.limit
    found = None
    if demand.kind is DemandKind.COUNT:
        found = _with_more(compiled)
    elif demand.kind is DemandKind.AT_LEAST:
        kept = {column: row for column, row in compiled.at_least.items() if row is not demand}
        found = optimum(replace(compiled, at_least=kept))
    else:
        limit = _reach(compiled, entries, entry)
        found = None if limit is None else optimum(moved(compiled, entry, limit)[0], gap=ROUGH)
    if found is None or limit is None:
        return GiveIn(demand=demand, new_limit=demand.limit, by=0.0, cost_usd_t=None)
    if demand.kind is DemandKind.COUNT and found.compiled.count is not None:
        limit = found.compiled.count.limit
    elif demand.kind is DemandKind.AT_LEAST:
        limit = float(found.point.columns[compiled.codes.index(demand.code)])
    return GiveIn(
        demand=demand,
        new_limit=limit,
        by=abs(limit - demand.limit),
        cost_usd_t=found.point.cost,
    )


def _with_more(compiled: Compiled) -> Optimum | None:
    """The cheapest formula with the smallest number of ingredients with which something fits."""
    if compiled.count is None:
        return None
    for count in range(round(compiled.count.limit) + 1, compiled.size + 1):
        demand = replace(compiled.count, limit=float(count))
        found = optimum(replace(compiled, count=demand))
        if found is not None:
            return found
    return None


def _reach(compiled: Compiled, entries: Sequence[Entry], entry: Entry) -> float | None:
    """The limit nearest to a demand's own with which something fits, None if none does.

    A limit that stands in the coefficients (dry matter, ratio) is approached by the level that the
    last answer reaches (Dinkelbach's method), which closes in faster than straight.
    """
    others = [row for row in entries if row is not entry]
    for _ in range(TURNS):
        loose = elastic(compiled, others, [entry])
        loose.cost[-1] = 1.0
        if loose.cones and optimum(replace(loose, cones=()), gap=ROUGH) is None:
            return None  # told sooner without odds
        found = optimum(loose, gap=ROUGH)
        if found is None:
            return None
        given = float(found.point.columns[-1])
        if given <= GIVEN * _size(compiled, entry):
            break
        limit = _given_limit(compiled, entry, found, given)
        compiled, entry = moved(compiled, entry, limit)
        if not _in_coefficients(compiled, entry):
            break
    sign = -1.0 if entry.demand.side is Side.MIN else 1.0
    return entry.demand.limit + sign * LOOSE * max(NO_LIMIT, abs(entry.demand.limit))


def _in_coefficients(compiled: Compiled, entry: Entry) -> bool:
    measures = [compiled.rows[row].measure for row, _ in entry.rows]
    return any(measure is not None and not measure.as_fed for measure in measures)


def _size(compiled: Compiled, entry: Entry) -> float:
    """Size of a demand's limit in the unit in which its row gives."""
    size = abs(entry.demand.limit) or NO_LIMIT
    if not entry.rows:
        return size
    index = entry.rows[0][0]
    if _in_coefficients(compiled, entry):
        measure = compiled.rows[index].measure
        return size * float(np.mean(np.abs(measure.under))) if measure else size
    if not entry.demand.limit:
        return NO_LIMIT * max(1e-6, float(np.abs(compiled.matrix[index]).max()))
    return size


def _given_limit(compiled: Compiled, entry: Entry, found: Optimum, given: float) -> float:
    """The limit that a formula keeps which misses a demand by so much."""
    demand = entry.demand
    sign = -1.0 if demand.side is Side.MIN else 1.0
    if not _in_coefficients(compiled, entry):
        return demand.limit + sign * given
    index, side = entry.rows[0]
    measure, shares = compiled.rows[index].measure, found.point.columns[: compiled.size]
    if measure is None:
        return demand.limit
    z = next((cone.z for cone in compiled.cones if (cone.row, cone.side) == (index, side)), 0.0)
    limit = value = measure.value(shares)
    problem, under = compiled.problem, float(measure.under @ shares)
    for _ in range(TURNS if z else 0):
        spread = measure.spread(limit, compiled.levels, problem.correlations, list(compiled.codes))
        limit = value + sign * z * spread.sd(shares) / under
    return limit


def together_give_in(
    compiled: Compiled, entries: Sequence[Entry]
) -> tuple[tuple[GiveIn, ...], float | None]:
    """The smallest give-in over all demands that may, each as a part of its limit; then least cost.

    Nothing, and no cost, where the demands that may not give in contradict each other.
    """
    giving = [
        entry for entry in entries if may_move(entry.demand) and entry.demand.kind not in CHOICES
    ]
    kept = [entry for entry in entries if entry not in giving]
    loose = elastic(compiled, kept, giving)
    parts = np.array([1 / _size(compiled, entry) for entry in giving])
    size = compiled.cost.size
    loose.cost[size:] = parts
    first = optimum(loose, gap=ROUGH)
    if first is None:
        return (), None
    most = first.point.cost * (1 + GIVEN) + GIVEN
    bounded = replace(
        loose,
        cost=np.concatenate([compiled.cost, np.zeros(parts.size)]),
        matrix=np.vstack([loose.matrix, np.concatenate([np.zeros(size), parts])]),
        row_low=np.append(loose.row_low, -np.inf),
        row_high=np.append(loose.row_high, most),
        rows=(*loose.rows, replace(loose.rows[0], lower=None, upper=None)),
    )
    found = optimum(bounded, gap=ROUGH) or first
    gives, now = [], compiled
    for entry, given in zip(giving, found.point.columns[size:], strict=True):
        if given > 10 * GIVEN * _size(compiled, entry):
            limit = _given_limit(compiled, entry, found, float(given))
            sign = -1.0 if entry.demand.side is Side.MIN else 1.0
            gives.append((entry.demand, limit))
            loosened = limit + sign * 10 * LOOSE * max(NO_LIMIT, abs(limit))
            now = moved(now, entry, loosened)[0]
    again = optimum(now, gap=ROUGH)
    cost = None if again is None else again.point.cost
    return tuple(
        GiveIn(demand=demand, new_limit=limit, by=abs(limit - demand.limit), cost_usd_t=cost)
        for demand, limit in gives
    ), cost
