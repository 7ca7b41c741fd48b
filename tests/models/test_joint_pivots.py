import numpy as np
import pytest
from scipy.optimize import linprog

from bedstone.formulation.joint_arrays import JointOptimum, ProductArrays
from bedstone.formulation.joint_columns import JointWork
from bedstone.formulation.joint_solver import MANY, WarmProduct, warm_products
from fakes.random_weeks import random_week


def products_of(seed: int) -> tuple[ProductArrays, ...]:
    return random_week(seed, products=6, materials=14, nutrients=9, own=2).products


def least_by_scipy(product: ProductArrays, costs_usd_t: np.ndarray) -> float:
    low, high = np.isfinite(product.row_lower), np.isfinite(product.row_upper)
    found = linprog(
        costs_usd_t,
        A_ub=np.vstack([product.matrix[high], -product.matrix[low]]),
        b_ub=np.concatenate([product.row_upper[high], -product.row_lower[low]]),
        bounds=np.column_stack([product.lower, product.upper]),
    )
    assert found.status == 0
    return float(found.fun)


@pytest.mark.parametrize("seed", range(6))
def test_quick_answers_cost_what_another_solver_says(seed: int) -> None:
    """At prices that jump about, compiled answers cost what SciPy finds, keep every demand and prove it."""
    rng = np.random.default_rng(seed)
    for product in products_of(seed):
        quick = WarmProduct(product, quick=True)
        for turn in range(12):
            costs = rng.uniform(-50, 600, product.own_usd_t.size)
            shares = quick.cheapest(costs)
            assert shares is not None
            assert quick.is_quick, turn
            cost = float(costs @ shares)
            assert cost == pytest.approx(least_by_scipy(product, costs), rel=1e-8, abs=1e-6)
            assert product.violation(shares) < 1e-9
            assert cost - quick.least_usd_t(costs) <= 1e-8 * max(1.0, abs(cost))


def test_equal_prices_and_limits_do_not_make_it_go_round() -> None:
    """Where everything ties (equal prices, equal levels, limits met at once) it still ends, at the least cost."""
    size = 12
    product = ProductArrays(
        mass_t=1.0,
        matrix=np.vstack([np.ones(size), np.ones((5, size)), np.eye(size)[:6]]),
        row_lower=np.concatenate([[1.0], np.full(5, 1.0), np.zeros(6)]),
        row_upper=np.concatenate([[1.0], np.full(5, np.inf), np.zeros(6)]),
        lower=np.zeros(size),
        upper=np.full(size, 0.25),
        own_usd_t=np.full(size, 100.0),
        material=np.full(size, -1),
    )
    quick = WarmProduct(product, quick=True)
    for costs in (np.full(size, 100.0), np.full(size, 50.0), np.arange(size, dtype=np.float64)):
        shares = quick.cheapest(costs)
        assert shares is not None
        assert costs @ shares == pytest.approx(least_by_scipy(product, costs))


def test_a_share_held_fixed_does_not_spoil_what_follows() -> None:
    """After a question with one share fixed, the next quick answer is as before."""
    product = products_of(3)[0]
    quick, plain = WarmProduct(product, quick=True), WarmProduct(product)
    costs = np.linspace(100, 400, product.own_usd_t.size)
    first, column = quick.cheapest(costs), 2
    assert first is not None
    plain.cheapest(costs)
    for part in (0.0, float(first[column]), float(product.upper[column])):
        assert quick.cheapest_with(costs, column, part) == pytest.approx(
            plain.cheapest_with(costs, column, part)
        )
    assert quick.cheapest(costs) == pytest.approx(first)


def test_demands_that_contradict_each_other_are_told_by_the_general_solver() -> None:
    """A product that nothing fits is said to be so, again and again."""
    product = products_of(1)[0]
    broken = ProductArrays(
        **{
            name: getattr(product, name)
            for name in (
                "mass_t",
                "matrix",
                "row_lower",
                "row_upper",
                "lower",
                "own_usd_t",
                "material",
            )
        },
        upper=np.full(product.upper.size, 0.01),
    )
    quick = WarmProduct(broken, quick=True)
    for _ in range(2):
        assert quick.cheapest(product.own_usd_t) is None
        assert not quick.is_quick


def test_a_week_of_many_products_is_the_same_quickly_and_generally() -> None:
    """Many products are asked by compiled code, few are not; the week costs the same and is proved."""
    week = random_week(11, products=MANY, materials=12, nutrients=8, plenty=1.3)
    found = []
    for products in (
        warm_products(week.products, [None] * MANY),
        [WarmProduct(product) for product in week.products],
    ):
        work = JointWork(week, products)
        assert work.impossible_alone() == []
        assert {product.is_quick for product in products} == {products[0].is_quick}
        found.append(work.optimum())
    quick, general = found
    assert isinstance(quick, JointOptimum)
    assert isinstance(general, JointOptimum)
    assert quick.cost_usd == pytest.approx(general.cost_usd, rel=1e-9)
    assert quick.gap_frac < 1e-9
    assert quick.violation < 1e-9
    assert not warm_products(week.products[:3], [None] * 3)[0]._quick
