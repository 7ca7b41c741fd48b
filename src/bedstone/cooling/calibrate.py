"""The two factors of a mill's own cooler from its logged readings, always with their interval.

Outlet temperature alone cannot tell the two apart: quick heat with slow moisture cools like slow
heat with quick moisture. In a trial of 24 made-up runs of an ordinary cooler (standard deviations
as parts of heat and moisture factor; ``tests/unit/cooling/test_what_to_log.py``) outlet temperature
alone left 46 and 27 %, with outlet moisture 13 and 8 %, with the temperature of the air that leaves
7 and 7 %, and with both no less. So without air readings the heat factor stays where it is and only
its whole range is carried.
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
from bedstone.cooling.rates import Edges, leaving_of_many
from bedstone.errors import BadInput, NotSettled
from bedstone.quantities.moisture import dry_basis

__all__ = ["LEAST_READINGS", "Calibration", "CoolerReading", "NextReading", "calibrate"]

LEAST_READINGS: Final = 5
_HEAT_COLUMN: Final = 3  # of BedNumbers
_VAPOUR_COLUMNS: Final = (4, 7)  # the film and the inside of the pellet
_NORMAL_90: Final = 1.6448536269514722
_BOUND: Final = math.log(8.0)
_STEP: Final = 1e-3
_CLOSE: Final = 1e-3  # of the factors, far inside any interval
_NEXT_RUNS: Final = 12
_AIR: Final = 2  # column of what was read: the air that leaves
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
        next_readings=problem.next_readings(theta, jacobian, kept),
    )


def _db_sd(reading: CoolerReading) -> float:
    """Error of a moisture read on the wet basis, on the dry one."""
    return reading.moisture_sd_wb / (1 - (reading.moisture_wb or 0.12)) ** 2


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
        self.sd = np.array([(r.outlet_sd_dk, _db_sd(r), r.exhaust_sd_dk) for r in readings])
        self.centre = np.log([start.heat, start.moisture])
        ends = ((start.heat_lo, start.heat_hi), (start.moisture_lo, start.moisture_hi))
        self.belief = np.array([math.log(high / low) / 2 / _NORMAL_90 for low, high in ends])
        self.was_read = np.isfinite(self.seen)
        self.has_air = bool(self.was_read[:, _AIR].any())
        nowhere = np.full(2, math.nan)
        self.tried: tuple[Floats, Floats] = nowhere, np.zeros((len(readings), 3))
        self.sloped: tuple[Floats, Floats] = nowhere, np.zeros((len(readings), 3, 2))
        # the profile of each bed at the last factors tried, from which the next begins
        count, edges = len(readings), 2 * CELLS + 1
        self.profiles: tuple[Floats, Floats, Edges] = (
            np.zeros((count, edges, 2 + MODES)),
            np.zeros((count, edges, 2)),
            np.zeros(count, dtype=np.int64),
        )

    def leaving(self, theta: Floats) -> Floats:
        """What the model lets leave each bed: temperature, moisture, temperature of the air."""
        rows = self.rows.copy()
        rows[:, _HEAT_COLUMN] *= math.exp(theta[0])
        rows[:, _VAPOUR_COLUMNS] *= math.exp(theta[1])
        shares = [slice(part, None, _THREADS) for part in range(_THREADS)]

        def answered(share: slice) -> Floats:
            pellets: Floats = np.ascontiguousarray(self.profiles[0][share])
            air: Floats = np.ascontiguousarray(self.profiles[1][share])
            edges: Edges = np.ascontiguousarray(self.profiles[2][share])
            found: Floats = leaving_of_many(
                np.ascontiguousarray(rows[share]), MODES, CELLS, CLOSE_C, CLOSE_DB,
                pellets, air, edges,
            )  # fmt: skip
            for part, came in zip(self.profiles, (pellets, air, edges), strict=True):
                part[share] = came
            return found

        answer = np.empty((len(rows), 3))
        with ThreadPoolExecutor(max_workers=_THREADS) as pool:
            for share, found in zip(shares, pool.map(answered, shares), strict=True):
                answer[share] = found[:, :3]
        if not np.isfinite(answer).all():
            raise NotSettled(
                "The bed of a logged run could not be reckoned.",
                seen=f"run {1 + int(np.flatnonzero(~np.isfinite(answer).all(axis=1))[0])}",
                do="look at its readings, or leave it out",
            )
        return answer

    def misses(self, theta: Floats) -> Floats:
        """How far the model's answer lies from each reading, in errors; NaN where not read."""
        if not np.array_equal(self.tried[0], theta):
            self.tried = theta.copy(), self.leaving(theta)
        return np.asarray((self.tried[1] - self.seen) / self.sd, dtype=np.float64)

    def slopes(self, theta: Floats) -> Floats:
        """Of what may be read, in errors, by both parameters: (readings, 3, 2)."""
        if not np.array_equal(self.sloped[0], theta):
            self.misses(theta)
            here = self.tried[1]
            columns = [(self.leaving(theta + step) - here) / _STEP for step in _STEP * np.eye(2)]
            self.sloped = theta.copy(), np.stack(columns, axis=2) / self.sd[:, :, None]
        return self.sloped[1]

    def residuals(self, theta: Floats, kept: np.ndarray) -> Floats:
        """Of what was read of the runs kept, and of what is believed before."""
        return np.concatenate(
            [self.misses(theta)[kept][self.was_read[kept]], (theta - self.centre) / self.belief]
        )

    def jacobian(self, theta: Floats, kept: np.ndarray) -> Floats:
        """Slopes of the residuals by both parameters."""
        return np.concatenate(
            [self.slopes(theta)[kept][self.was_read[kept]], np.diag(1 / self.belief)]
        )

    def fit(self, kept: np.ndarray) -> tuple[Floats, Floats, float]:
        """Parameters, Jacobian (with the belief), and misfit; heat is held without air readings."""
        free = [0, 1] if self.has_air else [1]
        theta = self.least(self.centre, free, kept)
        misses = self.residuals(theta, kept)[:-2]
        misfit = math.sqrt(float(np.sum(misses**2)) / max(misses.size - len(free), 1))
        return theta, self.jacobian(theta, kept), misfit

    def least(self, start: Floats, free: list[int], kept: np.ndarray) -> Floats:
        """The parameters with the least squares, of which only some may move."""

        def whole(part: Floats) -> Floats:
            theta = start.copy()
            theta[free] = part
            return theta

        def residuals_of(part: Floats) -> Floats:
            return self.residuals(whole(part), kept)

        def jacobian_of(part: Floats) -> Floats:
            return self.jacobian(whole(part), kept)[:, free]

        found = least_squares(
            residuals_of,
            start[free],
            jac=jacobian_of,
            bounds=(-_BOUND, _BOUND),
            x_scale=0.2,
            xtol=_CLOSE,
        )
        return whole(found.x)

    def far(self, theta: Floats) -> np.ndarray:
        """Readings of which one value lies beyond 4 of its errors and of the usual misfit."""
        misses = np.abs(self.misses(theta))
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
        heat = np.log([self.start.heat_lo, self.start.heat_hi])
        ends = [float(self.least(np.array([end, theta[1]]), [1], kept)[1]) for end in heat]
        low = np.array([heat[0], min(theta[1] - spread[1], *ends)])
        high = np.array([heat[1], max(theta[1] + spread[1], *ends)])
        return low, high

    def next_readings(
        self, theta: Floats, jacobian: Floats, kept: np.ndarray
    ) -> tuple[NextReading, ...]:
        """Widths to expect from a dozen more runs like these, by what they log."""
        slopes = self.slopes(theta)
        each = np.einsum("rwp,rwq->wpq", slopes, slopes) / len(self.readings)
        now = jacobian.T @ jacobian
        choices = {
            "outlet temperature": (0,),
            "outlet temperature and moisture": (0, 1),
            "outlet temperature and the temperature of the air that leaves": (0, _AIR),
            "outlet temperature, moisture and the temperature of the air that leaves": (0, 1, _AIR),
        }
        answer = []
        for what, which in choices.items():
            more = now + _NEXT_RUNS * sum(each[index] for index in which)
            spread = _NORMAL_90 * np.sqrt(np.diag(np.linalg.inv(more)))
            width = 2 * spread
            if not self.has_air and _AIR not in which:
                low, high = self._moisture_over_heat(theta, spread, kept)
                width = high - low
            answer.append(
                NextReading(
                    what=what,
                    heat_spread=math.exp(width[0]),
                    moisture_spread=math.exp(width[1]),
                )
            )
        return tuple(answer)
