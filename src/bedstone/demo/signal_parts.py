"""Parts of a simulated month: when faults act, analyses, dials of pellet lines, bags, mixer tests."""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from bedstone.demo.faults import Fault, FaultKind, Faults
from bedstone.demo.month_plan import DIALS, Floats, Ints, MonthPlan
from bedstone.demo.past.watch import MIXER_CV, SAMPLES, TRACER_COUNT
from bedstone.mill.model import Mill

__all__ = [
    "bags",
    "compositions",
    "dials",
    "errors_of",
    "gains",
    "mixer_counts",
    "stay_stuck",
    "sums",
    "when",
]

Bools = NDArray[np.bool_]
DAY_S = 86_400.0
MOISTURE = "moisture"
MOISTURE_SD_FRAC, UNKNOWN_SD_FRAC = 0.045, 0.06
STEAM_FRAC_DK, WATER_FRAC_DK, DIE_DK = 0.0008, 0.00062, 6.0
"""Steam for a degree: 97.2 F to 190 F raised moisture by 4.2 points (published experiment)."""
COND_C, COND_SD_C = 79.0, 1.2
FULL_A, AMPS_SD_FRAC = 240.0, 0.02
USUAL_FAT_PCT = 3.0
DIAL_SD = (0.7, 5.0, 0.8, 0.5, 0.0015)
BAG_KG, BAG_SD_FRAC, BAG_MORE_FRAC, CHECKED, CHECK_SD_KG = 22.6796185, 0.0022, 0.0016, 4, 0.004
BAGS_A_BATCH = 80


def when(plan: MonthPlan, fault: Fault, at: Floats) -> Bools:
    """True for each moment at which a fault is there."""
    on = at >= (fault.begins_at - plan.start_at).total_seconds()
    if fault.ends_at is not None:
        on &= at < (fault.ends_at - plan.start_at).total_seconds()
    return on


def gains(plan: MonthPlan, faults: Faults, instrument: Ints, at: Floats) -> tuple[Floats, Floats]:
    """What truly flows as a part of what is read, and what flows beside it, for each reading."""
    gain, zero = np.ones(at.size), np.zeros(at.size)
    for fault in faults.rows:
        if fault.where not in plan.instruments:
            continue
        on = (instrument == plan.instruments.index(fault.where)) & when(plan, fault, at)
        if fault.kind is FaultKind.GAIN_STEP:
            gain[on] *= 1 + fault.size
        elif fault.kind is FaultKind.SLOW_DRIFT:
            begins_s = (fault.begins_at - plan.start_at).total_seconds()
            gain[on] *= 1 + fault.size * (at[on] - begins_s) / DAY_S
        elif fault.kind is FaultKind.ZERO_SHIFT:
            zero[on] += fault.size
    return gain, zero


def sums(index: Ints, values: Floats, count: int) -> Floats:
    """The sum of the values of each index from nought on."""
    found: Floats = np.bincount(index, values, count).astype(float)
    return found


def stay_stuck(readings: Floats, on: Bools) -> None:
    """Let readings stay, while a fault is on, what the last one before it was; in place."""
    first = int(np.argmax(on)) if on.any() else 0
    if on.any():
        readings[on] = readings[max(0, first - 1)]


def errors_of(plan: MonthPlan) -> tuple[Floats, Floats, Floats]:
    """Division, standard deviation and whether it is a part of the draw, of scales and meters."""
    scales = {row.scale: row for row in plan.mill.scales}
    meters = {row.meter: row for row in plan.mill.meters}
    rows = []
    for code in plan.instruments[: len(scales) + len(meters)]:
        if code in meters:
            rows.append((meters[code].division_kg, meters[code].sd_frac, 1.0))
        else:
            tool = scales[code]
            sd_kg = tool.division_kg / 2 if tool.sd_kg is None else tool.sd_kg
            rows.append((tool.division_kg, sd_kg, 0.0))
    table = np.array(rows)
    return table[:, 0], table[:, 1], table[:, 2]


def compositions(
    plan: MonthPlan,
    nutrients: Sequence[str],
    draw_at: Floats,
    place: Ints,
    rng: np.random.Generator,
) -> Floats:
    """True analysis of what each draw took, shape (draws, nutrients): that of the last load. [%]"""
    mean, sd = _usual(plan.mill, plan.materials, tuple(nutrients))
    load_off = rng.standard_normal((plan.load_at.size, len(nutrients)))
    first_off = rng.standard_normal((len(plan.places), len(nutrients)))
    floor_off = rng.standard_normal((len(plan.materials), len(nutrients)))
    material = plan.draw_material.copy()
    off = floor_off[material]
    for number in range(len(plan.places)):
        mine = np.flatnonzero(place == number)
        if not mine.size:
            continue
        material[mine] = plan.place_material[number]
        loads = np.flatnonzero(plan.load_place == number)
        lots = np.vstack([first_off[number : number + 1], load_off[loads]])
        off[mine] = lots[np.searchsorted(plan.load_at[loads], draw_at[mine], side="right")]
    return np.maximum(0.0, mean[material] + sd[material] * off)


def _usual(
    mill: Mill, materials: tuple[str, ...], nutrients: tuple[str, ...]
) -> tuple[Floats, Floats]:
    """Usual analysis of each material and the spread between lots, shape (materials, nutrients)."""
    table = {
        (row.ingredient, row.nutrient): (
            row.mean,
            UNKNOWN_SD_FRAC * row.mean if row.sd is None else row.sd,
        )
        for row in mill.composition
    }
    for row in mill.ingredients:
        pct = 100 * row.moisture_wb
        table.setdefault((row.ingredient, MOISTURE), (pct, MOISTURE_SD_FRAC * pct))

    def of(material: str, nutrient: str) -> tuple[float, float]:
        formula = mill.running_formula(material)
        if formula is None:
            return table.get((material, nutrient), (0.0, 0.0))
        lines = mill.lines_of(material, formula.version)
        parts = [(line.parts_frac, *of(line.ingredient, nutrient)) for line in lines]
        mean = sum(part * value for part, value, _ in parts)
        return mean, math.sqrt(sum((part * spread) ** 2 for part, _, spread in parts))

    both = np.array([[of(code, name) for name in nutrients] for code in materials])
    return both[:, :, 0], both[:, :, 1]


def _air_c(plan: MonthPlan, at: Floats, rng: np.random.Generator) -> Floats:
    """Outside air: days that wander, warmer in the afternoon. [C]"""
    days = 8.0 + np.cumsum(1.5 * rng.standard_normal(plan.days + 2))
    number = (at // DAY_S).astype(np.int64)
    air_c: Floats = days[number] - 6 * np.cos(2 * np.pi * (at / DAY_S - 4 / 24))
    return air_c


def dials(
    plan: MonthPlan, faults: Faults, batch_pct: Floats, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    """Dials of the pellet lines as read and the truth, shape (batches, dials); NaN for mash.

    The operator holds the conditioner to its dial, so that a dial that reads too low means hotter
    mash; the other dials only show.
    """
    at, count = plan.batch_at, plan.batch_at.size
    noise = rng.standard_normal((4, count))
    off = np.stack([_off(plan, faults, dial) for dial in DIALS], axis=1)
    fan = _fan_frac(plan, faults)
    air_c = _air_c(plan, at, rng)
    cond_c = COND_C + COND_SD_C * noise[0] + off[:, 0]
    outlet_c = air_c + (6.0 + 0.6 * noise[1]) / fan**1.5
    amps = FULL_A * (1 - 0.006 * (cond_c - COND_C)) * (1 + AMPS_SD_FRAC * noise[2])
    amps *= 1 - 0.02 * (batch_pct[:, 0] - USUAL_FAT_PCT)
    gained = STEAM_FRAC_DK * (cond_c - 9.0 - 0.55 * air_c)
    lost = WATER_FRAC_DK * (cond_c + DIE_DK - outlet_c) * (0.6 + 0.4 * fan)
    damp = (batch_pct[:, -1] / 100 + gained - lost) / (1 + gained - lost)
    true = np.stack([cond_c, amps, air_c + 0.42 * (cond_c - air_c), outlet_c, damp], axis=1)
    true[plan.batch_line < 0] = np.nan
    read = true - off + np.array(DIAL_SD) * rng.standard_normal(true.shape)
    for fault in faults.rows:
        if fault.kind is FaultKind.STUCK and fault.where in plan.instruments:
            _stick(plan, fault, read)
    return read, true


def _stick(plan: MonthPlan, fault: Fault, read: Floats) -> None:
    line, _, dial = fault.where.partition(" ")
    if line in plan.lines and dial in DIALS:
        mine = np.flatnonzero(plan.batch_line == plan.lines.index(line))
        column = read[mine, DIALS.index(dial)]
        stay_stuck(column, when(plan, fault, plan.batch_at[mine]))
        read[mine, DIALS.index(dial)] = column


def _off(plan: MonthPlan, faults: Faults, dial: str) -> Floats:
    """How much more is true than a dial shows, for each batch."""
    off = np.zeros(plan.batch_at.size)
    for number, line in enumerate(plan.lines):
        mine = plan.batch_line == number
        instrument = np.full(plan.batch_at.size, plan.instruments.index(f"{line} {dial}"))
        _, zero = gains(plan, faults, instrument, plan.batch_at)
        off[mine] = zero[mine]
    return off


def _fan_frac(plan: MonthPlan, faults: Faults) -> Floats:
    """The part of its air that each batch's cooler got."""
    part = np.ones(plan.batch_at.size)
    for fault in faults.rows:
        if fault.kind is FaultKind.WEAK_FAN and fault.where in plan.lines:
            mine = plan.batch_line == plan.lines.index(fault.where)
            part[mine & when(plan, fault, plan.batch_at)] *= 1 - fault.size
    return part


def bags(
    plan: MonthPlan, faults: Faults, rng: np.random.Generator
) -> tuple[Floats, Floats, Floats]:
    """Mean bag of each batch by the bagging scale, truly, and by a few weighed again. [kg]"""
    count = plan.batch_at.size
    noise = rng.standard_normal((3, count))
    more = BAG_KG * (1 + BAG_MORE_FRAC)
    read = more + BAG_KG * BAG_SD_FRAC / math.sqrt(BAGS_A_BATCH) * noise[0]
    true = read.copy()
    for number, packer in enumerate(plan.packers):
        mine = plan.batch_pack == number
        instrument = np.full(count, plan.instruments.index(f"{packer} bag mass"))
        gain, zero = gains(plan, faults, instrument, plan.batch_at)
        true[mine] = (read * gain + zero)[mine]
    spread = math.hypot(BAG_KG * BAG_SD_FRAC, CHECK_SD_KG) / math.sqrt(CHECKED)
    checked = true + spread * noise[1]
    loose = plan.batch_pack < 0
    for column in (read, true, checked):
        column[loose] = np.nan
    return read, true, checked


def mixer_counts(plan: MonthPlan, faults: Faults, rng: np.random.Generator) -> Floats:
    """Particles in each sample of each mixer test, shape (tests, samples)."""
    uneven = np.full(plan.test_at.size, MIXER_CV)
    for fault in faults.rows:
        if fault.kind is FaultKind.WORN_MIXER and fault.where in plan.mixers:
            mine = plan.test_mixer == plan.mixers.index(fault.where)
            uneven[mine & when(plan, fault, plan.test_at)] *= fault.size
    shape = plan.test_at.size, SAMPLES
    mean = TRACER_COUNT * np.maximum(0.0, 1 + uneven[:, None] * rng.standard_normal(shape))
    seen: Floats = rng.poisson(mean).astype(float)
    return seen
