"""Results that do not come one for each draw: laboratory, yield, bags, load cells, thermometers.

Each result differs from what the books expect by errors that may be shared with other results (a
lot of corn goes into many runs, a wet week dries all pellets less). With the whole covariance the
results become independent residuals, and what a suspicion would show goes the same way.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.linalg import cholesky, solve_triangular

from bedstone.quality.watch import Witness

__all__ = [
    "DAY_S",
    "DRIFT",
    "STEP",
    "ZERO",
    "Sampled",
    "Shows",
    "Weights",
    "sampled_evidence",
    "spread_of",
    "together",
]

Floats = npt.NDArray[np.float64]
Shows = dict[tuple[str, str], Floats]
DAY_S: Final = 86_400.0
STEP, DRIFT, ZERO = "gain step", "slow drift", "zero shift"
_SLIP_SDS: Final = 6.0
_TO_SD: Final = 1.4826  # median of absolute deviations to a standard deviation, normal errors


@dataclass(frozen=True, slots=True)
class Weights:
    """What a size of one adds to results: each draw or moment, the result it goes into, how much."""

    at: Floats
    sample: npt.NDArray[np.int64]
    weight: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Sampled:
    """Results less what the books expect, in order of time, with the covariance of their errors.

    ``parts`` says by (what, kind of fault) what it would add; shape of ``covariance`` is (results,
    results).
    """

    name: str
    known_at: Floats
    off: Floats
    covariance: Floats
    parts: Mapping[tuple[str, str], Weights]


def together(
    at: Floats, *, own_sd: Floats, wander_sd: float, days: float, offset_sd: float
) -> Floats:
    """Covariance of results about an unknown offset that wanders.

    Parameters
    ----------
    at : Floats
        Of each result. [s]
    own_sd : Floats
        What each errs by itself.
    wander_sd : float
        What results near each other in time err by together.
    days : float
        In which that is forgotten. [d]
    offset_sd : float
        What all err by together.

    Returns
    -------
    covariance : Floats
        Shape (results, results), in the square of the unit given.

    Sources
    -------
    [1] An offset, an Ornstein-Uhlenbeck process and independent errors (any text on time series).
    """
    apart = np.abs(at[:, None] - at[None, :]) / (days * DAY_S)
    covariance = offset_sd**2 + wander_sd**2 * np.exp(-apart)
    return np.asarray(covariance + np.diag(own_sd**2), dtype=np.float64)


def spread_of(values: Floats, least: float) -> float:
    """Spread of most of the values, that a few wild ones do not move, and at least so much."""
    if values.size == 0:
        return least
    middle = float(np.median(values))
    return max(least, _TO_SD * float(np.median(np.abs(values - middle))))


def sampled_evidence(
    sampled: Sampled, begins: Mapping[tuple[str, str], Floats]
) -> tuple[Witness, Shows]:
    """A witness of independent residuals, and what each suspicion would show in it.

    Parameters
    ----------
    sampled : Sampled
        Results with the covariance of their errors.
    begins : mapping of (str, str) to Floats
        Possible beginnings of each suspicion, in order of time; those it lacks are left out. [s]

    Returns
    -------
    witness : Witness
        A result beyond six of its own deviations from the middle of all, with none of its
        neighbours that far, is missing: a slip.
    shows : dict
        By suspicion, shape (results, beginnings).

    Sources
    -------
    [1] Generalised least squares by the Cholesky factor of the covariance: each residual is a
        result less its best forecast from those before, over its standard deviation (any text).
    """
    there = ~_slips(sampled)
    factor = cholesky(sampled.covariance[np.ix_(there, there)], lower=True)
    keys = [key for key in begins if begins[key].size and _source(key) in sampled.parts]
    raw = [
        _effect(sampled.parts[_source(key)], begins[key], there, drifts=key[1] == DRIFT)
        for key in keys
    ]
    stacked = np.concatenate([sampled.off[there][:, None], *raw], axis=1)
    white = solve_triangular(factor, stacked, lower=True)
    ends = np.cumsum([1, *(shown.shape[1] for shown in raw)])
    shows = {
        key: white[:, start:end] for key, start, end in zip(keys, ends[:-1], ends[1:], strict=True)
    }
    witness = Witness(name=sampled.name, known_at=sampled.known_at[there], residual=white[:, 0])
    return witness, shows


def _slips(sampled: Sampled) -> npt.NDArray[np.bool_]:
    """Single results far from the middle; two in a row are no slip."""
    off = sampled.off
    sd = np.sqrt(np.diag(sampled.covariance))
    far = np.abs(off - np.median(off)) > _SLIP_SDS * sd
    near = np.zeros(off.size, dtype=np.bool_)
    near[1:] |= far[:-1]
    near[:-1] |= far[1:]
    if off.size > 0:  # the last may be the first of many
        near[-1] |= far[-1]
    return np.asarray(far & ~near)


def _source(key: tuple[str, str]) -> tuple[str, str]:
    """A drift is a gain that grows: both have the same weights."""
    return (key[0], STEP) if key[1] == DRIFT else key


def _effect(
    weights: Weights, begins_at: Floats, there: npt.NDArray[np.bool_], *, drifts: bool
) -> Floats:
    """What a size of one since each beginning adds to each result, shape (results, beginnings)."""
    plain = _since(weights, weights.weight, begins_at, there.size)
    if drifts:
        days = weights.at / DAY_S
        plain = _since(weights, weights.weight * days, begins_at, there.size) - (
            plain * begins_at[None, :] / DAY_S
        )
    return np.asarray(plain[there])


def _since(weights: Weights, weight: Floats, begins_at: Floats, count: int) -> Floats:
    """The sum over the draws of each result from each beginning on."""
    row = np.searchsorted(begins_at, weights.at, side="right")  # beginnings up to each draw
    added = np.zeros((count, begins_at.size + 1))
    np.add.at(added, (weights.sample, row), weight)
    return np.asarray(np.cumsum(added[:, ::-1], axis=1)[:, ::-1][:, 1:])
