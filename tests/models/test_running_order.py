"""The order-of-running core against dynamic programming, and what it says where there is no order.

Dynamic programming over sets of items finds the cheapest order exactly (M. Held and R. M. Karp, A
Dynamic Programming Approach to Sequencing Problems, J. SIAM 10 (1962) 196-210; from memory).
"""

import itertools
import math

import numpy as np
import pytest

from bedstone.errors import BadInput, NoAnswer
from bedstone.planning.running_order import best_order


def cheapest(
    costs: np.ndarray, forbidden: set, first: np.ndarray | None = None, *, is_closed: bool = False
) -> float:
    """The cost of the cheapest order of all, by dynamic programming; infinite if there is none."""
    count = len(costs)
    ways = np.array(costs, dtype=float)
    for before, after in forbidden:
        ways[before, after] = math.inf
    start = np.zeros(count) if first is None else first
    if is_closed:
        start = np.where(np.arange(count) == 0, 0.0, math.inf)
    best = {(1 << item, item): float(start[item]) for item in range(count)}
    for done in range(1, 1 << count):
        for last in range(count):
            cost = best.get((done, last), math.inf)
            if not math.isfinite(cost):
                continue
            for then in range(count):
                if not done & 1 << then:
                    key = (done | 1 << then, then)
                    best[key] = min(best.get(key, math.inf), cost + ways[last, then])
    back = ways[:, 0] if is_closed else np.zeros(count)
    whole = (1 << count) - 1
    return min(best.get((whole, last), math.inf) + back[last] for last in range(count))


def walked(costs: np.ndarray, order: tuple[int, ...], first: np.ndarray | None = None) -> float:
    """What an order costs, step by step."""
    cost = sum(costs[here][there] for here, there in itertools.pairwise(order))
    return cost + (0.0 if first is None else first[order[0]])


def matrix(seed: int, *, whole: bool) -> np.ndarray:
    """Costs of 4 to 11 items; every other time many are the same."""
    dice = np.random.default_rng(seed)
    count = int(dice.integers(4, 12))
    if whole:
        return dice.integers(0, 4 if seed % 2 else 1000, (count, count)).astype(float)
    return dice.random((count, count)) * 1e5 - (2e4 if seed % 2 else 0.0)


@pytest.mark.parametrize("seed", range(24))
def test_a_path_is_the_one_dynamic_programming_finds(seed: int):
    """Random costs (whole, with ties, parts, below nothing), pairs forbidden: the optimum, proved."""
    costs = matrix(seed, whole=seed % 3 != 0)
    dice = np.random.default_rng(1000 + seed)
    count = len(costs)
    forbidden = {
        (int(before), int(after))
        for before, after in dice.integers(0, count, (seed % 4 * count, 2))
        if before != after
    }
    first = dice.random(count) * 1e3 if seed % 2 else None
    best = cheapest(costs, forbidden, first)
    if not math.isfinite(best):
        with pytest.raises(NoAnswer):
            best_order(costs, forbidden=forbidden, first_costs=first)
        return
    found = best_order(costs, forbidden=forbidden, first_costs=first)
    assert found.is_optimal
    assert found.cost == pytest.approx(best, rel=1e-6)
    assert found.bound == found.cost
    assert sorted(found.order) == list(range(count))
    assert not forbidden & set(itertools.pairwise(found.order))
    assert walked(costs, found.order, first) == pytest.approx(found.cost)


@pytest.mark.parametrize("seed", range(30, 40))
def test_a_closed_round_is_the_one_dynamic_programming_finds(seed: int):
    """With the way back to the first item counted, which stands first."""
    costs = matrix(seed, whole=True)
    found = best_order(costs, is_closed=True)
    assert found.is_optimal
    assert found.order[0] == 0
    assert found.cost == cheapest(costs, set(), is_closed=True)
    assert walked(costs, (*found.order, 0)) == found.cost


def test_thirteen_items_with_classes_that_clash():
    """Thirteen items in four classes: between some no direct change, between others a dear one."""
    dice = np.random.default_rng(5)
    kind = np.arange(13) % 4
    costs = np.where(kind[:, None] == kind, 1.0, dice.integers(50, 400, (13, 13)))
    forbidden = {
        (before, after)
        for before in range(13)
        for after in range(13)
        if (kind[before], kind[after]) in {(0, 1), (0, 2), (3, 1)}
    }
    found = best_order(costs, forbidden=forbidden)
    assert found.cost == cheapest(costs, forbidden)
    assert found.is_optimal


def test_nothing_one_and_two_items():
    """No item and one item are orders, too; so are two, one way round or the other."""
    assert best_order([]).order == ()
    assert best_order(np.zeros((0, 0)), is_closed=True).cost == 0.0
    assert best_order([[7.0]]) == best_order([[math.nan]])
    assert best_order([[7.0]], first_costs=[3.0]).cost == 3.0
    assert best_order([[7.0]], is_closed=True).cost == 0.0
    two = best_order([[0, 5], [2, 0]])
    assert (two.order, two.cost, two.is_optimal) == ((1, 0), 2.0, True)
    assert best_order([[0, 5], [2, 0]], is_closed=True).cost == 7.0


def test_an_infinite_cost_is_a_forbidden_pair():
    """It is never taken, whatever else that costs, and cannot be the only way."""
    costs = [[0.0, math.inf, 1.0], [1.0, 0.0, math.inf], [math.inf, 900.0, 0.0]]
    assert best_order(costs).order == (1, 0, 2)
    assert best_order(costs, first_costs=[0.0, math.inf, 1.0]).order == (0, 2, 1)
    with pytest.raises(NoAnswer, match=r"item 2 may follow nothing, and may not be first"):
        best_order(costs, forbidden=[(2, 1)], first_costs=[0.0, math.inf, 0.0])


@pytest.mark.parametrize(
    ("costs", "said"),
    [
        ([[0, 1, 2], [1, 0, 2]], "as many columns as rows"),
        ([1.0, 2.0], "as many columns as rows"),
        ([[0, math.nan], [1, 0]], "not a number"),
        ([[0, -math.inf], [1, 0]], "not a number"),
        ([[0, 1], [1]], "rows of numbers of the same length"),
        ([["a", "b"], ["c", "d"]], "rows of numbers"),
        (np.zeros((2, 2, 2)), "as many columns as rows"),
    ],
)
def test_what_is_no_matrix_of_costs_is_refused(costs: object, said: str):
    """Each says what is wrong."""
    with pytest.raises(BadInput, match=said):
        best_order(costs)


def test_other_input_that_makes_no_sense_is_refused():
    """A pair out of range, first costs of a round or too few, too few names."""
    costs = np.ones((3, 3))
    with pytest.raises(BadInput, match="names an item that is not there"):
        best_order(costs, forbidden=[(0, 3)])
    with pytest.raises(BadInput, match="no first item"):
        best_order(costs, is_closed=True, first_costs=[0, 0, 0])
    with pytest.raises(BadInput, match="3 items and 2 first costs"):
        best_order(costs, first_costs=[0, 0])
    with pytest.raises(BadInput, match="3 items and 2 names"):
        best_order(costs, names=("oats", "rye"))


def test_the_same_input_gives_the_same_order():
    """Ties are broken in the same way each time."""
    costs = np.random.default_rng(3).integers(0, 3, (20, 20))
    assert best_order(costs, seed=4) == best_order(costs, seed=4)


def test_the_bound_holds_where_time_is_too_short_for_a_proof():
    """With no time at all the bound is still below the cost of the cheapest order."""
    costs = matrix(8, whole=True)
    found = best_order(costs, seconds=0.0)
    assert found.bound <= cheapest(costs, set()) <= found.cost


def all_pairs(count: int, allowed: set) -> list[tuple[int, int]]:
    """Every pair but the allowed ones."""
    pairs = itertools.permutations(range(count), 2)
    return [pair for pair in pairs if pair not in allowed]


def test_items_that_too_little_may_follow_are_named():
    """Three feeds that only two others (or the end) may follow: which, and how many places short."""
    names = ("lamb", "ewe", "ram", "doe", "layer", "hog", "sow", "steer")
    lambs, rest = range(4), range(4, 8)
    forbidden = [(one, other) for one in lambs for other in (*lambs, 6, 7) if one != other]
    with pytest.raises(NoAnswer) as caught:
        best_order(np.ones((8, 8)), forbidden=forbidden, names=names)
    text = caught.value.what
    assert all(names[one] in text for one in lambs)
    assert "layer" in text
    assert "hog" in text
    assert "steer" not in text
    assert "4 for 3 places" in text
    kept = [pair for pair in forbidden if pair[0] != 0]
    assert best_order(np.ones((8, 8)), forbidden=kept, names=names).is_optimal
    assert len(rest) == 4


def test_groups_that_cannot_be_joined_are_named():
    """Three groups with one item between them all, which can join two."""
    group = [0, 0, 0, 1, 1, 1, 2, 2, 2, 3]
    allowed = {
        (one, other)
        for one, other in itertools.permutations(range(10), 2)
        if group[one] == group[other] or 9 in {one, other}
    }
    with pytest.raises(NoAnswer) as caught:
        best_order(np.ones((10, 10)), forbidden=all_pairs(10, allowed))
    assert "item 1, item 2, item 3" in caught.value.what
    assert "item 10" in caught.value.what
    assert "3 for 2 places" in caught.value.what


def test_a_clash_that_only_a_search_proves_is_explained():
    """Petersen's graph has no closed round, though each part of it has (known since 1898): its
    rules clash all together.
    """
    rim = [(item, (item + 1) % 5) for item in range(5)]
    star = [(5 + item, 5 + (item + 2) % 5) for item in range(5)]
    spokes = [(item, item + 5) for item in range(5)]
    joined = {*rim, *star, *spokes}
    allowed = joined | {(there, here) for here, there in joined}
    with pytest.raises(NoAnswer, match="No order keeps what may not follow each of these: item 1;"):
        best_order(np.ones((10, 10)), forbidden=all_pairs(10, allowed), is_closed=True)
    assert best_order(np.ones((10, 10)), forbidden=all_pairs(10, allowed)).cost == 9.0
