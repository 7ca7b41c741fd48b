"""Does the mixer mix: the spread of samples of one batch, and what it proves."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from scipy import stats
from scipy.optimize import brentq, curve_fit

from bedstone.errors import BadInput

__all__ = [
    "LIMIT_FRAC",
    "MixTime",
    "Uniformity",
    "mixing_time_s",
    "samples_to_prove",
    "uniformity",
]

LIMIT_FRAC: Final = 0.10
"""10 samples or more, coefficient of variation at most 10 % (a calculator of the World Food
Programme; an extension page on mixer testing)."""
_FEWEST: Final = 3
_MOST_SAMPLES: Final = 200
_BANDS: Final = (
    (0.10, "mixes well", "Nothing; test again when due."),
    (0.15, "mixes fairly", "Mix a quarter longer and test again."),
    (
        0.20,
        "mixes poorly",
        "Mix half as long again; look for wear, overfilling, and the order of adding.",
    ),
    (math.inf, "does not mix", "All of that, and have the mixer looked at before more is made."),
)
"""Bands with what to do: an extension leaflet on mixer efficiency, from memory."""
_CURVE_TESTS: Final = 4

Verdict = Literal["proved", "likely", "not proved", "fails"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Uniformity:
    """Spread of samples: coefficient of variation, its 90 % interval, and what follows."""

    samples: int
    mean: float
    sd: float
    cv_frac: float
    cv_lo_frac: float
    cv_hi_frac: float
    verdict: Verdict
    band: str
    do: str
    poisson_cv_frac: float | None  # of counts at random
    poisson_probability: float | None  # of so wide a spread at random
    trend_probability: float  # of so clear a rise or fall along the discharge by chance
    note: str


def uniformity(
    values: Sequence[float], *, counts: bool = False, limit_frac: float = LIMIT_FRAC
) -> Uniformity:
    """Coefficient of variation of samples of one batch, in the order in which they were taken.

    Parameters
    ----------
    values : sequence of float
        Assays, or counts of tracer particles, 3 or more.
    counts : bool
        Counts: their spread at random is known.
    limit_frac : float
        Largest coefficient of variation that passes. [0 to 1]

    Returns
    -------
    uniformity : Uniformity
        Proved where the upper end of the interval is within the limit.

    Raises
    ------
    BadInput
        If there are too few samples, one is below nothing, or none differs from nothing.

    Sources
    -------
    [1] Interval: sqrt(n) / CV follows the noncentral t distribution (any text on tolerance limits).
    [2] Counts: sum of squares over the mean as chi-square on n - 1 degrees of freedom (Poisson
        dispersion test). Trend: Kendall's rank correlation with the order.
    """
    count = len(values)
    if count < _FEWEST or min(values, default=-1.0) < 0 or not all(map(math.isfinite, values)):
        raise BadInput(
            "Samples of a mixer test cannot be right.",
            seen=f"{count} samples: " + ", ".join(f"{value:g}" for value in values[:12]),
            allowed=f"{_FEWEST} or more numbers, none below 0; 10 or more to judge by",
        )
    mean = math.fsum(values) / count
    if mean == 0:
        raise BadInput(
            "No sample has any of the tracer.",
            seen="all 0",
            allowed="a mean above 0",
            do="Was it put in? Was it looked for by the right method?",
        )
    sd = math.sqrt(math.fsum((value - mean) ** 2 for value in values) / (count - 1))
    cv = sd / mean
    low, high = _interval(cv, count)
    band, do = next((word, what) for most, word, what in _BANDS if cv <= most)
    chance = None
    if counts:
        chance = float(stats.chi2.sf((count - 1) * sd * sd / mean, count - 1))
    return Uniformity(
        samples=count,
        mean=mean,
        sd=sd,
        cv_frac=cv,
        cv_lo_frac=low,
        cv_hi_frac=high,
        verdict=_verdict(low, cv, high, limit_frac),
        band=band,
        do=do,
        poisson_cv_frac=1 / math.sqrt(mean) if counts else None,
        poisson_probability=chance,
        trend_probability=float(stats.kendalltau(range(count), values).pvalue) if sd else 1.0,
        note=_note(count, mean, counts=counts, limit_frac=limit_frac),
    )


def _verdict(low: float, cv: float, high: float, limit_frac: float) -> Verdict:
    if high <= limit_frac:
        return "proved"
    if low > limit_frac:
        return "fails"
    return "likely" if cv <= limit_frac else "not proved"


def _note(count: int, mean: float, *, counts: bool, limit_frac: float) -> str:
    notes = []
    if count < 10:  # noqa: PLR2004 - what the sources ask for
        notes.append("Fewer than 10 samples: take 10 or more.")
    if counts and 1 / math.sqrt(mean) > limit_frac / 2:
        notes.append(
            f"With {mean:.0f} particles to a sample chance alone spreads them by "
            f"{100 / math.sqrt(mean):.0f} %: take larger samples."
        )
    return " ".join(notes)


def _interval(cv: float, count: int) -> tuple[float, float]:
    """The 90 % interval of a coefficient of variation found in a normal sample."""
    if cv == 0:
        return 0.0, 0.0
    root = math.sqrt(count)

    def tail(true_cv: float, part: float) -> float:
        return float(stats.nct.cdf(root / cv, count - 1, root / true_cv)) - part

    high_end = cv
    while tail(high_end, 0.95) < 0 and high_end < 50:  # noqa: PLR2004 - far beyond any mixer
        high_end *= 1.5
    low_end = cv
    while tail(low_end, 0.05) > 0 and low_end > cv / 100:
        low_end /= 1.5
    high = (
        float(brentq(tail, cv * 0.5, high_end, args=(0.95,)))
        if tail(high_end, 0.95) > 0
        else high_end
    )
    low = float(brentq(tail, low_end, cv * 2, args=(0.05,))) if tail(low_end, 0.05) < 0 else 0.0
    return low, high


def samples_to_prove(
    expected_cv_frac: float, limit_frac: float = LIMIT_FRAC, *, power: float = 0.8
) -> int | None:
    """How many samples prove a limit, if the mixer is as good as expected.

    Parameters
    ----------
    expected_cv_frac : float
        True coefficient of variation that is believed. [0 to 1]
    limit_frac : float
        Limit to prove with 95 % confidence. [0 to 1]
    power : float
        Probability that so many samples will do. [0 to 1]

    Returns
    -------
    samples : int or None
        None if no 200 samples would do.

    Raises
    ------
    BadInput
        If the expectation is no share.

    Sources
    -------
    [1] Upper limit of a standard deviation by chi-square, the mean being known far better.
    """
    if not expected_cv_frac > 0 or not limit_frac > 0:
        raise BadInput(
            "A coefficient of variation is above 0.",
            seen=f"{expected_cv_frac:g}, {limit_frac:g}",
            allowed="above 0",
        )
    for count in range(_FEWEST, _MOST_SAMPLES + 1):
        free = count - 1
        worst = expected_cv_frac * math.sqrt(
            stats.chi2.ppf(power, free) / stats.chi2.ppf(0.05, free)
        )
        if worst <= limit_frac:
            return count
    return None


@dataclass(frozen=True, slots=True, kw_only=True)
class MixTime:
    """Shortest time that mixes, from tests at several times."""

    time_s: float | None
    floor_cv_frac: float | None  # that longer mixing does not get below
    how: str


def mixing_time_s(
    tests: Sequence[tuple[float, Uniformity]], limit_frac: float = LIMIT_FRAC
) -> MixTime:
    """Time after which the limit is kept, from a series of tests.

    Parameters
    ----------
    tests : sequence of (float, Uniformity)
        Mixing time in seconds, and what was found then.
    limit_frac : float
        The limit. [0 to 1]

    Returns
    -------
    time : MixTime
        By a curve through four tests or more at different times, else the shortest time tested
        that was proved, else none.

    Sources
    -------
    [1] Variance falls to a floor by a constant share a second (first-order mixing; any text on
        mixing of solids).
    """
    times = np.array([time_s for time_s, _ in tests])
    cvs = np.array([test.cv_frac for _, test in tests])
    if len(set(times.tolist())) >= _CURVE_TESTS:

        def curve(t: np.ndarray, floor: float, start: float, rate: float) -> np.ndarray:
            return np.log(np.sqrt(floor**2 + start**2 * np.exp(-rate * t)))

        try:
            (floor, start, rate), _ = curve_fit(
                curve,
                times,
                np.log(np.maximum(cvs, 1e-4)),
                p0=(
                    max(float(cvs.min()) * 0.8, 1e-3),
                    float(cvs.max()) * 2,
                    2 / float(times.mean()),
                ),
                bounds=([1e-4, 1e-3, 1e-5], [2.0, 50.0, 1.0]),
                maxfev=5_000,
            )
        except RuntimeError:
            floor = start = rate = math.nan
        if floor < limit_frac:
            needed = math.log(start**2 / (limit_frac**2 - floor**2)) / rate
            if needed <= times.max():
                return MixTime(
                    time_s=max(float(needed), float(times.min()) / 2),
                    floor_cv_frac=float(floor),
                    how=f"curve through {len(tests)} tests",
                )
    proved = [time_s for time_s, test in tests if test.verdict == "proved"]
    if proved:
        return MixTime(time_s=min(proved), floor_cv_frac=None, how="shortest time that was proved")
    return MixTime(time_s=None, floor_cv_frac=None, how="no time tested was proved")
