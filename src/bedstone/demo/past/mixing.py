"""Batches and flushes on the simulated mixers, and what follows each of them."""

import datetime as dt
import math
from collections.abc import Iterable
from dataclasses import dataclass, field

from bedstone.demo.past.after import AfterMixer, RunMade
from bedstone.demo.past.caution import Caution
from bedstone.demo.past.draws import Drawn, Weighing
from bedstone.demo.past.floor import MG_KG, Floor, Moved, to_mg
from bedstone.demo.past.ways import alternatives, kind_of, step_of
from bedstone.ledger.model import How, Json, Lot, LotKind, Movement
from bedstone.mill.model import Machine, Order, Product

__all__ = ["Job", "MixerLine"]

ON_CELLS = ("MX2",)
"""The horse side's mixer stands on load cells; the two-ton mixer does not."""
CELLS_SD_FRAC, CELLS_EVERY = 0.005, dt.timedelta(seconds=4)
SURGE_BATCHES = 2
ROOM = 1.02
QUICK_FRAC = 0.94
LIQUID, OIL = "liquid", "SOYOIL"


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """Something to be made: an order, or pellets for stock."""

    code: str
    product: Product
    mass_kg: float
    order: Order | None = None


@dataclass
class MixerLine:
    """One mixer with its queue of jobs and its clock."""

    floor: Floor
    weighing: Weighing
    caution: Caution
    after: AfterMixer
    mixer: Machine
    at: dt.datetime
    queue: list[Job] = field(default_factory=list)
    _run: RunMade | None = None
    _job: Job | None = None
    _left: int = 0

    def busy(self) -> bool:
        """True while there is something to mix."""
        return bool(self.queue) or self._left > 0

    def step(self) -> None:
        """Do the next thing: wait, flush and begin a run, or make its next batch.

        One thing a step, so that of two mixers the one whose clock is behind goes on.
        """
        run, job = self._run, self._job
        if self._left == 0 or run is None or job is None:
            soonest = self._soonest(self.queue[0])
            if soonest > self.at:
                self.at = soonest
                return
            self._begin(self.queue.pop(0))
            return
        room_at = self._surge_room(run)
        if room_at > self.at:
            self.at = room_at
            return
        batch = f"{job.code}-{len(run.batches) + 1:02d}"
        run.batches.append(batch)
        mass_mg, true_mg = self._feed(run, batch, mass_mg=to_mg(job.mass_kg / self._count(job)))
        self._left -= 1
        done_at = self.at
        if run.line:
            done_at = self.after.pellet(run, batch, mass_mg=mass_mg, true_mg=true_mg, at=self.at)
        if self._left == 0:
            self.after.leave(run, at=done_at)
            self.at += dt.timedelta(seconds=self.mixer.changeover_s)

    def _count(self, job: Job) -> int:
        """Batches of a job, as few as the mixer allows."""
        return max(1, math.ceil(job.mass_kg / (self.mixer.mass_max_kg or 1.0) - 1e-9))

    def _begin(self, job: Job) -> None:
        run = self._way(job)
        need_kg = self.caution.flush_kg(run.route, job.product.product)
        if need_kg:
            self._flush(run, job, mass_kg=need_kg)
        self._run, self._job = run, job
        self._left = self._count(job)

    def _bins(self, job: Job) -> list[str]:
        """Finished bins that are large enough for a run."""
        mill = self.floor.mill
        return [
            code
            for code in step_of(mill, job.product, "finished")
            if mill.bin_by_code[code].capacity_kg >= ROOM * job.mass_kg
        ]

    def _soonest(self, job: Job) -> dt.datetime:
        """When the first of its finished bins is free."""
        return min(max(self.at, self._free(code)) for code in self._bins(job))

    def _way(self, job: Job) -> RunMade:
        """The way a run takes: bins that are free first, the cleanest of them for this feed."""
        mill, product = self.floor.mill, job.product
        kinds = {"bags": "sacking line", "bulk": "load-out"}
        pack = kinds[job.order.pack] if job.order else ""
        packers = step_of(mill, product, pack) if pack else ()
        lines = step_of(mill, product, "pellet line")
        surges = sorted(step_of(mill, product, "surge"), key=self._surge_free)
        surge, line = (surges[0] if surges else ""), (lines[0] if lines else "")

        def route(finished: str) -> tuple[str, ...]:
            way = (self.mixer.machine, surge, line, finished, packers[0] if packers else "")
            return tuple(code for code in way if code)

        free = [code for code in self._bins(job) if self._free(code) <= self.at]
        finished = min(free, key=lambda code: self.caution.flush_kg(route(code), product.product))
        self.after.free_at[finished] = self.at + dt.timedelta(days=1)  # until it is seen empty
        return RunMade(
            run=f"R-{job.code}",
            product=product,
            order=job.order,
            surge=surge,
            line=line,
            finished=finished,
            packer=packers[0] if packers else "",
            route=route(finished),
        )

    def _free(self, place: str) -> dt.datetime:
        if self.floor.mill.bin_by_code[place].holds:
            return self.at
        return self.after.free_at.get(place, self.at)

    def _surge_free(self, place: str) -> dt.datetime:
        done = self.after.pelleted_at.get(place)
        return done[-1] if done else dt.datetime.min.replace(tzinfo=dt.UTC)

    def _cycle_s(self, *, wet: bool) -> float:
        mixer = self.mixer
        seconds = mixer.fill_s + mixer.dry_mix_s + mixer.discharge_s
        return (seconds + (mixer.wet_mix_s if wet else 0.0)) * self.floor.dice.gauss(1.02, 0.02)

    def _feed(self, run: RunMade, batch: str, *, mass_mg: int) -> tuple[int, int]:
        """One batch of feed; returns its mass as booked and its true mass."""
        mill = self.floor.mill
        formula = mill.running_formula(run.product.product)
        if formula is None:
            msg = f"{run.product.product} has no running formula"
            raise ValueError(msg)
        lines = mill.lines_of(run.product.product, formula.version)
        wanted = {row.ingredient: round(row.parts_frac * mass_mg) for row in lines}
        wet = any(self._is_liquid(code) for code in wanted)
        cycle = dt.timedelta(seconds=self._cycle_s(wet=wet))
        self.floor.note(
            "batching.batch_started/1",
            at=self.at,
            by=self.floor.who("batch operator", self.at),
            content={
                "batch": batch,
                "run": run.run,
                "mixer": self.mixer.machine,
                "plan": "",
                "formula_version": formula.version,
                "findings": [],
            },
        )
        draws = self._draws(wanted)
        self._oil(run, draws)
        self.at += cycle
        made_mg, true_mg = self._made(
            run,
            batch,
            kind="feed",
            material=run.product.product,
            version=formula.version,
            route=run.route,
            draws=draws,
            wet=wet,
        )
        self.caution.passed(run.route, run.product.product, mass_kg=made_mg / MG_KG)
        return made_mg, true_mg

    def _oil(self, run: RunMade, draws: list[Drawn]) -> None:
        """How much oil the run has by its formula, and how well it was dosed."""
        total_mg = sum(drawn.actual_mg for drawn in draws)
        for drawn in draws:
            if drawn.ingredient == OIL:
                run.oil_frac = drawn.actual_mg / total_mg
                run.oil_gain = self.floor.truth.faults.gain(drawn.instrument, self.at)

    def _surge_room(self, run: RunMade) -> dt.datetime:
        """When the next batch may begin so that the surge bin has room when it drops."""
        done = self.after.pelleted_at.get(run.surge, []) if run.surge else []
        before = SURGE_BATCHES if run.batches else 1  # another feed may still lie in it
        if len(done) < before:
            return self.at
        mixer = self.mixer
        shortest_s = QUICK_FRAC * (mixer.fill_s + mixer.dry_mix_s + mixer.discharge_s)
        return done[-before] - dt.timedelta(seconds=shortest_s)

    def _is_liquid(self, code: str) -> bool:
        row = self.floor.mill.ingredient_by_code.get(code)
        return row is not None and row.ingredient_class == LIQUID

    def _draws(self, wanted: dict[str, int]) -> list[Drawn]:
        """All draws of a batch: large dry ones first, liquids last."""

        def turn(code: str) -> tuple[bool, bool, int]:
            row = self.floor.mill.ingredient_by_code.get(code)
            return (self._is_liquid(code), bool(row and row.hand_add), -wanted[code])

        return [
            drawn
            for code in sorted(wanted, key=turn)
            for drawn in self.weighing.draw(
                self.mixer.machine, code, mass_mg=wanted[code], at=self.at
            )
        ]

    def _flush(self, run: RunMade, job: Job, *, mass_kg: float) -> None:
        """Flush the whole way that the next feed takes, into the flush bin."""
        settings = self.floor.mill.settings
        kg = min(max(mass_kg, 150.0), self.mixer.mass_max_kg or mass_kg)
        draws = self._draws({settings.flush_material: to_mg(math.ceil(kg / 10) * 10)})
        self.at += dt.timedelta(seconds=self._cycle_s(wet=False))
        if run.line:
            self.at = max(self.at, self.after.free_at.get(run.line, self.at))
        route = (*run.route, settings.flush_bin)
        mass_mg, _ = self._made(
            run,
            f"{job.code}-01-flush",
            kind="flush",
            material=settings.flush_material,
            version=None,
            route=route,
            draws=draws,
            wet=False,
        )
        self.caution.passed(route, settings.flush_material, mass_kg=mass_mg / MG_KG)

    def _made(
        self,
        run: RunMade,
        batch: str,
        *,
        kind: str,
        material: str,
        version: int | None,
        route: tuple[str, ...],
        draws: list[Drawn],
        wet: bool,
    ) -> tuple[int, int]:
        flush = kind == "flush"
        following = route[-1] if flush else route[1]
        content: dict[str, Json] = {
            "batch": batch,
            "run": run.run,
            "plan": "",
            "kind": kind,
            "material": material,
            "formula_version": version,
            "mixer": self.mixer.machine,
            "route": list(route),
            "destination": route[-1] if flush else run.finished,
            "draws": [drawn.content(number) for number, drawn in enumerate(draws, 1)],
            "dry_mix_s": self.mixer.dry_mix_s,
            "wet_mix_s": self.mixer.wet_mix_s if wet else 0.0,
            "findings": list(self._findings(batch, draws)),
        }
        mass_mg = sum(drawn.actual_mg for drawn in draws)
        true_mg = sum(drawn.moved.true_mg for drawn in draws)
        self.floor.makeup.mixed(batch, ((row.moved.true_mg, row.analysis) for row in draws))
        out = Movement(
            from_place=self.mixer.machine,
            to_place=following,
            mass_mg=mass_mg,
            material=material,
            how=How.RECKONED,
            mass_sd_mg=math.isqrt(sum(row.moved.movement.mass_sd_mg**2 for row in draws)),
            lot=batch,
        )
        self.floor.note(
            "batching.batch_made/1",
            at=self.at,
            by=self.floor.who("batch operator", self.at),
            content=content,
            moved=(*(drawn.moved for drawn in draws), Moved(movement=out, true_mg=true_mg)),
            lots=(Lot(lot=batch, kind=LotKind.BATCH, material=material),),
        )
        if self.mixer.machine in ON_CELLS:
            self._load_cells(batch, draws)
        return mass_mg, true_mg

    def _load_cells(self, batch: str, draws: list[Drawn]) -> None:
        """What the mixer's load cells show after each addition."""
        dice, there_kg = self.floor.dice_for(f"load cells {batch}"), 0.0
        for number, drawn in enumerate(draws, 1):
            there_kg += drawn.moved.true_mg / MG_KG * dice.gauss(1, CELLS_SD_FRAC)
            at = self.at - CELLS_EVERY * (len(draws) - number)
            shown_kg = round(there_kg, 2)
            self.after.notebook.write(
                self.mixer.machine, "mixer load cells", shown_kg, at=at, run=batch
            )

    def _findings(self, batch: str, draws: list[Drawn]) -> Iterable[Json]:
        for number, drawn in enumerate(draws, 1):
            name = self.floor.mill.name_of(drawn.ingredient)
            finding = drawn.finding(batch, number, name=name)
            if finding is not None:
                yield finding


def first_mixer(product: Product, mixers: dict[str, Machine]) -> str:
    """The mixer on which a product is made, the first of those that are looked at."""
    return next((code for code in alternatives(product)[0] if code in mixers), "")


def is_kept(floor: Floor, product: str) -> str:
    """The finished bin that is kept for a product, or nothing."""
    kept = (
        row.bin
        for row in floor.mill.bins
        if row.holds == product and kind_of(floor.mill, row.bin) == "finished"
    )
    return next(kept, "")
