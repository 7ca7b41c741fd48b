"""A lower bound of what a day's runs cost, whatever their order: beside it a plan can be judged.

What stands between feeds hangs on the whole path before it, so no matrix holds it. But the least of
it can be known. Some places are reached by one mixer's runs alone (that mixer, and what only it
feeds). Between two runs that follow each other on that mixer nothing else touches them: the second
finds there at least what the first, run over a clean mill, leaves in the places that every way of it
passes, and more residue never needs a smaller flush or a shorter clean-out. That gives a least cost
for each pair of feeds, with the mixer's own changeover; the cheapest chain of all feeds, each at
least once, is a bound of flushes, cleaning and the mixers' changeovers. Changeovers and dies of other
machines come on top, and so does the lateness that no order can avoid.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from bedstone.mill.residue import ResidueState
from bedstone.planning.bound_late import least_late_cents100
from bedstone.planning.evaluate import CENTS100_USD, Evaluator
from bedstone.planning.jobs import Job, Option
from bedstone.planning.running_order import best_order

__all__ = ["LeastCost", "least_cost"]

HOUR_S = 3600.0
ROUNDING = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class LeastCost:
    """What an order of running costs at least, part by part [0.0001 USD]."""

    between_cents100: float  # flushes, clean-outs and changeovers of mixers
    others_cents100: float  # changeovers of other machines, with dies
    late_cents100: float

    @property
    def total_cents100(self) -> int:
        """All of it, in whole hundredths of a cent, rounded down."""
        whole = self.between_cents100 + self.others_cents100 + self.late_cents100
        return max(0, int(whole * (1.0 - ROUNDING)) - 1)


def least_cost(evaluator: Evaluator, jobs: Sequence[Job]) -> LeastCost:
    """What it costs at least to make these runs in the day.

    Parameters
    ----------
    evaluator : Evaluator
        The day.
    jobs : sequence of Job
        The runs that are to be made in it.

    Returns
    -------
    least : LeastCost
        No order of running of these runs, on any of their ways, costs less.
    """
    if not jobs:
        return LeastCost(between_cents100=0.0, others_cents100=0.0, late_cents100=0.0)
    return LeastCost(
        between_cents100=_Mixers(evaluator, jobs).least_cents100(),
        others_cents100=_other_machines_cents100(evaluator, jobs),
        late_cents100=least_late_cents100(evaluator, jobs),
    )


def _labour_cents100(evaluator: Evaluator, seconds: float) -> float:
    return seconds / HOUR_S * evaluator.floor.mill.settings.labour_usd_h * CENTS100_USD


def _other_machines_cents100(evaluator: Evaluator, jobs: Sequence[Job]) -> float:
    """Changeovers and die changes that the feeds of each line make, however they are grouped."""
    feeds: dict[str, set[str]] = {}
    dies: dict[str, set[str]] = {}
    for job in jobs:
        ways = [set(path[1:]) for option in job.options for path in option.paths]
        for code in set.intersection(*ways):
            row = evaluator.floor.mill.machine_by_code.get(code)
            if row is None:
                continue
            feeds.setdefault(code, set()).add(job.product.product)
            if row.kind == "pellet line" and job.product.die:
                dies.setdefault(code, set()).add(job.product.die)
    state, seconds = evaluator.opening.state, 0.0
    for code, its in feeds.items():
        row = evaluator.floor.mill.machine_by_code[code]
        seconds += _changes(its, state.last.get(code, "")) * int(row.changeover_s)
        changes = _changes(dies.get(code, set()), state.dies.get(code, ""))
        seconds += changes * int(row.die_change_s)
    return _labour_cents100(evaluator, seconds)


def _changes(wanted: set[str], last: str) -> int:
    """How often something changes at least, until all that is wanted has been there."""
    return max(0, len(wanted) - 1 if last in {"", *wanted} else len(wanted))


@dataclass(eq=False)
class _Mixers:
    """The feeds of a day, and what stands at least between two of them on a mixer."""

    evaluator: Evaluator
    jobs: Sequence[Job]
    feeds: dict[str, list[Job]] = field(default_factory=dict)
    own_places: dict[str, set[int]] = field(default_factory=dict)  # of each mixer alone

    def __post_init__(self) -> None:
        """Group the runs by feed, and find the places that one mixer's runs alone reach."""
        reached: dict[str, set[int]] = {}
        for job in self.jobs:
            self.feeds.setdefault(job.product.product, []).append(job)
            for option, path in _ways(job):
                way = self.evaluator.residue.way(path)
                reached.setdefault(option.mixer, set()).update(int(at) for at in way.places)
        for mixer, places in reached.items():
            others = (its for other, its in reached.items() if other != mixer)
            self.own_places[mixer] = places.difference(*others)

    def least_cents100(self) -> float:
        """The cheapest chain of all feeds over the mixers that make them.

        A round through the feeds and a start for each mixer: what follows a start runs first on its
        mixer, and whatever runs last on one leads to the next start for nothing.
        """
        mixers, codes = sorted(self.own_places), list(self.feeds)
        costs = np.full((len(mixers) + len(codes),) * 2, np.inf)
        costs[: len(mixers), : len(mixers)] = 0.0
        costs[len(mixers) :, : len(mixers)] = 0.0
        for mixer in mixers:
            self._fill(costs, mixer, mixers=mixers, codes=codes)
        _shorten(costs, first=len(mixers))
        found = best_order(costs, is_closed=True)
        return max(0.0, found.bound)

    def _fill(
        self, costs: NDArray[np.float64], mixer: str, *, mixers: list[str], codes: list[str]
    ) -> None:
        """Lower each entry to what it is on one mixer."""
        evaluator = self.evaluator
        changeover_s = int(evaluator.floor.mill.machine_by_code[mixer].changeover_s)
        change = _labour_cents100(evaluator, changeover_s)
        last = evaluator.opening.state.last.get(mixer, "")
        befores = [("", self._opening(mixer), mixers.index(mixer))]
        befores += [
            (code, self._left_by(code, mixer), len(mixers) + at)
            for at, code in enumerate(codes)
            if _on(self.feeds[code], mixer)
        ]
        for before, state, row in befores:
            for at, after in enumerate(codes):
                column = len(mixers) + at
                if row == column or not _on(self.feeds[after], mixer):
                    continue
                cost = self._treated(state, after, mixer)
                ran = before or last
                cost += change if ran not in {"", after} else 0.0
                costs[row, column] = min(costs[row, column], cost)

    def _opening(self, mixer: str) -> ResidueState:
        """What a mixer's own places hold before the first run; all else clean."""
        opening = self.evaluator.opening.residue
        clean = self._clean()
        for place in self.own_places[mixer]:
            clean.held_mg_kg[place] = opening.held_mg_kg[place]
            clean.passed_kg[place] = opening.passed_kg[place]
        return clean

    def _left_by(self, code: str, mixer: str) -> ResidueState:
        """The least that a feed leaves in a mixer's own places, on whatever way it goes."""
        residue = self.evaluator.residue
        least: ResidueState | None = None
        for job in self.feeds[code]:
            own = self.evaluator.between.limits(job).own
            for option, path in _ways(job):
                if option.mixer != mixer:
                    continue
                way, after = residue.way(path), self._clean()
                masses_kg = option.masses_kg
                residue.pass_through(
                    after,
                    way,
                    carried=residue.map(way, masses_kg=masses_kg, sack_kg=job.sack_kg),
                    own=own,
                    mass_kg=sum(masses_kg),
                    material=code,
                )
                if least is None:
                    least = after
                np.minimum(least.held_mg_kg, after.held_mg_kg, out=least.held_mg_kg)
                np.maximum(least.passed_kg, after.passed_kg, out=least.passed_kg)
        clean = self._clean()
        if least is not None:
            for place in self.own_places[mixer]:
                clean.held_mg_kg[place] = least.held_mg_kg[place]
                clean.passed_kg[place] = least.passed_kg[place]
        return clean

    def _clean(self) -> ResidueState:
        shape = self.evaluator.opening.residue.held_mg_kg.shape
        return ResidueState(
            np.zeros(shape),
            np.full(shape, np.inf),
            np.ones(shape, dtype=np.bool_),
            np.full(shape, -1, dtype=np.int64),
            np.zeros(shape, dtype=np.bool_),
        )

    def _treated(self, state: ResidueState, code: str, mixer: str) -> float:
        """The least that must be done before any run of a feed, on any of its ways [0.0001 USD]."""
        between = self.evaluator.between
        limits = between.limits(self.feeds[code][0])
        columns = [int(at) for at in limits.level_columns] + [at for at, _ in limits.others]
        dirty = (state.held_mg_kg > 0) | np.isfinite(state.passed_kg)
        if not columns or not dirty[:, columns].any():
            return 0.0
        least = np.inf
        for job, option, path in self._kinds_of_way(code, mixer):
            treatment = between.decide(state, job, option, path=path, flush_left_kg=float("inf"))
            if treatment is None:
                continue  # cannot be done, whatever else is on the way
            least = min(least, between.cost_usd(treatment, option) * CENTS100_USD)
            if least <= 0:
                break
        return float(least) if np.isfinite(least) else 0.0

    def _kinds_of_way(self, code: str, mixer: str) -> Iterator[tuple[Job, Option, tuple[str, ...]]]:
        """Runs of a feed with their ways, one of each that are alike in all that counts."""
        seen: set[object] = set()
        own = self.own_places[mixer]
        flush_bin = self.evaluator.floor.mill.settings.flush_bin
        ends = self.evaluator.floor.mill.route_by_ends
        for job in self.feeds[code]:
            for option, path in _ways(job):
                if option.mixer != mixer:
                    continue
                way = self.evaluator.residue.way(path)
                key = (
                    option.masses_kg,
                    job.sack_kg,
                    way.hold_ups_kg,
                    way.exchanges_frac,
                    tuple(int(place) if int(place) in own else -1 for place in way.places),
                    tuple((place, flush_bin) in ends for place in path),
                )
                if key not in seen:
                    seen.add(key)
                    yield job, option, path


def _ways(job: Job) -> Iterator[tuple[Option, tuple[str, ...]]]:
    for option in job.options:
        for path in option.paths:
            yield option, path


def _on(jobs: Sequence[Job], mixer: str) -> bool:
    return any(option.mixer == mixer for job in jobs for option in job.options)


def _shorten(costs: NDArray[np.float64], *, first: int) -> None:
    """Lower each cost to that of the cheapest way through other feeds: a feed may run again."""
    for through in range(first, len(costs)):
        by_way = costs[:, through, None] + costs[None, through, first:]
        np.minimum(costs[:, first:], by_way, out=costs[:, first:])
