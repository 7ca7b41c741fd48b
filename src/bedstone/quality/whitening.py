"""Readings about a level that wanders, turned into independent residuals."""

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from bedstone.quantities.compiling import compiled_and_kept

__all__ = ["needed", "whiten"]

Floats = npt.NDArray[np.float64]
_WILD: Final = 6.0  # deviations from where one reading is taken for a slip of the pen


@compiled_and_kept
def _filter(columns: Floats, noise_var: Floats, walk_var: Floats) -> Floats:
    rows, count = columns.shape
    out = np.zeros((rows, count))
    now = columns[0].copy()
    spread = noise_var[0]
    out[0, 0] = np.nan
    for k in range(1, rows):
        spread += walk_var[k]
        total = spread + noise_var[k]
        root = math.sqrt(total)
        first = (columns[k, 0] - now[0]) / root
        if math.isnan(first):
            out[k, 0] = np.nan
            continue
        gain = spread / total
        for j in range(count):
            error = columns[k, j] - now[j]
            out[k, j] = error / root
            now[j] += gain * error
        spread *= 1 - gain
    return out


def whiten(
    values: Floats, signatures: Floats, *, noise_sd: Floats, walk_sd: Floats
) -> tuple[Floats, Floats]:
    """Readings about an unknown level that wanders, as independent residuals.

    Parameters
    ----------
    values : Floats
        Readings less what the books expect; NaN is missing.
    signatures : Floats
        What each suspicion would add to the readings, shape (readings, suspicions).
    noise_sd : Floats
        Of each reading.
    walk_sd : Floats
        Of what the books err by since the reading before.

    Returns
    -------
    residuals : Floats
        In standard deviations, NaN for the first and for missing readings. One reading far from
        both of its neighbours is passed over as a slip, the last until another agrees with it.
    seen : Floats
        The signatures, in the same measure; same shape as given.

    Sources
    -------
    [1] Innovations of a local level model (Kalman filter with an unknown start): the same gains
        for readings and signatures. Any textbook of time series; from memory.
    """
    if values.size == 0:
        return values.copy(), signatures.copy()
    values = np.where(_slips(values, noise_sd, walk_sd), np.nan, values)
    columns = np.concatenate([values[:, None], signatures], axis=1)
    start = int(np.argmax(~np.isnan(values)))
    out = np.zeros_like(columns)
    out[: start + 1, 0] = np.nan
    out[start:] = _filter(columns[start:], noise_sd[start:] ** 2, walk_sd[start:] ** 2)
    return out[:, 0], out[:, 1:]


def _slips(values: Floats, noise_sd: Floats, walk_sd: Floats) -> npt.NDArray[np.bool_]:
    """Readings beyond six deviations from the one before and from the one after, the same way."""
    slips = np.zeros(values.size, dtype=np.bool_)
    there = np.flatnonzero(~np.isnan(values))
    if there.size < 3:  # noqa: PLR2004 - a neighbour on either side
        return slips
    x = values[there]
    wide = _WILD * np.sqrt(
        noise_sd[there[1:]] ** 2 + noise_sd[there[:-1]] ** 2 + walk_sd[there[1:]] ** 2
    )
    step = np.diff(x) / wide
    slips[there[1:-1]] = (np.minimum(np.abs(step[:-1]), np.abs(step[1:])) > 1) & (
        step[:-1] * step[1:] < 0
    )
    slips[there[-1]] = abs(step[-1]) > 1
    return slips


def needed(
    size: float, *, flow_kg: float, noise_sd_kg: float, walk_sd_kg: float, limit: float
) -> int | None:
    """How many readings of a level the arithmetic asks for until an error of a meter is seen.

    Parameters
    ----------
    size : float
        What flows more than is read, as a part of it. [1]
    flow_kg : float
        Through the meter from one reading to the next. [kg]
    noise_sd_kg : float
        Of a reading. [kg]
    walk_sd_kg : float
        Of what else the books err by from one reading to the next. [kg]
    limit : float
        Log likelihood ratio that raises an alarm. [1]

    Returns
    -------
    readings : int or None
        Until the expected ratio passes the limit; None if a thousand are not enough.

    Sources
    -------
    [1] The expected ratio is half the square of the size times the whitened signature; the level
        before is taken as known from thirty readings.
    """
    before, after = 30, 1_000
    shown = np.concatenate([np.zeros(before), -size * flow_kg * np.arange(1, after + 1)])
    noise = np.full(shown.size, noise_sd_kg)
    walk = np.full(shown.size, walk_sd_kg)
    _, seen = whiten(np.zeros(shown.size), shown[:, None], noise_sd=noise, walk_sd=walk)
    passed = np.flatnonzero(np.cumsum(seen[:, 0] ** 2) / 2 > limit)
    return int(passed[0]) - before + 1 if passed.size else None
