"""How well instruments that went wrong are found, over simulated months with a known truth.

Run: python benchmarks/bench_watch.py [months]     (1,000 months by default; goes on where it stopped)
     python benchmarks/bench_watch.py --docs       (writes the table into docs/watch.md)
     python benchmarks/bench_watch.py --speed      (times five years of two hundred instruments)

Each month has one fault of a kind, in turn, and every eighth month none. The detectors get what a
mill would read; the truth is used for scoring only. A fault-free instrument that is named is a
false alarm. Where a meter steps, a second month of its own lets the tank alone witness it. What
each month gave is kept in benchmarks/results/watch.json; raise VERSION when a detector changes.
"""

import datetime as dt
import json
import random
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from bedstone.demo.faults import NO_FAULTS, Fault, FaultKind, Faults
from bedstone.demo.month_plan import DIALS, month_plan
from bedstone.demo.quillback.demand import DEMANDS
from bedstone.demo.quillback.packaged import packaged_mill
from bedstone.demo.signals import simulate_month
from bedstone.quality.sequential import threshold
from bedstone.quality.watch import weighted_ratios
from bedstone.quality.watch_draws import worn_found
from bedstone.quality.watch_levels import LevelSeen, Passed
from watch_detectors import DAY, MIXER_CHANCE, USUAL_CV, Named, Plan, found_by_levels, named

MONTHS = 1_000
DRAWS_EVERY, LEVELS_EVERY, BAGS_EVERY = 60_000.0, 60_000.0, 10_000.0
TANK_STEP = 0.05
TANK_ALONE = "gain step of 5 % seen by its tank alone"
VERSION = 3
HERE = Path(__file__).resolve().parent
KEPT, DOCS = HERE / "results" / "watch.json", HERE.parent / "docs" / "watch.md"
BEGIN, END = (
    "<!-- scores: written by benchmarks/bench_watch.py --docs -->",
    "<!-- end of scores -->",
)
SAVE_EVERY = 10
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


Result = dict[str, Any]  # one month as it is kept: kind, delay, off, false, and tank if it has one


@dataclass
class Score:
    """Counts of one kind of fault."""

    months: int = 0
    delay: list[float] = field(default_factory=list)
    off: list[float] = field(default_factory=list)

    def note(self, delay: float | None, off: float | None) -> None:
        """One month; no delay where it was not found."""
        self.months += 1
        if delay is not None and off is not None:
            self.delay.append(delay)
            self.off.append(off)


def tank_alone(held: Plan, number: int, limit: float) -> tuple[float, float] | None:
    """A meter that steps, with the levels of its tank as its only witness: delay, and days off."""
    plan, dice = held.plan, random.Random(10_000 + number)
    meters = [row.meter for row in plan.mill.meters if row.meter in held.of_tool]
    where = dice.choice(meters)
    begins_at = plan.start_at + dt.timedelta(days=dice.uniform(5, 15))
    fault = Fault(kind=FaultKind.GAIN_STEP, where=where, size=TANK_STEP, begins_at=begins_at)
    month = simulate_month(plan, Faults((fault,)), seed=number, unread_frac=0.05)
    tank = int(plan.draw_place[held.of_tool[where][0]])
    levels = {
        "tank": [
            LevelSeen(float(at), float(kg), float(month.level_sd_kg[tank]), is_gauge=False)
            for at, kg in zip(plan.level_at, month.level_read_kg[:, tank], strict=True)
            if not np.isnan(kg)
        ]
    }
    flows = [
        Passed(float(held.at[row]), -float(month.draw_read_kg[row]), float(month.draw_sd_kg[row]),
               plan.instruments[plan.draw_instrument[row]])
        for row in np.flatnonzero(plan.draw_place == tank)
    ] + [
        Passed(float(plan.load_at[row]), float(month.load_ticket_kg[row]),
               0.001 * float(month.load_ticket_kg[row]), "")
        for row in np.flatnonzero(plan.load_place == tank)
    ]  # fmt: skip
    passed = {"tank": sorted(flows, key=lambda row: row.at)}
    began = (begins_at - plan.start_at).total_seconds()
    for row in found_by_levels(levels, passed, limit, meters):
        if row.standing.about == where and (row.alarm_at or 0) >= began:
            delay = np.searchsorted(plan.level_at, row.alarm_at or 0, side="right")
            delay -= np.searchsorted(plan.level_at, began, side="right")
            off = abs(int(np.searchsorted(plan.level_at, began))
                      - int(np.searchsorted(plan.level_at, row.begins_at)))  # fmt: skip
            return float(delay), float(off)
    return None


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
    """Carry out what is missing, keep it, and print the table."""
    kept = _kept()
    held: Plan | None = None
    began = time.perf_counter()
    for number in range(months):
        if str(number) in kept:
            continue
        held = held or Plan()
        kept[str(number)] = _month(held, number)
        if number % SAVE_EVERY == 0:
            _keep(kept)
    _keep(kept)
    if held:
        print(f"{time.perf_counter() - began:.0f} s")
    print(table(kept))


def _kept() -> dict[str, Result]:
    """What earlier runs of this version gave, by month."""
    if not KEPT.exists():
        return {}
    content = json.loads(KEPT.read_text(encoding="utf-8"))
    return dict(content["months"]) if content["version"] == VERSION else {}


def _keep(kept: dict[str, Result]) -> None:
    content = {"version": VERSION, "months": kept}
    KEPT.write_text(json.dumps(content, separators=(",", ":")) + "\n", encoding="utf-8")


def _month(held: Plan, number: int) -> Result:
    """One month: its fault, how it was found, and what was named beside it."""
    limits = threshold(DRAWS_EVERY), threshold(LEVELS_EVERY), threshold(BAGS_EVERY)
    dice = random.Random(number)
    kind = None if number % 8 == 7 else KINDS[number % 8]
    fault = None if kind is None else fault_of(held, kind, dice)
    faults = NO_FAULTS if fault is None else Faults((fault,))
    month = simulate_month(held.plan, faults, seed=number, unread_frac=0.05)
    found = _scored(held, fault, named(held, month, limits))
    if kind is FaultKind.GAIN_STEP:
        found["tank"] = tank_alone(held, number, limits[1])
    return found


def _scored(held: Plan, fault: Fault | None, said: list[Named]) -> Result:
    touched = set() if fault is None else {fault.where, fault.other}
    result: Result = {"kind": "" if fault is None else str(fault.kind), "delay": None, "off": None}
    if fault is not None:
        began = (fault.begins_at - held.plan.start_at).total_seconds()
        hits = [row for row in said if row.about == fault.where and row.alarm_at >= began]
        if hits:
            first = min(hits, key=lambda row: row.alarm_at)
            off = steps_between(held, fault, *sorted((began, first.begins_at)))
            result["delay"] = steps_between(held, fault, began, first.alarm_at)
            result["off"] = max(0.0, off - 1 if first.begins_at > began else off)
        if fault.kind in (FaultKind.GAIN_STEP, FaultKind.SLOW_DRIFT, FaultKind.ZERO_SHIFT):
            rows = held.of_tool[fault.where]  # its draws move the levels of these places too
            touched |= {held.plan.places[p] for p in set(held.plan.draw_place[rows]) if p >= 0}
    result["false"] = [row.said for row in said if row.about not in touched]
    return result


def table(kept: dict[str, Result]) -> str:
    """The scores as a table of Markdown, with the false alarms below it."""
    scores = {str(kind): Score() for kind in KINDS} | {TANK_ALONE: Score()}
    wrong: dict[str, int] = {}
    for row in kept.values():
        if row["kind"]:
            scores[row["kind"]].note(row["delay"], row["off"])
        if "tank" in row:
            scores[TANK_ALONE].note(*(row["tank"] or (None, None)))
        for said in row["false"]:
            wrong[said] = wrong.get(said, 0) + 1
    count = len(month_plan(packaged_mill(), DEMANDS, start_day=DAY).instruments)
    listed = ", ".join(f"{number} {said}" for said, number in sorted(wrong.items())) or "none"
    power = [100 * worn_found(SIZES[FaultKind.WORN_MIXER] * USUAL_CV, tests, usual_cv=USUAL_CV,
                              mean_count=100.0, samples=10, false_alarm=MIXER_CHANCE)
             for tests in (1, 3, 12)]  # fmt: skip
    head = (
        "| fault | months | found | median delay | nine in ten | dated within 1 | within 3 |",
        "|---|---|---|---|---|---|---|",
    )
    return "\n".join(
        [
            f"{len(kept):,} months:",
            "",
            *head,
            *(_line(kind, score) for kind, score in scores.items()),
            "",
            (
                f"False alarms: {sum(wrong.values()) / max(1, len(kept)):.2f} a month for the whole mill "
                f"of {count} instruments ({listed}); the goal is at most two."
            ),
            "",
            (
                "A worn mixer is found as often as its tests allow: of mixers that have become three "
                f"times as uneven, {power[0]:.0f} in 100 show in one test of ten samples of a hundred "
                f"particles, {power[1]:.0f} in three tests together, {power[2]:.0f} in twelve, by the "
                "chi-square of the counts; a month holds one to three tests after it wore."
            ),
        ]
    )


def write_docs() -> None:
    """Put the table into docs/watch.md between its two marks."""
    text = DOCS.read_text(encoding="utf-8")
    before, _, rest = text.partition(BEGIN)
    _, _, after = rest.partition(END)
    DOCS.write_text(f"{before}{BEGIN}\n\n{table(_kept())}\n\n{END}{after}", encoding="utf-8")


def _line(kind: str, score: Score) -> str:
    if not score.delay:
        return f"| {kind} | {score.months} | 0 % | | | | |"
    off = np.array(score.off)
    return (
        f"| {kind} | {score.months} | {100 * len(score.delay) / score.months:.0f} % "
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
    """Do what was asked for."""
    asked = sys.argv[1] if len(sys.argv) > 1 else ""
    if asked == "--docs":
        write_docs()
    elif asked == "--speed":
        five_years()
    else:
        run(int(asked or MONTHS))
        five_years()


if __name__ == "__main__":
    main()
