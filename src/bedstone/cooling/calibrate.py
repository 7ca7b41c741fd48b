"""The two factors of a mill's own cooler from its logged readings, always with their interval.

Outlet temperature alone cannot tell the two apart: quick heat with slow moisture cools like slow
heat with quick moisture. Moisture helps, the temperature of the air that leaves helps most. So
without air readings the heat factor stays where it is and only its whole range is carried.
"""

import math
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from scipy.optimize import least_squares

from bedstone.cooling.bed import MODES, Floats
from bedstone.cooling.cooler import CELLS, CLOSE_C, CLOSE_DB, bed_numbers, check_pellets
from bedstone.cooling.model import (
    DEFAULT_FACTORS,
    AirIn,
    Cooler,
    Factors,
    PelletKind,
    PelletsIn,
)
from bedstone.cooling.rates import leaving_of_many
from bedstone.errors import BadInput
from bedstone.quantities.moisture import dry_basis

__all__ = ["Calibration", "CoolerReading", "NextReading", "calibrate"]

LEAST_READINGS: Final = 5
_HEAT_COLUMN: Final = 3  # of BedNumbers
_VAPOUR_COLUMNS: Final = (4, 7)  # the film and the inside of the pellet
_NORMAL_90: Final = 1.6448536269514722
_BOUND: Final = math.log(8.0)
_STEP: Final = 1e-3
_NEXT_RUNS: Final = 12
_THREADS: Final = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolerReading:
    """One logged run: what went in, and what was read of what left, with the error of reading."""

    cooler: Cooler
    pellet: PelletKind
    pellets: PelletsIn
    air: AirIn
    outlet_c: float
    outlet_sd_dk: float = 0.5
    moisture_wb: float | None = None
    moisture_sd_wb: float = 0.002
    exhaust_c: float | None = None
    exhaust_sd_dk: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class NextReading:
    """How wide the interval of each factor would be with a dozen more runs that log this too."""

    what: str
    heat_spread: float  # upper end over lower end
    moisture_spread: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """The factors found, how well the readings fit, and what is worth logging next."""

    factors: Factors
    readings: int
    misfit: float  # root of mean squared residual in its own errors; 1 is as expected
    left_out: tuple[int, ...] = ()  # readings beyond 4 of their errors, by number from 0
    next_readings: tuple[NextReading, ...] = field(default=())


def calibrate(readings: Sequence[CoolerReading], start: Factors = DEFAULT_FACTORS) -> Calibration:
    """Heat and moisture factor of a cooler from logged runs, fitted in logarithms within bounds.

    Parameters
    ----------
    readings : sequence of CoolerReading
        At least five runs of one cooler; those in which the air that leaves was read decide the
        heat factor.
    start : Factors
        What is believed before; its interval is used as a weak belief in the fit.

    Returns
    -------
    calibration : Calibration
        Factors with 90 % intervals.

    Raises
    ------
    BadInput
        If there are too few readings, or one cannot be.

    Sources
    -------
    [1] Nonlinear least squares with the covariance of the linearised problem, widened by the
        misfit where it exceeds 1: common practice of regression.
    """
    if len(readings) < LEAST_READINGS:
        raise BadInput(
            "Too few readings to calibrate a cooler.",
            seen=str(len(readings)),
            allowed=f"{LEAST_READINGS} runs or more",
            do="Log outlet temperature, moisture, and the temperature of the air that leaves.",
        )
    for reading in readings:
        check_pellets(reading.pellets, reading.air)
    problem = _Problem(readings, start)
    kept = np.ones(len(readings), dtype=bool)
    theta, jacobian, misfit = problem.fit(kept)
    far = problem.far(theta)
    if far.any() and (~far).sum() >= LEAST_READINGS:
        kept = ~far
        theta, jacobian, misfit = problem.fit(kept)
    cover = np.linalg.inv(jacobian.T @ jacobian) * max(misfit, 1.0) ** 2
    spread = _NORMAL_90 * np.sqrt(np.diag(cover))
    factors = problem.factors(theta, spread, kept)
    return Calibration(
        factors=factors,
        readings=int(kept.sum()),
        misfit=misfit,
        left_out=tuple(int(i) for i in np.flatnonzero(~kept)),
        next_readings=problem.next_readings(theta, jacobian),
    )


class _Problem:
    """The readings as arrays; parameters are the logarithms of heat and moisture factor."""

    def __init__(self, readings: Sequence[CoolerReading], start: Factors) -> None:
        self.readings = readings
        self.start = start
        self.rows = np.array(
            [bed_numbers(r.cooler, r.pellet, r.pellets, r.air) for r in readings], dtype=np.float64
        )
        nan = math.nan
        self.seen = np.array(
            [
                (
                    r.outlet_c,
                    nan if r.moisture_wb is None else dry_basis(r.moisture_wb),
                    nan if r.exhaust_c is None else r.exhaust_c,
                )
                for r in readings
            ]
        )
        self.sd = np.array(
            [
                (
                    r.outlet_sd_dk,
                    r.moisture_sd_wb / (1 - (r.moisture_wb or 0.12)) ** 2,
                    r.exhaust_sd_dk,
                )
                for r in readings
            ]
        )
        self.centre = np.log([start.heat, start.moisture])
        self.belief = np.array(
            [
                math.log(start.heat_hi / start.heat_lo) / 2 / _NORMAL_90,
                math.log(start.moisture_hi / start.moisture_lo) / 2 / _NORMAL_90,
            ]
        )
        self.has_air = bool(np.isfinite(self.seen[:, 2]).any())

    def leaving(self, theta: Floats) -> Floats:
        rows = self.rows.copy()
        rows[:, _HEAT_COLUMN] *= math.exp(theta[0])
        rows[:, _VAPOUR_COLUMNS] *= math.exp(theta[1])
        with ThreadPoolExecutor(max_workers=_THREADS) as pool:
            parts = list(
                pool.map(
                    lambda part: leaving_of_many(part, MODES, CELLS, CLOSE_C, CLOSE_DB),
                    np.array_split(rows, _THREADS),
                )
            )
        return np.asarray(np.concatenate(parts)[:, [0, 1, 2]], dtype=np.float64)

    def residuals(self, theta: Floats, kept: np.ndarray) -> Floats:
        misses = ((self.leaving(theta) - self.seen) / self.sd)[kept]
        return np.concatenate([misses[np.isfinite(misses)], (theta - self.centre) / self.belief])

    def fit(self, kept: np.ndarray) -> tuple[Floats, Floats, float]:
        """Parameters, Jacobian (with the belief), and misfit; heat is held without air readings."""
        free = [0, 1] if self.has_air else [1]

        def whole(part: Floats) -> Floats:
            theta = self.centre.copy()
            theta[free] = part
            return theta

        def residuals_of(part: Floats) -> Floats:
            return self.residuals(whole(part), kept)

        found = least_squares(
            residuals_of,
            self.centre[free],
            bounds=(-_BOUND, _BOUND),
            diff_step=[_STEP] * len(free),
            x_scale=0.2,
            xtol=1e-4,
        )
        theta = whole(found.x)
        jacobian = self.jacobian(theta, kept)
        count = found.fun.size - 2 - len(free)
        misfit = math.sqrt(float(np.sum(found.fun[:-2] ** 2)) / max(count, 1))
        return theta, jacobian, misfit

    def jacobian(self, theta: Floats, kept: np.ndarray) -> Floats:
        columns = []
        for which in range(2):
            up, down = theta.copy(), theta.copy()
            up[which] += _STEP
            down[which] -= _STEP
            columns.append((self.residuals(up, kept) - self.residuals(down, kept)) / (2 * _STEP))
        return np.stack(columns, axis=1)

    def far(self, theta: Floats) -> np.ndarray:
        """Readings of which one value lies beyond 4 of its errors and of the usual misfit."""
        misses = np.abs((self.leaving(theta) - self.seen) / self.sd)
        usual = max(float(np.nanmedian(misses)) / 0.6745, 1.0)
        far: np.ndarray = np.nanmax(np.nan_to_num(misses), axis=1) > 4 * usual
        return far

    def factors(self, theta: Floats, spread: Floats, kept: np.ndarray) -> Factors:
        if self.has_air:
            low, high = theta - spread, theta + spread
        else:
            low, high = self._moisture_over_heat(theta, spread, kept)
        low, high = np.clip(low, -_BOUND, _BOUND), np.clip(high, -_BOUND, _BOUND)
        what = "" if self.has_air else ", heat factor held: the air that leaves was never read"
        return Factors(
            heat=math.exp(theta[0]),
            heat_lo=math.exp(low[0]),
            heat_hi=math.exp(high[0]),
            moisture=math.exp(theta[1]),
            moisture_lo=math.exp(low[1]),
            moisture_hi=math.exp(high[1]),
            source=f"fitted to {int(kept.sum())} logged runs{what}; intervals hold 90 %",
            calibrated=True,
        )

    def _moisture_over_heat(
        self, theta: Floats, spread: Floats, kept: np.ndarray
    ) -> tuple[Floats, Floats]:
        """Heat keeps its whole range; moisture is fitted again at both ends of it."""
        low = np.array([math.log(self.start.heat_lo), theta[1] - spread[1]])
        high = np.array([math.log(self.start.heat_hi), theta[1] + spread[1]])
        for end in (float(low[0]), float(high[0])):

            def residuals_of(part: Floats, end: float = end) -> Floats:
                return self.residuals(np.array([end, part[0]]), kept)

            found = least_squares(
                residuals_of,
                theta[1:],
                bounds=(-_BOUND, _BOUND),
                diff_step=[_STEP],
                x_scale=0.2,
                xtol=1e-4,
            )
            low[1] = min(low[1], found.x[0])
            high[1] = max(high[1], found.x[0])
        return low, high

    def next_readings(self, theta: Floats, jacobian: Floats) -> tuple[NextReading, ...]:
        """Widths to expect from a dozen more runs like these, by what they log."""
        slopes = np.stack(
            [
                (self.leaving(theta + step) - self.leaving(theta - step)) / (2 * _STEP) / self.sd
                for step in (np.array([_STEP, 0.0]), np.array([0.0, _STEP]))
            ],
            axis=2,
        )  # (readings, what is read, parameter)
        each = np.einsum("rwp,rwq->wpq", slopes, slopes) / len(self.readings)
        now = jacobian.T @ jacobian
        choices = {
            "outlet temperature": (0,),
            "outlet temperature and moisture": (0, 1),
            "outlet temperature, moisture and the temperature of the air that leaves": (0, 1, 2),
        }
        answer = []
        for what, which in choices.items():
            more = now + _NEXT_RUNS * sum(each[index] for index in which)
            spread = _NORMAL_90 * np.sqrt(np.diag(np.linalg.inv(more)))
            answer.append(
                NextReading(
                    what=what,
                    heat_spread=math.exp(2 * spread[0]),
                    moisture_spread=math.exp(2 * spread[1]),
                )
            )
        return tuple(answer)
