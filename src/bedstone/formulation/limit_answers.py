"""Each demand that is a row of the program, read out of the optimum for people."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from statistics import NormalDist
from typing import Protocol

import numpy as np
import numpy.typing as npt

from bedstone.formulation.answers import DemandKind, LimitAnswer, Side
from bedstone.formulation.arrays import Compiled, Row
from bedstone.formulation.measures import Measure, odds_of
from bedstone.formulation.model import Basis, FormulaProblem
from bedstone.formulation.prices import Worth
from bedstone.formulation.words import requirement_name, requirement_unit

__all__ = ["RowPrices", "limit_answers"]

Floats = npt.NDArray[np.float64]
NUTRIENTS = {DemandKind.NUTRIENT, DemandKind.RATIO}


class RowPrices(Protocol):
    """What says what a row is worth."""

    def row(self, row: int) -> Worth:
        """What one unit more of the row's limit costs."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class _Said:
    """What the problem says of a demand."""

    name: str
    unit: str
    basis: Basis
    odds_frac: float | None
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kept:
    """How a side is kept: expected distance on the good side of its limit, and its sd over lots."""

    margin: float
    sd: float | None

    def slack(self, odds_frac: float | None) -> float:
        """The distance that can be relied on with some odds."""
        if odds_frac is None or self.sd is None:
            return self.margin
        return self.margin - NormalDist().inv_cdf(odds_frac) * self.sd


def limit_answers(compiled: Compiled, prices: RowPrices, shares: Floats) -> Iterator[LimitAnswer]:
    """Each demand that is a row, its two sides together, in the order of the rows.

    Parameters
    ----------
    compiled : Compiled
        The problem as arrays.
    prices : RowPrices
        What its rows are worth at the optimum.
    shares : ndarray, shape (ingredients,)
        The formula.
    """
    together: dict[tuple[DemandKind, str], list[tuple[int, Row]]] = {}
    for index, row in enumerate(compiled.rows):
        demand = row.lower or row.upper
        if demand is not None and demand.kind is not DemandKind.TOTAL:
            together.setdefault((demand.kind, demand.code), []).append((index, row))
    for (kind, code), rows in together.items():
        said = _said(compiled.problem, kind, code)
        worth = max((prices.row(index) for index, _ in rows), key=_weight)
        yield _limit(compiled, [row for _, row in rows], worth, shares=shares, said=said, kind=kind)


def _weight(worth: Worth) -> tuple[bool, float]:
    size = math.inf if worth.up_usd_t is None else abs(worth.up_usd_t)
    return worth.binding is not Side.NONE, size


def _limit(
    compiled: Compiled,
    rows: list[Row],
    worth: Worth,
    *,
    shares: Floats,
    said: _Said,
    kind: DemandKind,
) -> LimitAnswer:
    """One demand with both its sides."""
    lower = next((row.lower for row in rows if row.lower), None)
    upper = next((row.upper for row in rows if row.upper), None)
    measure = rows[0].measure
    expected: float
    sd: float | None
    kept_low: _Kept | None
    kept_high: _Kept | None
    low = None if lower is None else lower.limit
    high = None if upper is None else upper.limit
    if measure is None:  # the total change from the running formula
        expected, sd = _risen(compiled, shares), 0.0
        kept_low, kept_high = None, _Kept(margin=(high or 0.0) - expected, sd=0.0)
    else:
        expected = measure.value(shares)
        sd = _sd(compiled, measure, expected, shares)
        kept_low = None if low is None else _kept(compiled, measure, low, shares, Side.MIN)
        kept_high = None if high is None else _kept(compiled, measure, high, shares, Side.MAX)
    lots = measure is not None and bool(measure.over_weights)
    return LimitAnswer(
        kind=kind,
        code=lower.code if lower else upper.code if upper else "",
        name=said.name,
        unit=said.unit,
        basis=said.basis,
        expected=expected,
        sd=sd,
        minimum=low,
        maximum=high,
        binding=worth.binding,
        slack_min=kept_low.slack(said.odds_frac) if kept_low else None,
        slack_max=kept_high.slack(said.odds_frac) if kept_high else None,
        marginal_usd_t=worth.up_usd_t,
        marginal_down_usd_t=worth.down_usd_t,
        true_from=worth.true_from,
        true_to=worth.true_to,
        odds_min_frac=_odds(kept_low) if lots else None,
        odds_max_frac=_odds(kept_high) if lots else None,
        odds_asked_frac=said.odds_frac,
        source=said.source,
    )


def _odds(kept: _Kept | None) -> float | None:
    return None if kept is None or kept.sd is None else odds_of(kept.margin, kept.sd)


def _kept(compiled: Compiled, measure: Measure, limit: float, shares: Floats, side: Side) -> _Kept:
    under = float(measure.under @ shares)
    margin = float((measure.over - limit * measure.under) @ shares) / under if under else math.nan
    sign = 1.0 if side is Side.MIN else -1.0
    return _Kept(margin=sign * margin, sd=_sd(compiled, measure, limit, shares))


def _sd(compiled: Compiled, measure: Measure, limit: float, shares: Floats) -> float | None:
    """Spread over lots of over - limit * under for each unit of under; None if not known."""
    under = float(measure.under @ shares)
    if not under or not math.isfinite(limit):
        return None
    problem = compiled.problem
    spread = measure.spread(limit, compiled.levels, problem.correlations, list(compiled.codes))
    sd = spread.sd(shares) / under
    return sd if math.isfinite(sd) else None


def _risen(compiled: Compiled, shares: Floats) -> float:
    """How much of the running formula is replaced."""
    now = np.array([row.current_frac or 0.0 for row in compiled.problem.ingredients])
    return float(np.maximum(shares - now, 0.0).sum())


def _said(problem: FormulaProblem, kind: DemandKind, code: str) -> _Said:
    """Name, unit, basis, odds and source of a demand as the problem has them."""
    if kind in NUTRIENTS:
        row = next(row for row in problem.requirements if row.code == code)
        return _Said(
            name=requirement_name(row),
            unit=requirement_unit(row),
            basis=row.basis,
            odds_frac=row.odds_frac,
            source=row.source,
        )
    name, unit, basis, source = kind.value, "", Basis.AS_FED, ""
    if kind is DemandKind.GROUP:
        group = next(row for row in problem.groups if row.code == code)
        name, source = group.name or group.code, group.source
    elif kind is DemandKind.SHARE:
        limit = next(row for row in problem.level_and_share if row.code == code)
        name, basis, source = limit.name or limit.code, limit.basis, limit.source
    elif kind is DemandKind.CHANGE:
        name, source = "replaced of the running formula", problem.change.source
    else:
        source = problem.mash.source
        name = "moisture of the mash" if kind is DemandKind.MOISTURE else "bulk density of the mash"
        unit = "kg/kg" if kind is DemandKind.MOISTURE else "kg/m3"
    return _Said(name=name, unit=unit, basis=basis, odds_frac=None, source=source)
