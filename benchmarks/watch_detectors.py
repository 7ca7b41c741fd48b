"""What names an instrument from a month of readings alone, for bench_watch.py."""

import datetime as dt
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bedstone.demo.month_plan import DIALS, MonthPlan, month_plan
from bedstone.demo.quillback.demand import DEMANDS
from bedstone.demo.quillback.packaged import packaged_mill
from bedstone.demo.signals import Month
from bedstone.quality.watch import Found, Suspicion, find
from bedstone.quality.watch_draws import doubled, draw_alarm, stuck_since, worn_at
from bedstone.quality.watch_levels import LevelSeen, Passed, beginnings_of, level_evidence
from bedstone.quality.watch_samples import STEP

Floats = npt.NDArray[np.float64]
DAY = dt.date(2026, 11, 26)
CELLS_SD_FRAC = 0.005
CHECK_SD_KG = 0.0251  # of the mean of four bags weighed again
USUAL_CV = 0.035
MIXER_CHANCE = 0.03


@dataclass(frozen=True, slots=True)
class Named:
    """What a detector says: what is wrong, when it said so, since when."""

    about: str
    alarm_at: float
    begins_at: float
    said: str


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


def first_stuck(values: Floats) -> tuple[int, int] | None:
    """The first reading at which a dial counts as stuck, and since which it then has been."""
    there = np.flatnonzero(~np.isnan(values))
    x = values[there]
    for n in np.flatnonzero(x[1:] == x[:-1]) + 1:  # only what repeats can make it count
        since = stuck_since(values[: there[n] + 1])
        if since is not None:
            return int(there[n]), since
    return None


def _levels(held: Plan, month: Month, limit: float) -> list[Named]:
    plan, found = held.plan, []
    levels, passed = {}, {}
    for number, place in enumerate(plan.places):
        column, sd = month.level_read_kg[:, number], float(month.level_sd_kg[number])
        stuck = first_stuck(column)
        if stuck is not None:
            at, first = stuck
            found.append(Named(place, plan.level_at[at], plan.level_at[first], "stuck reading"))
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
    for row in found_by_levels(levels, passed, limit, held.drawn_from):
        kind = "wrong bin opened" if abs(row.standing.size + 1) < 0.4 else "level against books"
        found.append(Named(row.standing.about, row.alarm_at or np.inf, row.begins_at, kind))
    return found


def found_by_levels(
    levels: dict[str, list[LevelSeen]],
    passed: dict[str, list[Passed]],
    limit: float,
    instruments: list[str],
) -> tuple[Found, ...]:
    """What levels say of what was drawn: a part more since a draw."""
    drawn = beginnings_of(passed, proved_at={}, instruments=instruments)
    begins = {(tool, STEP): at for tool, at in drawn.items()}
    witnesses, shown = level_evidence(levels, passed, begins)
    suspicions = [
        Suspicion(about=key[0], kind=key[1], begins_at=begins[key], shows=shows)
        for key, shows in shown.items()
    ]
    return find(witnesses, suspicions, limit=limit)[0]


def _dials(held: Plan, month: Month) -> list[Named]:
    plan, found = held.plan, []
    for number, line in enumerate(plan.lines):
        mine = np.flatnonzero(plan.batch_line == number)
        for column, dial in enumerate(DIALS):
            stuck = first_stuck(month.dial_read[mine, column])
            if stuck is not None:
                when, since = (plan.batch_at[mine[at]] for at in stuck)
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
        worn = worn_at(list(month.mixer_seen[mine]), usual_cv=USUAL_CV, false_alarm=MIXER_CHANCE)
        if worn is not None:
            when, since = (plan.test_at[mine[i]] for i in worn)
            found.append(Named(mixer, when, since, "worn mixer"))
    return found
