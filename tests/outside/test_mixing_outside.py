"""Mixer tests, liquids and tanks against published data sets, closed forms and simulation."""

import math

import numpy as np
import pytest
from scipy.integrate import quad

from bedstone.batching.liquids import (
    Tank,
    catch_test,
    density_kg_m3,
    pumpable_from_c,
    viscosity_pa_s,
)
from bedstone.batching.mixer_test import mixing_time_s, samples_to_prove, uniformity


@pytest.mark.parametrize(
    ("values", "mean", "sd", "cv_pct"),
    [
        ((15.5, 15.4, 15.0, 15.2, 15.6, 15.3), 15.3, 0.22, 1.4),
        ((4.25, 4.37, 3.41, 4.33, 3.81, 4.33), 4.08, 0.39, 9.6),
        ((2.81, 2.60, 3.02, 2.70, 2.74, 2.54), 2.74, 0.17, 6.2),
        ((0.81, 0.75, 0.61, 0.76, 0.68, 0.80), 0.74, 0.077, 10.4),
        ((56.8, 57, 46, 57, 50, 62.1), 54.8, 5.8, 10.6),
        ((380, 323, 391, 459, 336, 399), 381, 48.8, 12.8),
    ],
    ids=["protein", "calcium", "fat", "salt", "manganese", "particles"],
)
def test_published_samples_of_a_mixer(
    values: tuple[float, ...], mean: float, sd: float, cv_pct: float
) -> None:
    """Mean, standard deviation and coefficient of variation of six data sets printed with their
    answers (Feed Management, November 1992); with n instead of n - 1 calcium and salt would flip.
    """
    found = uniformity(values)
    assert found.mean == pytest.approx(mean, rel=7e-3)
    assert found.sd == pytest.approx(sd, rel=0.03)
    assert 100 * found.cv_frac == pytest.approx(cv_pct, abs=0.07)


def test_published_counts_are_no_random_mix() -> None:
    """The particle counts: 5.12 % expected by chance, chi-square 31.20 on 5, p = 8.6e-6 (reckoned
    from the printed counts).
    """
    found = uniformity((380, 323, 391, 459, 336, 399), counts=True)
    assert found.poisson_cv_frac == pytest.approx(0.0512, abs=1e-4)
    assert found.poisson_probability == pytest.approx(8.6e-6, rel=0.02)


@pytest.mark.parametrize(("true_cv", "count"), [(0.05, 10), (0.12, 10), (0.08, 25)])
def test_nine_of_ten_intervals_hold_the_true_spread(true_cv: float, count: int) -> None:
    """Simulation of 600 tests of a mixer whose spread is known."""
    draw = np.random.default_rng(5)
    inside = 0
    for _ in range(600):
        found = uniformity(list(np.abs(draw.normal(1.0, true_cv, count))))
        inside += found.cv_lo_frac <= true_cv <= found.cv_hi_frac
    assert inside / 600 == pytest.approx(0.90, abs=0.035)


def test_so_many_samples_prove_as_often_as_said() -> None:
    """With the number asked for, a mixer of 6 % is proved in 8 of 10 simulated tests; one fewer
    than the number is not enough for the same probability.
    """
    count = samples_to_prove(0.06)
    assert count is not None
    draw = np.random.default_rng(6)
    proved = sum(
        uniformity(list(draw.normal(1.0, 0.06, count))).verdict == "proved" for _ in range(500)
    )
    assert proved / 500 == pytest.approx(0.8, abs=0.06)
    assert samples_to_prove(0.099) is None
    with_less_spread = samples_to_prove(0.03)
    assert with_less_spread is not None
    assert with_less_spread < count


def test_time_to_mix_of_a_simulated_mixer() -> None:
    """Spread falls as sqrt(0.05^2 + 0.8^2 exp(-t / 40 s)): 10 % is reached at 178 s."""
    draw = np.random.default_rng(8)
    tests = []
    for time_s in (60, 90, 120, 150, 180, 240, 300):
        spread = math.sqrt(0.05**2 + 0.8**2 * math.exp(-time_s / 40))
        tests.append((float(time_s), uniformity(list(np.abs(draw.normal(1, spread, 40))))))
    found = mixing_time_s(tests)
    true_s = 40 * math.log(0.8**2 / (0.1**2 - 0.05**2))
    assert found.time_s == pytest.approx(true_s, rel=0.12)


@pytest.mark.parametrize("ends", ["flat", "elliptical", "hemispherical"])
@pytest.mark.parametrize("share", [0.05, 0.3, 0.5, 0.83, 1.0])
def test_a_lying_tank_against_numerical_integration(ends: str, share: float) -> None:
    """SciPy integrates the area of each level slice: rectangle of the cylinder, ellipse of the ends."""
    tank = Tank(diameter_m=2.2, length_m=5.0, ends=ends)  # type: ignore[arg-type]
    radius = 1.1
    depth = {"flat": 0.0, "elliptical": 0.5, "hemispherical": 1.0}[ends] * radius

    def slice_m2(z: float) -> float:
        half = math.sqrt(max(radius**2 - (z - radius) ** 2, 0.0))
        return 2 * half * tank.length_m + math.pi * half * half * depth / radius

    expected, _ = quad(slice_m2, 0, share * 2.2, limit=200)
    assert tank.volume_m3(share * 2.2) == pytest.approx(expected, rel=1e-7)


def test_a_full_tank_is_cylinder_and_ellipsoid() -> None:
    """Closed forms: pi R^2 L and 4/3 pi R^2 a."""
    tank = Tank(diameter_m=2.0, length_m=4.0, ends="elliptical")
    assert tank.volume_m3(2.0) == pytest.approx(math.pi * 4 + 4 / 3 * math.pi * 0.5, rel=1e-12)
    standing = Tank(diameter_m=3.0, length_m=5.0, lying=False)
    assert standing.volume_m3(2.0) == pytest.approx(math.pi * 2.25 * 2, rel=1e-12)
    assert standing.volume_sd_m3(2.0, 0.01) == pytest.approx(math.pi * 2.25 * 0.01, rel=1e-9)


def test_molasses_thins_with_heat() -> None:
    """About 10,000 cP at 70 F is of the published order; a log-linear line through two points gives
    them back and a pumpable temperature between them.
    """
    known = ((21.1, 10.0), (50.0, 1.2))
    assert viscosity_pa_s(21.1, known) == pytest.approx(10.0)
    assert viscosity_pa_s(50.0, known) == pytest.approx(1.2)
    warm_c = pumpable_from_c(known)
    assert 21.1 < warm_c < 50.0
    assert viscosity_pa_s(warm_c, known) == pytest.approx(5.0, rel=1e-4)


def test_density_of_cane_molasses_in_trade_units() -> None:
    """79.5 Brix: specific gravity 1.41 is 11.75 lb a gallon (a trade sheet); 1 % less when 14 K
    warmer at 0.0007 for each kelvin.
    """
    assert pytest.approx(11.75, abs=0.03) == 1.41 * 998.2 * 0.003785411784 / 0.45359237
    assert density_kg_m3(1410, 20, 34.28, 0.0007) == pytest.approx(1396.0, abs=0.2)


def test_a_meter_that_shows_a_fiftieth_too_little() -> None:
    """Three catches of 20 kg, 2 % more caught than shown: factor 1.02, refused at 0.5 %."""
    proof = catch_test([20.0, 20.02, 19.98], [20.4, 20.42, 20.38], tolerance_frac=0.005)
    assert proof.factor == pytest.approx(1.02, abs=1e-4)
    assert not proof.passes
    assert "adjust" in proof.why
