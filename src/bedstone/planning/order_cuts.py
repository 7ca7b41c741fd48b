"""Groups of items that a flow leaves too seldom: parts of a graph, and the least cut of it."""

import numpy as np
from numpy.typing import NDArray

from bedstone.quantities.compiling import compiled_and_kept

__all__ = ["groups_left_too_seldom"]

FLOW_LEAST = 1e-9
CUT_SLACK = 1e-6


def groups_left_too_seldom(flow: NDArray[np.float64]) -> list[NDArray[np.bool_]]:
    """Groups of items that a round through all must leave once, and a flow leaves less often.

    Parameters
    ----------
    flow : ndarray, shape (items, items)
        How much goes from one item to another, 0 to 1; what enters an item leaves it.

    Returns
    -------
    groups : list of ndarray, shape (items,)
        The parts of the flow where it falls into several; else the side of its least cut, if that
        is below one; else none.

    Sources
    -------
    [1] Dantzig, Fulkerson, Johnson, Solution of a large-scale traveling-salesman problem, Journal
        of the Operations Research Society of America 2 (1954), for the inequality; [2] Stoer,
        Wagner, A simple min-cut algorithm, Journal of the ACM 44 (1997); both from memory.
    """
    both = np.where(flow > FLOW_LEAST, flow, 0.0)
    both = both + both.T
    parts = _parts(both > 0)
    if parts.max(initial=0) > 0:
        return [parts == number for number in range(int(parts.max()) + 1)]
    weight, side = _least_cut(both)
    return [side] if weight < 2.0 - CUT_SLACK else []  # each way counts half of both


def _parts(joined: NDArray[np.bool_]) -> NDArray[np.int64]:
    """The number of the part of the graph in which each item lies."""
    part = np.full(len(joined), -1, dtype=np.int64)
    number = -1
    for item in range(len(joined)):
        if part[item] >= 0:
            continue
        number += 1
        reached = np.zeros(len(joined), dtype=np.bool_)
        reached[item] = True
        border = reached
        while border.any():
            border = joined[border].any(axis=0) & ~reached
            reached |= border
        part[reached] = number
    return part


@compiled_and_kept
def _least_cut(weights: NDArray[np.float64]) -> tuple[float, NDArray[np.bool_]]:
    """The least cut of a graph with weights both ways [2]: its weight and one side of it."""
    count = len(weights)
    joined = weights.copy()
    holds = np.eye(count) > 0
    is_left = np.ones(count, np.bool_)
    least, side = np.inf, np.zeros(count, np.bool_)
    for left in range(count, 1, -1):
        is_added = np.zeros(count, np.bool_)
        pull = np.zeros(count)
        before, last = -1, -1
        for _ in range(left):
            before = last
            last = -1
            for item in range(count):
                if is_left[item] and not is_added[item] and (last < 0 or pull[item] > pull[last]):
                    last = item
            is_added[last] = True
            if is_added.sum() < left:
                pull += joined[last]
        if pull[last] < least:
            least = pull[last]
            side = holds[last].copy()
        joined[before] += joined[last]
        joined[:, before] += joined[:, last]
        joined[before, before] = 0.0
        holds[before] |= holds[last]
        is_left[last] = False
    return least, side
