"""What a witness of each single draw or reading can say: load cells, bags weighed again, dials."""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from numba import njit
from scipy import stats

from bedstone.quality.watch import weighted_ratios

__all__ = ["DrawAlarm", "doubled", "draw_alarm", "stuck_at", "worn_at"]

Floats = npt.NDArray[np.float64]
_DOUBLE_SDS: Final = 8.0
_DOUBLE_LOW, _DOUBLE_HIGH = 1.7, 2.3
_SAME: Final = 4


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


@njit(cache=True, nogil=True)
def _stuck_at(values: Floats, same: int) -> int:
    count = 1
    last = math.nan
    for i in range(values.size):
        if math.isnan(values[i]):
            continue
        count = count + 1 if values[i] == last else 1
        last = values[i]
        if count == same:
            return i
    return -1


def stuck_at(values: Floats, same: int = _SAME) -> int | None:
    """The reading at which a dial that should tremble has shown the same so many times.

    Parameters
    ----------
    values : Floats
        Readings in order of time, finer than what they tremble by; NaN is passed over.
    same : int
        Equal ones in a row. [1]

    Returns
    -------
    at : int or None
        Index of the reading that says so; the first equal one is ``same - 1`` readings before.
    """
    at = int(_stuck_at(np.asarray(values, dtype=np.float64), same))
    return at if at >= 0 else None


def worn_at(counts: Floats, *, usual_cv: float, false_alarm: float) -> tuple[int, int] | None:
    """The test at which a mixer is less even than it used to be, and the likely first such test.

    Parameters
    ----------
    counts : Floats
        Particles counted, shape (tests, samples).
    usual_cv : float
        Coefficient of variation of the mixer while it is sound, without the counting. [1]
    false_alarm : float
        Probability of as much by chance at which to call it. [0 to 1]

    Returns
    -------
    found : (int, int) or None
        Index of the test of the alarm and of the first uneven one.

    Sources
    -------
    [1] Counts of an even mixture are Poisson; the sum of squares about the mean over its variance
        follows chi-square with one less degree of freedom than samples (any textbook).
    """
    mean = counts.mean(axis=1)
    variance = mean + (usual_cv * mean) ** 2
    squares = ((counts - mean[:, None]) ** 2).sum(axis=1) / variance
    freedom = counts.shape[1] - 1
    for last in range(counts.shape[0]):
        sums = np.cumsum(squares[last::-1])
        chance = stats.chi2.sf(sums, freedom * np.arange(1, last + 2))
        if chance.min() < false_alarm:
            return last, last - int(np.argmin(chance))
    return None
