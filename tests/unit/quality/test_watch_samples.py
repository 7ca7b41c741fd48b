"""Results that come seldom and err together; dials that stick; what tests of a mixer can show."""

import numpy as np
import pytest

from bedstone.quality.sequential import threshold
from bedstone.quality.watch import Suspicion, find
from bedstone.quality.watch_draws import stuck_since as dial_stuck_since
from bedstone.quality.watch_draws import worn_at, worn_found, worn_smallest
from bedstone.quality.watch_levels import LevelSeen, Passed, level_evidence, wrong_bins
from bedstone.quality.watch_samples import STEP, Sampled, Weights, sampled_evidence, together

LIMIT = threshold(10_000)


def test_a_dial_is_stuck_only_if_chance_would_not_show_it() -> None:
    """Five equal readings at the end of a fine dial are stuck; of a dial so coarse that half of its
    neighbours are equal, they are not, but fifteen are.
    """
    dice = np.random.default_rng(11)
    fine = np.concatenate([np.round(dice.normal(80, 0.7, 60), 1), np.full(5, 79.9)])
    first = dial_stuck_since(fine)
    assert first is not None
    assert first in {59, 60}
    coarse = np.round(dice.normal(0.5, 0.5, 60))
    assert dial_stuck_since(np.concatenate([coarse, np.full(5, 3.0)])) is None
    assert dial_stuck_since(np.concatenate([coarse, np.full(20, 3.0)])) == 60


def test_what_tests_of_a_mixer_can_show_is_what_they_do_show() -> None:
    """Of a thousand mixers of 15 %, as many are called by one test as the arithmetic says, and the
    smallest unevenness is the one that it gives nine in ten.
    """
    more = {"usual_cv": 0.05, "mean_count": 100.0, "samples": 10, "false_alarm": 0.01}
    dice = np.random.default_rng(12)
    found = 0
    for _ in range(1_000):
        mean = 100 * np.maximum(0, 1 + 0.15 * dice.standard_normal(10))
        counts = np.maximum(0, mean + np.sqrt(mean) * dice.standard_normal(10))
        found += worn_at([counts], usual_cv=0.05, false_alarm=0.01) is not None
    assert found / 1_000 == pytest.approx(worn_found(0.15, 1, **more), abs=0.06)  # type: ignore[arg-type]
    smallest = worn_smallest(4, **more)  # type: ignore[arg-type]
    assert worn_found(smallest, 4, **more) == pytest.approx(0.9, abs=1e-6)  # type: ignore[arg-type]


def some_results(step: float, seed: int) -> Sampled:
    """Sixty results that share an offset and a wander, the last twenty off by a step."""
    at = np.arange(60) * 86_400.0 / 2
    covariance = together(at, own_sd=np.full(60, 1.0), wander_sd=0.5, days=3.0, offset_sd=5.0)
    off = np.random.default_rng(seed).multivariate_normal(np.zeros(60), covariance)
    off[40:] += step
    weights = Weights(at, np.arange(60), np.ones(60))
    return Sampled(
        name="laboratory", known_at=at, off=off, covariance=covariance,
        parts={("M1", STEP): weights},
    )  # fmt: skip


def test_results_that_err_together_become_independent() -> None:
    """Over two hundred series of results with shared errors, residuals have mean square one and
    uncorrelated neighbours; the ratio of a suspicion is that of generalised least squares.
    """
    at = np.arange(60) * 86_400.0 / 2
    begins = {("M1", STEP): at[10:50]}
    squares, pairs = [], []
    for seed in range(200):
        sampled = some_results(0.0, seed)
        witness, shows = sampled_evidence(sampled, begins)
        squares.append(np.mean(witness.residual**2))
        pairs.append(np.mean(witness.residual[1:] * witness.residual[:-1]))
        if seed == 0:
            inverse = np.linalg.inv(sampled.covariance)
            step = (at >= at[30]).astype(float)
            seen = shows["M1", STEP][:, 20]
            assert witness.residual @ seen == pytest.approx(step @ inverse @ sampled.off)
            assert seen @ seen == pytest.approx(step @ inverse @ step)
    assert np.mean(squares) == pytest.approx(1.0, abs=0.06)
    assert abs(np.mean(pairs)) < 0.04


def test_results_find_a_step_though_they_share_an_offset() -> None:
    """A step of four deviations in twenty results is found and dated within two."""
    at = np.arange(60) * 86_400.0 / 2
    witness, shows = sampled_evidence(some_results(4.0, 3), {("M1", STEP): at})
    suspicion = Suspicion(
        about="M1", kind=STEP, begins_at=at, shows={"laboratory": shows["M1", STEP]}
    )
    (found,), _ = find([witness], [suspicion], limit=LIMIT)
    assert abs(found.begins_at - at[40]) <= 2 * (at[1] - at[0])
    assert found.standing.size == pytest.approx(4.0, abs=4 * found.standing.size_sd)


def test_the_wrong_bin_is_named_with_the_one_that_was_opened() -> None:
    """Of three bins on a scale, what is booked out of the first comes out of the third from day ten
    on: that pair is named, though levels are read once a day with 200 kg of error.
    """
    dice = np.random.default_rng(21)
    true = dict.fromkeys("ABC", 60_000.0)
    levels: dict[str, list[LevelSeen]] = {name: [] for name in true}
    passed: dict[str, list[Passed]] = {name: [] for name in true}
    for day in range(20):
        for name in true:
            really = "C" if name == "A" and day >= 10 else name
            true[really] -= 700.0
            passed[name].append(Passed(day * 86_400.0, -700.0, 1.0, "S1"))
        for name, kg in true.items():
            read_kg = kg + 200 * dice.standard_normal()
            levels[name].append(LevelSeen(day * 86_400.0 + 60, read_kg, 200.0, is_gauge=False))
    witnesses, _ = level_evidence(levels, passed, {})
    (found,), _ = find(witnesses, wrong_bins(levels, passed), limit=LIMIT)
    assert (found.standing.about, found.standing.other) == ("A", "C")
    assert found.begins_lo_at <= 10 * 86_400.0 <= found.begins_hi_at


def test_late_results_count_when_they_are_known() -> None:
    """The same results known a week later raise the alarm a week later, and date it the same."""
    at = np.arange(60) * 86_400.0 / 2
    sampled = some_results(4.0, 3)
    found = []
    for late in (0.0, 7 * 86_400.0):
        known = Sampled(
            name=sampled.name, known_at=sampled.known_at + late, off=sampled.off,
            covariance=sampled.covariance, parts=sampled.parts,
        )  # fmt: skip
        witness, shows = sampled_evidence(known, {("M1", STEP): at})
        suspicion = Suspicion(
            about="M1", kind=STEP, begins_at=at, shows={"laboratory": shows["M1", STEP]}
        )
        found.append(find([witness], [suspicion], limit=LIMIT)[0][0])
    assert found[0].begins_at == found[1].begins_at
    assert found[0].alarm_at is not None
    assert found[1].alarm_at == pytest.approx(found[0].alarm_at + 7 * 86_400.0)
