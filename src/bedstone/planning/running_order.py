"""The cheapest order in which to run items, from what it costs to go from one to another.

This is the pure core: a matrix of costs and pairs that must not follow each other, nothing of a
mill. The true day is more than that (residue hangs on the whole path, times on machines), and is
planned by :mod:`bedstone.planning.sequence`; where costs hang on pairs alone this proves its answer.
"""

import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bedstone.errors import BadInput, NoAnswer

__all__ = ["RunningOrder", "best_order"]

Costs = NDArray[np.float64]
Flags = NDArray[np.bool_]
SECONDS = 8.0
NEAR = 12  # items that may follow, the cheapest first, looked at by the local search
STARTS = 8
ROUNDS_ITEM = 100
ROUNDS_MOST = 8_000
LEAST_SEARCHED = 5  # items; below that the program alone is quicker
EXACT_WHOLE = 2.0**50
TOLERANCE = 1e-7  # of rounding, as part of a cost
BARRED_FACTOR = 4.0
DO = "allow one of the pairs that this hangs on, or take an item out"


@dataclass(frozen=True, slots=True, kw_only=True)
class RunningOrder:
    """An order of running, what it costs, and that no order costs less than ``bound``."""

    order: tuple[int, ...]  # numbers of the items
    cost: float
    bound: float
    is_optimal: bool  # the bound is the cost


def best_order(
    costs: ArrayLike,
    *,
    forbidden: Iterable[tuple[int, int]] = (),
    first_costs: ArrayLike | None = None,
    is_closed: bool = False,
    names: Sequence[str] = (),
    seed: int = 0,
    seconds: float = SECONDS,
) -> RunningOrder:
    """The best order found, its cost, a lower bound, and whether it is proved optimal.

    A local search finds a good order, a linear program with cuts the bound; what lies between is
    closed by a search in whole numbers over the pairs that a better order could have. Proved means
    that no order is cheaper by more than rounding (whole costs: at all). The same input and seed
    give the same answer wherever it is proved within the time.

    Parameters
    ----------
    costs : array_like, shape (items, items)
        Cost of running one item (row) directly before another (column), in any one unit; the
        diagonal is not read. Below nothing is allowed; infinite means that it must not be.
    forbidden : iterable of (int, int)
        Pairs (before, after) that must not follow each other.
    first_costs : array_like, shape (items,), optional
        Cost of each item as the first, from the state in which the day begins; nothing if not
        given; infinite for an item that must not be first. Not for a closed round.
    is_closed : bool
        True for a round that leads back to its first item, False for a day's path with an open end.
    names : sequence of str, optional
        What to call the items where no order exists; "item 1", "item 2" ... if not given.
    seed : int
        Of the local search.
    seconds : float
        Most time for the proof, by the solver's own clock. [s]

    Returns
    -------
    found : RunningOrder
        A closed round begins with item 0.

    Raises
    ------
    BadInput
        If the matrix is not square, holds what is not a number, or a pair is out of range.
    NoAnswer
        If the forbidden pairs leave no order: says in words which of them clash.

    Examples
    --------
    >>> best_order([[0, 1, 9], [9, 0, 9], [1, 9, 0]])
    RunningOrder(order=(2, 0, 1), cost=2.0, bound=2.0, is_optimal=True)

    Sources
    -------
    [1] Dantzig, Fulkerson, Johnson 1954 (cuts, and dropping pairs by their reduced costs), from
        memory; the local search names its own.
    """
    matrix, allowed = _checked(costs, forbidden)
    if len(matrix) == 0 or (len(matrix) == 1 and is_closed):
        return RunningOrder(order=tuple(range(len(matrix))), cost=0.0, bound=0.0, is_optimal=True)
    if is_closed and first_costs is not None:
        raise BadInput("A closed round has no first item: leave first_costs out.")
    called = tuple(names) or tuple(f"item {number + 1}" for number in range(len(matrix)))
    if len(called) != len(matrix):
        raise BadInput(f"There are {len(matrix)} items and {len(called)} names.")
    if not is_closed:
        matrix, allowed = _with_start(matrix, allowed, first_costs)
    found = _solved(matrix, allowed, called, seed=seed, seconds=seconds)
    if is_closed:
        return found
    items = tuple(node - 1 for node in found.order[1:])
    return RunningOrder(
        order=items, cost=found.cost, bound=found.bound, is_optimal=found.is_optimal
    )


def _checked(costs: ArrayLike, forbidden: Iterable[tuple[int, int]]) -> tuple[Costs, Flags]:
    """The costs with nothing where a pair is not allowed, and which are."""
    matrix = _numbers(costs, "costs")
    if matrix.size == 0:
        matrix = matrix.reshape(0, 0)
    if matrix.ndim != 2 or matrix.shape[0] != matrix.shape[1]:  # noqa: PLR2004 - rows and columns
        raise BadInput(
            "The matrix of costs must have as many columns as rows.",
            seen=" x ".join(str(side) for side in matrix.shape),
        )
    matrix = matrix.copy()
    np.fill_diagonal(matrix, np.inf)
    count = len(matrix)
    for before, after in forbidden:
        if not (0 <= before < count and 0 <= after < count):
            raise BadInput(
                "A forbidden pair names an item that is not there.",
                seen=f"({before}, {after})",
                allowed=f"0 to {count - 1}",
            )
        matrix[before, after] = np.inf
    allowed = np.isfinite(matrix)
    return np.where(allowed, matrix, 0.0), allowed


def _numbers(values: ArrayLike, what: str) -> Costs:
    try:
        found = np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError) as error:
        raise BadInput(f"The {what} must be rows of numbers of the same length.") from error
    off_diagonal = found[~np.eye(*found.shape, dtype=np.bool_)] if found.ndim > 1 else found
    if np.isnan(off_diagonal).any() or np.isneginf(off_diagonal).any():
        raise BadInput(
            f"The {what} hold something that is not a number.",
            allowed="numbers; infinite for what must not be",
        )
    return found


def _with_start(
    matrix: Costs, allowed: Flags, first_costs: ArrayLike | None
) -> tuple[Costs, Flags]:
    """A path as a round: a node before the first item, to which the last leads back for nothing."""
    count = len(matrix)
    first = np.zeros(count) if first_costs is None else _numbers(first_costs, "first costs")
    if first.shape != (count,):
        raise BadInput(f"There are {count} items and {first.size} first costs.")
    whole, ways = np.zeros((count + 1, count + 1)), np.zeros((count + 1, count + 1), dtype=bool)
    whole[1:, 1:], ways[1:, 1:] = matrix, allowed
    whole[0, 1:], ways[0, 1:] = np.where(np.isfinite(first), first, 0.0), np.isfinite(first)
    ways[1:, 0] = True
    return whole, ways


def _solved(
    costs: Costs, allowed: Flags, names: tuple[str, ...], *, seed: int, seconds: float
) -> RunningOrder:
    """The cheapest round from node 0."""
    from bedstone.planning.order_clash import clash_of_pairs, clash_text
    from bedstone.planning.order_program import Program

    program = Program(costs, allowed, seconds)
    relaxed = program.bound()
    if program.is_infeasible:
        raise NoAnswer(clash_text(program.irreducible(), names), do=DO)
    step = _step(costs[allowed])
    bound = _rounded_up(relaxed, step)
    cost, order = _searched(costs, allowed, seed=seed, enough=bound + _slack(bound))
    if cost > bound + _slack(bound):
        program.drop_dear(cost - relaxed - step + _slack(cost))
        better, reached = program.cheapest()
        if better is not None and _cost(costs, better) < cost - _slack(cost):
            cost, order = _cost(costs, better), better
        bound = max(bound, min(cost, cost if reached is None else _rounded_up(reached, step)))
    if not order:
        raise NoAnswer(clash_of_pairs(costs, allowed, names=names), do=DO)
    is_optimal = cost <= bound + _slack(bound)
    at = order.index(0)
    return RunningOrder(
        order=(*order[at:], *order[:at]),
        cost=cost,
        bound=cost if is_optimal else bound,
        is_optimal=is_optimal,
    )


def _searched(costs: Costs, allowed: Flags, *, seed: int, enough: float) -> tuple[float, list[int]]:
    """The cheapest round that the local search finds, and its cost; none where it finds none."""
    count = len(costs)
    if count < LEAST_SEARCHED:
        return math.inf, []
    from bedstone.planning.order_moves import cheap_round

    barred = BARRED_FACTOR * (count + 1) * (1.0 + float(np.abs(costs).max()))
    whole = np.where(allowed, costs, barred)
    near = np.argsort(whole, axis=1, kind="stable")[:, : min(NEAR, count - 1)]
    near = np.ascontiguousarray(near, dtype=np.int64)
    dice = np.random.default_rng(seed)
    rounds = min(ROUNDS_ITEM * count, ROUNDS_MOST)
    best_cost, best = math.inf, np.arange(count)
    for start in range(STARTS):
        first = dice.permutation(count).astype(np.int64)
        cost, order = cheap_round(whole, near, first, rounds, start + 1, enough)
        if cost < best_cost:
            best_cost, best = cost, order
        if best_cost <= enough:
            break
    if not allowed[best, np.roll(best, -1)].all():
        return math.inf, []
    found = [int(node) for node in best]
    return _cost(costs, found), found


def _cost(costs: Costs, order: list[int]) -> float:
    return math.fsum(costs[here, there] for here, there in itertools.pairwise([*order, order[0]]))


def _step(costs: Costs) -> float:
    """What a cheaper order is cheaper by at least: one where all costs are whole, else nothing."""
    is_whole = bool((costs == np.round(costs)).all() and np.abs(costs).sum() < EXACT_WHOLE)
    return 1.0 if is_whole else 0.0


def _slack(cost: float) -> float:
    return TOLERANCE * max(1.0, abs(cost)) if math.isfinite(cost) else 0.0


def _rounded_up(bound: float, step: float) -> float:
    """A bound with the solver's rounding taken off, and the next whole cost where all are whole."""
    bound -= _slack(bound)
    return float(math.ceil(bound)) if step and math.isfinite(bound) else bound
