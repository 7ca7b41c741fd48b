"""How well instruments that went wrong are found, over simulated months with a known truth.

Run: python benchmarks/bench_watch.py [months]     (1,000 months by default)

Each month has one fault of a kind, in turn, and every eighth month none. The detectors get what a
mill would read; the truth is used for scoring only. A fault-free instrument that is named is a
false alarm. The last lines time five years of two hundred instruments.
"""

import datetime as dt
import random
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from bedstone.demo.faults import NO_FAULTS, Fault, FaultKind, Faults
from bedstone.demo.month_plan import DIALS, MonthPlan, month_plan
from bedstone.demo.quillback.demand import DEMANDS
from bedstone.demo.quillback.packaged import packaged_mill
from bedstone.demo.signals import Month, simulate_month
from bedstone.quality.sequential import threshold
from bedstone.quality.watch import find, weighted_ratios
from bedstone.quality.watch_draws import doubled, draw_alarm, stuck_at, worn_at
from bedstone.quality.watch_levels import LevelSeen, Passed, level_evidence

DAY = dt.date(2026, 11, 26)
MONTHS = 1_000
CELLS_SD_FRAC = 0.005
CHECK_SD_KG = 0.0251  # of the mean of four bags weighed again
USUAL_CV = 0.035
DRAWS_EVERY, LEVELS_EVERY, BAGS_EVERY = 60_000.0, 60_000.0, 10_000.0
MIXER_CHANCE = 0.002
SIZES = {
    FaultKind.GAIN_STEP: 0.02,
    FaultKind.SLOW_DRIFT: 0.002,
    FaultKind.STUCK: 0.0,
    FaultKind.WRONG_BIN: 0.0,
    FaultKind.DOUBLE_MICRO: 1.0,
    FaultKind.WORN_MIXER: 3.0,
}
ZERO_DIVISIONS = 4
KINDS = (*SIZES, FaultKind.ZERO_SHIFT)


@dataclass(frozen=True, slots=True)
class Named:
    """What a detector says: what is wrong, when it said so, since when."""

    about: str
    alarm_at: float
    begins_at: float
    said: str


@dataclass
class Score:
    """Counts of one kind of fault."""

    months: int = 0
    found: int = 0
    delay: list[float] = field(default_factory=list)
    off: list[float] = field(default_factory=list)


class Plan:
    """What does not change from month to month."""

    def __init__(self) -> None:
        self.plan: MonthPlan = month_plan(packaged_mill(), DEMANDS, start_day=DAY)
        plan = self.plan
        self.at = plan.batch_at[plan.draw_batch]
        tools = sorted(set(plan.draw_instrument.tolist()))
        self.of_tool = {
            plan.instruments[t]: np.flatnonzero(plan.draw_instrument == t) for t in tools
        }
        self.of_place = {
            place: np.flatnonzero(plan.draw_place == number)
            for number, place in enumerate(plan.places)
        }
        self.drawn_from = [place for place, rows in self.of_place.items() if rows.size > 60]


def named(held: Plan, month: Month, limits: tuple[float, float, float]) -> list[Named]:
    """All that the detectors name in a month, from what was read alone."""
    return [
        *_draws(held, month, limits[0]),
        *_levels(held, month, limits[1]),
        *_dials(held, month),
        *_bags(held, month, limits[2]),
        *_mixers(held, month),
    ]


def _draws(held: Plan, month: Month, limit: float) -> list[Named]:
    found = []
    for tool, rows in held.of_tool.items():
        read, seen = month.draw_read_kg[rows], month.draw_cells_kg[rows]
        sd = np.hypot(month.draw_sd_kg[rows], CELLS_SD_FRAC * read)
        twice = doubled(read, seen, sd)
        for at in twice:
            material = held.plan.materials[held.plan.draw_material[rows[at]]]
            when = held.at[rows[at]]
            found.append(Named(material, when, when, "double micro"))
        seen = seen.copy()
        seen[twice] = np.nan
        alarm = draw_alarm(read, seen, sd, limit=limit)
        if alarm is not None:
            when, since = held.at[rows[alarm.at]], held.at[rows[alarm.first]]
            found.append(Named(tool, when, since, alarm.kind))
    return found


def _levels(held: Plan, month: Month, limit: float) -> list[Named]:
    plan, found = held.plan, []
    levels, passed = {}, {}
    for number, place in enumerate(plan.places):
        column, sd = month.level_read_kg[:, number], float(month.level_sd_kg[number])
        stuck = stuck_at(column)
        if stuck is not None:
            there = np.flatnonzero(~np.isnan(column))
            first = there[np.searchsorted(there, stuck) - 3]
            found.append(Named(place, plan.level_at[stuck], plan.level_at[first], "stuck reading"))
            continue
        levels[place] = [
            LevelSeen(float(at), float(kg), sd, is_gauge=False)
            for at, kg in zip(plan.level_at, column, strict=True)
            if not np.isnan(kg)
        ]
        rows = held.of_place[place]
        loads = np.flatnonzero(plan.load_place == number)
        passed[place] = sorted(
            [
                Passed(float(held.at[row]), -float(month.draw_read_kg[row]),
                       float(month.draw_sd_kg[row]), place)
                for row in rows
            ]
            + [
                Passed(float(plan.load_at[row]), float(month.load_ticket_kg[row]),
                       0.01 * float(month.load_ticket_kg[row]), "")
                for row in loads
            ],
            key=lambda row: row.at,
        )  # fmt: skip
    witnesses, suspicions = level_evidence(
        levels, passed, proved_at={}, instruments=held.drawn_from
    )
    steps = [row for row in suspicions if row.kind == "gain step"]
    for row in find(witnesses, steps, limit=limit)[0]:
        kind = "wrong bin opened" if abs(row.standing.size + 1) < 0.4 else "level against books"
        found.append(Named(row.standing.about, row.alarm_at or np.inf, row.begins_at, kind))
    return found


def _dials(held: Plan, month: Month) -> list[Named]:
    plan, found = held.plan, []
    for number, line in enumerate(plan.lines):
        mine = np.flatnonzero(plan.batch_line == number)
        for column, dial in enumerate(DIALS):
            at = stuck_at(month.dial_read[mine, column])
            if at is not None:
                when, since = plan.batch_at[mine[at]], plan.batch_at[mine[at - 3]]
                found.append(Named(f"{line} {dial}", when, since, "stuck reading"))
    return found


def _bags(held: Plan, month: Month, limit: float) -> list[Named]:
    plan, found = held.plan, []
    for number, packer in enumerate(plan.packers):
        mine = np.flatnonzero(plan.batch_pack == number)
        read = month.bag_read_kg[mine]
        sd = np.full(mine.size, CHECK_SD_KG)
        alarm = draw_alarm(read, month.bag_checked_kg[mine], sd, limit=limit)
        if alarm is not None:
            when, since = plan.batch_at[mine[alarm.at]], plan.batch_at[mine[alarm.first]]
            found.append(Named(f"{packer} bag mass", when, since, alarm.kind))
    return found


def _mixers(held: Plan, month: Month) -> list[Named]:
    plan, found = held.plan, []
    for number, mixer in enumerate(plan.mixers):
        mine = np.flatnonzero(plan.test_mixer == number)
        worn = worn_at(month.mixer_seen[mine], usual_cv=USUAL_CV, false_alarm=MIXER_CHANCE)
        if worn is not None:
            when, since = (plan.test_at[mine[i]] for i in worn)
            found.append(Named(mixer, when, since, "worn mixer"))
    return found


def fault_of(held: Plan, kind: FaultKind, dice: random.Random) -> Fault:
    """A fault of a kind, somewhere where the month has enough to show it, some day of 5 to 15."""
    plan = held.plan
    begins_at = plan.start_at + dt.timedelta(days=dice.uniform(5, 15))
    size, other = SIZES.get(kind, 0.0), ""
    if kind in (FaultKind.GAIN_STEP, FaultKind.SLOW_DRIFT):
        where = dice.choice(list(held.of_tool))
    elif kind is FaultKind.ZERO_SHIFT:
        scale = dice.choice(plan.mill.scales)
        where, size = scale.scale, ZERO_DIVISIONS * scale.division_kg
    elif kind is FaultKind.STUCK:
        tanks = [row.bin for row in plan.mill.bins if row.kind == "tank"]
        where = dice.choice([*tanks, *(f"{line} {dial}" for line in plan.lines for dial in DIALS)])
    elif kind is FaultKind.WRONG_BIN:
        where, other = dice.sample(held.drawn_from, 2)
    elif kind is FaultKind.WORN_MIXER:
        where = dice.choice(plan.mixers)
    else:
        rows = plan.draw_material[plan.draw_place == -1]
        micros = rows if rows.size else plan.draw_material[held.of_tool["HS1"]]
        where = plan.materials[int(dice.choice(micros.tolist()))]
    return Fault(kind=kind, where=where, size=size, begins_at=begins_at, other=other)


def steps_between(held: Plan, fault: Fault, first: float, last: float) -> float:
    """How many batches (tests, readings) of what is wrong lie between two moments."""
    plan = held.plan
    if fault.where in held.of_tool:
        at = np.unique(held.at[held.of_tool[fault.where]])
    elif fault.kind is FaultKind.WRONG_BIN or fault.where in plan.places:
        at = plan.level_at
    elif fault.kind is FaultKind.WORN_MIXER:
        at = plan.test_at[plan.test_mixer == plan.mixers.index(fault.where)]
    elif fault.kind is FaultKind.DOUBLE_MICRO:
        at = np.unique(held.at[plan.draw_material == plan.materials.index(fault.where)])
    else:
        line = fault.where.partition(" ")[0]
        at = plan.batch_at[plan.batch_line == plan.lines.index(line)]
    return float(np.searchsorted(at, last, side="right") - np.searchsorted(at, first, side="right"))


def run(months: int) -> None:
    """Score and print the table."""
    held = Plan()
    limits = threshold(DRAWS_EVERY), threshold(LEVELS_EVERY), threshold(BAGS_EVERY)
    scores = {kind: Score() for kind in KINDS}
    false_alarms: dict[str, int] = {}
    began = time.perf_counter()
    for number in range(months):
        dice = random.Random(number)
        kind = None if number % 8 == 7 else KINDS[number % 8]
        fault = None if kind is None else fault_of(held, kind, dice)
        faults = NO_FAULTS if fault is None else Faults((fault,))
        month = simulate_month(held.plan, faults, seed=number, unread_frac=0.05)
        _score(held, fault, named(held, month, limits), scores, false_alarms)
    took_s = time.perf_counter() - began
    unit = "batches, readings or tests of what is wrong"
    print(f"{months} months in {took_s:.0f} s; delays in {unit}")
    print("| fault | months | found | median delay | nine in ten | dated within 1 | within 3 |")
    print("|---|---|---|---|---|---|---|")
    for kind, score in scores.items():
        print(_line(kind, score))
    every = sum(false_alarms.values())
    print(f"false alarms: {every / months:.2f} a month, {len(held.plan.instruments)} instruments; "
          f"{false_alarms}")  # fmt: skip


def _score(
    held: Plan,
    fault: Fault | None,
    said: list[Named],
    scores: dict[FaultKind, Score],
    false_alarms: dict[str, int],
) -> None:
    touched = set() if fault is None else {fault.where, fault.other}
    if fault is not None:
        began = (fault.begins_at - held.plan.start_at).total_seconds()
        score = scores[fault.kind]
        score.months += 1
        hits = [row for row in said if row.about == fault.where and row.alarm_at >= began]
        if hits:
            first = min(hits, key=lambda row: row.alarm_at)
            score.found += 1
            score.delay.append(steps_between(held, fault, began, first.alarm_at))
            off = steps_between(held, fault, *sorted((began, first.begins_at)))
            score.off.append(max(0.0, off - 1 if first.begins_at > began else off))
        if fault.kind in (FaultKind.GAIN_STEP, FaultKind.SLOW_DRIFT, FaultKind.ZERO_SHIFT):
            rows = held.of_tool[fault.where]  # its draws move the levels of these places too
            touched |= {held.plan.places[p] for p in set(held.plan.draw_place[rows]) if p >= 0}
    for row in said:
        if row.about not in touched:
            false_alarms[row.said] = false_alarms.get(row.said, 0) + 1


def _line(kind: FaultKind, score: Score) -> str:
    if not score.found:
        return f"| {kind} | {score.months} | 0 | | | | |"
    off = np.array(score.off)
    return (
        f"| {kind} | {score.months} | {100 * score.found / score.months:.0f} % "
        f"| {np.median(score.delay):.0f} | {np.quantile(score.delay, 0.9):.0f} "
        f"| {100 * np.mean(off <= 1):.0f} % | {100 * np.mean(off <= 3):.0f} % |"
    )


def five_years() -> None:
    """Two hundred instruments, each with a residual a batch: 20 a day, 300 days a year."""
    dice = np.random.default_rng(1)
    residuals = dice.standard_normal((200, 5 * 300 * 20))
    weight = np.ones(residuals.shape[1])
    weighted_ratios(residuals[0, :100], weight[:100])
    began = time.perf_counter()
    for row in residuals:
        weighted_ratios(row, weight)
    print(f"200 instruments, {residuals.size:,} residuals: {time.perf_counter() - began:.2f} s")


def main() -> None:
    """Print all figures."""
    work: tuple[Callable[[], None], ...] = (
        lambda: run(int(sys.argv[1]) if len(sys.argv) > 1 else MONTHS),
        five_years,
    )
    for each in work:
        each()


if __name__ == "__main__":
    main()
