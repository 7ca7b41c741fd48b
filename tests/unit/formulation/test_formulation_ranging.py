"""Prices of limits and ranges of prices are what solving again says, also at corners."""

import pytest

from bedstone.formulation.answers import DemandKind, LimitAnswer, Side
from bedstone.formulation.arrays import compile_problem
from bedstone.formulation.demands import entries_of, moved
from bedstone.formulation.least_cost import least_cost
from bedstone.formulation.model import Basis, FormulaProblem
from bedstone.formulation.optimum import optimum
from bedstone.formulation.whatif import with_price
from fakes.formulas import ingredient, need, problem, random_problem

KINDS = [{"groups": 2}, {"dry": 6, "ratios": 4}, {"whole": True, "size": 14}]


def cost_at(asked: FormulaProblem, line: LimitAnswer, limit: float) -> float | None:
    """Cost with the binding limit of a line at another value, None if nothing fits."""
    compiled = compile_problem(asked)
    key = (line.kind, line.code, line.binding)
    entry = next(
        entry
        for entry in entries_of(compiled)
        if (entry.demand.kind, entry.demand.code, entry.demand.side) == key
    )
    found = optimum(moved(compiled, entry, limit)[0])
    return None if found is None else found.point.cost


def cheapest(asked: FormulaProblem) -> float:
    """Cost of the cheapest formula."""
    found = optimum(compile_problem(asked))
    assert found is not None
    return found.point.cost


def sides(line: LimitAnswer):
    """Each direction from a binding limit: sign, slope, the end of its range."""
    return (
        (1.0, line.marginal_usd_t, line.true_to),
        (-1.0, line.marginal_down_usd_t, line.true_from),
    )


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("kind", KINDS, ids=["plain", "dry", "corner"])
def test_a_marginal_price_is_true_within_its_range_and_not_beyond(seed: int, kind: dict) -> None:
    """Solved again halfway to the end of its range the cost is on the line; beyond it is above."""
    asked = random_problem(seed, **kind)
    answer = least_cost(asked)
    binding = [line for line in answer.limits if line.binding]
    assert binding
    for line in binding:
        limit = line.minimum if line.binding is Side.MIN else line.maximum
        straight = line.basis is Basis.AS_FED and line.kind is not DemandKind.RATIO
        for sign, slope, end in sides(line):
            if slope is None:
                assert cost_at(asked, line, limit + sign * 1e-6 * max(1, abs(limit))) is None
                continue
            span = abs(end - limit) if end is not None else max(0.1, abs(limit))
            step = sign * span * (0.5 if straight else min(0.5, 1e-3 / span))
            cost = cost_at(asked, line, limit + step)
            close = 1e-6 * answer.cost_usd_t if straight else max(1e-7, 2e-2 * abs(slope * step))
            assert cost == pytest.approx(answer.cost_usd_t + slope * step, abs=close)
            beyond = sign * (span * 1.05 + 1e-4)
            if end is not None and straight:
                cost = cost_at(asked, line, limit + beyond)
                assert cost is None or cost > answer.cost_usd_t + slope * beyond + 1e-9


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("kind", KINDS, ids=["plain", "dry", "corner"])
def test_a_formula_stays_within_a_price_range_and_not_beyond(seed: int, kind: dict) -> None:
    """Within its range of a price no formula is cheaper than this one; beyond it one is."""
    asked = random_problem(seed, **kind)
    answer = least_cost(asked)
    for line in answer.ingredients:
        prices = {row.code: row.price_usd_t for row in answer.ingredients}
        for end, sign in ((line.stays_usd_t.low, -1.0), (line.stays_usd_t.high, 1.0)):
            far = end if end is not None else 0.0 if sign < 0 else 3 * line.price_usd_t
            inside = line.price_usd_t + 0.98 * (far - line.price_usd_t)
            kept = sum(
                row.share_frac * (inside if row.code == line.code else prices[row.code])
                for row in answer.ingredients
            )
            again = cheapest(with_price(asked, line.code, inside))
            assert again == pytest.approx(kept, abs=1e-6)
            beyond = None if end is None else end + sign * 0.01 * max(1.0, end)
            if beyond is None or beyond < 0:
                continue
            kept += line.share_frac * (beyond - inside)
            assert cheapest(with_price(asked, line.code, beyond)) < kept - 1e-9


@pytest.mark.parametrize("seed", range(4))
def test_an_ingredient_enters_below_its_entering_price(seed: int) -> None:
    """A little below its entering price an unused ingredient is used, a little above it is not."""
    for odds in (0, 3):
        asked = random_problem(seed, odds=odds)
        answer = least_cost(asked)
        entering = [row for row in answer.ingredients if row.enters_usd_t is not None]
        assert entering
        for line in entering[:6]:
            below = least_cost(with_price(asked, line.code, line.enters_usd_t * 0.995))
            above = least_cost(with_price(asked, line.code, line.enters_usd_t * 1.005))
            assert below.shares.get(line.code, 0.0) > 0
            assert line.code not in above.shares


def test_with_odds_the_marginal_price_holds_at_the_point() -> None:
    """Where odds are in, solving again a little to each side gives the price at the point."""
    for seed in range(3):
        for kind in ({"odds": 4}, {"odds": 2, "dry": 3}):
            asked = random_problem(seed, **kind)
            answer = least_cost(asked)
            lines = [line for line in answer.limits if line.binding]
            for line in lines:
                limit = line.minimum if line.binding is Side.MIN else line.maximum
                step = 1e-4 * max(1e-3, abs(limit))
                up, down = (cost_at(asked, line, limit + sign * step) for sign in (1, -1))
                if up is None or down is None:
                    continue
                low, high = sorted(
                    ((answer.cost_usd_t - down) / step, (up - answer.cost_usd_t) / step)
                )
                room = 1e-3 * max(1.0, abs(line.marginal_usd_t))
                assert low - room <= line.marginal_usd_t <= high + room
                assert line.true_from is None


def test_a_corner_has_a_price_each_way() -> None:
    """Where two limits meet in one formula a step up costs what a step down does not save."""
    corn = ingredient("CORN", 100.0, protein=10.0, energy=10.0)
    meal = ingredient("MEAL", 200.0, protein=20.0, energy=20.0)
    gold = ingredient("GOLD", 500.0, protein=30.0, energy=20.0)
    asked = problem([corn, meal, gold], [need("protein", 20.0), need("energy", 20.0)])
    answer = least_cost(asked)
    assert answer.shares == pytest.approx({"MEAL": 1.0})
    lines = {row.code: row for row in answer.limits}
    # one more protein can only come from GOLD: 300 for 10 points; one less is not worth a step,
    # because the energy asked still takes all of MEAL
    assert lines["protein"].marginal_usd_t == pytest.approx(30.0)
    assert lines["protein"].marginal_down_usd_t == pytest.approx(0.0)
    assert lines["energy"].marginal_usd_t is None  # nothing holds more energy
