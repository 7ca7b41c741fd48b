"""Instruments held against witnesses: found, dated, sized, and quiet when all is well."""

import math

import numpy as np
import pytest

from bedstone.quality.sequential import likelihood_ratio, threshold
from bedstone.quality.watch import (
    Suspicion,
    Witness,
    beginnings,
    find,
    weighted_ratios,
)
from bedstone.quality.watch_draws import (
    doubled,
    draw_alarm,
    worn_at,
)
from bedstone.quality.watch_draws import stuck_since as dial_stuck_since
from bedstone.quality.watch_levels import (
    GAUGE,
    LevelSeen,
    Passed,
    beginnings_of,
    level_evidence,
    stuck_since,
)
from bedstone.quality.watch_samples import (
    DRIFT,
    STEP,
)
from bedstone.quality.whitening import needed, whiten

LIMIT = threshold(10_000)
SHIFT_S = 8 * 3600.0


def test_equal_weights_are_the_plain_likelihood_ratio() -> None:
    """With every weight one, the weighted test is the unweighted one to the last digit."""
    x = np.clip(np.random.default_rng(1).standard_normal(400), -3.5, 3.5)
    weighted, _ = weighted_ratios(x, np.ones(400))
    plain, _ = likelihood_ratio(x)
    assert weighted == pytest.approx(plain, abs=1e-12)


def test_whitened_readings_are_independent_and_of_spread_one() -> None:
    """Noise on a wandering level, as the filter is told of it, comes out white: mean square one,
    neighbours uncorrelated, within four standard errors.
    """
    dice = np.random.default_rng(2)
    count = 20_000
    walk = np.cumsum(3.0 * dice.standard_normal(count))
    values = walk + 5.0 * dice.standard_normal(count)
    residual, _ = whiten(
        values, np.zeros((count, 0)), noise_sd=np.full(count, 5.0), walk_sd=np.full(count, 3.0)
    )
    x = residual[1:]
    assert np.mean(x**2) == pytest.approx(1.0, abs=4 * math.sqrt(2 / count))
    assert abs(np.mean(x[1:] * x[:-1])) < 4 / math.sqrt(count)


def test_the_ratio_is_that_of_the_full_covariance() -> None:
    """The pooled ratio equals generalised least squares with the whole covariance matrix written
    out: the filter is only a quicker way to the same number.
    """
    dice = np.random.default_rng(3)
    count, noise, walk = 12, 4.0, 1.5
    shown = np.concatenate([np.zeros(5), np.arange(1.0, 8.0)])
    values = np.cumsum(walk * dice.standard_normal(count)) + noise * dice.standard_normal(count)
    residual, seen = whiten(
        values, shown[:, None], noise_sd=np.full(count, noise), walk_sd=np.full(count, walk)
    )
    there = ~np.isnan(residual)
    along, power = residual[there] @ seen[there, 0], seen[there, 0] @ seen[there, 0]
    steps = np.minimum.outer(np.arange(count), np.arange(count))
    covariance = noise**2 * np.eye(count) + walk**2 * steps
    inverse = np.linalg.inv(covariance)
    one = np.ones(count)
    away = inverse - np.outer(inverse @ one, inverse @ one) / (one @ inverse @ one)
    assert along == pytest.approx(shown @ away @ values, rel=1e-6)
    assert power == pytest.approx(shown @ away @ shown, rel=1e-6)


def a_tank(
    gain: float, *, since: int = 60, seed: int = 5, shifts: int = 120
) -> tuple[list[LevelSeen], list[Passed]]:
    """A tank read each shift (sd 50 kg), ten doses of 40 kg a shift over M1, one of 20 over M2."""
    dice = np.random.default_rng(seed)
    true_kg, levels, passed = 60_000.0, [], []
    for shift in range(shifts):
        for number in range(10):
            at = shift * SHIFT_S + number * 600.0
            factor = 1 + gain if shift >= since else 1.0
            true_kg -= 40.0 * factor + 0.2 * dice.standard_normal()
            passed.append(Passed(at, -40.0, 0.2, "M1"))
        passed.append(Passed(shift * SHIFT_S + 7_000.0, -20.0, 0.1, "M2"))
        true_kg -= 20.0
        at = (shift + 1) * SHIFT_S - 60.0
        levels.append(LevelSeen(at, true_kg + 50 * dice.standard_normal(), 50.0, is_gauge=True))
    return levels, passed


def evidence(
    levels: list[LevelSeen], passed: list[Passed], **proved: float
) -> tuple[tuple[Witness, ...], tuple[Suspicion, ...]]:
    """Witness and suspicions of the tank."""
    drawn = beginnings_of({"T": passed}, proved_at=proved, instruments=("M1", "M2"))
    begins = {(tool, kind): at for tool, at in drawn.items() for kind in (STEP, DRIFT)}
    begins["T", GAUGE] = np.array([row.at for row in levels])[1:]
    witnesses, shown = level_evidence({"T": levels}, {"T": passed}, begins)
    return witnesses, tuple(
        Suspicion(about=key[0], kind=key[1], begins_at=begins[key], shows=shows)
        for key, shows in shown.items()
    )


def named(levels: list[LevelSeen], passed: list[Passed], **proved: float) -> list[tuple[str, str]]:
    """What is found wrong with the tank's instruments."""
    witnesses, suspicions = evidence(levels, passed, **proved)
    return [
        (row.standing.about, row.standing.kind)
        for row in find(witnesses, suspicions, limit=LIMIT)[0]
    ]


def test_a_meter_is_found_by_its_tank_alone() -> None:
    """A gain of 5 % on one of two meters of a tank: that meter, a step, size and beginning within
    their own errors.
    """
    levels, passed = a_tank(0.05)
    witnesses, suspicions = evidence(levels, passed)
    (found,), _ = find(witnesses, suspicions, limit=LIMIT)
    assert (found.standing.about, found.standing.kind) == ("M1", "gain step")
    assert abs(found.standing.size - 0.05) < 4 * found.standing.size_sd
    assert found.begins_lo_at <= 60 * SHIFT_S <= found.begins_hi_at
    assert found.alarm_at is not None
    assert found.alarm_at > 60 * SHIFT_S


def test_a_gauge_that_jumps_is_the_gauge() -> None:
    """A level that stays 400 kg too high from one reading on is the gauge, not a meter."""
    levels, passed = a_tank(0.0)
    jumped = [
        LevelSeen(row.at, row.mass_kg + 400.0 * (number >= 70), row.sd_kg, row.is_gauge)
        for number, row in enumerate(levels)
    ]
    assert named(jumped, passed) == [("T", "gauge shift")]


def test_all_is_well_and_one_wild_reading_is_a_slip() -> None:
    """A sound tank names nothing, with a reading three tonnes off in the middle neither."""
    levels, passed = a_tank(0.0)
    assert named(levels, passed) == []
    wild = list(levels)
    wild[50] = LevelSeen(wild[50].at, wild[50].mass_kg + 3_000, 50.0, is_gauge=True)
    assert named(wild, passed) == []
    wild[-1] = LevelSeen(wild[-1].at, wild[-1].mass_kg + 3_000, 50.0, is_gauge=True)
    assert named(wild, passed) == []


def test_missing_readings_delay_but_do_not_hide() -> None:
    """With two of three readings missing the meter is still the one that is named."""
    levels, passed = a_tank(0.05)
    assert named(levels[::3], passed) == [("M1", "gain step")]


def test_a_fault_began_after_the_last_proof() -> None:
    """With a proof after the true beginning, no beginning before the proof is offered."""
    levels, passed = a_tank(0.05)
    proved = 80 * SHIFT_S
    _, suspicions = evidence(levels, passed, M1=proved)
    (mine,) = [row for row in suspicions if (row.about, row.kind) == ("M1", "gain step")]
    assert mine.begins_at.min() > proved


def test_quiet_tanks_raise_few_alarms() -> None:
    """Sixty sound tanks of forty days: at the limit of one in 10,000 at most three are named."""
    wrong = sum(bool(named(*a_tank(0.0, seed=100 + seed))) for seed in range(60))
    assert wrong <= 3


def test_two_witnesses_know_more_than_one() -> None:
    """Two series that show the same step add their ratios and pin its size down by root two."""
    dice = np.random.default_rng(8)
    at = np.arange(60.0)
    shows = beginnings(at, at, np.ones(60))
    series = [Witness(name=name, known_at=at, residual=dice.standard_normal(60) + 2.0 * (at >= 40))
              for name in ("a", "b")]  # fmt: skip

    def standing(names: tuple[str, ...]) -> float:
        suspicion = Suspicion(about="x", kind="gain step", begins_at=at,
                              shows=dict.fromkeys(names, shows))  # fmt: skip
        (found,), _ = find(series, [suspicion], limit=LIMIT)
        assert abs(found.begins_at - 40) <= 2
        return found.standing.size_sd

    assert standing(("a", "b")) == pytest.approx(standing(("a",)) / math.sqrt(2), rel=0.1)


def test_a_two_per_cent_step_with_load_cells_is_quick() -> None:
    """Load cells with 0.5 % noise on each draw: a step of 2 % is found in three draws (median) and
    dated within one in four of five, over 200 seeds.
    """
    delays, offs = [], []
    limit = threshold(60_000)
    for seed in range(200):
        dice = np.random.default_rng(seed)
        read = np.full(120, 100.0)
        true = read * np.where(np.arange(120) >= 80, 1.02, 1.0)
        seen = true * (1 + 0.005 * dice.standard_normal(120))
        alarm = draw_alarm(read, seen, 0.005 * read, limit=limit)
        assert alarm is not None
        if alarm.at >= 80:
            delays.append(alarm.at - 79)
            offs.append(abs(alarm.first - 80))
    assert len(delays) >= 195
    assert np.median(delays) <= 3
    assert np.mean(np.array(offs) <= 1) >= 0.8


def test_a_zero_shift_is_told_from_a_gain() -> None:
    """Four kilograms more with each draw, large or small, is a zero shift of that size."""
    dice = np.random.default_rng(4)
    read = np.where(np.arange(200) % 2, 50.0, 800.0)
    seen = read + 4.0 * (np.arange(200) >= 100) + dice.standard_normal(200)
    alarm = draw_alarm(read, seen, np.ones(200), limit=LIMIT)
    assert alarm is not None
    assert alarm.kind == "zero shift"
    assert alarm.size == pytest.approx(4.0, abs=4 * alarm.size_sd)


def test_a_micro_added_twice_is_one_draw() -> None:
    """The one draw of which the cells saw twice the mass is named, its neighbours are not."""
    read = np.full(20, 3.0)
    seen = read.copy()
    seen[7] = 6.02
    assert doubled(read, seen, np.full(20, 0.02)).tolist() == [7]


def test_a_stuck_dial_and_a_stuck_gauge() -> None:
    """Four equal readings of what should tremble; of a gauge only if mass passed meanwhile."""
    trembles = [1.0, 1.1, 0.9, 1.3, 1.05, 0.95, 1.15]
    assert dial_stuck_since(np.array([*trembles, 1.2, 1.2, np.nan, 1.2, 1.2, 1.2, 1.2])) == 7
    assert dial_stuck_since(np.array([*trembles, 1.2, 1.2, 1.2])) is None
    levels = [LevelSeen(float(i), 500.0, 5.0, is_gauge=True) for i in range(6)]
    moved = [Passed(2.5, -100.0, 0.1, "M1")]
    assert stuck_since(levels, moved) == 0.0
    assert stuck_since(levels, []) is None


def test_a_worn_mixer_shows_in_its_counts() -> None:
    """Counts spread three times as wide as Poisson and the usual unevenness allow."""
    dice = np.random.default_rng(6)
    even = dice.poisson(100 * (1 + 0.035 * dice.standard_normal((4, 10)))).astype(float)
    worn = dice.poisson(100 * np.maximum(0, 1 + 0.2 * dice.standard_normal((3, 10)))).astype(float)
    assert worn_at(even, usual_cv=0.035, false_alarm=1e-3) is None
    found = worn_at(np.concatenate([even, worn]), usual_cv=0.035, false_alarm=1e-3)
    assert found is not None
    assert found[1] >= 4


def test_the_arithmetic_of_a_tank() -> None:
    """The readings asked for by the arithmetic are those a noiseless drawdown takes to reach the
    limit, fewer for larger steps, and none suffice for a step too small.
    """

    def count(size: float) -> int | None:
        return needed(size, flow_kg=400.0, noise_sd_kg=50.0, walk_sd_kg=1.0, limit=8.0)

    large, small = count(0.10), count(0.02)
    assert large is not None
    assert small is not None
    assert large < small
    assert count(1e-7) is None
