"""A mill's own regression on its runs: it knows where it has been, and how other feeds differ."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final, Literal

import numpy as np
import numpy.typing as npt
from scipy import stats

from bedstone.errors import BadInput
from bedstone.pelleting.telling import LEAST_FEEDS

__all__ = [
    "LEAST_SPARE",
    "Effect",
    "Fitted",
    "Forecast",
    "Move",
    "Unseen",
    "fit_runs",
    "suggest",
]

LEAST_SPARE: Final = 3
_HALF: Final = 0.95  # of both ends: the interval holds nine of ten

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Unseen:
    """Why nothing is claimed: beyond a setting's range, at a new combination, of a new feed, or with a
    setting that nobody knows.
    """

    kind: Literal["range", "combination", "feed", "unknown"]
    factor: str = ""
    value: float = 0.0
    low: float = 0.0
    high: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """What a regression expects of one new run, with the interval that holds nine of ten."""

    value: float
    low: float
    high: float
    unseen: Unseen | None  # None within what the runs have covered

    @property
    def seen(self) -> bool:
        """Whether the runs have covered it."""
        return self.unseen is None


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """What one unit more of a setting does, the others held, and the range that was run."""

    factor: str
    each: float
    each_lo: float
    each_hi: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One setting moved within what was run."""

    factor: str
    value: float
    forecast: Forecast


@dataclass(frozen=True, slots=True)
class Fitted:
    """A mill's own regression of durability or load on its settings."""

    factors: tuple[str, ...]
    coefficients: Floats  # constant first, of scaled factors
    centre: Floats
    scale: Floats
    inverse: Floats  # of the moment matrix
    residual_sd: float
    spare: int  # runs beyond coefficients
    low: Floats
    high: Floats
    furthest: float  # largest leverage among the runs
    feeds: tuple[str, ...]  # that were run; empty if nobody said
    other_sd: float | None  # error at a feed left out; None where it cannot be told
    jackknife_sd: Floats | None  # of each coefficient, leaving out a feed at a time

    def forecast(self, settings: Mapping[str, float], *, feed: str = "") -> Forecast:
        """Value and 90 % interval of one new run at these settings.

        Parameters
        ----------
        settings : mapping of str to float
            Each factor in the units of the runs.
        feed : str
            What is run. Of a feed that was never run the interval is at least as wide as the
            regression erred at feeds that were left out of it in turn.

        Returns
        -------
        forecast : Forecast
            Nothing is claimed beyond the range of a factor, at a combination further out than any
            run was, or of another feed where too few were run.

        Raises
        ------
        BadInput
            If a factor is missing.

        Sources
        -------
        [1] Prediction interval and leverage of ordinary least squares (any text on regression).
        [2] Leaving out one group at a time (jackknife; Efron and Tibshirani, An Introduction to
            the Bootstrap, 1993, from memory).
        """
        missing = [name for name in self.factors if name not in settings]
        if missing:
            raise BadInput(
                "Settings are missing.", seen=", ".join(settings), allowed=", ".join(self.factors)
            )
        given = np.array([settings[name] for name in self.factors])
        row = np.concatenate([[1.0], (given - self.centre) / self.scale])
        leverage = float(row @ self.inverse @ row)
        value = float(row @ self.coefficients)
        half = _t(self.spare) * self.residual_sd * math.sqrt(1 + leverage)
        unseen = self._unseen(given, leverage)
        if feed and self.feeds and feed not in self.feeds:
            if self.other_sd is None:
                unseen = unseen or Unseen(kind="feed")
            else:
                half = max(half, _t(len(self.feeds) - 1) * self.other_sd)
        return Forecast(value=value, low=value - half, high=value + half, unseen=unseen)

    def _unseen(self, given: Floats, leverage: float) -> Unseen | None:
        for name, value, low, high in zip(self.factors, given, self.low, self.high, strict=True):
            slack = 1e-9 * max(abs(low), abs(high))
            if not low - slack <= value <= high + slack:
                return Unseen(
                    kind="range", factor=name, value=float(value), low=float(low), high=float(high)
                )
        return Unseen(kind="combination") if leverage > self.furthest * (1 + 1e-9) else None

    def effects(self) -> tuple[Effect, ...]:
        """What one unit more of each setting does, with the interval that holds nine of ten.

        Runs of one feed share what the settings do not say of it: where feeds are known, the
        interval is at least that of the jackknife by feed.
        """
        found = []
        for at, name in enumerate(self.factors, 1):
            scale = float(self.scale[at - 1])
            each = float(self.coefficients[at]) / scale
            half = _t(self.spare) * self.residual_sd * math.sqrt(float(self.inverse[at, at]))
            if self.jackknife_sd is not None:
                half = max(half, _t(len(self.feeds) - 1) * float(self.jackknife_sd[at]))
            found.append(
                Effect(
                    factor=name,
                    each=each,
                    each_lo=each - half / scale,
                    each_hi=each + half / scale,
                    low=float(self.low[at - 1]),
                    high=float(self.high[at - 1]),
                )
            )
        return tuple(found)


@cache
def _t(spare: int) -> float:
    return float(stats.t.ppf(_HALF, spare))


def fit_runs(
    factors: Sequence[str],
    runs: Sequence[Mapping[str, float]],
    what: str,
    *,
    feeds: Sequence[str] = (),
) -> Fitted:
    """Ordinary least squares of what was measured on the settings of the mill's own runs.

    Parameters
    ----------
    factors : sequence of str
        Names of the settings.
    runs : sequence of mapping
        Each run's settings, and ``what``.
    what : str
        What is to be explained, such as durability or load.
    feeds : sequence of str, optional
        What each run made: runs of one feed are alike in what no setting says.

    Returns
    -------
    fitted : Fitted
        With which to forecast.

    Raises
    ------
    BadInput
        If runs are too few, a value is missing, or two factors always moved together.

    Sources
    -------
    [1] Ordinary least squares (any text on regression).
    """
    given, seen = _numbers_of(factors, runs, what)
    count, width = len(runs), len(factors) + 1
    centre, scale = given.mean(axis=0), given.std(axis=0)
    design = np.column_stack([np.ones(count), (given - centre) / scale])
    if np.linalg.matrix_rank(design, tol=1e-8 * count) < width:
        raise BadInput(
            "Two settings always moved together, so their effects cannot be told apart.",
            seen=", ".join(factors),
            allowed="settings that were moved apart at least once",
        )
    inverse = np.linalg.inv(design.T @ design)
    coefficients = inverse @ design.T @ seen
    rest = seen - design @ coefficients
    spare = count - width
    other_sd, jackknife_sd = _by_feed(design, seen, coefficients, feeds)
    return Fitted(
        factors=tuple(factors),
        coefficients=coefficients,
        centre=centre,
        scale=scale,
        inverse=inverse,
        residual_sd=math.sqrt(float(rest @ rest) / spare),
        spare=spare,
        low=given.min(axis=0),
        high=given.max(axis=0),
        furthest=float(np.einsum("ij,jk,ik->i", design, inverse, design).max()),
        feeds=tuple(sorted(set(feeds))),
        other_sd=other_sd,
        jackknife_sd=jackknife_sd,
    )


def _by_feed(
    design: Floats, seen: Floats, coefficients: Floats, feeds: Sequence[str]
) -> tuple[float | None, Floats | None]:
    """Error at feeds left out, and what leaving them out does to the coefficients."""
    names = sorted(set(feeds))
    if len(names) < LEAST_FEEDS:
        return None, None
    errors, moved = [], []
    for name in names:
        kept = np.array([one != name for one in feeds])
        if np.linalg.matrix_rank(design[kept], tol=1e-6 * len(seen)) < design.shape[1]:
            return None, None
        found, *_ = np.linalg.lstsq(design[kept], seen[kept], rcond=None)
        errors.append(float(np.mean((seen[~kept] - design[~kept] @ found) ** 2)))
        moved.append((found - coefficients) ** 2)
    count = len(names)
    spread: Floats = np.sqrt((count - 1) / count * np.sum(moved, axis=0))
    return math.sqrt(sum(errors) / count), spread


def _numbers_of(
    factors: Sequence[str], runs: Sequence[Mapping[str, float]], what: str
) -> tuple[Floats, Floats]:
    """Settings and what was measured, refusing runs that cannot tell."""
    count, width = len(runs), len(factors) + 1
    if count < width + LEAST_SPARE:
        raise BadInput(
            "Too few runs for so many settings.",
            seen=f"{count} runs, {len(factors)} settings",
            allowed=f"{width + LEAST_SPARE} runs or more",
            do="Log more runs, or leave a setting out.",
        )
    try:
        given = np.array([[run[name] for name in factors] for run in runs], dtype=np.float64)
        seen = np.array([run[what] for run in runs], dtype=np.float64)
    except KeyError as fault:
        raise BadInput(
            "A run lacks a value.", seen=f"no {fault.args[0]}", allowed=", ".join([*factors, what])
        ) from fault
    scale = given.std(axis=0)
    if not np.all(np.isfinite(given)) or not np.all(np.isfinite(seen)) or np.any(scale == 0):
        still = [name for name, one in zip(factors, scale, strict=True) if not one > 0]
        raise BadInput(
            "The runs do not tell.",
            seen=f"never moved: {', '.join(still) or 'a value is no number'}",
            allowed="numbers, and each setting moved at least once",
        )
    return given, seen


def suggest(
    fitted: Fitted,
    present: Mapping[str, float],
    least: float,
    *,
    movable: Sequence[str],
    feed: str = "",
    lower: bool = False,
    steps: int = 40,
) -> tuple[Move, ...]:
    """For each movable setting the smallest move after which the low end is enough.

    Parameters
    ----------
    fitted : Fitted
        The regression.
    present : mapping of str to float
        Settings now.
    least : float
        What the low end of the interval must reach, or what its high end must not pass.
    movable : sequence of str
        Settings that may be moved; those the regression lacks are passed over.
    feed : str
        What is run.
    lower : bool
        Whether little is wanted, so that the high end counts.
    steps : int
        Into which each setting's range is cut.

    Returns
    -------
    moves : tuple of Move
        At most one for each setting, only within what was run; none where nothing reaches it.

    Sources
    -------
    [1] Search over the runs' own ranges; nothing outside them is ever suggested.
    """
    moves = []
    for name in movable:
        if name not in fitted.factors:
            continue
        at = fitted.factors.index(name)
        low, high = float(fitted.low[at]), float(fitted.high[at])
        values = [low + (high - low) * step / steps for step in range(steps + 1)]
        for value in sorted(values, key=lambda one: abs(one - present[name])):
            found = fitted.forecast({**present, name: value}, feed=feed)
            if found.seen and (found.high <= least if lower else found.low >= least):
                moves.append(Move(factor=name, value=value, forecast=found))
                break
    return tuple(moves)
