"""What the odds cost, against no care at all and against a flat safety margin on every guarantee."""

from dataclasses import dataclass, replace

from bedstone.formulation.answers import Side
from bedstone.formulation.arrays import Compiled, compile_problem
from bedstone.formulation.conflicts import nothing_fits
from bedstone.formulation.cuts import Cuts
from bedstone.formulation.demands import entries_of, moved
from bedstone.formulation.model import FormulaProblem
from bedstone.formulation.optimum import Optimum, optimum

__all__ = ["CareCost", "care_cost"]

LARGEST = 0.5
"""A margin over half the guarantee is not looked at."""
FINE = 1e-5
KEPT = 1e-7
FIRST_MARGIN = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class CareCost:
    """Cost of a ton kept with odds, by expected values alone, and with a flat margin.

    ``margin_frac`` is the smallest part of each limit by which all must be tightened alike so that
    the formula has the odds asked of every one; None, and no cost, where no margin up to half the
    limit does it.
    """

    with_odds_usd_t: float
    expected_only_usd_t: float
    margin_frac: float | None
    with_margin_usd_t: float | None


def care_cost(problem: FormulaProblem) -> CareCost:
    """What it costs to keep guarantees with their odds, and what a flat margin would cost.

    Raises
    ------
    BadInput
        If the problem cannot be understood.
    NoAnswer
        If nothing fits with the odds asked.
    """
    compiled = compile_problem(problem)
    found = optimum(compiled)
    mean = optimum(replace(compiled, cones=()))
    if found is None or mean is None:
        raise nothing_fits(compiled)
    margin, cost = 0.0, mean.point.cost
    if not _keeps(compiled, mean):
        reached = _smallest_margin(compiled)
        if reached is None:
            return CareCost(
                with_odds_usd_t=found.point.cost,
                expected_only_usd_t=mean.point.cost,
                margin_frac=None,
                with_margin_usd_t=None,
            )
        margin, cost = reached
    return CareCost(
        with_odds_usd_t=found.point.cost,
        expected_only_usd_t=mean.point.cost,
        margin_frac=margin,
        with_margin_usd_t=cost,
    )


def _keeps(compiled: Compiled, found: Optimum) -> bool:
    """True if a formula has the odds asked of every guarantee."""
    if not compiled.cones:
        return True
    cuts = Cuts.of(compiled)
    value, _ = cuts.tangents(found.point.columns)
    return bool((value >= cuts.limit - KEPT * cuts.scale).all())


def _smallest_margin(compiled: Compiled) -> tuple[float, float] | None:
    """The smallest flat margin that gives the odds, with its cost: doubled, then halved in between."""
    low, high = 0.0, FIRST_MARGIN
    while (found := _with_margin(compiled, high)) is not None and not _keeps(compiled, found):
        low, high = high, 2 * high
        if high > LARGEST:
            return None
    if found is None:
        return _between(compiled, low, high)
    best = found
    while high - low > FINE:
        middle = (low + high) / 2
        tried = _with_margin(compiled, middle)
        if tried is not None and _keeps(compiled, tried):
            high, best = middle, tried
        else:
            low = middle
    return high, best.point.cost


def _between(compiled: Compiled, low: float, high: float) -> tuple[float, float] | None:
    """A margin between one that does not give the odds and one that nothing fits, None for none."""
    while high - low > FINE:
        middle = (low + high) / 2
        tried = _with_margin(compiled, middle)
        if tried is None:
            high = middle
        elif _keeps(compiled, tried):
            return middle, tried.point.cost
        else:
            low = middle
    return None


def _with_margin(compiled: Compiled, margin_frac: float) -> Optimum | None:
    """The cheapest formula by expected values with every guarantee tightened by a part of itself."""
    sides = {(cone.row, cone.side) for cone in compiled.cones}
    tight = compiled
    for entry in entries_of(compiled):
        if not sides & set(entry.rows):
            continue
        sign = 1.0 if entry.demand.side is Side.MIN else -1.0
        limit = entry.demand.limit + sign * margin_frac * abs(entry.demand.limit)
        tight, _ = moved(tight, entry, limit)
    return optimum(replace(tight, cones=()))
