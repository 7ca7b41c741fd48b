"""Orders of running walked, runs put in, and the search for a cheaper order, compiled.

An order is a row of runs and a row of their options. ``stack`` holds the day before each position
of the order that stands, so that another order is walked from where it differs.
"""

import math

import numpy as np

from bedstone.planning.compiled.step import copy_day, step, total
from bedstone.planning.compiled.tables import (
    CHANCE,
    COUNT,
    JOB,
    OPTIONS,
    ORDER,
    PRODUCT,
    SEARCH_COST,
    WHICH,
    Floats,
    Ints,
    compiled,
    ix,
)

__all__ = ["anneal", "insert", "settle"]

LCG_FACTOR, LCG_STEP = 6364136223846793005, 1442695040888963407
"""Knuth's MMIX generator, 64 bits: D. E. Knuth, The Art of Computer Programming 2, 3rd ed., 3.3.4
table 1, line 26; from memory. Its high bits are used."""
HIGH_BITS, TWO_31 = 33, 2147483648.0
SAME_PRODUCT_TRIES = 4
BLOCK_MOST = 10
GAIN_LEAST = 1e-6
NEAR = 3
# how often a neighbour is of which kind, added up; the rest takes another mixer
ONE_ELSEWHERE, ONE_NEAR, BESIDE_SAME, FEW_ELSEWHERE, TWO_SWAPPED, ROW_TURNED = (
    0.25,
    0.37,
    0.5,
    0.72,
    0.83,
    0.88,
)
STAYS_THERE = 0.5  # how often a run stays where it is when its mixer changes
# search.order rows
NOW, TRIED, BEST = range(3)
# search.count
PLACED, TRIES, TAKEN = range(3)


@compiled
def settle(
    ti: Ints, tf: Floats, days_i: Ints, days_f: Floats, wi: Ints, wf: Floats, first: int
) -> float:
    """Walk the order that stands from a position on, keeping the day before each; its cost."""
    runs = wi[ix(ti, COUNT, PLACED, 0)]
    for number in range(first, runs):
        si, sf = days_i[number + 1], days_f[number + 1]
        copy_day(ti, days_i[number], days_f[number], si, sf)
        job, which = wi[ix(ti, ORDER, NOW, number)], wi[ix(ti, WHICH, NOW, number)]
        step(ti, tf, si, sf, wi, wf, job, which)
    cost = total(ti, days_f[runs])
    wf[ix(ti, SEARCH_COST, NOW, 0)] = cost
    return cost


@compiled
def _walk(
    ti: Ints,
    tf: Floats,
    days_i: Ints,
    days_f: Floats,
    wi: Ints,
    wf: Floats,
    first: int,
    dearest: float,
) -> float:
    """Cost of the order that is tried, walked from a position on; infinite if too dear."""
    wi[ix(ti, COUNT, TRIES, 0)] += 1
    si, sf = days_i[days_i.shape[0] - 1], days_f[days_f.shape[0] - 1]
    copy_day(ti, days_i[first], days_f[first], si, sf)
    for number in range(first, wi[ix(ti, COUNT, PLACED, 0)]):
        job, which = wi[ix(ti, ORDER, TRIED, number)], wi[ix(ti, WHICH, TRIED, number)]
        step(ti, tf, si, sf, wi, wf, job, which)
        if total(ti, sf) >= dearest:
            return np.inf
    return total(ti, sf)


@compiled
def insert(
    ti: Ints, tf: Floats, days_i: Ints, days_f: Floats, wi: Ints, wf: Floats, job: int
) -> float:
    """Put a run into the order that stands where the whole stays cheapest; the cost then."""
    runs = wi[ix(ti, COUNT, PLACED, 0)]
    best_cost, best_at, best_which = np.inf, runs, 0
    wi[ix(ti, COUNT, PLACED, 0)] = runs + 1
    for at in range(runs, -1, -1):
        for number in range(runs):
            to = number if number < at else number + 1
            wi[ix(ti, ORDER, TRIED, to)] = wi[ix(ti, ORDER, NOW, number)]
            wi[ix(ti, WHICH, TRIED, to)] = wi[ix(ti, WHICH, NOW, number)]
        wi[ix(ti, ORDER, TRIED, at)] = job
        for which in range(ti[ix(ti, JOB, job, OPTIONS)]):
            wi[ix(ti, WHICH, TRIED, at)] = which
            cost = _walk(ti, tf, days_i, days_f, wi, wf, at, best_cost)
            if cost < best_cost:
                best_cost, best_at, best_which = cost, at, which
    for number in range(runs, best_at, -1):
        wi[ix(ti, ORDER, NOW, number)] = wi[ix(ti, ORDER, NOW, number - 1)]
        wi[ix(ti, WHICH, NOW, number)] = wi[ix(ti, WHICH, NOW, number - 1)]
    wi[ix(ti, ORDER, NOW, best_at)] = job
    wi[ix(ti, WHICH, NOW, best_at)] = best_which
    return settle(ti, tf, days_i, days_f, wi, wf, best_at)


@compiled
def anneal(
    ti: Ints,
    tf: Floats,
    days_i: Ints,
    days_f: Floats,
    wi: Ints,
    wf: Floats,
    tries: int,
    hot: float,
    cold: float,
) -> float:
    """Try so many neighbours while it cools from one temperature to another; the best cost so far.

    A dearer order is taken with the odds of Metropolis, the cheapest is kept. Nothing is taken
    that is dearer at a temperature of nothing.
    """
    runs = wi[ix(ti, COUNT, PLACED, 0)]
    if wf[ix(ti, SEARCH_COST, NOW, 0)] < wf[ix(ti, SEARCH_COST, 1, 0)]:
        _note_best(ti, wi, wf)
    if runs <= 1:
        return float(wf[ix(ti, SEARCH_COST, 1, 0)])
    warmth = hot
    cooling = (cold / hot) ** (1.0 / max(1, tries)) if hot > 0.0 else 0.0
    for _ in range(tries):
        warmth *= cooling
        first = _neighbour(ti, wi, runs)
        if first < 0:
            continue
        dearest = wf[ix(ti, SEARCH_COST, NOW, 0)] - GAIN_LEAST
        if warmth > 0.0:
            dearest = wf[ix(ti, SEARCH_COST, NOW, 0)] - warmth * math.log(1.0 - _random(ti, wi))
        cost = _walk(ti, tf, days_i, days_f, wi, wf, first, dearest)
        if cost < dearest:
            wi[ix(ti, COUNT, TAKEN, 0)] += 1
            _copy_order(ti, wi, TRIED, NOW)
            settle(ti, tf, days_i, days_f, wi, wf, first)
            if wf[ix(ti, SEARCH_COST, NOW, 0)] < wf[ix(ti, SEARCH_COST, 1, 0)] - GAIN_LEAST:
                _note_best(ti, wi, wf)
    return float(wf[ix(ti, SEARCH_COST, 1, 0)])


@compiled
def _copy_order(ti: Ints, wi: Ints, source: int, to: int) -> None:
    for number in range(wi[ix(ti, COUNT, PLACED, 0)]):
        wi[ix(ti, ORDER, to, number)] = wi[ix(ti, ORDER, source, number)]
        wi[ix(ti, WHICH, to, number)] = wi[ix(ti, WHICH, source, number)]


@compiled
def _note_best(
    ti: Ints,
    wi: Ints,
    wf: Floats,
) -> None:
    _copy_order(ti, wi, NOW, BEST)
    wf[ix(ti, SEARCH_COST, 1, 0)] = wf[ix(ti, SEARCH_COST, NOW, 0)]


@compiled
def _random(
    ti: Ints,
    wi: Ints,
) -> float:
    wi[ix(ti, CHANCE, 0, 0)] = wi[ix(ti, CHANCE, 0, 0)] * LCG_FACTOR + LCG_STEP
    return float(((wi[ix(ti, CHANCE, 0, 0)] >> HIGH_BITS) & 0x7FFFFFFF) / TWO_31)


@compiled
def _below(ti: Ints, wi: Ints, count: int) -> int:
    return min(count - 1, int(_random(ti, wi) * count))


@compiled
def _neighbour(ti: Ints, wi: Ints, runs: int) -> int:
    """Put a neighbour of the order that stands into the one tried; where it first differs."""
    _copy_order(ti, wi, NOW, TRIED)
    kind = _random(ti, wi)
    one = _below(ti, wi, runs)
    if kind < ONE_ELSEWHERE:
        return _move(ti, wi, one, 1, _below(ti, wi, runs))
    if kind < ONE_NEAR:
        near = one - NEAR + _below(ti, wi, 2 * NEAR + 1)
        return _move(ti, wi, one, 1, min(max(near, 0), runs - 1))
    if kind < BESIDE_SAME:
        return _move(ti, wi, one, 1, _beside_same(ti, wi, runs, one))
    if kind < FEW_ELSEWHERE:
        length = 2 + _below(ti, wi, 1 + _below(ti, wi, BLOCK_MOST - 1))
        length = min(length, runs - one)
        return _move(ti, wi, one, length, _below(ti, wi, runs - length + 1))
    if kind < TWO_SWAPPED:
        return _swap(ti, wi, one, _below(ti, wi, runs))
    if kind < ROW_TURNED:
        return _turn(ti, wi, one, min(runs - 1, one + 1 + _below(ti, wi, BLOCK_MOST)))
    return _other_option(ti, wi, runs, one)


@compiled
def _beside_same(ti: Ints, wi: Ints, runs: int, one: int) -> int:
    """The place of another run of the same product, if a few looks find one; else any."""
    product = ti[ix(ti, JOB, wi[ix(ti, ORDER, NOW, one)], PRODUCT)]
    other = one
    for _ in range(SAME_PRODUCT_TRIES):
        other = _below(ti, wi, runs)
        if other != one and ti[ix(ti, JOB, wi[ix(ti, ORDER, NOW, other)], PRODUCT)] == product:
            break
    return other


@compiled
def _move(ti: Ints, wi: Ints, first: int, length: int, to: int) -> int:
    """Take a block elsewhere: it begins at ``to`` of the others."""
    if first == to:
        return -1
    at = min(first, to)
    end = max(first, to) + length
    if first < to:
        for number in range(at, to):
            wi[ix(ti, ORDER, TRIED, number)] = wi[ix(ti, ORDER, NOW, number + length)]
            wi[ix(ti, WHICH, TRIED, number)] = wi[ix(ti, WHICH, NOW, number + length)]
    else:
        for number in range(to + length, end):
            wi[ix(ti, ORDER, TRIED, number)] = wi[ix(ti, ORDER, NOW, number - length)]
            wi[ix(ti, WHICH, TRIED, number)] = wi[ix(ti, WHICH, NOW, number - length)]
    for number in range(length):
        wi[ix(ti, ORDER, TRIED, to + number)] = wi[ix(ti, ORDER, NOW, first + number)]
        wi[ix(ti, WHICH, TRIED, to + number)] = wi[ix(ti, WHICH, NOW, first + number)]
    return at


@compiled
def _swap(ti: Ints, wi: Ints, one: int, other: int) -> int:
    if one == other:
        return -1
    wi[ix(ti, ORDER, TRIED, one)], wi[ix(ti, ORDER, TRIED, other)] = (
        wi[ix(ti, ORDER, NOW, other)],
        wi[ix(ti, ORDER, NOW, one)],
    )
    wi[ix(ti, WHICH, TRIED, one)], wi[ix(ti, WHICH, TRIED, other)] = (
        wi[ix(ti, WHICH, NOW, other)],
        wi[ix(ti, WHICH, NOW, one)],
    )
    return min(one, other)


@compiled
def _turn(ti: Ints, wi: Ints, first: int, last: int) -> int:
    """Turn a block round."""
    if first >= last:
        return -1
    for number in range(first, last + 1):
        wi[ix(ti, ORDER, TRIED, number)] = wi[ix(ti, ORDER, NOW, first + last - number)]
        wi[ix(ti, WHICH, TRIED, number)] = wi[ix(ti, WHICH, NOW, first + last - number)]
    return first


@compiled
def _other_option(ti: Ints, wi: Ints, runs: int, one: int) -> int:
    """Another mixer for a run, and often another place."""
    options = ti[ix(ti, JOB, wi[ix(ti, ORDER, NOW, one)], OPTIONS)]
    to = one if _random(ti, wi) < STAYS_THERE else _below(ti, wi, runs)
    first = one if to == one else _move(ti, wi, one, 1, to)
    if options > 1:
        wi[ix(ti, WHICH, TRIED, to)] = (
            wi[ix(ti, WHICH, NOW, one)] + 1 + _below(ti, wi, options - 1)
        ) % options
    elif to == one:
        return -1
    return first
