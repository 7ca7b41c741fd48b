"""Formulas against SciPy's own interior-point solver, and odds against a million drawn lots."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import linprog

from bedstone.errors import NoAnswer
from bedstone.formulation.least_cost import least_cost
from bedstone.formulation.model import Basis, Correlation, FormulaProblem
from bedstone.formulation.tag_odds import SampleError, tag_odds
from fakes.formulas import ingredient, need, problem, random_problem

DRAWS = 1_000_000
FOUR_SIGMA = 4 * (0.95 * 0.05 / DRAWS) ** 0.5


def by_scipy(asked: FormulaProblem):
    """Least cost by SciPy from the problem's own numbers, None if nothing fits."""
    rows, limits = [], []

    def at_most(line: np.ndarray, limit: float) -> None:
        rows.append(line)
        limits.append(limit)

    items = asked.ingredients
    for row in asked.requirements:
        level = np.array([item.levels[row.of[0].nutrient].mean for item in items])
        under = np.ones(len(items))
        if row.per:
            under = np.array([item.levels[row.per[0].nutrient].mean for item in items])
        elif row.basis is Basis.DRY_MATTER:
            under = np.array([item.dry_matter_frac for item in items])
        if row.minimum is not None:
            at_most(row.minimum * under - level, 0.0)
        if row.maximum is not None:
            at_most(level - row.maximum * under, 0.0)
    for group in asked.groups:
        inside = np.array([1.0 if item.code in group.ingredients else 0.0 for item in items])
        at_most(inside, group.max_frac)
        at_most(-inside, -group.min_frac)
    found = linprog(
        [item.price_usd_t for item in items],
        A_ub=np.array(rows),
        b_ub=np.array(limits),
        A_eq=np.ones((1, len(items))),
        b_eq=[1.0],
        bounds=[(item.min_frac, item.max_frac) for item in items],
        method="highs-ipm",
    )
    assert found.status in {0, 2}
    return found.fun if found.status == 0 else None


@pytest.mark.parametrize("seed", range(15))
@pytest.mark.parametrize(
    "kind",
    [{}, {"size": 60, "nutrients": 40}, {"dry": 4, "ratios": 3, "groups": 2}, {"whole": True}],
    ids=["small", "large", "dry", "corners"],
)
def test_random_formulas_cost_what_another_solver_says(seed: int, kind: dict) -> None:
    """Cost agrees to a hundred millionth."""
    asked = random_problem(seed, **kind)
    assert least_cost(asked).cost_usd_t == pytest.approx(by_scipy(asked), rel=1e-8)


@pytest.mark.parametrize("seed", range(8))
def test_another_solver_finds_nothing_either(seed: int) -> None:
    """Where a minimum is drawn too high, both find nothing or both find the same."""
    asked = random_problem(seed, slack=0.02)
    rows = [
        replace(row, minimum=row.minimum and row.minimum * 1.6, maximum=None)
        if row.minimum
        else row
        for row in asked.requirements
    ]
    asked = replace(asked, requirements=tuple(rows))
    expected = by_scipy(asked)
    if expected is None:
        with pytest.raises(NoAnswer):
            least_cost(asked)
    else:
        assert least_cost(asked).cost_usd_t == pytest.approx(expected, rel=1e-8)


def drawn(
    asked: FormulaProblem, shares: dict, nutrient: str, rng: np.random.Generator
) -> np.ndarray:
    """Content of a nutrient in a million batches, each of lots of its own."""
    total = np.zeros(DRAWS)
    for item in asked.ingredients:
        if shares.get(item.code):
            level = item.levels[nutrient]
            total += shares[item.code] * rng.normal(level.mean, level.sd, DRAWS)
    return total


@pytest.mark.parametrize("seed", [1, 4])
def test_odds_are_what_a_million_batches_show(seed: int) -> None:
    """Of a million batches the part that keeps each guarantee is what the answer says."""
    asked = random_problem(seed, odds=4, size=12, nutrients=8)
    answer = least_cost(asked)
    rng = np.random.default_rng(seed)
    bound = 0
    for line in answer.limits[:4]:
        content = drawn(asked, answer.shares, f"n{line.code[1:]}", rng)
        for kept, odds in (
            (line.minimum is not None and content >= line.minimum, line.odds_min_frac),
            (line.maximum is not None and content <= line.maximum, line.odds_max_frac),
        ):
            if odds is None:
                continue
            assert float(np.mean(kept)) == pytest.approx(odds, abs=FOUR_SIGMA)
            assert odds >= 0.95 - 1e-7
            bound += odds < 0.9501
    assert bound


def test_odds_in_dry_matter_with_lots_that_go_together() -> None:
    """The same in dry matter, with uncertain dry matter and correlated lots."""
    corn = ingredient("CORN", 180.0, protein=(8.0, 0.6), dry_matter_frac=0.86, dry_matter_sd=0.012)
    meal = ingredient("MEAL", 400.0, protein=(48.0, 1.6), dry_matter_frac=0.90, dry_matter_sd=0.008)
    pair = Correlation(first=("CORN", "protein"), second=("MEAL", "protein"), r=0.6)
    asked = problem(
        [corn, meal],
        [need("protein", 18.0, odds_frac=0.95, basis=Basis.DRY_MATTER)],
        correlations=(pair,),
    )
    answer = least_cost(asked)
    a, b = answer.shares["CORN"], answer.shares["MEAL"]
    rng = np.random.default_rng(7)
    protein = rng.multivariate_normal(
        [8.0, 48.0], [[0.36, 0.6 * 0.6 * 1.6], [0.6 * 0.6 * 1.6, 2.56]], DRAWS
    )
    dry = np.column_stack([rng.normal(0.86, 0.012, DRAWS), rng.normal(0.90, 0.008, DRAWS)])
    level = (protein @ [a, b]) / (dry @ [a, b])
    assert float(np.mean(level >= 18.0)) == pytest.approx(0.95, abs=FOUR_SIGMA)
    assert answer.limits[0].sd == pytest.approx(float(level.std()), rel=0.01)


def test_an_inspectors_sample_of_a_million_batches() -> None:
    """The part of a million single samples, with sampling and assay error, that pass."""
    corn = ingredient("CORN", 180.0, protein=(8.0, 0.6))
    meal = ingredient("MEAL", 400.0, protein=(48.0, 1.6))
    asked = problem([corn, meal], [need("protein", 16.0, odds_frac=0.9)])
    answer = least_cost(asked)
    error = SampleError(sampling_sd=0.4, assay_sd=0.3)
    (tag,) = tag_odds(answer.limits[0], "crude protein", rule="nevada", error=error)
    rng = np.random.default_rng(11)
    seen = drawn(asked, answer.shares, "protein", rng)
    seen = seen + rng.normal(0, 0.4, DRAWS) + rng.normal(0, 0.3, DRAWS)
    assert float(np.mean(seen >= 16.0 - 0.6)) == pytest.approx(tag.passes_frac, abs=FOUR_SIGMA)
