"""When lines and bins can take a batch, compiled: see ``timetable.py`` of the planner."""

from bedstone.planning.compiled.machines import NEVER, TINY_KG, fit, holds
from bedstone.planning.compiled.tables import (
    ABSENT,
    BIN,
    CAPACITY,
    CHANGED_S,
    CHANGEOVER_S,
    DIE,
    DIE_CHANGE_S,
    DIE_IN,
    FREE_S,
    INSIDE_AT,
    INSIDE_KG,
    INSIDE_N,
    IS_PELLET,
    JOB,
    LAST,
    LYING,
    NO_FLOOR_S,
    NODE,
    NODE_NOW,
    NOTED,
    PRODUCT,
    READY,
    STAYS,
    TIME,
    Floats,
    Ints,
    compiled,
    ix,
)

__all__ = ["line_start", "note_inside", "room_at"]


@compiled
def line_start(
    ti: Ints,
    si: Ints,
    wi: Ints,
    job: int,
    node: int,
    at: int,
    arrives_s: int,
) -> int:
    """When a line can take a batch: after what it does before, and its changeover."""
    if wi[ix(ti, READY, at, 0)] != NO_FLOOR_S:
        return int(max(wi[ix(ti, READY, at, 0)], arrives_s))
    free_s, last = si[ix(ti, NODE_NOW, node, FREE_S)], si[ix(ti, NODE_NOW, node, LAST)]
    needed_s = 0
    if last >= 0 and last != ti[ix(ti, JOB, job, PRODUCT)]:
        needed_s = ti[ix(ti, NODE, node, CHANGEOVER_S)]
    if ti[ix(ti, NODE, node, IS_PELLET)] == 1:
        die, wanted = si[ix(ti, NODE_NOW, node, DIE_IN)], ti[ix(ti, JOB, job, DIE)]
        if wanted >= 0 and die >= 0 and die != wanted:
            needed_s += ti[ix(ti, NODE, node, DIE_CHANGE_S)]
    if needed_s == 0:
        wi[ix(ti, READY, at, 0)] = free_s
        return int(max(free_s, arrives_s))
    start_s = fit(ti, node, free_s, needed_s)
    late_s = arrives_s - needed_s
    if late_s > start_s and holds(ti, node, late_s, arrives_s):
        start_s = late_s
    if start_s >= NEVER:
        return TIME
    wi[ix(ti, NOTED, CHANGED_S, 0)] += needed_s
    wi[ix(ti, READY, at, 0)] = start_s + needed_s
    return int(max(wi[ix(ti, READY, at, 0)], arrives_s))


@compiled
def room_at(
    ti: Ints,
    tf: Floats,
    si: Ints,
    sf: Floats,
    wi: Ints,
    wf: Floats,
    job: int,
    node: int,
    at: int,
    mass_kg: float,
    from_s: int,
) -> int:
    """When a bin has room for a batch, not before a time; why not, if it never has."""
    stays_kg = 0.0
    lying = si[ix(ti, NODE_NOW, node, LYING)]
    if lying != ABSENT:
        if lying != ti[ix(ti, JOB, job, PRODUCT)]:
            return BIN
        stays_kg = sf[ix(ti, STAYS, node, 0)]
    free_kg = tf[ix(ti, CAPACITY, node, 0)] - stays_kg - mass_kg
    if free_kg < -TINY_KG:
        return BIN
    at_s = max(from_s, si[ix(ti, NODE_NOW, node, FREE_S)])
    inside_kg = 0.0
    for number in range(wi[ix(ti, INSIDE_N, at, 0)] - 1, -1, -1):
        inside_kg += wf[ix(ti, INSIDE_KG, at, number)]
        if inside_kg > free_kg + TINY_KG:
            at_s = max(at_s, wi[ix(ti, INSIDE_AT, at, number)])
            break
    return at_s if at_s < NEVER else BIN


@compiled
def note_inside(
    ti: Ints,
    wi: Ints,
    wf: Floats,
    at: int,
    leaves_s: int,
    mass_kg: float,
) -> None:
    """Note what a batch takes up in a bin, and until when."""
    number = wi[ix(ti, INSIDE_N, at, 0)]
    wi[ix(ti, INSIDE_AT, at, number)] = leaves_s
    wf[ix(ti, INSIDE_KG, at, number)] = mass_kg
    wi[ix(ti, INSIDE_N, at, 0)] = number + 1
