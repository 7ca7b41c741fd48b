"""A run placed in the day, compiled: see ``timetable.py`` of the planner."""

from bedstone.planning.compiled.lines import line_start, note_inside, room_at
from bedstone.planning.compiled.machines import (
    NEVER,
    TINY_KG,
    draw,
    fit,
    ready_at,
    take_all_plain,
    take_plain,
    work_line,
)
from bedstone.planning.compiled.tables import (
    ARRIVING,
    BATCH_KG,
    BATCHES,
    BIN,
    CHANGED_S,
    CLEAN_COUNT,
    CLEAN_S,
    DIE,
    DIE_IN,
    DISCHARGE_S,
    ENTRIES,
    FLUSH_COUNT,
    FLUSH_EACH_KG,
    FLUSH_KEY,
    FLUSH_LINE,
    FLUSH_PROC_S,
    FLUSH_ROUTE,
    FLUSH_SUM_KG,
    FLUSH_WATCHED,
    FREE_S,
    INSIDE_AT,
    INSIDE_N,
    IS_BIN,
    IS_PELLET,
    IS_STOCK,
    JOB,
    KEY_NOW,
    LAST,
    LINE_OF,
    LYING,
    MIXER,
    NEED_KEY,
    NEED_PART,
    NO_FLOOR_S,
    NODE,
    NODE_NOW,
    NODES,
    NOTED,
    NOTED_KG,
    NOW_S,
    OK,
    OPTION,
    OPTION_KG,
    PATH,
    PATH_KEYS,
    PATH_NODES,
    PROC_S,
    PRODUCT,
    READY,
    READY_S,
    RELEASE_S,
    ROUTE,
    ROUTE_NODES,
    STAYS,
    SUM_COUNT,
    SUM_KG,
    SUMS,
    SUP_AT,
    SUP_KG,
    SUPPLIES,
    TIME,
    WATCHED_NEEDS,
    Floats,
    Ints,
    compiled,
    ix,
)

__all__ = ["place"]


@compiled
def place(
    ti: Ints,
    tf: Floats,
    si: Ints,
    sf: Floats,
    wi: Ints,
    wf: Floats,
    job: int,
    option: int,
    path: int,
) -> int:
    """The run as early as it may be; why not, if there is no place for it (the state is spoilt)."""
    nodes = ti[ix(ti, PATH, path, NODES)]
    for at in range(nodes):
        wi[ix(ti, INSIDE_N, at, 0)] = 0
        wi[ix(ti, READY, at, 0)] = NO_FLOOR_S
    wi[ix(ti, NOTED, CHANGED_S, 0)] = 0
    begin_s = max(ti[ix(ti, JOB, job, RELEASE_S)], ti[ix(ti, NOW_S, 0, 0)], 0)
    if wi[ix(ti, NOTED, CLEAN_COUNT, 0)] > 0:
        came = _clean(ti, si, wi, path, begin_s)
        if came != OK:
            return came
    flush_count = wi[ix(ti, NOTED, FLUSH_COUNT, 0)]
    flush_kg = wf[ix(ti, NOTED_KG, FLUSH_SUM_KG, 0)] if flush_count > 0 else 0.0
    room = ti[ti[0] + SUM_COUNT] - 1
    if flush_kg > sf[ix(ti, SUMS, room, 0)] + TINY_KG:
        return BIN
    sf[ix(ti, SUMS, room - 1, 0)] += flush_kg
    sf[ix(ti, SUMS, room, 0)] -= flush_kg
    left_kg = tf[ix(ti, OPTION_KG, option, SUM_KG)]
    if flush_count > 0 and ti[ix(ti, OPTION, option, FLUSH_WATCHED)] == 0:
        came = take_plain(ti, tf, sf, ti[ix(ti, OPTION, option, FLUSH_KEY)], flush_kg)
        if came != OK:
            return came
    came = take_all_plain(ti, tf, sf, option, left_kg)
    if came != OK:
        return came
    for number in range(flush_count + ti[ix(ti, OPTION, option, BATCHES)]):
        is_flush = number < flush_count
        if not is_flush:
            left_kg -= tf[ix(ti, OPTION_KG, option, BATCH_KG)]
        came = _batch(ti, tf, si, sf, wi, wf, job, option, path, is_flush, begin_s, left_kg)
        if came < 0:
            return came
    wi[ix(ti, NOTED, READY_S, 0)] = came
    _close(ti, tf, si, sf, wi, job, option, path)
    return OK


@compiled
def _clean(ti: Ints, si: Ints, wi: Ints, path: int, begin_s: int) -> int:
    idle_s = begin_s
    for at in range(ti[ix(ti, PATH, path, NODES)]):
        idle_s = max(idle_s, si[ix(ti, NODE_NOW, ti[ix(ti, PATH_NODES, path, at)], FREE_S)])
    mixer = ti[ix(ti, PATH_NODES, path, 0)]
    start_s = fit(ti, mixer, idle_s, wi[ix(ti, NOTED, CLEAN_S, 0)])
    if start_s >= NEVER:
        return TIME
    for at in range(ti[ix(ti, PATH, path, NODES)]):
        si[ix(ti, NODE_NOW, ti[ix(ti, PATH_NODES, path, at)], FREE_S)] = (
            start_s + wi[ix(ti, NOTED, CLEAN_S, 0)]
        )
    return OK


@compiled
def _batch(
    ti: Ints,
    tf: Floats,
    si: Ints,
    sf: Floats,
    wi: Ints,
    wf: Floats,
    job: int,
    option: int,
    path: int,
    is_flush: bool,
    begin_s: int,
    left_kg: float,
) -> int:
    """One batch mixed and carried to the end of its route: when it is there, or why not."""
    if is_flush:
        mass_kg = wf[ix(ti, NOTED_KG, FLUSH_EACH_KG, 0)]
        nodes = ti[ix(ti, ROUTE, wi[ix(ti, NOTED, FLUSH_ROUTE, 0)], ROUTE_NODES)]
    else:
        mass_kg = tf[ix(ti, OPTION_KG, option, BATCH_KG)]
        nodes = ti[ix(ti, PATH, path, NODES)]
    at_s = _mix(ti, tf, si, sf, wi, wf, job, option, path,
        is_flush, begin_s, left_kg, mass_kg, nodes,
    )  # fmt: skip
    if at_s < 0:
        return at_s
    return _carry_on(ti, tf, si, sf, wi, wf, job, path, is_flush, mass_kg, nodes, at_s)


@compiled
def _there_at(
    ti: Ints,
    tf: Floats,
    si: Ints,
    sf: Floats,
    option: int,
    is_flush: bool,
    mass_kg: float,
    left_kg: float,
) -> int:
    """When all that a batch needs is there; why not, if it cannot be."""
    there_s = 0
    if is_flush:
        if ti[ix(ti, OPTION, option, FLUSH_WATCHED)] == 0:
            return 0
        key = ti[ix(ti, OPTION, option, FLUSH_KEY)]
        soon_kg = 0.0
        for number in range(ti[ix(ti, OPTION, option, WATCHED_NEEDS)]):
            if ti[ix(ti, NEED_KEY, option, number)] == key:
                soon_kg = left_kg * tf[ix(ti, NEED_PART, option, number)]
        return ready_at(ti, tf, si, sf, key, mass_kg, soon_kg)
    for number in range(ti[ix(ti, OPTION, option, WATCHED_NEEDS)]):
        part = tf[ix(ti, NEED_PART, option, number)]
        key = ti[ix(ti, NEED_KEY, option, number)]
        came_s = ready_at(ti, tf, si, sf, key, mass_kg * part, left_kg * part)
        if came_s < 0:
            return came_s
        there_s = max(there_s, came_s)
    return there_s


@compiled
def _mix(
    ti: Ints,
    tf: Floats,
    si: Ints,
    sf: Floats,
    wi: Ints,
    wf: Floats,
    job: int,
    option: int,
    path: int,
    is_flush: bool,
    begin_s: int,
    left_kg: float,
    mass_kg: float,
    nodes: int,
) -> int:
    """Weigh, mix and empty one batch; the time when the mixer is empty, or why not."""
    mixer = ti[ix(ti, OPTION, option, MIXER)]
    proc_s = ti[ix(ti, OPTION, option, FLUSH_PROC_S if is_flush else PROC_S)]
    whole_s = proc_s + ti[ix(ti, OPTION, option, DISCHARGE_S)]
    there_s = _there_at(ti, tf, si, sf, option, is_flush, mass_kg, left_kg)
    if there_s < 0:
        return there_s
    from_s = line_start(ti, si, wi, job, mixer, 0, begin_s)
    if from_s < 0:
        return from_s
    start_s = fit(ti, mixer, max(from_s, there_s), whole_s)
    if nodes > 1 and start_s < NEVER:
        below = ti[ix(ti, PATH_NODES, path, 1)]
        if ti[ix(ti, NODE, below, IS_BIN)] == 1:
            room_s = room_at(ti, tf, si, sf, wi, wf, job, below, 1, mass_kg, start_s + proc_s)
        else:
            room_s = line_start(ti, si, wi, job, below, 1, start_s + proc_s)
        if room_s < 0:
            return room_s
        start_s = fit(ti, mixer, max(start_s, room_s - proc_s), whole_s)
    if start_s >= NEVER:
        return TIME
    if is_flush:
        if ti[ix(ti, OPTION, option, FLUSH_WATCHED)] == 1:
            came = draw(ti, si, sf, ti[ix(ti, OPTION, option, FLUSH_KEY)], mass_kg, start_s)
            if came != OK:
                return came
    else:
        for number in range(ti[ix(ti, OPTION, option, WATCHED_NEEDS)]):
            need_kg = mass_kg * tf[ix(ti, NEED_PART, option, number)]
            came = draw(ti, si, sf, ti[ix(ti, NEED_KEY, option, number)], need_kg, start_s)
            if came != OK:
                return came
    wi[ix(ti, READY, 0, 0)] = start_s + whole_s
    return int(start_s + whole_s)


@compiled
def _carry_on(
    ti: Ints,
    tf: Floats,
    si: Ints,
    sf: Floats,
    wi: Ints,
    wf: Floats,
    job: int,
    path: int,
    is_flush: bool,
    mass_kg: float,
    nodes: int,
    at_s: int,
) -> int:
    """Take a batch from the mixer to the end of its route; when it is there, or why not."""
    row = ti[ti[0] + FLUSH_LINE] if is_flush else ti[ix(ti, JOB, job, PRODUCT)]
    waiting = -1
    for at in range(1, nodes):
        node = ti[ix(ti, PATH_NODES, path, at)]
        if ti[ix(ti, NODE, node, IS_BIN)] == 1:
            waiting = at
            continue
        start_s = line_start(ti, si, wi, job, node, at, at_s)
        if start_s >= 0 and at + 1 < nodes:
            below = ti[ix(ti, PATH_NODES, path, at + 1)]
            start_s = room_at(ti, tf, si, sf, wi, wf, job, below, at + 1, mass_kg, start_s)
        if start_s < 0:
            return start_s
        line = ti[ix(ti, LINE_OF, node, row)]
        start_s, at_s = work_line(ti, tf, line, start_s, mass_kg)
        if at_s >= NEVER:
            return TIME
        wi[ix(ti, READY, at, 0)] = at_s
        if waiting >= 0:
            note_inside(ti, wi, wf, waiting, at_s, mass_kg)
            waiting = -1
    if waiting >= 0:
        stays = not is_flush and ti[ix(ti, JOB, job, IS_STOCK)] == 1
        note_inside(ti, wi, wf, waiting, NEVER if stays else at_s, mass_kg)
    return at_s


@compiled
def _close(
    ti: Ints,
    tf: Floats,
    si: Ints,
    sf: Floats,
    wi: Ints,
    job: int,
    option: int,
    path: int,
) -> None:
    """Note what the run leaves: times, last feeds, dies, what stays in bins."""
    nodes = ti[ix(ti, PATH, path, NODES)]
    product, die = ti[ix(ti, JOB, job, PRODUCT)], ti[ix(ti, JOB, job, DIE)]
    ready_s = wi[ix(ti, NOTED, READY_S, 0)]
    for at in range(nodes):
        node = ti[ix(ti, PATH_NODES, path, at)]
        if ti[ix(ti, NODE, node, IS_BIN)] == 1:
            if wi[ix(ti, INSIDE_N, at, 0)] > 0:
                leaves_s = wi[ix(ti, INSIDE_AT, at, wi[ix(ti, INSIDE_N, at, 0)] - 1)]
                si[ix(ti, NODE_NOW, node, FREE_S)] = ready_s if leaves_s >= NEVER else leaves_s
        elif wi[ix(ti, READY, at, 0)] != NO_FLOOR_S:
            si[ix(ti, NODE_NOW, node, FREE_S)] = wi[ix(ti, READY, at, 0)]
            si[ix(ti, NODE_NOW, node, LAST)] = product
            if die >= 0 and ti[ix(ti, NODE, node, IS_PELLET)] == 1:
                si[ix(ti, NODE_NOW, node, DIE_IN)] = die
    if ti[ix(ti, JOB, job, IS_STOCK)] == 1:
        end = ti[ix(ti, PATH_NODES, path, nodes - 1)]
        mass_kg = tf[ix(ti, OPTION_KG, option, SUM_KG)]
        si[ix(ti, NODE_NOW, end, LYING)] = product
        sf[ix(ti, STAYS, end, 0)] += mass_kg
        for number in range(ti[ix(ti, PATH, path, ARRIVING)]):
            key = ti[ix(ti, PATH_KEYS, path, number)]
            count = si[ix(ti, KEY_NOW, key, SUPPLIES)]
            if count < ti[ti[0] + ENTRIES]:
                before_kg = sf[ix(ti, SUP_KG, key, count - 1)] if count > 0 else 0.0
                sf[ix(ti, SUP_KG, key, count)] = before_kg + mass_kg
                si[ix(ti, SUP_AT, key, count)] = ready_s
                si[ix(ti, KEY_NOW, key, SUPPLIES)] = count + 1
