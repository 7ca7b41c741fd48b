"""A run placed in the day: every batch through mixer, bins and lines, as early as it may.

Each place takes runs in the order of running, so nothing overtakes. A batch leaves the mixer only
when the bin below has room; a bin holds one feed at a time and is free again when its last batch
has left. A bin counts a batch as inside until the machine after it has worked it.
"""

import math
from dataclasses import dataclass, field

from bedstone.mill.plan import BarKind
from bedstone.planning.between import Between, Treatment
from bedstone.planning.floor import BarAt, BatchAt, DayState, DoesNotFit, Floor, GrindAt
from bedstone.planning.grinding import draw, is_watched, ready_at, take_plain
from bedstone.planning.jobs import Job, Option
from bedstone.planning.shifts import NEVER

__all__ = ["Placed", "place"]

TINY_KG = 1e-6


@dataclass(slots=True, eq=False)
class Placed:
    """A run in its time."""

    job: Job
    option: Option
    path: tuple[str, ...]
    treatment: Treatment
    batches: list[BatchAt] = field(default_factory=list)
    bars: list[BarAt] = field(default_factory=list)
    grinds: list[GrindAt] = field(default_factory=list)
    clean_s: tuple[int, int] | None = None
    ready_s: int = 0
    changeover_s: int = 0


@dataclass(slots=True, eq=False)
class _Unit:
    """The run being placed, with what its batches leave behind in bins and lines."""

    floor: Floor
    state: DayState
    placed: Placed
    begin_s: int
    inside: dict[str, list[tuple[int, float]]] = field(default_factory=dict)  # bin -> (leaves, kg)
    line_ready_s: dict[str, int] = field(default_factory=dict)
    pieces: dict[str, list[tuple[int, int, bool]]] = field(default_factory=dict)
    arrived: dict[str, list[tuple[int, float]]] = field(default_factory=dict)  # feed, by machine

    def room_at(self, code: str, mass_kg: float, *, from_s: int) -> int:
        """When a bin has room for a batch, not before a time."""
        row = self.floor.mill.bin_by_code[code]
        stays, at_s = 0.0, max(from_s, self.state.free_s.get(code, 0))
        found = self.state.lying.get(code)
        if found is not None:
            if found[0] != self.placed.job.product.product:
                raise DoesNotFit("bin", code)
            stays = found[1]
        free_kg = row.capacity_kg - stays - mass_kg
        if free_kg < -TINY_KG:
            raise DoesNotFit("bin", code)
        inside_kg = 0.0
        for leaves_s, inside in reversed(self.inside.get(code, ())):
            inside_kg += inside
            if inside_kg > free_kg + TINY_KG:
                at_s = max(at_s, leaves_s)
                break
        if at_s >= NEVER:
            raise DoesNotFit("bin", code)
        return at_s

    def line_start(self, machine: str, arrives_s: int) -> int:
        """When a line can take a batch: after what it does before, and its changeover."""
        ready_s = self.line_ready_s.get(machine)
        if ready_s is None:
            ready_s = self.line_ready_s[machine] = self._changed_over(machine, arrives_s)
        return max(ready_s, arrives_s)

    def _changed_over(self, machine: str, arrives_s: int) -> int:
        floor, state, product = self.floor, self.state, self.placed.job.product
        free_s = state.free_s.get(machine, 0)
        last = state.last.get(machine, "")
        needed_s = floor.changeover_s(machine, last=last, product=product.product)
        if floor.mill.machine_by_code[machine].kind == "pellet line":
            needed_s += floor.die_s(machine, die=state.dies.get(machine, ""), wanted=product.die)
        if needed_s == 0:
            return free_s
        windows = floor.windows(machine)
        start_s = windows.fit(free_s, needed_s)
        late_s = arrives_s - needed_s
        if late_s > start_s and windows.holds(late_s, arrives_s):
            start_s = late_s
        if start_s >= NEVER:
            raise DoesNotFit("time", machine)
        end_s = start_s + needed_s
        self.placed.bars.append(BarAt(machine, BarKind.CHANGEOVER, start_s, end_s))
        self.placed.changeover_s += needed_s
        return end_s

    def mix(self, batch: tuple[bool, float, tuple[str, ...]], needs: "_Needs") -> int:
        """Weigh, mix and empty one batch into what follows; the time when the mixer is empty."""
        is_flush, mass_kg, route = batch
        placed, state = self.placed, self.state
        mixer = placed.option.mixer
        proc_s = needs.flush_proc_s if is_flush else placed.option.proc_s
        whole_s = proc_s + placed.option.discharge_s
        needs_kg = {code: mass_kg * parts for code, parts in needs.parts(is_flush=is_flush).items()}
        soon_kg = {code: needs.left_kg * parts for code, parts in needs.feed.items()}
        there_s = ready_at(self.floor, state, needs_kg, soon_kg=soon_kg, grinds=placed.grinds)
        windows = self.floor.windows(mixer)
        from_s = max(self.line_start(mixer, self.begin_s), there_s)
        start_s = windows.fit(from_s, whole_s)
        if len(route) > 1 and start_s < NEVER:
            below = route[1]
            if self.floor.is_bin(below):
                room_s = self.room_at(below, mass_kg, from_s=start_s + proc_s)
            else:
                room_s = self.line_start(below, start_s + proc_s)
            start_s = windows.fit(max(start_s, room_s - proc_s), whole_s)
        if start_s >= NEVER:
            raise DoesNotFit("time", mixer)
        end_s = start_s + whole_s
        draw(self.floor, state, needs_kg, start_s=start_s)
        self.line_ready_s[mixer] = end_s
        placed.batches.append(BatchAt(is_flush, mass_kg, start_s, end_s))
        kind = BarKind.FLUSH if is_flush else BarKind.BATCH
        placed.bars.append(BarAt(mixer, kind, start_s, end_s))
        return end_s

    def carry_on(self, batch: tuple[bool, float, tuple[str, ...]], at_s: int) -> int:
        """Take a batch from the mixer to the end of its route; when it is there."""
        is_flush, mass_kg, route = batch
        product = "" if is_flush else self.placed.job.product.product
        waiting = ""
        for number, code in enumerate(route[1:], start=1):
            if self.floor.is_bin(code):
                waiting = code
                continue
            if not is_flush:
                self.arrived.setdefault(code, []).append((at_s, mass_kg))
            start_s = self.line_start(code, at_s)
            if number + 1 < len(route):
                start_s = self.room_at(route[number + 1], mass_kg, from_s=start_s)
            start_s, at_s = self.floor.line(code, product).work(start_s, mass_kg)
            if at_s >= NEVER:
                raise DoesNotFit("time", code)
            self.line_ready_s[code] = at_s
            self.pieces.setdefault(code, []).append((start_s, at_s, is_flush))
            if waiting:
                self.inside.setdefault(waiting, []).append((at_s, mass_kg))
                waiting = ""
        if waiting:
            is_kept = not is_flush and self.placed.job.pack == "stock"
            self.inside.setdefault(waiting, []).append((NEVER if is_kept else at_s, mass_kg))
        return at_s


@dataclass(slots=True, eq=False)
class _Needs:
    """What batches are made of, and what of the run is still to come."""

    feed: dict[str, float]
    flush: dict[str, float]
    flush_proc_s: int
    left_kg: float

    def parts(self, *, is_flush: bool) -> dict[str, float]:
        """Watched parts of a flush or of the feed."""
        return self.flush if is_flush else self.feed


def place(
    floor: Floor,
    state: DayState,
    between: Between,
    *,
    job: Job,
    option: Option,
    path: tuple[str, ...],
    treatment: Treatment,
) -> Placed:
    """The run as early as it may be; ``state`` becomes that after it.

    Raises
    ------
    DoesNotFit
        With the reason; ``state`` is spoilt then.
    """
    placed = Placed(job, option, path, treatment)
    unit = _Unit(floor, state, placed, max(job.release_s, floor.now_s, 0))
    if treatment.clean:
        _clean(unit, between)
    flush_kg = sum(treatment.flush_kg)
    if flush_kg > state.flush_room_kg + TINY_KG:
        raise DoesNotFit("bin", floor.mill.settings.flush_bin)
    state.flushed_kg += flush_kg
    state.flush_room_kg -= flush_kg
    masses_kg = option.masses_kg
    parts = floor.keyed(job.parts, option.mixer)
    flush_parts = floor.keyed({between.flush_material: 1.0}, option.mixer)
    needs = _Needs(
        _watched(floor, parts),
        _watched(floor, flush_parts),
        between.flush_s(option.mixer)
        - math.ceil(floor.mill.machine_by_code[option.mixer].discharge_s),
        sum(masses_kg),
    )
    if flush_kg > 0 and not needs.flush:
        take_plain(state, dict.fromkeys(flush_parts, flush_kg))
    take_plain(
        state,
        {
            code: needs.left_kg * parts_frac
            for code, parts_frac in parts.items()
            if code not in needs.feed
        },
    )
    for mass_kg in treatment.flush_kg:
        batch = (True, mass_kg, treatment.flush_route)
        unit.carry_on(batch, unit.mix(batch, needs))
    for mass_kg in masses_kg:
        needs.left_kg -= mass_kg
        batch = (False, mass_kg, path)
        placed.ready_s = unit.carry_on(batch, unit.mix(batch, needs))
    _close(unit, sum(masses_kg))
    return placed


def _watched(floor: Floor, parts: dict[str, float]) -> dict[str, float]:
    return {code: part for code, part in parts.items() if is_watched(floor, code)}


def _clean(unit: _Unit, between: Between) -> None:
    """Clean places by hand once everything on the way stands still."""
    floor, state, placed = unit.floor, unit.state, unit.placed
    duration_s = between.clean_s(placed.treatment.clean)
    idle_s = max([unit.begin_s, *(state.free_s.get(code, 0) for code in placed.path)])
    machines = [code for code in placed.path if not floor.is_bin(code)]
    start_s = floor.windows(placed.option.mixer).fit(idle_s, duration_s)
    if start_s >= NEVER:
        raise DoesNotFit("time", placed.option.mixer)
    end_s = start_s + duration_s
    placed.clean_s = (start_s, end_s)
    for code in placed.path:
        state.free_s[code] = end_s
    placed.bars.extend(
        BarAt(code, BarKind.CLEAN_OUT, start_s, end_s)
        for code in machines
        if code in placed.treatment.clean
    )


def _close(unit: _Unit, mass_kg: float) -> None:
    """Note what the run leaves: times, last feeds, dies, what stays in bins, bars of the lines."""
    floor, state, placed = unit.floor, unit.state, unit.placed
    product = placed.job.product
    for machine, ready_s in unit.line_ready_s.items():
        state.free_s[machine] = ready_s
        state.last[machine] = product.product
        if product.die and floor.mill.machine_by_code[machine].kind == "pellet line":
            state.dies[machine] = product.die
    for code, inside in unit.inside.items():
        leaves_s = inside[-1][0]
        state.free_s[code] = placed.ready_s if leaves_s >= NEVER else leaves_s
    if placed.job.pack == "stock":
        end = placed.path[-1]
        state.lying[end] = (product.product, state.lying.get(end, ("", 0.0))[1] + mass_kg)
        for key in floor.work.shelves.keys_of_bin(product.product, end):
            supply = state.supply.get(key, ())
            before_kg = supply[-1][0] if supply else 0.0
            state.supply[key] = (*supply, (before_kg + mass_kg, placed.ready_s))
    for machine, pieces in unit.pieces.items():
        windows = floor.windows(machine)
        placed.bars.extend(
            BarAt(machine, BarKind.FLUSH, *part)
            for start_s, end_s, is_flush in pieces
            if is_flush
            for part in windows.parts(start_s, end_s)
        )
        feed = [(start_s, end_s) for start_s, end_s, is_flush in pieces if not is_flush]
        start_s = _begin(unit, machine, feed[0][0], mass_kg=mass_kg)
        placed.bars.extend(
            BarAt(machine, BarKind.RUN, *part) for part in windows.parts(start_s, feed[-1][1])
        )


def _begin(unit: _Unit, machine: str, first_s: int, *, mass_kg: float) -> int:
    """When a line begins: a packing line so late that it never waits, if the bin holds it all."""
    floor, placed = unit.floor, unit.placed
    before = placed.path[placed.path.index(machine) - 1]
    row = floor.mill.bin_by_code.get(before)
    if row is None or row.kind != "finished" or mass_kg > row.capacity_kg:
        return first_s
    line = floor.line(machine, placed.job.product.product)
    return max(first_s, line.latest_start(unit.arrived[machine], first_s))
