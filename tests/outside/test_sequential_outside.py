"""Sequential tests against published examples, published run lengths, and simulation."""

import math

import numpy as np
import pytest

from bedstone.quality.charts import cusum, cusum_run_length, ewma
from bedstone.quality.sequential import (
    discoveries,
    held,
    likelihood_ratio,
    onset,
    threshold,
    unlikely,
)

NIST_EWMA = (
    52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5,
    49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1,
)  # fmt: skip
NIST_AVERAGES = (
    50.00, 50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33,
    50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
)  # fmt: skip


def test_nist_moving_average_and_its_limits() -> None:
    """NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4: 20 values, weight 0.3, mean 50,
    sd 2.0539, limits 50 plus or minus 0.4201 x 3 x 2.0539 in the long run: 52.5884 and 47.4115.
    """
    found = ewma((np.array(NIST_EWMA) - 50) / 2.0539, 0.3, 3.0)
    averages = 50 + 2.0539 * found.value
    assert averages == pytest.approx(np.array(NIST_AVERAGES[1:]), abs=0.0051)
    assert 50 + 2.0539 * found.limit[-1] == pytest.approx(52.5884, abs=2e-3)
    assert found.alarm == -1


def test_the_worked_tabular_cusum() -> None:
    """D. C. Montgomery, G. C. Runger, Applied Statistics and Probability for Engineers, example
    16-6: target 99, K = 1, H = 10; all forty sums as printed, and no alarm.
    """
    x = np.array(
        [102.0, 94.8, 98.3, 98.4, 102.0, 98.5, 99.0, 97.7, 100.0, 98.1,
         101.3, 98.7, 101.1, 98.4, 97.0, 96.7, 100.3, 101.4, 97.2, 101.0]
    )  # fmt: skip
    upper = [2.0, 0, 0, 0, 2.0, 0.5, 0, 0, 0, 0, 1.3, 0, 1.1, 0, 0, 0, 0.3, 1.7, 0, 1.0]
    lower = [0, 3.2, 2.9, 2.5, 0, 0, 0, 0.3, 0, 0, 0, 0, 0, 0, 1.0, 2.3, 0, 0, 0.8, 0]
    found = cusum(x - 99, 1.0, 10.0)
    assert found.upper == pytest.approx(np.array(upper), abs=1e-9)
    assert found.lower == pytest.approx(np.array(lower), abs=1e-9)
    assert found.alarm == -1


@pytest.mark.parametrize(
    ("shift", "limit", "published"),
    [(0.0, 4.0, 168), (0.0, 5.0, 465), (0.5, 4.0, 26.6), (1.0, 4.0, 8.38), (1.0, 5.0, 10.4)],
)
def test_run_lengths_of_the_tabular_cusum(shift: float, limit: float, published: float) -> None:
    """Average run lengths at slack 0.5 (Montgomery, Introduction to Statistical Quality Control,
    table of the tabular CUSUM, from memory): Siegmund's form within 2 %, and simulation within 6 %.
    """
    assert cusum_run_length(shift, 0.5, limit) == pytest.approx(published, rel=0.02)
    draw = np.random.default_rng(5)
    lengths = []
    for _ in range(1_500):
        alarm = -1
        block = draw.normal(shift, 1.0, 4_000)
        alarm = cusum(block, 0.5, limit).alarm
        lengths.append(alarm + 1 if alarm >= 0 else 4_000)
    assert np.mean(lengths) == pytest.approx(published, rel=0.08)


@pytest.mark.parametrize("every", [200.0, 2_000.0, 12_000.0])
def test_false_alarms_of_the_likelihood_ratio_come_as_seldom_as_said(every: float) -> None:
    """A second simulation with other seeds gives a run length within 25 % of what was asked."""
    limit = threshold(every)
    draw = np.random.default_rng(99)
    alarms = whole = 0
    while alarms < 150:
        start, x = 0, held(draw.normal(size=int(4 * every)))
        while True:
            part = x[start : start + int(2 * every)]
            over = np.flatnonzero(likelihood_ratio(part)[0] > limit)
            if over.size == 0:
                whole += part.size
                break
            alarms += 1
            whole += int(over[0]) + 1
            start += int(over[0]) + 1
    assert whole / alarms == pytest.approx(every, rel=0.25)


def test_a_step_of_four_deviations_is_found_in_three_and_dated_within_one() -> None:
    """A 2 % step seen through 0.5 % of noise at one false alarm in 12,000: median of at most 3
    readings, and dated within one reading in at least 80 of 100 cases when three more are in.
    """
    limit = threshold(12_000)
    draw = np.random.default_rng(2)
    delays, dated = [], 0
    for _ in range(400):
        x = held(np.concatenate([draw.normal(size=150), 4 + draw.normal(size=30)]))
        ratios, _ = likelihood_ratio(x)
        alarm = int(np.flatnonzero(ratios[150:] > limit)[0]) + 150
        delays.append(alarm - 149)
        found = onset(x[: alarm + 1])
        assert found is not None
        dated += abs(found.first - 150) <= 1
    assert np.median(delays) <= 3
    assert dated / 400 >= 0.8


def test_the_interval_of_the_beginning_holds_it() -> None:
    """For steps of 1 to 3 deviations at least 90 of 100 intervals hold the true beginning."""
    draw = np.random.default_rng(3)
    inside = 0
    for _ in range(300):
        size = float(draw.uniform(1, 3))
        found = onset(np.concatenate([draw.normal(size=60), size + draw.normal(size=20)]))
        assert found is not None
        inside += found.first_lo <= 60 <= found.first_hi
    assert inside / 300 >= 0.9


def test_one_wild_reading_is_no_alarm() -> None:
    """Ten deviations once, in a series otherwise quiet: no alarm in 95 of 100 (it takes a second)."""
    limit = threshold(12_000)
    draw = np.random.default_rng(4)
    alarms = 0
    for _ in range(200):
        x = draw.normal(size=60)
        x[40] = 10.0
        alarms += bool((likelihood_ratio(held(x))[0] > limit).any())
    assert alarms <= 10


def test_missing_readings_are_passed_over() -> None:
    """A series with holes gives the ratios of the same series without them."""
    draw = np.random.default_rng(6)
    x = np.concatenate([draw.normal(size=40), 2 + draw.normal(size=20)])
    holes = np.full(120, np.nan)
    holes[::2] = x
    plain, _ = likelihood_ratio(x, 50)
    spread, _ = likelihood_ratio(holes, 100)
    assert spread[::2] == pytest.approx(plain, abs=1e-12)


def test_a_drift_is_told_from_a_step() -> None:
    """A slow climb to 4 deviations over 40 readings is called a drift, with its end height."""
    draw = np.random.default_rng(8)
    told = 0
    for _ in range(50):
        x = draw.normal(size=80)
        x[40:] += np.linspace(0.1, 4.0, 40)
        found = onset(x)
        assert found is not None
        told += found.is_drift
        if found.is_drift:
            assert found.size_sds == pytest.approx(4.0, abs=1.6)
    assert told >= 45


def test_false_discoveries_among_many_channels_stay_rare() -> None:
    """SciPy's own Benjamini-Hochberg adjustment names the same channels."""
    from scipy.stats import false_discovery_control

    draw = np.random.default_rng(9)
    for _ in range(50):
        p = np.concatenate([draw.uniform(size=35), draw.uniform(size=5) * 1e-3])
        assert list(discoveries(p, 0.05)) == list(false_discovery_control(p) <= 0.05)
    assert discoveries(np.zeros(0)).size == 0


def test_how_unlikely_a_ratio_is_agrees_with_the_threshold() -> None:
    """At the limit of one in 10,000, a series of 1,000 shows it in about a tenth of cases."""
    assert unlikely(threshold(10_000.0), 1_000) == pytest.approx(1 - math.exp(-0.1), rel=0.1)
    assert unlikely(0.5, 100) == 1.0
