"""Which settings of a mill's runs can be told apart at all, chosen before what they did is looked at."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
import numpy.typing as npt

__all__ = ["LEAST_FEEDS", "LeftOut", "telling_factors"]

RUNS_A_FACTOR: Final = 5
FEEDS_A_FACTOR: Final = 2
"""A setting of formula or die differs by feed alone: so many feeds are asked for each of them, and
so many runs for each setting of any kind (common practice, no source)."""
LEAST_FEEDS: Final = 4
"""Of fewer nobody can tell what differs by feed alone, nor how far another feed lies."""
_WITHIN: Final = 0.05
_OWN: Final = 0.05  # of a setting's spread that the settings before it must leave to it

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """A setting whose effect the runs cannot tell, and why."""

    factor: str
    why: Literal[
        "never moved", "moved only with others", "too few runs", "too few feeds", "not known"
    ]


def telling_factors(
    factors: Sequence[str], runs: Sequence[Mapping[str, float]], feeds: Sequence[str]
) -> tuple[tuple[str, ...], tuple[LeftOut, ...]]:
    """Settings whose effects the runs can tell apart, chosen by the settings alone.

    What was measured is not looked at, so that intervals stay honest.

    Parameters
    ----------
    factors : sequence of str
        Most wanted first.
    runs : sequence of mapping
        Each run's settings.
    feeds : sequence of str
        What each run made.

    Returns
    -------
    kept, left_out : tuple
        In their order.
    """
    kept: list[str] = []
    left: list[LeftOut] = []
    between, many = 0, len(set(feeds))
    most_between = many // FEEDS_A_FACTOR if many >= LEAST_FEEDS else 0
    for name in factors:
        values = np.array([run[name] for run in runs], dtype=np.float64)
        by_feed = _differs_by_feed_alone(values, feeds)
        if values.size == 0 or values.std() <= 1e-9 * max(1.0, float(np.abs(values).max())):
            left.append(LeftOut(factor=name, why="never moved"))
        elif len(kept) + 1 > len(runs) // RUNS_A_FACTOR:
            left.append(LeftOut(factor=name, why="too few runs"))
        elif by_feed and between + 1 > most_between:
            left.append(LeftOut(factor=name, why="too few feeds"))
        elif _left_to_it(values, [[run[one] for run in runs] for one in kept]) < _OWN:
            left.append(LeftOut(factor=name, why="moved only with others"))
        else:
            kept.append(name)
            between += by_feed
    return tuple(kept), tuple(left)


def _differs_by_feed_alone(values: Floats, feeds: Sequence[str]) -> bool:
    """Whether nearly all of a setting's spread lies between feeds."""
    whole = float(((values - values.mean()) ** 2).sum()) if values.size else 0.0
    if whole == 0.0:
        return False
    named = np.array(feeds)
    within = sum(
        float(((values[named == one] - values[named == one].mean()) ** 2).sum())
        for one in set(feeds)
    )
    return within < _WITHIN * whole


def _left_to_it(values: Floats, others: list[list[float]]) -> float:
    """Part of a setting's spread that the others do not explain, 0 to 1."""
    around = values - values.mean()
    if not others:
        return 1.0
    known = np.array(others, dtype=np.float64)
    known = (known - known.mean(axis=1, keepdims=True)) / known.std(axis=1, keepdims=True)
    best, *_ = np.linalg.lstsq(known.T, around, rcond=None)
    return float(np.std(around - known.T @ best) / np.std(around))
