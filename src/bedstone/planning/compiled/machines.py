"""Shifts, lines and grinding, compiled: see ``shifts.py`` and ``grinding.py``."""

import math

from bedstone.planning.compiled.tables import (
    BIN,
    CAPACITY_KG,
    CHANGEOVER_S,
    DRAWS,
    ENTRIES,
    FREE_S,
    GRINDER,
    GROUND,
    GROUND_F,
    KEY,
    KEY_KG,
    KEY_NOW,
    KEYS,
    LAST,
    LINE_N,
    LINE_PACE,
    LINE_SPAN,
    LOG_AT,
    LOG_KG,
    LOSS_FRAC,
    LYING_KG,
    MATERIAL,
    NEED_KEY,
    NEED_PART,
    NEEDS,
    NODE,
    NODE_NOW,
    OK,
    OPTION,
    POOL,
    RATE_KG_S,
    SOURCE,
    STOCK,
    SUMS,
    SUP_AT,
    SUP_KG,
    SUPPLIES,
    TIME,
    WATCHED_NEEDS,
    WIN,
    WIN_N,
    Floats,
    Ints,
    compiled,
    ix,
)

__all__ = ["draw", "fit", "holds", "ready_at", "take_plain", "work_line"]

NEVER = 10**12
TINY_KG = 1e-6
JOB_LEAST_FRAC = 0.2
SPARE_KG = 20.0
JOB_STEP_KG = 10.0


@compiled
def fit(ti: Ints, node: int, from_s: int, duration_s: int) -> int:
    """The first start from which a duration lies inside one shift of a machine."""
    for number in range(ti[ix(ti, WIN_N, node, 0)]):
        span = ix(ti, WIN, node, 2 * number)
        begin_s = max(from_s, ti[span])
        if begin_s + duration_s <= ti[span + 1]:
            return int(begin_s)
    return NEVER


@compiled
def holds(ti: Ints, node: int, start_s: int, end_s: int) -> bool:
    """True when a time lies inside one shift of a machine."""
    for number in range(ti[ix(ti, WIN_N, node, 0)]):
        span = ix(ti, WIN, node, 2 * number)
        if ti[span] <= start_s and end_s <= ti[span + 1]:
            return True
    return False


@compiled
def work_line(ti: Ints, tf: Floats, line: int, from_s: int, mass_kg: float) -> tuple[int, int]:
    """Start and end of working a mass, not before a time."""
    count = ti[ix(ti, LINE_N, line, 0)]
    span, pace = ix(ti, LINE_SPAN, line, 0), ix(ti, LINE_PACE, line, 0)
    number = 0
    while number < count and ti[span + 2 * number + 1] <= from_s:
        number += 1
    if number >= count:
        return NEVER, NEVER
    begin_s = ti[span + 2 * number]
    start_s = max(from_s, begin_s)
    done_kg = tf[pace + 2 * number - 1] if number > 0 else 0.0
    done_kg += (start_s - begin_s) * tf[pace + 2 * number] + mass_kg
    if done_kg - 1e-9 <= 0.0:
        return start_s, ti[span]
    number = 0
    while number < count and tf[pace + 2 * number + 1] < done_kg - 1e-9:
        number += 1
    if number >= count:
        return start_s, NEVER
    left_kg = done_kg - (tf[pace + 2 * number - 1] if number > 0 else 0.0)
    takes_s = math.ceil(left_kg / tf[pace + 2 * number] - 1e-6)
    return start_s, ti[span + 2 * number] + takes_s


@compiled
def _first_with(sf: Floats, si: Ints, kg: int, at: int, count: int, wanted_kg: float) -> int:
    """When so much has come, or been drawn: the time of the first entry of at least that."""
    low, high = 0, count
    while low < high:
        middle = (low + high) // 2
        if sf[kg + middle] >= wanted_kg - TINY_KG:
            high = middle
        else:
            low = middle + 1
    return int(si[at + low]) if low < count else NEVER


@compiled
def ready_at(
    ti: Ints, tf: Floats, si: Ints, sf: Floats, key: int, need_kg: float, soon_kg: float
) -> int:
    """When a batch has what it needs of a watched shelf, ground if need be; else why not."""
    wanted_kg = sf[ix(ti, SUMS, key, 0)] + need_kg
    pool = ti[ix(ti, KEY, key, POOL)]
    spare_kg = SPARE_KG if pool >= 0 else 0.0
    while True:
        count = si[ix(ti, KEY_NOW, key, SUPPLIES)]
        there_kg = sf[ix(ti, SUP_KG, key, count - 1)] if count > 0 else 0.0
        if count > 0 and there_kg >= wanted_kg + spare_kg - TINY_KG:
            break
        if pool < 0 or count >= ti[ti[0] + ENTRIES]:
            return STOCK
        came = _grind(ti, tf, si, sf, key, pool, wanted_kg + spare_kg, soon_kg)
        if came != OK:
            if count > 0 and there_kg >= wanted_kg - TINY_KG:
                break
            return came
    return _first_with(
        sf,
        si,
        ix(ti, SUP_KG, key, 0),
        ix(ti, SUP_AT, key, 0),
        si[ix(ti, KEY_NOW, key, SUPPLIES)],
        wanted_kg,
    )


@compiled
def _ground_kg(
    ti: Ints,
    tf: Floats,
    sf: Floats,
    key: int,
    supply_kg: float,
    capacity_kg: float,
    wanted_kg: float,
    soon_kg: float,
) -> float:
    """How much is ground at once: what is short, and more if it is worth it and there is room."""
    room_kg = capacity_kg - (supply_kg - sf[ix(ti, SUMS, key, 0)])
    short_kg = wanted_kg - supply_kg
    worth_kg = min(capacity_kg * JOB_LEAST_FRAC, tf[ix(ti, KEY_KG, key, 0)] - supply_kg)
    out_kg = max(short_kg, min(capacity_kg / 2, short_kg + soon_kg), worth_kg)
    return float(min(math.ceil(out_kg / JOB_STEP_KG) * JOB_STEP_KG, room_kg))


@compiled
def _grind(
    ti: Ints,
    tf: Floats,
    si: Ints,
    sf: Floats,
    key: int,
    pool: int,
    wanted_kg: float,
    soon_kg: float,
) -> int:
    """More ground for a shelf: OK, or why not."""
    count = si[ix(ti, KEY_NOW, key, SUPPLIES)]
    supply_kg = sf[ix(ti, SUP_KG, key, count - 1)] if count > 0 else 0.0
    capacity_kg = tf[ix(ti, GROUND_F, pool, CAPACITY_KG)]
    out_kg = _ground_kg(ti, tf, sf, key, supply_kg, capacity_kg, wanted_kg, soon_kg)
    if out_kg < TINY_KG:
        return BIN
    kept_frac = 1.0 - tf[ix(ti, GROUND_F, pool, LOSS_FRAC)]
    grain = ti[ti[0] + KEYS] + ti[ix(ti, GROUND, pool, SOURCE)]
    out_kg = min(out_kg, sf[ix(ti, SUMS, grain, 0)] * kept_frac)
    if out_kg < TINY_KG:
        return STOCK
    grinder = ti[ix(ti, GROUND, pool, GRINDER)]
    material = ti[ix(ti, GROUND, pool, MATERIAL)]
    from_s = si[ix(ti, NODE_NOW, grinder, FREE_S)]
    last = si[ix(ti, NODE_NOW, grinder, LAST)]
    if last >= 0 and last != material:
        from_s += ti[ix(ti, NODE, grinder, CHANGEOVER_S)]
    threshold_kg = supply_kg + out_kg - capacity_kg
    if threshold_kg > TINY_KG:
        drawn_s = _first_with(
            sf,
            si,
            ix(ti, LOG_KG, key, 0),
            ix(ti, LOG_AT, key, 0),
            si[ix(ti, KEY_NOW, key, DRAWS)],
            threshold_kg,
        )
        from_s = max(from_s, drawn_s)
    duration_s = math.ceil(out_kg / kept_frac / tf[ix(ti, GROUND_F, pool, RATE_KG_S)])
    start_s = fit(ti, grinder, from_s, duration_s)
    if start_s >= NEVER:
        return TIME
    sf[ix(ti, SUMS, grain, 0)] -= out_kg / kept_frac
    si[ix(ti, NODE_NOW, grinder, FREE_S)] = start_s + duration_s
    si[ix(ti, NODE_NOW, grinder, LAST)] = material
    sf[ix(ti, SUP_KG, key, count)] = supply_kg + out_kg
    si[ix(ti, SUP_AT, key, count)] = start_s + duration_s
    si[ix(ti, KEY_NOW, key, SUPPLIES)] = count + 1
    return OK


@compiled
def take_plain(ti: Ints, tf: Floats, sf: Floats, key: int, need_kg: float) -> int:
    """Take what lies there from the morning, for a whole run at once."""
    drawn_kg = sf[ix(ti, SUMS, key, 0)] + need_kg
    if tf[ix(ti, LYING_KG, key, 0)] < 0.0 or tf[ix(ti, LYING_KG, key, 0)] < drawn_kg - TINY_KG:
        return STOCK
    sf[ix(ti, SUMS, key, 0)] = drawn_kg
    return OK


@compiled
def draw(ti: Ints, si: Ints, sf: Floats, key: int, need_kg: float, start_s: int) -> int:
    """Note what a batch draws, from the time at which weighing begins."""
    drawn_kg = sf[ix(ti, SUMS, key, 0)] + need_kg
    sf[ix(ti, SUMS, key, 0)] = drawn_kg
    if ti[ix(ti, KEY, key, POOL)] >= 0:
        count = si[ix(ti, KEY_NOW, key, DRAWS)]
        if count >= ti[ti[0] + ENTRIES]:
            return STOCK
        sf[ix(ti, LOG_KG, key, count)] = drawn_kg
        si[ix(ti, LOG_AT, key, count)] = max(
            start_s, si[ix(ti, LOG_AT, key, count - 1)] if count > 0 else 0
        )
        si[ix(ti, KEY_NOW, key, DRAWS)] = count + 1
    return OK


@compiled
def take_all_plain(ti: Ints, tf: Floats, sf: Floats, option: int, mass_kg: float) -> int:
    """Take what lies there from the morning for all batches of a run."""
    for number in range(
        ti[ix(ti, OPTION, option, WATCHED_NEEDS)], ti[ix(ti, OPTION, option, NEEDS)]
    ):
        need_kg = mass_kg * tf[ix(ti, NEED_PART, option, number)]
        came = take_plain(ti, tf, sf, ti[ix(ti, NEED_KEY, option, number)], need_kg)
        if came != OK:
            return came
    return OK
