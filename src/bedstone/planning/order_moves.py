"""Local search for the cheapest round through all items, compiled: moves that keep directions.

Costs hang on direction, so no part of a round is ever run backwards. Two neighbouring parts change
places as long as that pays (the one three-exchange that keeps directions, with a part of one item
the Or-exchange); then a few parts near each other are thrown about and it starts again from there.

Sources
-------
[1] Kanellakis, Papadimitriou, Local search for the asymmetric traveling salesman problem,
    Operations Research 28 (1980); [2] Martin, Otto, Felten, Large-step Markov chains for the
    traveling salesman problem, Complex Systems 5 (1991); both from memory.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from bedstone.quantities.compiling import compiled_and_kept

__all__ = ["cheap_round"]

Costs = NDArray[np.float64]
Round = NDArray[np.int64]

GAIN_LEAST: Final = 1e-9
WINDOW: Final = 30  # items among which parts are thrown about
SHIFTS: Final = (13, 7, 17)


@compiled_and_kept
def cheap_round(  # noqa: PLR0917 - compiled code is called by position
    costs: Costs, near: Round, order: Round, rounds: int, seed: int, enough: float
) -> tuple[float, Round]:
    """The cheapest round found from a first one, and its cost.

    Parameters
    ----------
    costs : ndarray, shape (items, items)
        Of going from one to another.
    near : ndarray, shape (items, any)
        The cheapest to follow each, cheapest first.
    order : ndarray, shape (items,)
        A first round, at least five items; it is changed.
    rounds : int
        How often parts are thrown about.
    seed : int
        Of the dice.
    enough : float
        A cost at which to stop.

    Returns
    -------
    cost : float
        Of the best.
    best : ndarray, shape (items,)
        The best round.
    """
    dice = np.array([seed * 2654435761 + 88172645463325252], dtype=np.uint64)
    count = len(order)
    at = np.empty(count, np.int64)
    waiting = np.empty(count, np.int64)
    is_waiting = np.zeros(count, np.bool_)
    for place in range(count):
        at[order[place]] = place
        waiting[place] = order[place]
        is_waiting[order[place]] = True
    _descend(costs, near, order, at, waiting, is_waiting, count)
    now, best_cost = _cost(costs, order), _cost(costs, order)
    kept, best = order.copy(), order.copy()
    for _ in range(rounds):
        if best_cost <= enough:
            break
        number = _throw(order, at, waiting, is_waiting, dice)
        _descend(costs, near, order, at, waiting, is_waiting, number)
        cost = _cost(costs, order)
        if cost <= now + GAIN_LEAST:
            now = cost
            kept[:] = order
            if cost < best_cost - GAIN_LEAST:
                best_cost = cost
                best[:] = order
        else:
            order[:] = kept
            for place in range(count):
                at[order[place]] = place
    return best_cost, best


@compiled_and_kept
def _below(dice: NDArray[np.uint64], limit: int) -> int:
    """A number from 0 on below a limit (xorshift, G. Marsaglia 2003, from memory)."""
    value = dice[0]
    value ^= value << np.uint64(SHIFTS[0])
    value ^= value >> np.uint64(SHIFTS[1])
    value ^= value << np.uint64(SHIFTS[2])
    dice[0] = value
    return int((value >> np.uint64(11)) % np.uint64(limit))


@compiled_and_kept
def _cost(costs: Costs, order: Round) -> float:
    total: float = costs[order[-1], order[0]]
    for place in range(len(order) - 1):
        total += costs[order[place], order[place + 1]]
    return total


@compiled_and_kept
def _descend(  # noqa: PLR0917 - compiled code is called by position
    costs: Costs,
    near: Round,
    order: Round,
    at: Round,
    waiting: Round,
    is_waiting: NDArray[np.bool_],
    number: int,
) -> None:
    """Change parts over while that pays, looking only at items that wait to be looked at."""
    count = len(order)
    head = 0
    while number > 0:
        item = waiting[head]
        head = (head + 1) % count
        number -= 1
        is_waiting[item] = False
        while True:
            first, second = _best_change(costs, near, order, at, item)
            if first < 0:
                break
            start = at[item]
            for place in (start, first, second):
                for beside in (place, (place + 1) % count):
                    touched = order[beside]
                    if not is_waiting[touched]:
                        is_waiting[touched] = True
                        waiting[(head + number) % count] = touched
                        number += 1
            _change_over(order, at, start, first, second)


@compiled_and_kept
def _best_change(costs: Costs, near: Round, order: Round, at: Round, item: int) -> tuple[int, int]:
    """Where the two parts after an item end that gain most by changing places; -1 for none.

    After ``item`` come the parts a and b: item > a > b > rest becomes item > b > a > rest.
    """
    count = len(order)
    start = at[item]
    after = order[(start + 1) % count]
    most, first, second = GAIN_LEAST, -1, -1
    for rank in range(near.shape[1]):
        head_b = near[item, rank]
        gain = costs[item, after] - costs[item, head_b]
        if gain <= GAIN_LEAST:
            break
        begin = at[head_b]
        end_a = (begin - 1) % count
        gain += costs[order[end_a], head_b]
        for step in range((start - begin) % count):
            end_b = (begin + step) % count
            tail_b, rest = order[end_b], order[(end_b + 1) % count]
            whole = gain + costs[tail_b, rest] - costs[tail_b, after] - costs[order[end_a], rest]
            if whole > most:
                most, first, second = whole, end_a, end_b
    return first, second


@compiled_and_kept
def _change_over(order: Round, at: Round, start: int, first: int, second: int) -> None:
    """Let the part up to ``second`` come before that up to ``first``."""
    count = len(order)
    long_a, long_b = (first - start) % count, (second - first) % count
    parts = np.empty(long_a + long_b, np.int64)
    for step in range(long_b):
        parts[step] = order[(first + 1 + step) % count]
    for step in range(long_a):
        parts[long_b + step] = order[(start + 1 + step) % count]
    for step in range(long_a + long_b):
        place = (start + 1 + step) % count
        order[place] = parts[step]
        at[parts[step]] = place


@compiled_and_kept
def _throw(
    order: Round, at: Round, waiting: Round, is_waiting: NDArray[np.bool_], dice: NDArray[np.uint64]
) -> int:
    """Change neighbouring parts over twice at random, near each other; how many items now wait."""
    count = len(order)
    window = min(count, WINDOW)
    begin = _below(dice, count)
    for _ in range(2):
        cuts = np.array([_below(dice, window - 1) for _ in range(3)])
        cuts.sort()
        if cuts[0] == cuts[1] or cuts[1] == cuts[2]:
            cuts[0], cuts[1], cuts[2] = 0, 1, 2
        _change_over(
            order,
            at,
            (begin + cuts[0]) % count,
            (begin + cuts[1]) % count,
            (begin + cuts[2]) % count,
        )
    number = 0
    for step in range(-1, window + 1):
        item = order[(begin + step) % count]
        if not is_waiting[item]:
            is_waiting[item] = True
            waiting[number] = item
            number += 1
    return number
