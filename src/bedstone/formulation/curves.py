"""Cost against one price or one limit, and two formulas side by side.

The cheapest cost is a concave function of a price, whatever the demands: at each price it is the
least of straight lines, one for each formula. So two points with their slopes (the ingredient's
share) say where the curve may turn: where their tangents meet. There it is solved again; if the
curve reaches the tangents it is done, else both halves are looked at. With linear demands and
choices every corner is found; with odds the curve bends smoothly and is followed closely.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from bedstone.errors import BadInput, Unknown
from bedstone.formulation.answers import Demand, FormulaAnswer
from bedstone.formulation.arrays import Compiled, compile_problem
from bedstone.formulation.conflicts import nothing_fits
from bedstone.formulation.demands import entries_of, moved
from bedstone.formulation.model import FormulaProblem
from bedstone.formulation.optimum import optimum
from bedstone.formulation.warm import WarmFormula

__all__ = ["Compared", "CurvePoint", "compare", "limit_curve", "price_curve"]

CLOSE = 1e-9
"""A curve is exact if it is this near its tangents, as a part of the cost."""
CLOSE_ODDS = 1e-5
"""The same where odds are in and the curve bends."""
MOST_POINTS = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class CurvePoint:
    """A point of a curve: the price or limit, the cost of a ton, the share or None for a limit.

    ``cost_usd_t`` is None where nothing fits.
    """

    at: float
    cost_usd_t: float | None
    share_frac: float | None = None


def price_curve(
    problem: FormulaProblem, ingredient: str, *, low_usd_t: float, high_usd_t: float
) -> tuple[CurvePoint, ...]:
    """Cost of a ton against the price of one ingredient: the corners, straight lines in between.

    Parameters
    ----------
    problem : FormulaProblem
        What is asked.
    ingredient : str
        Code of the ingredient.
    low_usd_t : float
        From this price. [USD/t]
    high_usd_t : float
        To this price. [USD/t]

    Raises
    ------
    BadInput
        If the problem cannot be understood, or the range is none.
    Unknown
        If the problem has no such ingredient.
    NoAnswer
        If nothing fits.
    """
    compiled = compile_problem(problem)
    if ingredient not in compiled.codes:
        raise Unknown(f"{ingredient} is no ingredient of {problem.product}.")
    if not 0 <= low_usd_t < high_usd_t:
        raise BadInput(
            "A curve needs a range of prices.",
            seen=f"{low_usd_t:g} to {high_usd_t:g} USD/t",
            allowed="from 0 or more up to something higher",
        )
    column, warm = compiled.codes.index(ingredient), WarmFormula(compiled)

    def solve(price: float) -> CurvePoint:
        cost = compiled.cost.copy()
        cost[column] = price
        point = warm.at(cost).point
        if point is None:
            raise nothing_fits(compiled)
        share = float(point.columns[column])
        return CurvePoint(at=price, cost_usd_t=point.cost, share_frac=share)

    close = CLOSE_ODDS if compiled.cones else CLOSE
    ends = [solve(low_usd_t), solve(high_usd_t)]
    return tuple(_corners(ends, solve, close=close))


def _corners(
    ends: list[CurvePoint], solve: Callable[[float], CurvePoint], *, close: float
) -> list[CurvePoint]:
    """The ends and every point between them where the curve turns."""
    done, waiting = [ends[0]], [ends[1]]
    while waiting and len(done) + len(waiting) < MOST_POINTS:
        left, right = done[-1], waiting[-1]
        met = _meeting(left, right)
        if met is None:
            done.append(waiting.pop())
            continue
        middle = solve(met[0])
        if middle.cost_usd_t is not None and middle.cost_usd_t >= met[1] - close * abs(met[1]):
            done.extend([middle, waiting.pop()])
        else:
            waiting.append(middle)
    return done + waiting[::-1]


def _meeting(left: CurvePoint, right: CurvePoint) -> tuple[float, float] | None:
    """Where the tangents at two points meet, None if they are one line or meet outside."""
    steep, flat = left.share_frac or 0.0, right.share_frac or 0.0
    first, last = left.cost_usd_t or 0.0, right.cost_usd_t or 0.0
    reached = first + steep * (right.at - left.at)
    if reached - last <= CLOSE * max(1.0, abs(last)) or steep <= flat:
        return None
    at = left.at + (last - first - flat * (right.at - left.at)) / (steep - flat)
    span = CLOSE * max(1.0, abs(right.at))
    if not left.at + span < at < right.at - span:
        return None
    return at, first + steep * (at - left.at)


def limit_curve(
    problem: FormulaProblem, demand: Demand, limits: Sequence[float]
) -> tuple[CurvePoint, ...]:
    """Cost of a ton against one demand's limit, solved anew at each value.

    Parameters
    ----------
    problem : FormulaProblem
        What is asked.
    demand : Demand
        The demand whose limit moves, told by its kind, code and side.
    limits : sequence of float
        Values of the limit, in the demand's unit.

    Raises
    ------
    Unknown
        If the problem has no such demand.
    """
    compiled = compile_problem(problem)
    key = (demand.kind, demand.code, demand.side)
    for entry in entries_of(compiled):
        if (entry.demand.kind, entry.demand.code, entry.demand.side) == key:
            return tuple(
                CurvePoint(at=limit, cost_usd_t=_cost(moved(compiled, entry, limit)[0]))
                for limit in limits
            )
    raise Unknown(f"{demand.words} is no demand of {problem.product}.")


def _cost(compiled: Compiled) -> float | None:
    found = optimum(compiled)
    return None if found is None else found.point.cost


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """One line of two formulas side by side: an ingredient's share or a demand's expected value."""

    what: str
    first: float | None
    second: float | None

    @property
    def change(self) -> float | None:
        """Second less first; None where one of them has no such line."""
        return None if self.first is None or self.second is None else self.second - self.first


def compare(first: FormulaAnswer, second: FormulaAnswer) -> tuple[Compared, ...]:
    """Two formulas side by side: cost, then ingredients in either, then what the demands come to."""
    lines = [Compared(what="cost", first=first.cost_usd_t, second=second.cost_usd_t)]
    ours, theirs = first.shares, second.shares
    lines += [
        Compared(what=code, first=ours.get(code, 0.0), second=theirs.get(code, 0.0))
        for code in dict.fromkeys([*ours, *theirs])
    ]
    values = [{row.code: row.expected for row in answer.limits} for answer in (first, second)]
    lines += [
        Compared(what=code, first=values[0].get(code), second=values[1].get(code))
        for code in dict.fromkeys([*values[0], *values[1]])
    ]
    return tuple(lines)
