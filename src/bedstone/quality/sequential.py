"""Sequential tests on a series of residuals: has the mean moved, since when, by how much.

Residuals are in their own standard deviations: what an instrument said against what a witness
knows, over the error that both have. All tests run in one pass and are compiled, so that years of
two hundred instruments take seconds.

A single wild reading must not raise an alarm: residuals are held at ``HELD`` before they are
counted, so that it takes two.
"""

import math
from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
import numpy.typing as npt

from bedstone.errors import BadInput
from bedstone.quantities.compiling import compiled_and_kept

__all__ = [
    "HELD",
    "WINDOW",
    "Onset",
    "discoveries",
    "held",
    "likelihood_ratio",
    "onset",
    "threshold",
    "unlikely",
]

Floats = npt.NDArray[np.float64]

HELD: Final = 3.5
WINDOW: Final = 100
_SHORTEST_DRIFT: Final = 8  # residuals before a drift can be told from a step
_QUANTILE_95: Final = 3.841458820694124  # chi-square with one degree of freedom


@dataclass(frozen=True, slots=True, kw_only=True)
class Onset:
    """When a change most likely began, with the interval that holds 95 %, and its size.

    Indices count residuals from 0: ``first`` is the first residual of the changed state. A step
    has ``size_sds`` for its height; a drift has it for the height reached at the end.
    """

    first: int
    first_lo: int
    first_hi: int
    size_sds: float
    size_sd_sds: float
    is_drift: bool
    statistic: float


def held(residuals: Floats, most: float = HELD) -> Floats:
    """Residuals with wild ones pulled in and missing ones left missing.

    Parameters
    ----------
    residuals : Floats
        In standard deviations; NaN is missing.
    most : float
        Beyond which a residual counts as this.

    Returns
    -------
    held : Floats
        Same length.
    """
    return np.clip(residuals, -most, most)


@compiled_and_kept
def _scan(x: Floats, last: int, window: int) -> tuple[float, int]:
    """Largest log likelihood ratio of a step over beginnings in the window, and the beginning."""
    best, first = 0.0, last
    plain = 0.0
    count = 0
    for b in range(last, max(-1, last - window), -1):
        if math.isnan(x[b]):
            continue
        count += 1
        plain += x[b]
        ratio = plain * plain / count / 2.0
        if ratio > best:
            best, first = ratio, b
    return best, first


@compiled_and_kept
def _ratios(x: Floats, window: int, ratios: Floats, firsts: npt.NDArray[np.int64]) -> None:
    for i in range(x.size):
        ratios[i], firsts[i] = _scan(x, i, window)


def likelihood_ratio(
    residuals: Floats, window: int = WINDOW
) -> tuple[Floats, npt.NDArray[np.int64]]:
    """Generalised likelihood ratio of a step of unknown size and beginning, after each residual.

    Parameters
    ----------
    residuals : Floats
        Held residuals; NaN is passed over.
    window : int
        How many of the latest could be the beginning.

    Returns
    -------
    ratios : Floats
        Logarithm of the ratio, with the likeliest beginning.
    firsts : ndarray of int
        That beginning, as an index.

    Sources
    -------
    [1] Window-limited generalised likelihood ratio for a normal mean: T. L. Lai, Sequential
        changepoint detection in quality control and dynamical systems (1995), from memory.
    """
    ratios = np.zeros(residuals.size)
    firsts = np.zeros(residuals.size, dtype=np.int64)
    _ratios(np.asarray(residuals, dtype=np.float64), window, ratios, firsts)
    return ratios, firsts


@compiled_and_kept
def _first_passages(  # noqa: PLR0917 - compiled code takes plain arguments
    seed: int, runs: int, longest: int, window: int, limits: Floats, most: float
) -> Floats:
    """Average residuals to the first false alarm at each limit (rising), runs cut at ``longest``."""
    np.random.seed(seed)  # noqa: NPY002 - compiled code knows this generator only
    whole = np.zeros(limits.size)
    passed = np.zeros(limits.size)
    x = np.zeros(longest)
    for _ in range(runs):
        level = 0
        for i in range(longest):
            x[i] = min(max(np.random.standard_normal(), -most), most)  # noqa: NPY002 - as above
            ratio, _ = _scan(x, i, window)
            while level < limits.size and ratio > limits[level]:
                whole[level] += i + 1
                passed[level] += 1
                level += 1
            if level == limits.size:
                break
        for rest in range(level, limits.size):
            whole[rest] += longest
    return whole / np.maximum(passed, 1.0)


_LIMITS: Final = tuple(4.0 + 0.5 * step for step in range(20))


@cache
def _run_lengths(window: int) -> Floats:
    return np.asarray(
        _first_passages(7, 300, 20_000, window, np.array(_LIMITS), HELD), dtype=np.float64
    )


def threshold(false_alarm_every: float, window: int = WINDOW) -> float:
    """Log likelihood ratio that a quiet series passes once in so many residuals on average.

    Parameters
    ----------
    false_alarm_every : float
        Residuals between false alarms, 30 to 10 million.
    window : int
        As :func:`likelihood_ratio` takes it.

    Returns
    -------
    limit : float
        From simulated run lengths (seeded); beyond 3,000 residuals by their logarithm's straight
        line.

    Raises
    ------
    BadInput
        If more or fewer are asked for.

    Sources
    -------
    [1] Average run length by simulation; its logarithm grows straight with the limit for large
        limits (D. Siegmund, Sequential Analysis, from memory).
    """
    if not 30 <= false_alarm_every <= 1e7:  # noqa: PLR2004 - what the docstring says
        raise BadInput(
            "A false-alarm rate out of reach.",
            seen=f"one in {false_alarm_every:g}",
            allowed="one in 30 to one in 10 million residuals",
        )
    lengths = _run_lengths(window)
    limits = np.array(_LIMITS)
    sure = (lengths > 20) & (lengths < 3_000)  # noqa: PLR2004 - runs are cut at 20,000
    slope, start = np.polyfit(limits[sure], np.log(lengths[sure]), 1)
    if false_alarm_every < lengths[sure][-1]:
        return float(np.interp(math.log(false_alarm_every), np.log(lengths[sure]), limits[sure]))
    return float((math.log(false_alarm_every) - start) / slope)


def onset(residuals: Floats, window: int = WINDOW) -> Onset | None:
    """When the change that the end of a series shows began: the likelier of a step and a drift.

    Parameters
    ----------
    residuals : Floats
        Up to the alarm or later; NaN is passed over.
    window : int
        How many of the latest could be the beginning.

    Returns
    -------
    onset : Onset or None
        None if there is no residual.

    Sources
    -------
    [1] Maximum likelihood; the interval holds the beginnings whose likelihood lies within the
        95 % point of chi-square of the best (profile likelihood).
    """
    x = held(np.asarray(residuals, dtype=np.float64))
    there = np.flatnonzero(~np.isnan(x))[-window:]
    if there.size == 0:
        return None
    values = x[there]
    counts = np.arange(values.size, 0, -1, dtype=np.float64)
    plain = np.cumsum(values[::-1])[::-1]
    ramp = np.cumsum(plain[::-1])[::-1]
    squares = counts * (counts + 1) * (2 * counts + 1) / 6
    step = plain**2 / counts / 2
    drift = np.where(counts >= _SHORTEST_DRIFT, ramp**2 / squares / 2, 0.0)
    # a drift has the same number of parameters, so the larger ratio is the likelier
    is_drift = bool(drift.max() > step.max() + 1.0)
    ratios = drift if is_drift else step
    best = int(np.argmax(ratios))
    within = np.flatnonzero(ratios >= ratios[best] - _QUANTILE_95 / 2)
    if is_drift:
        slope = ramp[best] / squares[best]
        size, sd = slope * counts[best], counts[best] / math.sqrt(squares[best])
    else:
        size, sd = plain[best] / counts[best], 1 / math.sqrt(counts[best])
    return Onset(
        first=int(there[best]),
        first_lo=int(there[within[0]]),
        first_hi=int(there[within[-1]]),
        size_sds=float(size),
        size_sd_sds=float(sd),
        is_drift=is_drift,
        statistic=float(ratios[best]),
    )


def unlikely(ratio: float, count: int, window: int = WINDOW) -> float:
    """Probability that a quiet series of so many residuals shows such a ratio somewhere.

    Parameters
    ----------
    ratio : float
        Largest log likelihood ratio of a channel.
    count : int
        Residuals it has had since it was last proved.
    window : int
        As :func:`likelihood_ratio` takes it.

    Returns
    -------
    probability : float
        0 to 1.

    Sources
    -------
    [1] First passages of a rare level come as a Poisson stream at one over the average run length.
    """
    lengths = _run_lengths(window)
    limits = np.array(_LIMITS)
    sure = (lengths > 20) & (lengths < 3_000)  # noqa: PLR2004 - as in threshold
    slope, start = np.polyfit(limits[sure], np.log(lengths[sure]), 1)
    if ratio < limits[sure][0]:
        return 1.0
    expected = count / math.exp(min(start + slope * ratio, 700.0))
    return float(-math.expm1(-expected))


def discoveries(probabilities: Floats, share: float = 0.05) -> npt.NDArray[np.bool_]:
    """Which of many channels stand out, so that at most a share of those named are false.

    Parameters
    ----------
    probabilities : Floats
        Of each channel to look as it does by chance.
    share : float
        False discoveries among the named, at most on average. [0 to 1]

    Returns
    -------
    named : ndarray of bool
        One for each channel.

    Sources
    -------
    [1] Y. Benjamini, Y. Hochberg (1995), Journal of the Royal Statistical Society B 57, 289-300.
    """
    count = probabilities.size
    if count == 0:
        return np.zeros(0, dtype=np.bool_)
    order = np.argsort(probabilities)
    passed = probabilities[order] <= share * np.arange(1, count + 1) / count
    named = np.zeros(count, dtype=np.bool_)
    if passed.any():
        named[order[: int(np.flatnonzero(passed)[-1]) + 1]] = True
    return named
