"""A proof that a formula is the cheapest, reckoned from the problem alone, apart from the engine.

Weak duality: with prices y of demands (of the right sign) every formula x that keeps them costs at
least  sum_i y_i b_i + y_0 + sum_j min over its bounds of d_j x_j,  d = c - sum_i y_i a_i - y_0. For
a demand kept with odds, a is the tangent at the formula, which lies above the concave function. If
the bound equals the cost of a formula that keeps every demand, no formula is cheaper.
"""

from statistics import NormalDist

import numpy as np

from bedstone.formulation.answers import DemandKind, Side
from bedstone.formulation.arrays import compile_problem
from bedstone.formulation.model import Basis, FormulaProblem, NutrientLevel, Requirement
from bedstone.formulation.optimum import optimum

__all__ = ["prove"]

Line = tuple[np.ndarray, float]
"""Coefficients and right-hand side."""
FACTOR = {"%": 1e4, "g/kg": 1e3, "mg/kg": 1.0}


def _in(level: NutrientLevel | None, unit: str) -> tuple[float, float]:
    """Mean and sd of a level in a unit."""
    if level is None:
        return 0.0, 0.0
    factor = 1.0 if level.unit == unit else FACTOR[level.unit] / FACTOR[unit]
    sd = level.sd or 0.0
    if level.assays:
        sd *= (1 + 1 / level.assays) ** 0.5
    return level.mean * factor, sd * factor


def _requirement(problem: FormulaProblem, row: Requirement, side: Side, x: np.ndarray) -> Line:
    """Coefficients and right-hand side of one side of a requirement, tangent at x if with odds."""
    limit = row.minimum if side is Side.MIN else row.maximum
    over, spread = [], []
    for item in problem.ingredients:
        mean, variance = 0.0, 0.0
        parts = {}
        for term in row.of:
            parts[term.nutrient] = parts.get(term.nutrient, 0.0) + term.weight
        for nutrient, weight in parts.items():
            level, sd = _in(item.levels.get(nutrient), row.unit)
            mean += weight * level
            variance += (weight * sd) ** 2
        if row.per:
            variance = 0.0
            names = {term.nutrient for term in (*row.of, *row.per)}
            for name in names:
                mine = sum(term.weight for term in row.of if term.nutrient == name)
                under = sum(term.weight for term in row.per if term.nutrient == name)
                level, sd = _in(item.levels.get(name), row.unit)
                mean -= limit * under * level
                variance += ((mine - limit * under) * sd) ** 2
        elif row.basis is Basis.DRY_MATTER:
            mean -= limit * item.dry_matter_frac
            variance += (limit * (item.dry_matter_sd or 0.0)) ** 2
        over.append(mean)
        spread.append(variance)
    a, v = np.array(over), np.array(spread)
    plain = not row.per and row.basis is Basis.AS_FED
    b = limit if plain else 0.0
    if row.odds_frac is not None:
        sd = float(np.sqrt((v * x**2).sum()))
        if sd > 0:
            sign = -1.0 if side is Side.MIN else 1.0
            a = a + sign * NormalDist().inv_cdf(row.odds_frac) * v * x / sd
    return a, b


def _row(
    problem: FormulaProblem, kind: DemandKind, code: str, *, side: Side, x: np.ndarray
) -> Line:
    items = problem.ingredients
    if kind in {DemandKind.NUTRIENT, DemandKind.RATIO}:
        row = next(row for row in problem.requirements if row.code == code)
        return _requirement(problem, row, side, x)
    if kind is DemandKind.GROUP:
        group = next(row for row in problem.groups if row.code == code)
        limit = group.min_frac if side is Side.MIN else group.max_frac
        return np.array([1.0 if item.code in group.ingredients else 0.0 for item in items]), limit
    if kind is DemandKind.SHARE:
        rule = next(row for row in problem.level_and_share if row.code == code)
        weight = [item.dry_matter_frac if rule.basis is Basis.DRY_MATTER else 1.0 for item in items]
        inside = [1.0 if item.code in rule.ingredients else 0.0 for item in items]
        pairs = zip(weight, inside, strict=True)
        return np.array([w * (member - rule.share_max_frac) for w, member in pairs]), 0.0
    if kind is DemandKind.MOISTURE:
        mash = problem.mash
        limit = mash.moisture_min_wb if side is Side.MIN else mash.moisture_max_wb
        return np.array([1 - item.dry_matter_frac for item in items]), limit
    assert kind is DemandKind.DENSITY
    mash = problem.mash
    limit = mash.density_min_kg_m3 if side is Side.MIN else mash.density_max_kg_m3
    return np.array([1 - limit / item.density_kg_m3 for item in items]), 0.0


def prove(problem: FormulaProblem, *, close: float = 1e-7) -> float:
    """Solve a problem and prove its answer: feasible, prices of the right sign, no gap. The cost."""
    compiled = compile_problem(problem)
    found = optimum(compiled)
    assert found is not None, "nothing fits"
    size = len(problem.ingredients)
    x = found.point.columns[:size]
    c = np.array([item.price_usd_t for item in problem.ingredients])
    low, high = found.compiled.column_low[:size], found.compiled.column_high[:size]
    d, bound = c.copy(), 0.0
    assert abs(x.sum() - 1) < close
    assert np.all(x >= low - close)
    assert np.all(x <= high + close)
    prices: dict[tuple[int, Side], float] = {}
    for index, row in enumerate(found.compiled.rows):
        price = float(found.point.row_price[index])
        side = Side.MIN if price > 0 else Side.MAX
        prices[index, side] = price
        assert row.measure is not None or index == 0, "the total change has no proof here"
    for cone, worth in zip(found.compiled.cones, found.cone_price, strict=True):
        assert worth >= -close
        sign = 1.0 if cone.side is Side.MIN else -1.0
        key = (cone.row, cone.side)
        prices[key] = prices.get(key, 0.0) + sign * float(worth)
    for index, row in enumerate(found.compiled.rows):
        for side, demand in ((Side.MIN, row.lower), (Side.MAX, row.upper)):
            if demand is None:
                continue
            if index == 0:
                if side is Side.MIN:
                    y = prices.get((0, Side.MIN), 0.0) + prices.get((0, Side.MAX), 0.0)
                    d, bound = d - y, bound + y
                continue
            a, b = _row(problem, demand.kind, demand.code, side=side, x=x)
            scale = max(1e-9, float(np.abs(a).max()), abs(b))
            value = float(a @ x) - b
            assert (value if side is Side.MIN else -value) >= -close * scale, demand.words
            y = prices.get((index, side), 0.0)
            assert (y if side is Side.MIN else -y) >= -close * c.max()
            d, bound = d - y * a, bound + y * b
    bound += float(np.minimum(d * low, d * high).sum())
    cost = float(c @ x)
    assert abs(cost - bound) <= close * max(1.0, cost), (cost, bound)
    return cost
