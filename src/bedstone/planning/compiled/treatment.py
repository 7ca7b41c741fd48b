"""What must happen before a run, compiled: nothing, a flush, a clean-out; see ``between.py``."""

import math

import numpy as np

from bedstone.planning.compiled.residue import apply_map, flush_map, is_level_broken
from bedstone.planning.compiled.tables import (
    BARRED,
    BARRED_FLUSH,
    BROKEN,
    CLEAN_COUNT,
    CLEAN_OUT,
    CLEAN_S,
    COLUMN,
    DIRTY,
    FLAGS,
    FLUSH_COUNT,
    FLUSH_EACH_KG,
    FLUSH_LEAST,
    FLUSH_LEFT_KG,
    FLUSH_MOST,
    FLUSH_ROUTE,
    FLUSH_ROW,
    FLUSH_S,
    FLUSH_SUM_KG,
    FLUSH_USD_KG,
    GUESS,
    HELD,
    KIND,
    LABOUR_USD_H,
    LEVEL,
    LEVEL_COLUMN,
    LEVEL_MG_KG,
    LEVELS,
    LIMITED,
    MONEY,
    NEVER_MET,
    NOTED,
    NOTED_KG,
    OK,
    OPTION,
    OPTION_KG,
    OTHER,
    OTHER_KG,
    OTHERS,
    OWN,
    PASSED,
    PATH,
    PATH_PLACES,
    PATH_ROUTES,
    PLACE_CLEAN_S,
    PLACES,
    PROCEDURE,
    ROUTE,
    ROUTE_PLACES,
    ROUTES,
    SLOTS,
    STEP_KG,
    SUBSTANCES,
    TOLERANCE,
    Floats,
    Ints,
    compiled,
    ix,
)

__all__ = ["decide", "flush_usd"]

PASSED_SLACK_KG = 1e-6
STEP_SLACK = 1e-9
TRACE_MG_KG = 1e-12
FLUSH_BATCHES_MOST = 3
EVER = 2
MAY_FLUSH, HELPLESS = 1, 2


@compiled
def decide(
    ti: Ints,
    tf: Floats,
    si: Ints,
    sf: Floats,
    wi: Ints,
    wf: Floats,
    option: int,
    path: int,
    product: int,
    flushed_kg: float,
) -> int:
    """Put the cheapest treatment that makes the run safe into NOTED; BARRED if nothing does."""
    wi[ix(ti, NOTED, FLUSH_COUNT, 0)] = 0
    wi[ix(ti, NOTED, CLEAN_COUNT, 0)] = 0
    wi[ix(ti, NOTED, CLEAN_S, 0)] = 0
    found = _breaches(ti, tf, si, sf, wi, wf, option, path, product)
    if found <= 0:
        return OK if found == 0 else BARRED
    _find_dirty(ti, tf, sf, wi, path)
    clean_cost = _hours_usd(ti, tf, wi[ix(ti, NOTED, CLEAN_S, 0)])
    has_flush = False
    if found == MAY_FLUSH and ti[ix(ti, PATH, path, BARRED_FLUSH)] == 0:
        left_kg = tf[ix(ti, OPTION_KG, option, FLUSH_LEFT_KG)] - flushed_kg
        has_flush = _find_flush(ti, tf, sf, wi, wf, option, path, product, left_kg)
    if has_flush and flush_usd(ti, tf, wi, wf, option) <= clean_cost:
        wi[ix(ti, NOTED, CLEAN_COUNT, 0)] = 0
        wi[ix(ti, NOTED, CLEAN_S, 0)] = 0
        return OK
    if _breaches(ti, tf, si, sf, wi, wf, option, path, product) != 0:
        wi[ix(ti, NOTED, CLEAN_COUNT, 0)] = 0
        wi[ix(ti, NOTED, CLEAN_S, 0)] = 0
        return OK if has_flush else BARRED
    wi[ix(ti, NOTED, FLUSH_COUNT, 0)] = 0
    return OK


@compiled
def flush_usd(ti: Ints, tf: Floats, wi: Ints, wf: Floats, option: int) -> float:
    """Material and crew of the flush in NOTED [USD]."""
    if wi[ix(ti, NOTED, FLUSH_COUNT, 0)] == 0:
        return 0.0
    crew_s = wi[ix(ti, NOTED, FLUSH_COUNT, 0)] * ti[ix(ti, OPTION, option, FLUSH_S)]
    material_usd = wf[ix(ti, NOTED_KG, FLUSH_SUM_KG, 0)] * tf[ix(ti, MONEY, FLUSH_USD_KG, 0)]
    return float(material_usd + _hours_usd(ti, tf, crew_s))


@compiled
def _hours_usd(ti: Ints, tf: Floats, crew_s: int) -> float:
    return float(crew_s / 3600 * tf[ix(ti, MONEY, LABOUR_USD_H, 0)])


@compiled
def _is_cleaned(ti: Ints, wi: Ints, place: int) -> bool:
    for number in range(wi[ix(ti, NOTED, CLEAN_COUNT, 0)]):
        if wi[ix(ti, DIRTY, number, 0)] == place:
            return True
    return False


@compiled
def _breaches(
    ti: Ints,
    tf: Floats,
    si: Ints,
    sf: Floats,
    wi: Ints,
    wf: Floats,
    option: int,
    path: int,
    product: int,
) -> int:
    """Whether limits would be broken once what is noted is cleaned; their columns into BROKEN.

    Nothing is 0, a limit that says never below that; HELPLESS if only cleaning helps.
    """
    count = ti[ix(ti, PATH, path, PLACES)]
    for column in range(ti[ti[0] + SUBSTANCES]):
        wi[ix(ti, BROKEN, column, 0)] = 0
    found = 0
    for number in range(ti[ix(ti, LIMITED, product, OTHERS)]):
        column = ti[ix(ti, OTHER, product, 2 * number + COLUMN)]
        kind = ti[ix(ti, OTHER, product, 2 * number + KIND)]
        least_kg = np.inf
        ever = False
        for row in range(count):
            place = ti[ix(ti, PATH_PLACES, path, row)]
            ever = ever or (si[ix(ti, FLAGS, place, column)] & EVER) == EVER
            if not _is_cleaned(ti, wi, place):
                least_kg = min(least_kg, sf[ix(ti, PASSED, place, column)])
        if kind == NEVER_MET:
            if ever:
                return BARRED
        elif kind == CLEAN_OUT:
            if least_kg < np.inf:
                found = max(found, HELPLESS)
                wi[ix(ti, BROKEN, column, 0)] = 1
        elif least_kg < tf[ix(ti, OTHER_KG, product, number)] - PASSED_SLACK_KG:
            found = max(found, MAY_FLUSH)
            wi[ix(ti, BROKEN, column, 0)] = 1
    for number in range(ti[ix(ti, LIMITED, product, LEVELS)]):
        column = ti[ix(ti, LEVEL_COLUMN, product, number)]
        for row in range(count):
            place = ti[ix(ti, PATH_PLACES, path, row)]
            is_clean = _is_cleaned(ti, wi, place)
            wf[ix(ti, LEVEL, 0, row)] = 0.0 if is_clean else sf[ix(ti, HELD, place, column)]
        own_mg_kg = tf[ix(ti, OWN, product, column)]
        level_mg_kg = tf[ix(ti, LEVEL_MG_KG, product, number)]
        if is_level_broken(ti, tf, wf, option, path, own_mg_kg, level_mg_kg):
            found = max(found, MAY_FLUSH)
            wi[ix(ti, BROKEN, column, 0)] = 1
    return found


@compiled
def _find_dirty(ti: Ints, tf: Floats, sf: Floats, wi: Ints, path: int) -> None:
    count = 0
    total_s = 0.0
    for row in range(ti[ix(ti, PATH, path, PLACES)]):
        place = ti[ix(ti, PATH_PLACES, path, row)]
        dirty = False
        for column in range(ti[ti[0] + SUBSTANCES]):
            if wi[ix(ti, BROKEN, column, 0)] == 1:
                dirty = dirty or sf[ix(ti, PASSED, place, column)] < np.inf
                dirty = dirty or sf[ix(ti, HELD, place, column)] > TRACE_MG_KG
        if dirty:
            wi[ix(ti, DIRTY, count, 0)] = place
            count += 1
            total_s += tf[ix(ti, PLACE_CLEAN_S, place, 0)]
    wi[ix(ti, NOTED, CLEAN_COUNT, 0)] = count
    wi[ix(ti, NOTED, CLEAN_S, 0)] = math.ceil(total_s)


@compiled
def _find_flush(
    ti: Ints,
    tf: Floats,
    sf: Floats,
    wi: Ints,
    wf: Floats,
    option: int,
    path: int,
    product: int,
    left_kg: float,
) -> bool:
    """Put the smallest flush that is enough into NOTED; False if none is."""
    best_kg = np.inf
    step_kg, most = tf[ix(ti, OPTION_KG, option, STEP_KG)], ti[ix(ti, OPTION, option, FLUSH_MOST)]
    for number in range(ti[ix(ti, PATH, path, ROUTES)]):
        wanted_kg = _least_passed_kg(ti, tf, sf, path, product, number)
        steps = _smallest(ti, tf, sf, wi, wf, option, path, product, number, wanted_kg)
        if steps < 0:
            continue
        count = _batches(steps, most)
        steps += count * ti[ix(ti, TOLERANCE, _each(steps, count), 0)]
        steps = min(steps, most * FLUSH_BATCHES_MOST)
        count = _batches(steps, most)
        each_kg = _each(steps, count) * step_kg
        sum_kg = 0.0
        for _ in range(count):
            sum_kg += each_kg
        if sum_kg <= left_kg and sum_kg < best_kg - PASSED_SLACK_KG:
            best_kg = sum_kg
            wi[ix(ti, NOTED, FLUSH_COUNT, 0)] = count
            wi[ix(ti, NOTED, FLUSH_ROUTE, 0)] = ti[ix(ti, PATH_ROUTES, path, number)]
            wf[ix(ti, NOTED_KG, FLUSH_EACH_KG, 0)] = each_kg
            wf[ix(ti, NOTED_KG, FLUSH_SUM_KG, 0)] = sum_kg
    return best_kg < np.inf


@compiled
def _batches(steps: int, most: int) -> int:
    return (steps + most - 1) // most


@compiled
def _each(steps: int, count: int) -> int:
    return (steps + count - 1) // count


@compiled
def _least_passed_kg(
    ti: Ints,
    tf: Floats,
    sf: Floats,
    path: int,
    product: int,
    number: int,
) -> float:
    """What procedures still want of a flush along a route; never enough beyond it."""
    part = ti[ix(ti, ROUTE, ti[ix(ti, PATH_ROUTES, path, number)], ROUTE_PLACES)]
    own = ti[ti[0] + FLUSH_ROW]
    want_kg = 0.0
    for other in range(ti[ix(ti, LIMITED, product, OTHERS)]):
        if ti[ix(ti, OTHER, product, 2 * other + KIND)] != PROCEDURE:
            continue
        column = ti[ix(ti, OTHER, product, 2 * other + COLUMN)]
        if tf[ix(ti, OWN, own, column)] > 0.0:
            return np.inf
        for row in range(ti[ix(ti, PATH, path, PLACES)]):
            passed_kg = sf[ix(ti, PASSED, ti[ix(ti, PATH_PLACES, path, row)], column)]
            lacking_kg = tf[ix(ti, OTHER_KG, product, other)] - passed_kg
            if row < part:
                want_kg = max(want_kg, lacking_kg)
            elif lacking_kg > PASSED_SLACK_KG:
                return np.inf
    return want_kg


@compiled
def _smallest(
    ti: Ints,
    tf: Floats,
    sf: Floats,
    wi: Ints,
    wf: Floats,
    option: int,
    path: int,
    product: int,
    number: int,
    wanted_kg: float,
) -> int:
    """The fewest divisions that are enough along a route; below nothing if none are.

    The flush that was enough the last time is tried first: it often is again.
    """
    most = ti[ix(ti, OPTION, option, FLUSH_MOST)]
    if not wanted_kg < np.inf or most < 1:
        return -1
    wanted = math.ceil(wanted_kg / tf[ix(ti, OPTION_KG, option, STEP_KG)] - STEP_SLACK)
    low = max(ti[ix(ti, OPTION, option, FLUSH_LEAST)], wanted)
    high = most * FLUSH_BATCHES_MOST
    if low > high:
        return -1
    if _is_enough(ti, tf, sf, wi, wf, option, path, product, number, low):
        return int(low)
    guess = wi[ix(ti, GUESS, path, number)]
    if low < guess < high and _is_enough(ti, tf, sf, wi, wf, option, path, product, number, guess):
        high = guess
        guess -= 1
        if guess > low and not _is_enough(ti, tf, sf, wi, wf, option, path, product, number, guess):
            low = guess
    elif not _is_enough(ti, tf, sf, wi, wf, option, path, product, number, high):
        return -1
    while high - low > 1:
        middle = (low + high) // 2
        if _is_enough(ti, tf, sf, wi, wf, option, path, product, number, middle):
            high = middle
        else:
            low = middle
    wi[ix(ti, GUESS, path, number)] = high
    return int(high)


@compiled
def _is_enough(
    ti: Ints,
    tf: Floats,
    sf: Floats,
    wi: Ints,
    wf: Floats,
    option: int,
    path: int,
    product: int,
    number: int,
    steps: int,
) -> bool:
    levels = ti[ix(ti, LIMITED, product, LEVELS)]
    if levels == 0:
        return True
    count = _batches(steps, ti[ix(ti, OPTION, option, FLUSH_MOST)])
    route = ti[ix(ti, PATH_ROUTES, path, number)]
    slot = flush_map(
        ti, tf, wi, wf, route, _each(steps, count), tf[ix(ti, OPTION_KG, option, STEP_KG)]
    )
    part = ti[ix(ti, ROUTE, route, ROUTE_PLACES)]
    own = ti[ti[0] + FLUSH_ROW]
    for level in range(levels):
        column = ti[ix(ti, LEVEL_COLUMN, product, level)]
        for row in range(ti[ix(ti, PATH, path, PLACES)]):
            wf[ix(ti, LEVEL, 0, row)] = sf[ix(ti, HELD, ti[ix(ti, PATH_PLACES, path, row)], column)]
        for _ in range(count):
            apply_map(ti, wf, wf, ix(ti, SLOTS, slot, 0), part, tf[ix(ti, OWN, own, column)])
        own_mg_kg = tf[ix(ti, OWN, product, column)]
        level_mg_kg = tf[ix(ti, LEVEL_MG_KG, product, level)]
        if is_level_broken(ti, tf, wf, option, path, own_mg_kg, level_mg_kg):
            return False
    return True
