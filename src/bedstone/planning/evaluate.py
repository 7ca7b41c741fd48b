"""What an order of running costs and when everything is ready: the exact evaluator.

It walks the order run by run with the true residue and the true timetable. What has been walked
is kept as a chain of frozen steps, so that a change in the middle is walked from there on only.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

from bedstone.mill.residue import Residue, ResidueState
from bedstone.planning.between import Between, JobLimits, Treatment
from bedstone.planning.floor import DayState, DoesNotFit, Floor
from bedstone.planning.jobs import Job, Option
from bedstone.planning.timetable import Placed, place

__all__ = ["CENTS100_USD", "Costing", "Evaluator", "Item", "Step"]

CENTS100_USD = 10_000
"""Hundredths of a cent in a dollar."""
PATHS_TRIED = 3
DIRT_DIGITS = 6
TIE_CENTS100_S = 1e-3
"""What a second of being ready earlier counts: it decides between equal costs only."""

Item = tuple[Job, Option]


@dataclass(slots=True, frozen=True)
class Costing:
    """What an order of running costs, part by part [hundredths of a cent]."""

    flush: float = 0.0
    changeover: float = 0.0
    clean_out: float = 0.0
    late: float = 0.0
    tie: float = 0.0

    @property
    def total(self) -> float:
        """What the search makes small."""
        return self.flush + self.changeover + self.clean_out + self.late + self.tie


@dataclass(slots=True, frozen=True, eq=False)
class Step:
    """The day after a run: floor, residue, cost so far. The first step has no run."""

    state: DayState
    residue: ResidueState
    costing: Costing
    placed: Placed | None


@dataclass(eq=False)
class Evaluator:
    """Walks orders of running."""

    floor: Floor
    residue: Residue
    between: Between
    opening: Step
    steps_walked: int = field(default=0)

    def walk(
        self, before: Step, items: Sequence[Item], *, dearest: float = float("inf")
    ) -> list[Step]:
        """The steps of runs in order after a step; stops, with fewer, once it is too dear.

        Raises
        ------
        DoesNotFit
            If a run finds no place.
        """
        steps: list[Step] = []
        for job, option in items:
            before = self.step(before, job, option)
            steps.append(before)
            if before.costing.total >= dearest:
                break
        return steps

    def step(self, before: Step, job: Job, option: Option) -> Step:
        """The day after one more run."""
        self.steps_walked += 1
        reason = DoesNotFit("bin", "")
        for path in self._paths(before, job, option):
            treatment = self.between.decide(
                before.residue,
                job,
                option,
                path=path,
                flush_left_kg=self.floor.flush_left_kg(option.mixer, before.state),
            )
            if treatment is None:
                reason = DoesNotFit("never", path[-1])
                continue
            state = before.state.copy()
            try:
                placed = place(
                    self.floor,
                    state,
                    self.between,
                    job=job,
                    option=option,
                    path=path,
                    treatment=treatment,
                )
            except DoesNotFit as found:
                reason = found
                continue
            residue = self._residue_after(before.residue, placed)
            return Step(state, residue, self._costing(before.costing, placed), placed)
        raise reason

    def _paths(self, before: Step, job: Job, option: Option) -> list[tuple[str, ...]]:
        """Paths that may be free, the one that is free soonest and cleanest first."""
        mixer_s = before.state.free_s.get(option.mixer, 0)
        ready_s = max(mixer_s, job.release_s, self.floor.now_s) + option.proc_s
        scored = []
        for path in option.paths:
            score = self._score(before, job, option, path=path, ready_s=ready_s)
            if score is not None:
                scored.append((*score, path))
        if not scored:
            codes = sorted({code for path in option.paths for code in path})
            bins = [code for code in codes if self.floor.is_bin(code)]
            raise DoesNotFit("bin", " ".join(bins))
        scored.sort()
        soonest = [row[2] for row in scored if row[:2] == scored[0][:2]]
        others = [row[2] for row in scored[len(soonest) :]]
        columns = self.between.limits(job)
        if len(soonest) > 1 and columns.levels:
            soonest.sort(key=lambda path: (self._dirt(before, columns, path), path))
        return (soonest + others)[:PATHS_TRIED]

    def _score(
        self, before: Step, job: Job, option: Option, *, path: tuple[str, ...], ready_s: int
    ) -> tuple[int, int] | None:
        """(the bin is too small for the whole run, time that something waits); None if barred."""
        batch_kg = option.masses_kg[0]
        product, free_s = job.product.product, before.state.free_s
        waits_s, blocks = 0, 0
        for code in path[1:]:
            free_at_s = free_s.get(code, 0)
            row = self.floor.mill.bin_by_code.get(code)
            if row is not None:
                there, stays_kg = before.state.lying.get(code, ("", 0.0))
                if (stays_kg > 0 and there != product) or row.holds not in ("", product):
                    return None
                room_kg = row.capacity_kg - stays_kg
                if room_kg < batch_kg:
                    return None
                if row.kind == "finished" and room_kg < batch_kg * len(option.masses_kg):
                    blocks = 1
                waits_s += max(0, free_at_s - ready_s)
            ready_s = max(ready_s, free_at_s)
        return blocks, waits_s

    def _dirt(self, before: Step, limits: JobLimits, path: tuple[str, ...]) -> float:
        """How much of what is limited lies on a path, in parts of its limits, to six places: what
        differs in the last digits only is the same.
        """
        way = self.residue.way(path)
        held = before.residue.held_mg_kg[way.places][:, limits.level_columns]
        return round(float((held / limits.levels_mg_kg).sum()), DIRT_DIGITS)

    def _residue_after(self, before: ResidueState, placed: Placed) -> ResidueState:
        after = before.copy()
        treatment = placed.treatment
        if treatment.clean:
            self.residue.clean(after, treatment.clean)
        for mass_kg in treatment.flush_kg:
            way = self.residue.way(treatment.flush_route)
            self.residue.pass_through(
                after,
                way,
                carried=self.residue.map(way, masses_kg=(mass_kg,), sack_kg=mass_kg),
                own=self.between.flush_own,
                mass_kg=mass_kg,
                material=self.between.flush_material,
            )
        way = self.residue.way(placed.path)
        masses_kg = placed.option.masses_kg
        self.residue.pass_through(
            after,
            way,
            carried=self.residue.map(way, masses_kg=masses_kg, sack_kg=placed.job.sack_kg),
            own=self.between.limits(placed.job).own,
            mass_kg=sum(masses_kg),
            material=placed.job.product.product,
        )
        return after

    def _costing(self, before: Costing, placed: Placed) -> Costing:
        own = self.cost_of(placed)
        return Costing(
            before.flush + own.flush,
            before.changeover + own.changeover,
            before.clean_out + own.clean_out,
            before.late + own.late,
            before.tie + own.tie,
        )

    def cost_of(self, placed: Placed) -> Costing:
        """What one run adds: flushes, changeovers and cleaning before it, its lateness."""
        settings = self.floor.mill.settings
        hour_cents100 = settings.labour_usd_h * CENTS100_USD
        late_h = max(0, placed.ready_s - placed.job.due_s) / 3600
        flush = Treatment(flush_kg=placed.treatment.flush_kg)
        return Costing(
            flush=self.between.cost_usd(flush, placed.option) * CENTS100_USD,
            changeover=placed.changeover_s / 3600 * hour_cents100,
            clean_out=self.between.clean_s(placed.treatment.clean) / 3600 * hour_cents100,
            late=late_h * placed.job.tonnes * settings.late_usd_t_h * CENTS100_USD,
            tie=placed.ready_s * TIE_CENTS100_S,
        )
