"""Grinding as it is needed: a batch waits until enough of its ground grain lies in the bin.

Masses are counted along the order of running. A job starts once the bin has room for all of it,
given what the batches planned before it draw, and counts for a batch once it has ended.
"""

import math

from bedstone.planning.floor import DayState, DoesNotFit, Floor, GrindAt
from bedstone.planning.shifts import NEVER
from bedstone.planning.supply import GroundPool

__all__ = ["draw", "is_watched", "ready_at", "take_plain"]

TINY_KG = 1e-6
JOB_LEAST_FRAC = 0.2  # of the ground bin, if the day needs so much: fewer, longer jobs
SPARE_KG = 20.0  # ground beyond what a run needs: draws are rounded to divisions
JOB_STEP_KG = 10.0  # jobs are whole tens of kilograms where that fits


def ready_at(
    floor: Floor,
    state: DayState,
    needs_kg: dict[str, float],
    *,
    soon_kg: dict[str, float],
    grinds: list[GrindAt],
) -> int:
    """When everything that a batch needs is there, grinding more where it must be.

    ``soon_kg`` is what the run still needs after this batch, so that a job is worth starting.
    """
    latest_s = 0
    for material, need_kg in needs_kg.items():
        wanted_kg = state.drawn_kg.get(material, 0.0) + need_kg
        supply = state.supply.get(material, ())
        pool = floor.work.pools.get(material)
        spare_kg = SPARE_KG if pool is not None else 0.0
        while not supply or supply[-1][0] < wanted_kg + spare_kg - TINY_KG:
            if pool is None:
                raise DoesNotFit("stock", material)
            try:
                job = _job(
                    floor,
                    state,
                    pool,
                    wanted_kg=wanted_kg + spare_kg,
                    soon_kg=soon_kg.get(material, 0.0),
                )
            except DoesNotFit:
                if supply and supply[-1][0] >= wanted_kg - TINY_KG:
                    break  # enough by the gram, if not to spare
                raise
            grinds.append(job)
            before_kg = supply[-1][0] if supply else 0.0
            supply = (*supply, (before_kg + job.out_kg, job.end_s))
            state.supply[material] = supply
        latest_s = max(latest_s, next(at for kg, at in supply if kg >= wanted_kg - TINY_KG))
    return latest_s


def is_watched(floor: Floor, key: str) -> bool:
    """True for what comes during the day: ground grain, and products that runs for stock make."""
    return key in floor.work.pools or floor.work.shelves.material(key) in floor.mill.product_by_code


def take_plain(state: DayState, needs_kg: dict[str, float]) -> None:
    """Take what lies there from the morning, for a whole run at once."""
    for material, need_kg in needs_kg.items():
        drawn_kg = state.drawn_kg.get(material, 0.0) + need_kg
        supply = state.supply.get(material, ())
        if not supply or supply[-1][0] < drawn_kg - TINY_KG:
            raise DoesNotFit("stock", material)
        state.drawn_kg[material] = drawn_kg


def draw(floor: Floor, state: DayState, needs_kg: dict[str, float], *, start_s: int) -> None:
    """Note what a batch draws, from the time at which weighing begins."""
    for material, need_kg in needs_kg.items():
        drawn_kg = state.drawn_kg.get(material, 0.0) + need_kg
        state.drawn_kg[material] = drawn_kg
        if material in floor.work.pools:
            log = state.draws.get(material, ())
            by_s = max(start_s, log[-1][1] if log else 0)
            state.draws[material] = (*log, (drawn_kg, by_s))


def _job(
    floor: Floor, state: DayState, pool: GroundPool, *, wanted_kg: float, soon_kg: float
) -> GrindAt:
    supply = state.supply.get(pool.key, ())
    supply_kg = supply[-1][0] if supply else 0.0
    drawn_kg = state.drawn_kg.get(pool.key, 0.0)
    room_kg = pool.capacity_kg - (supply_kg - drawn_kg)
    short_kg = wanted_kg - supply_kg
    today_kg = floor.work.needs_kg.get(pool.key, 0.0) - supply_kg
    worth_kg = min(pool.capacity_kg * JOB_LEAST_FRAC, today_kg)
    out_kg = max(short_kg, min(pool.capacity_kg / 2, short_kg + soon_kg), worth_kg)
    out_kg = min(math.ceil(out_kg / JOB_STEP_KG) * JOB_STEP_KG, room_kg)
    if out_kg < TINY_KG:
        raise DoesNotFit("bin", pool.to_place)
    kept_frac = 1.0 - pool.grinder.loss_frac
    grain_kg = state.grain_kg.get(pool.source, 0.0)
    out_kg = min(out_kg, grain_kg * kept_frac)
    if out_kg < TINY_KG:
        raise DoesNotFit("stock", pool.source)
    start_s, end_s = _time(floor, state, pool, out_kg=out_kg, full_kg=supply_kg + out_kg)
    machine = pool.grinder.machine
    state.grain_kg[pool.source] = grain_kg - out_kg / kept_frac
    state.free_s[machine] = end_s
    state.last[machine] = pool.material
    return GrindAt(pool.key, out_kg, start_s, end_s)


def _time(
    floor: Floor, state: DayState, pool: GroundPool, *, out_kg: float, full_kg: float
) -> tuple[int, int]:
    machine = pool.grinder.machine
    from_s = state.free_s.get(machine, 0) + floor.changeover_s(
        machine, last=state.last.get(machine, ""), product=pool.material
    )
    threshold_kg = full_kg - pool.capacity_kg
    if threshold_kg > TINY_KG:
        log = state.draws.get(pool.key, ())
        from_s = max(from_s, next((at for kg, at in log if kg >= threshold_kg - TINY_KG), NEVER))
    in_kg = out_kg / (1.0 - pool.grinder.loss_frac)
    duration_s = math.ceil(in_kg / (pool.grinder.rate_kg_s or 1.0))
    start_s = floor.windows(machine).fit(from_s, duration_s)
    if start_s >= NEVER:
        raise DoesNotFit("time", machine)
    return start_s, start_s + duration_s
