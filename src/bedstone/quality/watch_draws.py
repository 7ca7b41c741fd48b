"""What a witness of each single draw or reading can say: load cells, bags weighed again, dials."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy import stats
from scipy.optimize import brentq

from bedstone.quality.watch import weighted_ratios

__all__ = [
    "DrawAlarm",
    "doubled",
    "draw_alarm",
    "stuck_since",
    "usual_cv_of",
    "worn_at",
    "worn_found",
    "worn_smallest",
]

Floats = npt.NDArray[np.float64]
_DOUBLE_SDS: Final = 8.0
_DOUBLE_LOW, _DOUBLE_HIGH = 1.7, 2.3
_SAME: Final = 4
_ONCE_IN: Final = 0.01
_EQUAL_LEAST: Final = 0.02
_SOUND_CV, _CV_LEAST, _CV_MOST, _CV_END = 0.05, 0.03, 0.08, 3.0
_NINE_IN_TEN: Final = 0.9


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawAlarm:
    """An alarm from a series of draws: at which, since which, of what kind and size."""

    at: int
    first: int
    kind: str  # "gain step" or "zero shift"
    size: float  # part that flows more than is read, or kg more with each draw
    size_sd: float


def draw_alarm(
    read_kg: Floats, witnessed_kg: Floats, sd_kg: Floats, *, limit: float
) -> DrawAlarm | None:
    """The first alarm of an instrument each draw of which somebody else weighed too.

    Parameters
    ----------
    read_kg : Floats
        What the instrument read. [kg]
    witnessed_kg : Floats
        What the witness found; NaN where it found nothing. [kg]
    sd_kg : Floats
        Of the difference of the two while all is well. [kg]
    limit : float
        Log likelihood ratio that raises an alarm (``sequential.threshold``). [1]

    Returns
    -------
    alarm : DrawAlarm or None
        The likelier of a gain and a zero that stepped; None if the limit is never passed. It takes
        two draws: one wild one is held at 3.5 standard deviations.

    Sources
    -------
    [1] As ``watch.weighted_ratios``.
    """
    residual = (witnessed_kg - read_kg) / sd_kg
    found: list[tuple[float, DrawAlarm]] = []
    for kind, weight in (("gain step", read_kg / sd_kg), ("zero shift", 1 / sd_kg)):
        ratios, firsts = weighted_ratios(residual, weight)
        passed = np.flatnonzero(ratios > limit)
        if passed.size:
            at = int(passed[0])
            part = slice(int(firsts[at]), at + 1)
            there = ~np.isnan(residual[part])
            power = float(np.sum(weight[part][there] ** 2))
            size = float(np.sum(residual[part][there] * weight[part][there])) / power
            alarm = DrawAlarm(
                at=at, first=int(firsts[at]), kind=kind, size=size, size_sd=1 / math.sqrt(power)
            )
            found.append((float(ratios[at]), alarm))
    return min(found, key=lambda pair: (pair[1].at, -pair[0]))[1] if found else None


def doubled(read_kg: Floats, witnessed_kg: Floats, sd_kg: Floats) -> npt.NDArray[np.int64]:
    """Draws of which the witness found twice what was read: added a second time.

    Parameters
    ----------
    read_kg, witnessed_kg, sd_kg : Floats
        As :func:`draw_alarm` takes them. [kg]

    Returns
    -------
    draws : ndarray of int
        Indices; beyond eight standard deviations and near twice the reading.

    Sources
    -------
    [1] None: a plain limit; by chance once in 10^15 draws of normal errors.
    """
    far = (witnessed_kg - read_kg) > _DOUBLE_SDS * sd_kg
    part = witnessed_kg / np.maximum(read_kg, 1e-9)
    return np.flatnonzero(far & (part > _DOUBLE_LOW) & (part < _DOUBLE_HIGH))


def stuck_since(values: Floats) -> int | None:
    """Since which reading a dial that trembles has shown the same, up to the last one.

    Parameters
    ----------
    values : Floats
        Readings in order of time; NaN is passed over.

    Returns
    -------
    first : int or None
        Index of the first of the equal ones at the end; None if there are fewer than four, or
        than chance gives a coarse dial: as many are asked for as a dial with so many equal
        neighbours shows once in a hundred such series.

    Sources
    -------
    [1] Runs of equal readings by chance: number of readings times the part of equal neighbours to
        the power of the run's length less one (any text).
    """
    there = np.flatnonzero(~np.isnan(values))
    x = values[there]
    same = 1
    while same < x.size and x[-same - 1] == x[-1]:
        same += 1
    before = x[: x.size - same]
    if same < _SAME or before.size < _SAME:
        return None
    part = float(np.mean(np.diff(before) == 0))
    by_chance = before.size * max(part, _EQUAL_LEAST) ** (same - 1)
    return int(there[x.size - same]) if by_chance < _ONCE_IN else None


def worn_at(
    tests: Sequence[Floats], *, usual_cv: float, false_alarm: float, counted: bool = True
) -> tuple[int, int] | None:
    """The test at which a mixer is less even than it used to be, and the likely first such test.

    Parameters
    ----------
    tests : sequence of Floats
        Samples of each test in order of time, particles counted or a level measured.
    usual_cv : float
        Coefficient of variation of the mixer while it is sound, without the counting. [1]
    false_alarm : float
        Probability of as much by chance at which to call it. [0 to 1]
    counted : bool
        Particles were counted: their chance is known and comes on top.

    Returns
    -------
    found : (int, int) or None
        Index of the test of the alarm and of the first uneven one. The last tests are pooled, as
        many as speak loudest.

    Sources
    -------
    [1] Counts of an even mixture are Poisson; the sum of squares about the mean over its variance
        follows chi-square with one less degree of freedom than samples (any textbook).
    """
    squares, freedom = np.zeros(len(tests)), np.zeros(len(tests))
    for number, values in enumerate(tests):
        mean = float(values.mean())
        variance = (mean if counted else 0.0) + (usual_cv * mean) ** 2
        squares[number] = float(((values - mean) ** 2).sum()) / variance if variance else 0.0
        freedom[number] = values.size - 1
    for last in range(len(tests)):
        sums, free = np.cumsum(squares[last::-1]), np.cumsum(freedom[last::-1])
        chance = np.asarray(stats.chi2.sf(sums, free))
        if chance.min() < false_alarm / (last + 1):
            return last, last - int(np.argmin(chance))
    return None


def usual_cv_of(tests: Sequence[Floats], *, counted: bool = True) -> float:
    """Coefficient of variation of a mixer while it is sound, without the counting.

    Parameters
    ----------
    tests : sequence of Floats
        As :func:`worn_at` takes them.
    counted : bool
        As there.

    Returns
    -------
    cv_frac : float
        Of the middle one of four tests or more, held between 3 and 8 %; else 5 %. [0 to 1]

    Sources
    -------
    [1] None: 5 % of a sound mixer is common practice, no source.
    """
    if len(tests) < _SAME:
        return _SOUND_CV
    excess = [
        float(values.var(ddof=1)) / float(values.mean()) ** 2
        - (1 / float(values.mean()) if counted else 0.0)
        for values in tests
        if values.mean() > 0
    ]
    middle = math.sqrt(max(0.0, float(np.median(excess)))) if excess else _SOUND_CV
    return min(_CV_MOST, max(_CV_LEAST, middle))


def worn_found(
    cv: float, tests: int, *, usual_cv: float, mean_count: float, samples: int, false_alarm: float
) -> float:
    """How many in a hundred mixers of an unevenness so many tests together show, as a part.

    Parameters
    ----------
    cv : float
        Coefficient of variation of the worn mixer, without the counting. [1]
    tests : int
        Since it wore. [1]
    usual_cv : float
        While it was sound. [1]
    mean_count : float
        Particles in a sample; nought for a measured level. [1]
    samples : int
        Of a test. [1]
    false_alarm : float
        As :func:`worn_at` takes it. [0 to 1]

    Returns
    -------
    part : float
        0 to 1; the tests pooled.

    Sources
    -------
    [1] As :func:`worn_at`: both spreads are multiples of chi-square.
    """
    by_count = 1 / mean_count if mean_count else 0.0
    wider = (by_count + cv**2) / (by_count + usual_cv**2)
    freedom = tests * (samples - 1)
    needed = stats.chi2.isf(false_alarm / max(1, tests), freedom)
    return float(stats.chi2.sf(needed / wider, freedom))


def worn_smallest(
    tests: int, *, usual_cv: float, mean_count: float, samples: int, false_alarm: float
) -> float:
    """The unevenness that so many tests show in nine of ten mixers.

    Parameters
    ----------
    tests, usual_cv, mean_count, samples, false_alarm
        As :func:`worn_found` takes them. [1]

    Returns
    -------
    cv_frac : float
        Coefficient of variation without the counting. [0 to 1]

    Sources
    -------
    [1] As :func:`worn_found`.
    """

    def short(cv: float) -> float:
        return _NINE_IN_TEN - worn_found(
            cv,
            tests,
            usual_cv=usual_cv,
            mean_count=mean_count,
            samples=samples,
            false_alarm=false_alarm,
        )

    return float(brentq(short, usual_cv, _CV_END))
