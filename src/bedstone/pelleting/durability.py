"""Pellet durability: the tumbling test, and a mill's own regression that knows where it has been."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy import stats

from bedstone.errors import BadInput

__all__ = ["Durability", "Fitted", "Forecast", "durability", "fit_runs", "suggest"]

TEST_G: Final = 500.0
TURNS: Final = 500
_LEAST_SPARE: Final = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Durability:
    """Durability index of a sample: mean of its tests, and the interval that holds 95 %."""

    index: float
    index_lo: float
    index_hi: float
    tests: int


def durability(
    retained_g: Sequence[float], *, test_g: float = TEST_G, repeat_sd: float = 1.0
) -> Durability:
    """Pellet durability index of one or more tumbling tests.

    Parameters
    ----------
    retained_g : sequence of float
        Left on the sieve after each test, grams.
    test_g : float
        Put into the box each time, grams.
    repeat_sd : float
        Standard deviation of a repeated test in points, used until three tests were made
        (common practice, no source).

    Returns
    -------
    durability : Durability
        In per cent.

    Raises
    ------
    BadInput
        If more was left than was put in, or there was no test.

    Sources
    -------
    [1] 500 g of screened pellets, a dust-tight box 30 x 30 x 12 cm with a 23 x 5 cm baffle, 50
        turns a minute for 10 minutes; index = 100 times what stays on the sieve over 500 g
        (the standard tumbling test as two course notes print it).
    """
    if not retained_g or min(retained_g) < 0 or max(retained_g) > test_g or test_g <= 0:
        raise BadInput(
            "A durability test cannot be right.",
            seen=", ".join(f"{mass:g} g" for mass in retained_g) or "no test",
            allowed=f"0 to {test_g:g} g left, one test or more",
        )
    each = [100 * mass / test_g for mass in retained_g]
    count = len(each)
    mean = sum(each) / count
    if count >= _LEAST_SPARE:
        sd = math.sqrt(sum((one - mean) ** 2 for one in each) / (count - 1))
        half = float(stats.t.ppf(0.975, count - 1)) * sd / math.sqrt(count)
    else:
        half = float(stats.norm.ppf(0.975)) * repeat_sd / math.sqrt(count)
    return Durability(
        index=mean, index_lo=max(mean - half, 0.0), index_hi=min(mean + half, 100.0), tests=count
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """What a regression expects at some settings; nothing where it has not been."""

    value: float
    low: float
    high: float
    seen: bool  # within what the runs have covered
    why_not: str


@dataclass(frozen=True, slots=True)
class Fitted:
    """A mill's own regression of durability or rate on its settings."""

    factors: tuple[str, ...]
    coefficients: npt.NDArray[np.float64]  # constant first, of scaled factors
    centre: npt.NDArray[np.float64]
    scale: npt.NDArray[np.float64]
    inverse: npt.NDArray[np.float64]  # of the moment matrix
    residual_sd: float
    spare: int  # runs beyond coefficients
    low: npt.NDArray[np.float64]
    high: npt.NDArray[np.float64]
    furthest: float  # largest leverage among the runs

    def forecast(self, settings: Mapping[str, float]) -> Forecast:
        """Value and 90 % interval of one new run at these settings.

        Parameters
        ----------
        settings : mapping of str to float
            Each factor in the units of the runs.

        Returns
        -------
        forecast : Forecast
            ``seen`` is False beyond the range of a factor, or at a combination further out than
            any run was.

        Raises
        ------
        BadInput
            If a factor is missing.

        Sources
        -------
        [1] Prediction interval and leverage of ordinary least squares (any text on regression).
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
        half = float(stats.t.ppf(0.95, self.spare)) * self.residual_sd * math.sqrt(1 + leverage)
        why = self._outside(given, leverage)
        return Forecast(value=value, low=value - half, high=value + half, seen=not why, why_not=why)

    def _outside(self, given: npt.NDArray[np.float64], leverage: float) -> str:
        for name, value, low, high in zip(self.factors, given, self.low, self.high, strict=True):
            if not low <= value <= high:
                return (
                    f"{name} {value:g} lies outside {low:g} to {high:g}, which is all that was run"
                )
        if leverage > self.furthest * (1 + 1e-9):
            return "no run has come near this combination"
        return ""


def fit_runs(factors: Sequence[str], runs: Sequence[Mapping[str, float]], what: str) -> Fitted:
    """Ordinary least squares of what was measured on the settings of the mill's own runs.

    Parameters
    ----------
    factors : sequence of str
        Names of the settings.
    runs : sequence of mapping
        Each run's settings, and ``what``.
    what : str
        What is to be explained, such as durability or rate.

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
    )


def _numbers_of(
    factors: Sequence[str], runs: Sequence[Mapping[str, float]], what: str
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Settings and what was measured, refusing runs that cannot tell."""
    count, width = len(runs), len(factors) + 1
    if count < width + _LEAST_SPARE:
        raise BadInput(
            "Too few runs for so many settings.",
            seen=f"{count} runs, {len(factors)} settings",
            allowed=f"{width + _LEAST_SPARE} runs or more",
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
    fitted: Fitted, present: Mapping[str, float], least: float, *, steps: int = 40
) -> dict[str, float] | None:
    """The smallest move of one setting after which the low end is enough, within what was run.

    Parameters
    ----------
    fitted : Fitted
        The regression.
    present : mapping of str to float
        Settings now.
    least : float
        What the low end of the interval must reach.
    steps : int
        Into which each setting's range is cut.

    Returns
    -------
    settings : dict or None
        With one setting moved; None where nothing that was run reaches it.

    Sources
    -------
    [1] Search over the runs' own ranges; nothing outside them is ever suggested.
    """
    now = fitted.forecast(present)
    if now.seen and now.low >= least:
        return dict(present)
    best: tuple[float, dict[str, float]] | None = None
    for index, name in enumerate(fitted.factors):
        low, high = float(fitted.low[index]), float(fitted.high[index])
        for step in range(steps + 1):
            value = low + (high - low) * step / steps
            moved = {**present, name: value}
            found = fitted.forecast(moved)
            if not found.seen or found.low < least:
                continue
            far = abs(value - present[name]) / float(fitted.scale[index])
            if best is None or far < best[0]:
                best = (far, moved)
    return None if best is None else best[1]
