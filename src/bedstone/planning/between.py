"""What must happen before a feed may run: nothing, a flush of so many kg, or a clean-out."""

import math
from dataclasses import dataclass, field
from fractions import Fraction
from typing import TypedDict

import numpy as np
from numpy.typing import NDArray

from bedstone.mill.contents import contents_of
from bedstone.mill.model import Limit, Mill
from bedstone.mill.residue import Residue, ResidueState, Way
from bedstone.mill.tolerances import scale_tolerance_divisions
from bedstone.planning.batches import MG_KG, division_mg, largest_steps
from bedstone.planning.jobs import Job, Option
from bedstone.planning.paths import Paths

__all__ = ["Between", "Breach", "JobLimits", "Treatment"]

FLUSH_LEAST_FRAC = 0.05
"""A flush is at least this part of the mixer's largest batch: 5 to 10 % is usual (common
practice; the same range in K-State carry-over trials, thesis 2097/1025)."""
FLUSH_BATCHES_MOST = 3
LEVEL_SLACK = 1e-9  # of rounding, as part of the level
PASSED_SLACK_KG = 1e-6
STEP_SLACK = 1e-9
TRACE_MG_KG = 1e-12  # what is below this is nothing, for a clean-out


class _Origin(TypedDict):
    left_by: str
    known: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Breach:
    """A limit that a feed would break as things stand."""

    limit: Limit
    place: str  # where the least has passed; empty for a level
    value: float  # worst portion [mg/kg], or least passed [kg]
    left_by: str  # material
    known: bool = True  # False where the record is silent and the worst is taken
    sack: int = 0  # number of the worst portion, from 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Treatment:
    """What is done before a run."""

    flush_kg: tuple[float, ...] = ()
    flush_route: tuple[str, ...] = ()
    clean: tuple[str, ...] = ()
    breaches: tuple[Breach, ...] = ()  # what it is there for


NOTHING = Treatment()


@dataclass(frozen=True, slots=True, eq=False)
class JobLimits:
    """The limits of a feed as columns of the residue arrays."""

    own: NDArray[np.float64]
    level_columns: NDArray[np.int64]
    levels_mg_kg: NDArray[np.float64]
    levels: tuple[Limit, ...]
    others: tuple[tuple[int, Limit], ...]  # procedures, clean-outs, nevers

    @property
    def is_empty(self) -> bool:
        """True where nothing can go wrong."""
        return not self.levels and not self.others


@dataclass(eq=False)
class Between:
    """Decides, with the true residue, what is needed before a run."""

    mill: Mill
    residue: Residue
    paths: Paths
    _limits: dict[str, JobLimits] = field(default_factory=dict)
    _flush_steps: dict[str, tuple[float, int, int]] = field(default_factory=dict)
    _routes: dict[tuple[str, ...], list[tuple[str, ...]]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Read what flushes."""
        material = self.mill.settings.flush_material
        self.flush_material = material
        self.flush_own = self.residue.own(contents_of(self.mill, material) if material else {})
        row = self.mill.ingredient_by_code.get(material)
        self.flush_density_kg_m3 = row.density_kg_m3 if row is not None else 1.0
        self.flush_usd_kg = (row.price_usd_t if row is not None else 0.0) / 1000
        self._barred = set(self.paths.never_flushed())

    def limits(self, job: Job) -> JobLimits:
        """The limits of a run's feed, kept."""
        found = self._limits.get(job.product.product)
        if found is None:
            number = self.residue.substance_number
            levels = tuple(row for row in job.limits if row.kind == "level")
            found = JobLimits(
                self.residue.own(job.own),
                np.array([number[row.substance] for row in levels], dtype=np.int64),
                np.array([row.level_mg_kg or 0.0 for row in levels]),
                levels,
                tuple((number[row.substance], row) for row in job.limits if row.kind != "level"),
            )
            self._limits[job.product.product] = found
        return found

    def breaches(
        self, state: ResidueState, job: Job, *, way: Way, masses_kg: tuple[float, ...]
    ) -> tuple[Breach, ...]:
        """Every limit that the run would break as things stand."""
        limits = self.limits(job)
        found = [
            breach
            for column, limit in limits.others
            if (breach := self._other_breach(state, way, column=column, limit=limit)) is not None
        ]
        if limits.levels:
            carried = self.residue.map(way, masses_kg=masses_kg, sack_kg=job.sack_kg)
            column = np.concatenate((state.held_mg_kg[way.places], limits.own[None, :]))
            sacks = carried.sacks @ column[:, limits.level_columns]
            worst = sacks.max(axis=0)
            found.extend(
                Breach(
                    limit=limits.levels[at],
                    place="",
                    value=float(worst[at]),
                    **self._origin(state, way, int(limits.level_columns[at])),
                    sack=int(sacks[:, at].argmax()),
                )
                for at in np.flatnonzero(worst > limits.levels_mg_kg * (1 + LEVEL_SLACK))
            )
        return tuple(found)

    def _other_breach(
        self, state: ResidueState, way: Way, *, column: int, limit: Limit
    ) -> Breach | None:
        passed = state.passed_kg[way.places, column]
        at = int(passed.argmin())
        least_kg = float(passed[at])
        if limit.kind == "procedure":
            is_broken = least_kg < (limit.flush_kg or 0.0) - PASSED_SLACK_KG
        elif limit.kind == "never":
            at, is_broken = self._known_never(state, way, column=column)
            least_kg = float(passed[at])
        else:
            is_broken = math.isfinite(least_kg)
        if not is_broken:
            return None
        place = int(way.places[at])
        return Breach(
            limit=limit,
            place=self.residue.places.all[place].place,
            value=least_kg,
            left_by=self.residue.name_of_material(int(state.left_by[place, column])),
            known=bool(state.known[place, column]),
        )

    def _known_never(self, state: ResidueState, way: Way, *, column: int) -> tuple[int, bool]:
        """Where the record says that a place has handled it; silence is answered by the tables."""
        hit = state.ever[way.places, column]
        return (int(hit.argmax()), True) if hit.any() else (0, False)

    def _origin(self, state: ResidueState, way: Way, column: int) -> "_Origin":
        """Who left most of a substance on a way."""
        at = int(way.places[int(state.held_mg_kg[way.places, column].argmax())])
        return {
            "left_by": self.residue.name_of_material(int(state.left_by[at, column])),
            "known": bool(state.known[at, column]),
        }

    def decide(
        self,
        state: ResidueState,
        job: Job,
        option: Option,
        *,
        path: tuple[str, ...],
        flush_left_kg: float,
    ) -> Treatment | None:
        """The cheapest that makes the run safe; None if nothing does."""
        if self.limits(job).is_empty:
            return NOTHING
        way = self.residue.way(path)
        breaches = self.breaches(state, job, way=way, masses_kg=option.masses_kg)
        if not breaches:
            return NOTHING
        if any(breach.limit.kind == "never" for breach in breaches):
            return None
        flush = self._flush(
            state, job, option, path=path, breaches=breaches, flush_left_kg=flush_left_kg
        )
        clean = self._clean(state, way, breaches=breaches)
        if flush is not None and self.cost_usd(flush, option) <= self.cost_usd(clean, option):
            return flush
        after = state.copy()
        self.residue.clean(after, clean.clean)
        if self.breaches(after, job, way=way, masses_kg=option.masses_kg):
            return flush
        return clean

    def cost_usd(self, treatment: Treatment, option: Option) -> float:
        """Material, and the crew's time, of a treatment [USD]."""
        hours = self.clean_s(treatment.clean) / 3600
        hours += len(treatment.flush_kg) * self.flush_s(option.mixer) / 3600
        material = sum(treatment.flush_kg) * self.flush_usd_kg
        return material + hours * self.mill.settings.labour_usd_h

    def flush_steps(self, mixer: str) -> tuple[float, int, int]:
        """Division of a mixer's scale [kg], and the fewest and most of them in one flush."""
        found = self._flush_steps.get(mixer)
        if found is None:
            step_kg = division_mg(self.mill, mixer) / MG_KG
            machine = self.mill.machine_by_code[mixer]
            most = largest_steps(self.mill, machine, density_kg_m3=self.flush_density_kg_m3)
            least_kg = Fraction(repr(machine.mass_max_kg or 0.0)) * Fraction(repr(FLUSH_LEAST_FRAC))
            found = (float(step_kg), min(most, math.ceil(least_kg / step_kg)), most)
            self._flush_steps[mixer] = found
        return found

    def flush_s(self, mixer: str) -> int:
        """Weighing, mixing and emptying of a flush [s]."""
        row = self.mill.machine_by_code[mixer]
        return math.ceil(row.fill_s + row.dry_mix_s) + math.ceil(row.discharge_s)

    def clean_s(self, places: tuple[str, ...]) -> int:
        """Time to clean places by hand, one after the other [s]."""
        total = 0.0
        for code in places:
            machine = self.mill.machine_by_code.get(code)
            if machine is not None:
                total += machine.clean_out_s
            elif ">" in code:
                start, end = code.split(">", 1)
                total += self.mill.route_by_ends[(start, end)].clean_out_s
        return math.ceil(total)

    def _clean(self, state: ResidueState, way: Way, *, breaches: tuple[Breach, ...]) -> Treatment:
        """A clean-out of every place on a way that has what the limits are about."""
        number = self.residue.substance_number
        columns = np.array([number[breach.limit.substance] for breach in breaches], dtype=np.int64)
        dirty = np.isfinite(state.passed_kg[np.ix_(way.places, columns)]) | (
            state.held_mg_kg[np.ix_(way.places, columns)] > TRACE_MG_KG
        )
        places = tuple(
            self.residue.places.all[int(place)].place for place in way.places[dirty.any(axis=1)]
        )
        return Treatment(clean=places, breaches=breaches)

    def _flush(
        self,
        state: ResidueState,
        job: Job,
        option: Option,
        *,
        path: tuple[str, ...],
        breaches: tuple[Breach, ...],
        flush_left_kg: float,
    ) -> Treatment | None:
        """The smallest flush that is enough, along the shortest way that lets it be smallest."""
        is_helpless = any(breach.limit.kind == "clean-out" for breach in breaches)
        if is_helpless or self.is_barred(path):
            return None
        best: tuple[float, Treatment] | None = None
        for route in self.flush_routes(path):
            sizes = _Sizes(self, state, job, option, path=path, route=route)
            found = sizes.smallest(self._least_passed_kg(state, job, path=path, route=route))
            if found is None or sum(found) > flush_left_kg:
                continue
            if best is None or sum(found) < best[0] - PASSED_SLACK_KG:
                treatment = Treatment(flush_kg=found, flush_route=route, breaches=breaches)
                best = (sum(found), treatment)
        return None if best is None else best[1]

    def is_barred(self, path: tuple[str, ...]) -> bool:
        """True where no flush may go along a path, or there is nothing to flush with."""
        return not self.flush_material or bool(self._barred.intersection(path))

    def flush_routes(self, path: tuple[str, ...]) -> list[tuple[str, ...]]:
        """Ways of a flush along a path, shortest first: to each place that leads to the flush bin,
        and through all of it (taken off by hand at its end).
        """
        found = self._routes.get(path)
        if found is None:
            flush_bin = self.mill.settings.flush_bin
            ends = self.mill.route_by_ends
            found = [
                path[:length]
                for length in range(1, len(path) + 1)
                if length == len(path) or (path[length - 1], flush_bin) in ends
            ]
            self._routes[path] = found
        return found

    def _least_passed_kg(
        self, state: ResidueState, job: Job, *, path: tuple[str, ...], route: tuple[str, ...]
    ) -> float:
        """What procedures still want of a flush along a route; never enough where places beyond
        it want some too [kg].
        """
        way, part = self.residue.way(path), self.residue.way(route)
        want_kg = 0.0
        for column, limit in self.limits(job).others:
            if limit.kind != "procedure":
                continue
            if self.flush_own[column] > 0:
                return math.inf
            lacking = (limit.flush_kg or 0.0) - state.passed_kg[way.places, column]
            if (lacking[len(part.places) :] > PASSED_SLACK_KG).any():
                return math.inf
            want_kg = max(want_kg, float(lacking[: len(part.places)].max()))
        return want_kg


class _Sizes:
    """Tries flush sizes along one route, in whole divisions of the mixer's scale."""

    def __init__(
        self,
        between: Between,
        state: ResidueState,
        job: Job,
        option: Option,
        *,
        path: tuple[str, ...],
        route: tuple[str, ...],
    ) -> None:
        self.between, self.job = between, job
        self.limits = between.limits(job)
        self.way = between.residue.way(path)
        self.part = between.residue.way(route)
        self.feed = between.residue.map(self.way, masses_kg=option.masses_kg, sack_kg=job.sack_kg)
        self.held = state.held_mg_kg[self.way.places][:, self.limits.level_columns]
        self.passed_kg = state.passed_kg[self.way.places]
        self.step_kg, self.least, self.most = between.flush_steps(option.mixer)

    def smallest(self, wanted_kg: float) -> tuple[float, ...] | None:
        """The smallest flush that passes enough and keeps every level, as batches [kg].

        What the scale may be off comes on top: a flush weighed within its tolerance is enough.
        """
        if not math.isfinite(wanted_kg) or self.most < 1:
            return None
        low = max(self.least, math.ceil(wanted_kg / self.step_kg - STEP_SLACK))
        high = self.most * FLUSH_BATCHES_MOST
        if low > high:
            return None
        if self._is_enough(low):
            return self._weighable(low)
        if not self._is_enough(high):
            return None
        while high - low > 1:
            middle = (low + high) // 2
            if self._is_enough(middle):
                high = middle
            else:
                low = middle
        return self._weighable(high)

    def _weighable(self, steps: int) -> tuple[float, ...]:
        """A flush with the tolerance of each weighing on top, within what the mixer takes [kg]."""
        count = math.ceil(steps / self.most)
        off = count * scale_tolerance_divisions(math.ceil(steps / count))
        return self._batches(min(steps + off, self.most * FLUSH_BATCHES_MOST))

    def _batches(self, steps: int) -> tuple[float, ...]:
        count = math.ceil(steps / self.most)
        each = math.ceil(steps / count)
        return (each * self.step_kg,) * count

    def _is_enough(self, steps: int) -> bool:
        if not self.limits.levels:
            return True
        residue, columns = self.between.residue, self.limits.level_columns
        held = self.held.copy()
        size = len(self.part.places)
        for mass_kg in self._batches(steps):
            carried = residue.map(self.part, masses_kg=(mass_kg,), sack_kg=mass_kg)
            own = self.between.flush_own[columns]
            held[:size] = carried.after @ np.concatenate((held[:size], own[None, :]))
        column = np.concatenate((held, self.limits.own[columns][None, :]))
        sacks = self.feed.sacks @ column
        return bool((sacks.max(axis=0) <= self.limits.levels_mg_kg * (1 + LEVEL_SLACK)).all())
