"""One more run after others, and whole orders of running, compiled: see ``evaluate.py``."""

import numpy as np

from bedstone.planning.compiled.residue import leave_behind
from bedstone.planning.compiled.tables import (
    ABSENT,
    BASE_F,
    BASE_I,
    BATCH_KG,
    BATCHES,
    BIN,
    CAPACITY,
    CHANGED_S,
    CHANGEOVER,
    CLEAN_S,
    CLEANING,
    COST,
    DRAWS,
    DUE_S,
    FIRST_OPTION,
    FIRST_PATH,
    FLUSH,
    FREE_S,
    HELD,
    HOLDS,
    IS_BIN,
    IS_FINISHED,
    IS_STOCK,
    JOB,
    KEEP_F,
    KEEP_I,
    KEPT_F,
    KEPT_I,
    KEY_NOW,
    LABOUR_USD_H,
    LATE,
    LATE_USD_T_H,
    LEVEL_COLUMN,
    LEVEL_MG_KG,
    LEVELS,
    LIMITED,
    LOG_AT,
    LOG_KG,
    LYING,
    MISSING,
    MIXER,
    MONEY,
    NODE,
    NODE_NOW,
    NODES,
    NOTED,
    NOW_S,
    OK,
    OPTION,
    OPTION_KG,
    PATH,
    PATH_NODES,
    PATH_PLACES,
    PATHS,
    PLACES,
    PROC_S,
    PRODUCT,
    READY_S,
    RELEASE_S,
    SCORE,
    STAYS,
    STEPS,
    SUM_COUNT,
    SUMS,
    SUP_AT,
    SUP_KG,
    SUPPLIES,
    TIE,
    TONNES,
    WATCHED,
    Floats,
    Ints,
    compiled,
    ix,
)
from bedstone.planning.compiled.timetable import place
from bedstone.planning.compiled.treatment import decide, flush_usd

__all__ = ["MISSING_CENTS100", "copy_day", "step", "total"]

CENTS100_USD = 10_000
PATHS_TRIED = 3
TIE_CENTS100_S = 1e-3
MISSING_CENTS100 = 1e13
"""What an order that finds no place counts: more than any day costs."""
GROUPED, WAITS, DIRT = range(3)
TAKEN = 2.0
DIRT_DIGITS = 1e6


@compiled
def copy_day(ti: Ints, from_i: Ints, from_f: Floats, si: Ints, sf: Floats) -> None:
    """Make one day what another is: of what came and was drawn, as much as there is."""
    for number in range(ti[ti[0] + BASE_I]):
        si[number] = from_i[number]
    for number in range(ti[ti[0] + BASE_F]):
        sf[number] = from_f[number]
    for key in range(ti[ti[0] + WATCHED]):
        supplies, draws = ix(ti, SUP_AT, key, 0), ix(ti, LOG_AT, key, 0)
        supplied, drawn = ix(ti, SUP_KG, key, 0), ix(ti, LOG_KG, key, 0)
        for number in range(si[ix(ti, KEY_NOW, key, SUPPLIES)]):
            si[supplies + number] = from_i[supplies + number]
            sf[supplied + number] = from_f[supplied + number]
        for number in range(si[ix(ti, KEY_NOW, key, DRAWS)]):
            si[draws + number] = from_i[draws + number]
            sf[drawn + number] = from_f[drawn + number]


@compiled
def total(ti: Ints, sf: Floats) -> float:
    """What the search makes small."""
    cost = ix(ti, COST, 0, 0)
    whole = sf[cost + FLUSH] + sf[cost + CHANGEOVER] + sf[cost + CLEANING]
    return float(whole + sf[cost + LATE] + sf[cost + TIE] + sf[cost + MISSING])


@compiled
def step(
    ti: Ints, tf: Floats, si: Ints, sf: Floats, wi: Ints, wf: Floats, job: int, which: int
) -> int:
    """One more run by one of its options; why not, if it finds no place (nothing changes then).

    An order that finds no place is counted in the cost.
    """
    wi[ix(ti, NOTED, STEPS, 0)] += 1
    option = ti[ix(ti, JOB, job, FIRST_OPTION)] + which
    product = ti[ix(ti, JOB, job, PRODUCT)]
    came = BIN
    paths = _score_paths(ti, tf, si, sf, wf, job, option)
    for _ in range(min(PATHS_TRIED, paths)):
        path = _next_path(ti, wf, option)
        came = decide(ti, tf, si, sf, wi, wf, option, path, product,
            sf[ix(ti, SUMS, ti[ti[0] + SUM_COUNT] - 2, 0)],
        )  # fmt: skip
        if came != OK:
            continue
        _keep(ti, si, sf, wi, wf)
        came = place(ti, tf, si, sf, wi, wf, job, option, path)
        if came != OK:
            _take_back(ti, si, sf, wi, wf)
            continue
        leave_behind(ti, tf, si, sf, wi, wf, option, path, product)
        _add_cost(ti, tf, sf, wi, wf, job, option)
        return OK
    if ti[ix(ti, JOB, job, IS_STOCK)] == 0:
        sf[ix(ti, COST, MISSING, 0)] += MISSING_CENTS100
    return came


@compiled
def _keep(ti: Ints, si: Ints, sf: Floats, wi: Ints, wf: Floats) -> None:
    """Keep what placing a run changes."""
    kept_i, kept_f = ix(ti, KEPT_I, 0, 0), ix(ti, KEPT_F, 0, 0)
    for number in range(ti[ti[0] + KEEP_I]):
        wi[kept_i + number] = si[number]
    for number in range(ti[ti[0] + KEEP_F]):
        wf[kept_f + number] = sf[number]


@compiled
def _take_back(ti: Ints, si: Ints, sf: Floats, wi: Ints, wf: Floats) -> None:
    kept_i, kept_f = ix(ti, KEPT_I, 0, 0), ix(ti, KEPT_F, 0, 0)
    for number in range(ti[ti[0] + KEEP_I]):
        si[number] = wi[kept_i + number]
    for number in range(ti[ti[0] + KEEP_F]):
        sf[number] = wf[kept_f + number]


@compiled
def _add_cost(
    ti: Ints, tf: Floats, sf: Floats, wi: Ints, wf: Floats, job: int, option: int
) -> None:
    hour_cents100 = tf[ix(ti, MONEY, LABOUR_USD_H, 0)] * CENTS100_USD
    ready_s = wi[ix(ti, NOTED, READY_S, 0)]
    late_h = max(0, ready_s - ti[ix(ti, JOB, job, DUE_S)]) / 3600
    sf[ix(ti, COST, FLUSH, 0)] += flush_usd(ti, tf, wi, wf, option) * CENTS100_USD
    sf[ix(ti, COST, CHANGEOVER, 0)] += wi[ix(ti, NOTED, CHANGED_S, 0)] / 3600 * hour_cents100
    sf[ix(ti, COST, CLEANING, 0)] += wi[ix(ti, NOTED, CLEAN_S, 0)] / 3600 * hour_cents100
    sf[ix(ti, COST, LATE, 0)] += (
        late_h * tf[ix(ti, TONNES, job, 0)] * tf[ix(ti, MONEY, LATE_USD_T_H, 0)] * CENTS100_USD
    )
    sf[ix(ti, COST, TIE, 0)] += ready_s * TIE_CENTS100_S


@compiled
def _score_paths(
    ti: Ints,
    tf: Floats,
    si: Ints,
    sf: Floats,
    wf: Floats,
    job: int,
    option: int,
) -> int:
    """Score the paths that may be free, the cleanest first among those free soonest; how many."""
    first = ti[ix(ti, OPTION, option, FIRST_PATH)]
    mixer_s = si[ix(ti, NODE_NOW, ti[ix(ti, OPTION, option, MIXER)], FREE_S)]
    ready_s = max(mixer_s, ti[ix(ti, JOB, job, RELEASE_S)], ti[ix(ti, NOW_S, 0, 0)])
    ready_s += ti[ix(ti, OPTION, option, PROC_S)]
    count, soonest = 0, 0
    best_blocks, best_s = TAKEN, 0.0
    for number in range(ti[ix(ti, OPTION, option, PATHS)]):
        _score(ti, tf, si, sf, wf, job, option, first + number, number, ready_s)
        wf[ix(ti, SCORE, number, DIRT)] = 0.0
        blocks, waits_s = wf[ix(ti, SCORE, number, GROUPED)], wf[ix(ti, SCORE, number, WAITS)]
        if blocks == TAKEN:
            continue
        count += 1
        if blocks < best_blocks or (blocks == best_blocks and waits_s < best_s):
            best_blocks, best_s, soonest = blocks, waits_s, 0
        if blocks == best_blocks and waits_s == best_s:
            soonest += 1
    product = ti[ix(ti, JOB, job, PRODUCT)]
    if soonest > 1 and ti[ix(ti, LIMITED, product, LEVELS)] > 0:
        for number in range(ti[ix(ti, OPTION, option, PATHS)]):
            if (
                wf[ix(ti, SCORE, number, GROUPED)] == best_blocks
                and wf[ix(ti, SCORE, number, WAITS)] == best_s
            ):
                wf[ix(ti, SCORE, number, DIRT)] = _dirt(ti, tf, sf, product, first + number)
    return count


@compiled
def _next_path(ti: Ints, wf: Floats, option: int) -> int:
    """The best path that has not been taken; it counts as taken then."""
    best = -1
    for number in range(ti[ix(ti, OPTION, option, PATHS)]):
        if wf[ix(ti, SCORE, number, GROUPED)] == TAKEN:
            continue
        if best < 0 or (
            (
                wf[ix(ti, SCORE, number, GROUPED)],
                wf[ix(ti, SCORE, number, WAITS)],
                wf[ix(ti, SCORE, number, DIRT)],
            )
            < (
                wf[ix(ti, SCORE, best, GROUPED)],
                wf[ix(ti, SCORE, best, WAITS)],
                wf[ix(ti, SCORE, best, DIRT)],
            )
        ):
            best = number
    wf[ix(ti, SCORE, best, GROUPED)] = TAKEN
    return int(ti[ix(ti, OPTION, option, FIRST_PATH)] + best)


@compiled
def _score(
    ti: Ints,
    tf: Floats,
    si: Ints,
    sf: Floats,
    wf: Floats,
    job: int,
    option: int,
    path: int,
    number: int,
    ready_s: int,
) -> None:
    """(the bin is too small for the whole run, time that something waits); TAKEN if barred."""
    product, batch_kg = ti[ix(ti, JOB, job, PRODUCT)], tf[ix(ti, OPTION_KG, option, BATCH_KG)]
    waits_s, blocks = 0, 0.0
    wf[ix(ti, SCORE, number, GROUPED)] = TAKEN
    for at in range(1, ti[ix(ti, PATH, path, NODES)]):
        node = ti[ix(ti, PATH_NODES, path, at)]
        free_at_s = si[ix(ti, NODE_NOW, node, FREE_S)]
        if ti[ix(ti, NODE, node, IS_BIN)] == 1:
            lying, stays_kg = si[ix(ti, NODE_NOW, node, LYING)], 0.0
            if lying != ABSENT:
                stays_kg = sf[ix(ti, STAYS, node, 0)]
            if stays_kg > 0.0 and lying != product:
                return
            if ti[ix(ti, NODE, node, HOLDS)] >= 0 and ti[ix(ti, NODE, node, HOLDS)] != product:
                return
            room_kg = tf[ix(ti, CAPACITY, node, 0)] - stays_kg
            if room_kg < batch_kg:
                return
            if ti[ix(ti, NODE, node, IS_FINISHED)] == 1 and (
                room_kg < batch_kg * ti[ix(ti, OPTION, option, BATCHES)]
            ):
                blocks = 1.0
            waits_s += max(0, free_at_s - ready_s)
        ready_s = max(ready_s, free_at_s)
    wf[ix(ti, SCORE, number, GROUPED)] = blocks
    wf[ix(ti, SCORE, number, WAITS)] = waits_s


@compiled
def _dirt(ti: Ints, tf: Floats, sf: Floats, product: int, path: int) -> float:
    """How much of what is limited lies on a path, in parts of its limits, to six places."""
    dirt = 0.0
    for row in range(ti[ix(ti, PATH, path, PLACES)]):
        place_ = ti[ix(ti, PATH_PLACES, path, row)]
        for number in range(ti[ix(ti, LIMITED, product, LEVELS)]):
            column = ti[ix(ti, LEVEL_COLUMN, product, number)]
            dirt += sf[ix(ti, HELD, place_, column)] / tf[ix(ti, LEVEL_MG_KG, product, number)]
    return float(np.rint(dirt * DIRT_DIGITS))
