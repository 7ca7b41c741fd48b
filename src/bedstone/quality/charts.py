"""Control charts: cumulative sums and moving averages of residuals, as a person looks at them."""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bedstone.errors import BadInput
from bedstone.quantities.compiling import compiled_and_kept

__all__ = ["Cusum", "Ewma", "cusum", "cusum_run_length", "ewma"]

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Cusum:
    """Upper and lower sums after each residual, and the first that passed the limit, or -1."""

    upper: Floats
    lower: Floats
    alarm: int


@dataclass(frozen=True, slots=True)
class Ewma:
    """Moving average after each residual, its limits either way, and the first beyond, or -1."""

    value: Floats
    limit: Floats
    alarm: int


@compiled_and_kept
def _cusum(x: Floats, slack: float, limit: float, upper: Floats, lower: Floats) -> int:
    up = down = 0.0
    alarm = -1
    for i in range(x.size):
        if not math.isnan(x[i]):
            up = max(0.0, up + x[i] - slack)
            down = max(0.0, down - x[i] - slack)
        upper[i], lower[i] = up, down
        if alarm < 0 and max(up, down) > limit:
            alarm = i
    return alarm


def cusum(residuals: Floats, slack: float = 0.5, limit: float = 5.0) -> Cusum:
    """Tabular cumulative sums of both sides.

    Parameters
    ----------
    residuals : Floats
        In standard deviations; NaN is passed over.
    slack : float
        Half the shift that is to be found, in standard deviations.
    limit : float
        Sum that raises an alarm, in standard deviations.

    Returns
    -------
    sums : Cusum
        After each residual.

    Sources
    -------
    [1] D. C. Montgomery, Introduction to Statistical Quality Control, tabular CUSUM; NIST/SEMATECH
        e-Handbook of Statistical Methods, 6.3.2.3.
    """
    upper, lower = np.zeros(residuals.size), np.zeros(residuals.size)
    alarm = int(_cusum(np.asarray(residuals, dtype=np.float64), slack, limit, upper, lower))
    return Cusum(upper, lower, alarm)


def cusum_run_length(shift: float, slack: float = 0.5, limit: float = 5.0) -> float:
    """Average number of residuals until a two-sided CUSUM alarms.

    Parameters
    ----------
    shift : float
        True mean of the residuals in standard deviations; 0 gives the false-alarm run length.
    slack, limit : float
        As :func:`cusum` takes them.

    Returns
    -------
    count : float
        Average run length.

    Sources
    -------
    [1] Siegmund's approximation, (exp(-2 D b) + 2 D b - 1) / (2 D^2) with b = limit + 1.166, D the
        shift less the slack, both sides added as rates (Montgomery, same book).
    """
    b = limit + 1.166

    def one_side(delta: float) -> float:
        if abs(delta) < 1e-9:  # noqa: PLR2004 - the limit of the form where it is 0 / 0
            return b * b
        return (math.exp(-2 * delta * b) + 2 * delta * b - 1) / (2 * delta * delta)

    return 1 / (1 / one_side(shift - slack) + 1 / one_side(-shift - slack))


def ewma(residuals: Floats, weight: float = 0.2, width: float = 2.86) -> Ewma:
    """Exponentially weighted moving average with its exact, widening limits.

    Parameters
    ----------
    residuals : Floats
        In standard deviations; NaN is passed over.
    weight : float
        Of the newest residual, above 0 up to 1.
    width : float
        Of the limits in standard deviations of the average.

    Returns
    -------
    average : Ewma
        After each residual.

    Raises
    ------
    BadInput
        If the weight is no weight.

    Sources
    -------
    [1] NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4.
    """
    if not 0 < weight <= 1:
        raise BadInput("A weight is above 0 up to 1.", seen=f"{weight:g}", allowed="0 to 1")
    value, limit = np.zeros(residuals.size), np.zeros(residuals.size)
    now, count, alarm = 0.0, 0, -1
    for i, x in enumerate(residuals):
        if not math.isnan(x):
            now += weight * (x - now)
            count += 1
        spread = weight / (2 - weight) * (1 - (1 - weight) ** (2 * count))
        value[i], limit[i] = now, width * math.sqrt(spread)
        if alarm < 0 and abs(now) > limit[i] > 0:
            alarm = i
    return Ewma(value, limit, alarm)
