"""The joint week against one plain linear program of everything, by SciPy, and a second proof."""

import numpy as np
import numpy.typing as npt
import pytest
from scipy.optimize import OptimizeResult, linprog

from bedstone.formulation.joint_arrays import JointArrays, JointOptimum, ProductArrays, Tier
from bedstone.formulation.joint_columns import JointWork, Shortage
from bedstone.formulation.joint_solver import WarmProduct
from fakes.random_weeks import plain_program, random_week

Floats = npt.NDArray[np.float64]
CLOSE = 1e-7


def joint(week: JointArrays) -> JointWork:
    """The week's work, with every product possible alone."""
    work = JointWork(week, [WarmProduct(product) for product in week.products])
    assert work.impossible_alone() == []
    return work


def settled(work: JointWork) -> JointOptimum:
    """The cheapest week, which there must be."""
    found = work.optimum()
    assert isinstance(found, JointOptimum)
    return found


def scipys(
    cost: Floats, matrix: object, rows: tuple[Floats, Floats], bounds: Floats
) -> OptimizeResult:
    """A program with two-sided rows by SciPy: equalities apart, each other row once a side."""
    full = np.asarray(matrix.toarray() if hasattr(matrix, "toarray") else matrix)  # type: ignore[attr-defined]
    low, high = rows
    same = low == high
    up, down = np.isfinite(high) & ~same, np.isfinite(low) & ~same
    return linprog(
        cost,
        A_ub=np.vstack([full[up], -full[down]]),
        b_ub=np.concatenate([high[up], -low[down]]),
        A_eq=full[same],
        b_eq=low[same],
        bounds=bounds,
        method="highs-ds",
    )


def by_scipy(week: JointArrays) -> OptimizeResult:
    """The whole week as one plain program."""
    plain = plain_program(week)
    return scipys(
        plain.cost,
        plain.matrix,
        (plain.row_lower, plain.row_upper),
        np.column_stack([plain.lower, plain.upper]),
    )


def alone(product: ProductArrays, costs: Floats) -> float:
    """What a ton of a product costs at least at these costs, by SciPy."""
    found = scipys(
        costs,
        product.matrix,
        (product.row_lower, product.row_upper),
        np.column_stack([product.lower, product.upper]),
    )
    assert found.status == 0
    return float(found.fun)


def proved_again(week: JointArrays, answer: JointOptimum) -> tuple[float, float, float]:
    """Cost, a bound, and the worst violation, from shares and prices alone, by other code.

    The bound is the dual function of the shared materials at the answer's prices: each product at
    its least cost, each tier at what it would lose by being taken.
    """
    worst, use_t = 0.0, np.zeros(week.materials)
    cost = bound = 0.0
    for product, shares in zip(week.products, answer.shares, strict=True):
        level = product.matrix @ shares
        worst = max(
            worst,
            float((product.row_lower - level).max()),
            float((level - product.row_upper).max()),
            float((product.lower - shares).max()),
            float((shares - product.upper).max()),
        )
        costs = np.array(
            [
                own if material < 0 else answer.prices_usd_t[material]
                for own, material in zip(product.own_usd_t, product.material, strict=True)
            ]
        )
        bound += product.mass_t * alone(product, costs)
        for share, material, own in zip(shares, product.material, product.own_usd_t, strict=True):
            if material < 0:
                cost += product.mass_t * share * own
            else:
                use_t[material] += product.mass_t * share
    for material in range(week.materials):
        left = use_t[material]
        tiers = sorted(
            (tier for tier in week.tiers if tier.material == material),
            key=lambda tier: tier.price_usd_t,
        )
        for tier in tiers:
            taken = left if tier.most_t is None else min(left, tier.most_t)
            left -= taken
            cost += taken * tier.price_usd_t
            margin = answer.prices_usd_t[material] - tier.price_usd_t
            if margin > 0:
                assert tier.most_t is not None, "priced above an offer without end"
                bound -= margin * tier.most_t
        worst = max(worst, left)
    return cost, bound, worst


@pytest.mark.parametrize("seed", range(12))
def test_the_joint_week_costs_what_one_plain_program_costs(seed: int) -> None:
    """Small weeks, some with freely bought ingredients, equal SciPy's optimum of everything."""
    week = random_week(
        seed, products=3 + seed % 5, materials=6 + seed % 4, nutrients=5, own=seed % 3, plenty=1.6
    )
    plain = by_scipy(week)
    work = joint(week)
    found = work.optimum()
    if plain.status == 2:
        assert isinstance(found, Shortage)
        return
    assert isinstance(found, JointOptimum)
    assert found.cost_usd == pytest.approx(plain.fun, rel=CLOSE)
    assert found.violation < CLOSE


@pytest.mark.parametrize("seed", range(4))
def test_a_week_of_middling_size_is_proved_by_other_code(seed: int) -> None:
    """Forty products on thirty materials: SciPy's optimum, and a second proof of cost and bound."""
    week = random_week(seed, products=40, materials=30, nutrients=20)
    found = settled(joint(week))
    assert found.cost_usd == pytest.approx(by_scipy(week).fun, rel=CLOSE)
    cost, bound, worst = proved_again(week, found)
    assert worst < CLOSE * 100
    assert cost == pytest.approx(found.cost_usd, rel=1e-9)
    assert bound == pytest.approx(found.bound_usd, rel=1e-9)
    assert found.bound_usd <= found.cost_usd * (1 + 1e-12)
    assert found.gap_frac < 1e-8


def test_the_bound_is_true_for_any_duals() -> None:
    """Weak duality: no duals, however wrong, give a bound above a product's least cost."""
    week = random_week(5, products=1, materials=12, nutrients=8)
    product = week.products[0]
    costs = product.own_usd_t
    least = alone(product, costs)
    rng = np.random.default_rng(5)
    for size in (0.0, 0.1, 10.0, 1000.0):
        duals = size * rng.standard_normal(len(product.row_lower))
        assert product.least_by_duality(costs, duals) <= least + CLOSE


def test_without_scarcity_each_product_is_as_if_alone() -> None:
    """Where every material's first tier has no end, the week is the sum of the single optima."""
    week = random_week(3, products=8, materials=12, nutrients=8)
    price = {}
    for tier in week.tiers:
        price.setdefault(tier.material, tier.price_usd_t)
    free = JointArrays(
        products=week.products,
        materials=week.materials,
        tiers=tuple(
            Tier(material=material, price_usd_t=usd_t, most_t=None)
            for material, usd_t in price.items()
        ),
    )
    costs = np.array([price[material] for material in range(week.materials)])
    singles = [product.mass_t * alone(product, costs) for product in week.products]
    found = settled(joint(free))
    assert found.cost_usd == pytest.approx(sum(singles), rel=CLOSE)
    assert np.all(found.prices_usd_t <= costs + CLOSE)


def test_one_product_is_a_week_too() -> None:
    """A single product on tiers equals the plain program, scarce or not."""
    week = random_week(9, products=1, materials=10, nutrients=6, plenty=2.5)
    assert settled(joint(week)).cost_usd == pytest.approx(by_scipy(week).fun, rel=CLOSE)


def test_twins_and_ties_do_not_stop_it() -> None:
    """Many equal products, equal prices and equal tiers: a degenerate week settles and is right."""
    week = random_week(11, products=1, materials=8, nutrients=4, scarce=1.0, plenty=1.3)
    twins = JointArrays(
        products=week.products * 12,
        materials=8,
        tiers=tuple(
            Tier(material=tier.material, price_usd_t=250.0, most_t=12 * (tier.most_t or 0.0) + 5)
            for tier in week.tiers
        ),
    )
    found = settled(joint(twins))
    assert found.cost_usd == pytest.approx(by_scipy(twins).fun, rel=CLOSE)
    assert found.gap_frac < 1e-8


@pytest.mark.parametrize("seed", range(4))
def test_a_shadow_price_is_what_a_little_more_saves(seed: int) -> None:
    """More of a material saves at most its price a ton, less costs at least that: SciPy agrees."""
    week = random_week(seed, products=6, materials=8, nutrients=5, scarce=1.0, plenty=1.8)
    work = joint(week)
    found = work.optimum()
    if not isinstance(found, JointOptimum):
        pytest.fail("the seeds were chosen so that the week can be made")
    for material in range(week.materials):
        number = next(at for at, tier in enumerate(week.tiers) if tier.material == material)
        costs = []
        for step in (-0.01, 0.01):
            tiers = list(week.tiers)
            most = tiers[number].most_t or 0.0
            tiers[number] = Tier(
                material=material, price_usd_t=tiers[number].price_usd_t, most_t=most + step
            )
            costs.append(
                by_scipy(
                    JointArrays(
                        products=week.products, materials=week.materials, tiers=tuple(tiers)
                    )
                ).fun
            )
        worth = max(0.0, float(found.prices_usd_t[material]) - week.tiers[number].price_usd_t)
        assert (costs[0] - found.cost_usd) / 0.01 >= worth - 1e-3
        assert (found.cost_usd - costs[1]) / 0.01 <= worth + 1e-3


def test_a_week_short_of_material_is_proved_short() -> None:
    """Too little of everything: the proof's need exceeds what there is, and SciPy agrees."""
    week = random_week(2, products=6, materials=8, nutrients=5, scarce=1.0, plenty=0.5)
    assert by_scipy(week).status == 2
    work = joint(week)
    found = work.optimum()
    assert isinstance(found, Shortage)
    fewest = work.irreducible(found)
    assert fewest.need_t > fewest.there_t * (1 + 1e-9)
    needs = [
        product.mass_t
        * alone(product, np.where(product.material < 0, 0.0, fewest.weights[product.material]))
        for product in week.products
    ]
    assert fewest.product_need_t == pytest.approx(needs, abs=1e-6)
    for material in np.nonzero(fewest.weights)[0]:
        more = [
            Tier(
                material=tier.material,
                price_usd_t=tier.price_usd_t,
                most_t=None
                if tier.material == material or not fewest.weights[tier.material]
                else tier.most_t,
            )
            for tier in week.tiers
        ]
        kept = [at for at in np.nonzero(fewest.weights)[0] if at != material]
        tiers = [
            Tier(material=tier.material, price_usd_t=tier.price_usd_t, most_t=None)
            if tier.material not in kept
            else tier
            for tier in more
        ]
        loosened = JointArrays(products=week.products, materials=8, tiers=tuple(tiers))
        assert by_scipy(loosened).status == 0


def test_a_product_that_contradicts_itself_is_named() -> None:
    """A product whose own rows cannot be met is found before any material is blamed."""
    week = random_week(4, products=3, materials=8, nutrients=5)
    bad = week.products[1]
    lower = bad.row_lower.copy()
    lower[1], upper = 1e6, bad.row_upper.copy()
    upper[1] = np.inf
    broken = ProductArrays(
        mass_t=bad.mass_t,
        matrix=bad.matrix,
        row_lower=lower,
        row_upper=upper,
        lower=bad.lower,
        upper=bad.upper,
        own_usd_t=bad.own_usd_t,
        material=bad.material,
    )
    products = (week.products[0], broken, week.products[2])
    again = JointArrays(products=products, materials=8, tiers=week.tiers)
    work = JointWork(again, [WarmProduct(product) for product in products])
    assert work.impossible_alone() == [1]
