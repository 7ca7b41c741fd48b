"""What runs and flushes leave behind, compiled: see ``mill/residue.py`` and ``residue_chain.py``."""

import numpy as np

from bedstone.planning.compiled.tables import (
    ALONG,
    BATCHES,
    CLEAN_COUNT,
    DIRTY,
    FIRST_SACK,
    FLAGS,
    FLUSH_COUNT,
    FLUSH_EACH_KG,
    FLUSH_ROUTE,
    FLUSH_ROW,
    HELD,
    LEVEL,
    LOWEST,
    MAP,
    NEXT_SLOT,
    NOTED,
    NOTED_KG,
    ONE_AFTER,
    OPTION,
    OPTION_KG,
    OWN,
    PASSED,
    PATH,
    PATH_PLACES,
    PLACES,
    POWER,
    ROUTE,
    ROUTE_EXCHANGE,
    ROUTE_HOLD_KG,
    ROUTE_PLACES,
    ROUTE_ROW,
    RUN_AFTER,
    SACK,
    SACK_ROWS,
    SACKS,
    SLOT,
    SLOT_COUNT,
    SLOTS,
    SLOTS_KEPT,
    STEP_KG,
    SUBSTANCES,
    SUM_KG,
    WIDE,
    WORST,
    Floats,
    Ints,
    compiled,
    ix,
    ix3,
)

__all__ = ["apply_map", "flush_map", "is_level_broken", "leave_behind"]

LEVEL_SLACK = 1e-9
LEAST_HELD_KG = 1e-3
TAYLOR_TERMS = 16
KNOWN, EVER = 1, 2
RATES, RAISED, TERM, PRODUCT_OF = range(4)  # sheets of POWER


@compiled
def leave_behind(
    ti: Ints,
    tf: Floats,
    si: Ints,
    sf: Floats,
    wi: Ints,
    wf: Floats,
    option: int,
    path: int,
    product: int,
) -> None:
    """Change the residue as the treatment that is noted and then the run go along their ways."""
    for number in range(wi[ix(ti, NOTED, CLEAN_COUNT, 0)]):
        place = wi[ix(ti, DIRTY, number, 0)]
        for column in range(ti[ti[0] + SUBSTANCES]):
            sf[ix(ti, HELD, place, column)] = 0.0
            sf[ix(ti, PASSED, place, column)] = np.inf
            flags = ix(ti, FLAGS, place, column)
            si[flags] = (si[flags] & EVER) | KNOWN
    if wi[ix(ti, NOTED, FLUSH_COUNT, 0)] > 0:
        route = wi[ix(ti, NOTED, FLUSH_ROUTE, 0)]
        count = ti[ix(ti, ROUTE, route, ROUTE_PLACES)]
        each_kg = wf[ix(ti, NOTED_KG, FLUSH_EACH_KG, 0)]
        step_kg = tf[ix(ti, OPTION_KG, option, STEP_KG)]
        slot = flush_map(ti, tf, wi, wf, route, int(np.rint(each_kg / step_kg)), step_kg)
        own = ti[ti[0] + FLUSH_ROW]
        for _ in range(wi[ix(ti, NOTED, FLUSH_COUNT, 0)]):
            _pass(ti, tf, si, sf, wf, path, count, wf, ix(ti, SLOTS, slot, 0), own, each_kg)
    count = ti[ix(ti, PATH, path, PLACES)]
    sum_kg = tf[ix(ti, OPTION_KG, option, SUM_KG)]
    _pass(ti, tf, si, sf, wf, path, count, tf, ix(ti, RUN_AFTER, path, 0), product, sum_kg)


@compiled
def _pass(
    ti: Ints,
    tf: Floats,
    si: Ints,
    sf: Floats,
    wf: Floats,
    path: int,
    count: int,
    after: Floats,
    sheet: int,
    own: int,
    mass_kg: float,
) -> None:
    """Change the residue along the first places of a path by the map that begins at ``sheet``."""
    substances, wide = ti[ti[0] + SUBSTANCES], ti[ti[0] + WIDE]
    contents = ix(ti, OWN, own, 0)
    for row in range(count):
        held = ix(ti, HELD, ti[ix(ti, PATH_PLACES, path, row)], 0)
        along = ix(ti, ALONG, row, 0)
        for column in range(substances):
            wf[along + column] = sf[held + column]
    for row in range(count):
        held = ix(ti, HELD, ti[ix(ti, PATH_PLACES, path, row)], 0)
        share = after[sheet + row * wide + count]
        for column in range(substances):
            sf[held + column] = share * tf[contents + column]
        for of in range(row + 1):
            share = after[sheet + row * wide + of]
            if share != 0.0:
                along = ix(ti, ALONG, of, 0)
                for column in range(substances):
                    sf[held + column] += share * wf[along + column]
    _count_passed(ti, tf, si, sf, wf, path, count, contents, mass_kg)


@compiled
def _is_falling(ti: Ints, sf: Floats, path: int, count: int) -> bool:
    """True where no place has had more pass than one before it, of any substance."""
    for row in range(1, count):
        before = ix(ti, PASSED, ti[ix(ti, PATH_PLACES, path, row - 1)], 0)
        passed = ix(ti, PASSED, ti[ix(ti, PATH_PLACES, path, row)], 0)
        rising = 0
        for column in range(ti[ti[0] + SUBSTANCES]):
            rising += sf[passed + column] > sf[before + column]
        if rising > 0:
            return False
    return True


@compiled
def _count_passed(
    ti: Ints,
    tf: Floats,
    si: Ints,
    sf: Floats,
    wf: Floats,
    path: int,
    count: int,
    contents: int,
    mass_kg: float,
) -> None:
    """Count what has passed since; what a place hands on counts from where it was last."""
    substances = ti[ti[0] + SUBSTANCES]
    if not _is_falling(ti, sf, path, count):
        _hand_on(ti, si, sf, wf, path, count)
    for row in range(count):
        place = ti[ix(ti, PATH_PLACES, path, row)]
        passed, flags = ix(ti, PASSED, place, 0), ix(ti, FLAGS, place, 0)
        for column in range(substances):
            is_own = tf[contents + column] > 0.0
            sf[passed + column] = 0.0 if is_own else sf[passed + column] + mass_kg
            si[flags + column] |= KNOWN | EVER if is_own else 0


@compiled
def _hand_on(ti: Ints, si: Ints, sf: Floats, wf: Floats, path: int, count: int) -> None:
    """Each place counts from the least of those before it; what it says is known is theirs."""
    substances = ti[ti[0] + SUBSTANCES]
    lowest, known = ix(ti, LOWEST, 0, 0), ix(ti, LOWEST, 1, 0)
    for column in range(substances):
        wf[lowest + column] = np.inf
        wf[known + column] = 0.0
    for row in range(count):
        place = ti[ix(ti, PATH_PLACES, path, row)]
        passed, flags = ix(ti, PASSED, place, 0), ix(ti, FLAGS, place, 0)
        for column in range(substances):
            flag = si[flags + column]
            is_least = sf[passed + column] <= wf[lowest + column]
            least_kg = sf[passed + column] if is_least else wf[lowest + column]
            told = float(flag & KNOWN) if is_least else wf[known + column]
            wf[lowest + column], wf[known + column] = least_kg, told
            sf[passed + column] = least_kg
            is_met = told > 0.0 and least_kg < np.inf
            si[flags + column] = int(told) | (flag & EVER) | (EVER if is_met else 0)


@compiled
def is_level_broken(
    ti: Ints, tf: Floats, wf: Floats, option: int, path: int, own_mg_kg: float, level_mg_kg: float
) -> bool:
    """True if a portion of the run would break a level, given what lies along its path (LEVEL)."""
    most = level_mg_kg * (1 + LEVEL_SLACK)
    count, held = ti[ix(ti, PATH, path, PLACES)], ix(ti, LEVEL, 0, 0)
    if _highest(wf, held, count, own_mg_kg) <= most:
        return False  # mixtures of what is there stay below it
    bound = own_mg_kg
    for row in range(count):
        bound += tf[ix(ti, WORST, path, row)] * max(0.0, wf[held + row] - own_mg_kg)
    if bound <= most:
        return False
    chart = ti[ix(ti, PATH, path, MAP)]
    first = ti[ix(ti, SACK_ROWS, chart, FIRST_SACK)]
    last = first + ti[ix(ti, SACK_ROWS, chart, SACKS)]
    batches = ti[ix(ti, OPTION, option, BATCHES)]
    for batch in range(batches):
        for sack in range(first, last):
            shares = ix(ti, SACK, sack, 0)
            content = tf[shares + count] * own_mg_kg
            for row in range(count):
                content += tf[shares + row] * wf[held + row]
            if content > most:
                return True
        if batch + 1 < batches:
            apply_map(ti, wf, tf, ix(ti, ONE_AFTER, chart, 0), count, own_mg_kg)
            if _highest(wf, held, count, own_mg_kg) <= most:
                return False
    return False


@compiled
def _highest(wf: Floats, held: int, count: int, own_mg_kg: float) -> float:
    highest = own_mg_kg
    for row in range(count):
        highest = max(highest, wf[held + row])
    return highest


@compiled
def apply_map(
    ti: Ints, wf: Floats, after: Floats, sheet: int, count: int, own_mg_kg: float
) -> None:
    """Change one substance along a way (LEVEL) as a batch passes."""
    wide, held, then = ti[ti[0] + WIDE], ix(ti, LEVEL, 0, 0), ix(ti, LEVEL, 1, 0)
    for row in range(count):
        shares = sheet + row * wide
        content = after[shares + count] * own_mg_kg
        for of in range(row + 1):
            content += after[shares + of] * wf[held + of]
        wf[then + row] = content
    for row in range(count):
        wf[held + row] = wf[then + row]


@compiled
def flush_map(
    ti: Ints, tf: Floats, wi: Ints, wf: Floats, route: int, steps: int, step_kg: float
) -> int:
    """Where the map of a flush of so many divisions along a route is kept, made if need be."""
    row = ti[ix(ti, ROUTE, route, ROUTE_ROW)]
    found = wi[ix(ti, SLOT, row, steps)]
    if found >= 0:
        return int(found)
    next_slot = ix(ti, NOTED, NEXT_SLOT, 0)
    if wi[next_slot] >= ti[ti[0] + SLOTS_KEPT]:
        for number in range(ti[ti[0] + SLOT_COUNT]):
            wi[ix(ti, SLOT, 0, number)] = -1
        wi[next_slot] = 0
    found = wi[next_slot]
    wi[next_slot] += 1
    wi[ix(ti, SLOT, row, steps)] = found
    count = ti[ix(ti, ROUTE, route, ROUTE_PLACES)]
    _reckon_map(ti, tf, wf, row, count, steps * step_kg, found)
    return int(found)


@compiled
def _reckon_map(
    ti: Ints, tf: Floats, wf: Floats, route_row: int, count: int, mass_kg: float, slot: int
) -> None:
    """What one batch leaves: the state part of ``batch_map`` for a single portion."""
    hold_kg, exchange = ix(ti, ROUTE_HOLD_KG, route_row, 0), ix(ti, ROUTE_EXCHANGE, route_row, 0)
    size = 1  # the mixture, and places that hold something
    for row in range(1, count):
        if tf[hold_kg + row] >= LEAST_HELD_KG:
            size += 1
    mixture = size - 1
    _rates(ti, tf, wf, hold_kg, exchange, count, size, mass_kg)
    _exponential(ti, wf, size)
    mixed = tf[hold_kg] / (mass_kg + tf[hold_kg])
    fresh = mass_kg / (mass_kg + tf[hold_kg])
    for row in range(count):
        for column in range(count + 1):
            wf[ix3(ti, SLOTS, slot, row, column)] = 0.0
    wf[ix3(ti, SLOTS, slot, 0, 0)], wf[ix3(ti, SLOTS, slot, 0, count)] = mixed, fresh
    at = 0
    for row in range(1, count):
        if tf[hold_kg + row] >= LEAST_HELD_KG:
            of = 0
            for column in range(1, count):
                if tf[hold_kg + column] >= LEAST_HELD_KG:
                    share = wf[ix3(ti, POWER, RAISED, at, of)]
                    wf[ix3(ti, SLOTS, slot, row, column)] = max(0.0, share)
                    of += 1
            share = wf[ix3(ti, POWER, RAISED, at, mixture)]
            wf[ix3(ti, SLOTS, slot, row, 0)] = max(0.0, share * mixed)
            wf[ix3(ti, SLOTS, slot, row, count)] = max(0.0, share * fresh)
            at += 1


@compiled
def _rates(
    ti: Ints,
    tf: Floats,
    wf: Floats,
    hold_kg: int,
    exchange: int,
    count: int,
    size: int,
    mass_kg: float,
) -> None:
    """Rates of a chain times the mass that passes, into the first sheet of POWER."""
    inlet = ix3(ti, POWER, TERM, 0, 0)
    for row in range(size):
        wf[inlet + row] = 0.0
        for column in range(size):
            wf[ix3(ti, POWER, RATES, row, column)] = 0.0
    wf[inlet + size - 1] = 1.0
    at = 0
    for row in range(1, count):
        if tf[hold_kg + row] >= LEAST_HELD_KG:
            part = tf[exchange + row]
            speed = part / tf[hold_kg + row] * mass_kg
            for column in range(size):
                wf[ix3(ti, POWER, RATES, at, column)] = wf[inlet + column] * speed
                wf[inlet + column] *= 1.0 - part
            wf[ix3(ti, POWER, RATES, at, at)] -= speed
            wf[inlet + at] += part
            at += 1


@compiled
def _exponential(ti: Ints, wf: Floats, size: int) -> None:
    """The exponential of a small matrix: see ``exponential`` of ``mill/residue_chain.py``."""
    norm = 0.0
    for row in range(size):
        total = 0.0
        for column in range(size):
            total += abs(wf[ix3(ti, POWER, RATES, row, column)])
        norm = max(norm, total)
    halvings = 0
    if norm > 0.0:
        halvings = max(0, int(np.ceil(np.log2(norm))) + 1)
    for row in range(size):
        for column in range(size):
            one = 1.0 if row == column else 0.0
            wf[ix3(ti, POWER, RATES, row, column)] /= 2.0**halvings
            wf[ix3(ti, POWER, TERM, row, column)] = one
            wf[ix3(ti, POWER, RAISED, row, column)] = one
    for number in range(1, TAYLOR_TERMS):
        _multiply(ti, wf, TERM, RATES, size)
        for row in range(size):
            for column in range(size):
                term = wf[ix3(ti, POWER, PRODUCT_OF, row, column)] / number
                wf[ix3(ti, POWER, TERM, row, column)] = term
                wf[ix3(ti, POWER, RAISED, row, column)] += term
    for _ in range(halvings):
        _multiply(ti, wf, RAISED, RAISED, size)
        for row in range(size):
            for column in range(size):
                found = wf[ix3(ti, POWER, PRODUCT_OF, row, column)]
                wf[ix3(ti, POWER, RAISED, row, column)] = found


@compiled
def _multiply(ti: Ints, wf: Floats, left: int, right: int, size: int) -> None:
    for row in range(size):
        out = ix3(ti, POWER, PRODUCT_OF, row, 0)
        for column in range(size):
            wf[out + column] = 0.0
        for of in range(size):
            share = wf[ix3(ti, POWER, left, row, of)]
            if share != 0.0:
                factors = ix3(ti, POWER, right, of, 0)
                for column in range(size):
                    wf[out + column] += share * wf[factors + column]
