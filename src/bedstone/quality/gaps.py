"""Power that failed, seen as a gap: everything that is read by itself fell silent at once."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

__all__ = ["Gap", "gaps"]

FEWEST_SERIES: Final = 3
FEWEST_READINGS: Final = 8
SILENT_TIMES: Final = 3.0
NEAR_TIMES: Final = 2.0
LEAST_S: Final = 5.0
LONGEST_S: Final = 12 * 3600.0


@dataclass(frozen=True, slots=True)
class Gap:
    """From the last reading before to the first one after, in seconds, and who fell silent."""

    from_at: float
    to_at: float
    series: tuple[str, ...]


def gaps(readings: Mapping[str, Sequence[float]]) -> tuple[Gap, ...]:
    """Times in which all series that were being read fell silent together and came back together.

    Parameters
    ----------
    readings : mapping of str to sequence of float
        Times of each series, read by itself again and again. [s]

    Returns
    -------
    found : tuple of Gap
        In order of time. All series that were being read (three or more) stop within two of their
        usual intervals of each other, are silent for more than three of the longest of these
        intervals, and go on within two of each other; longer than twelve hours is a mill that
        stood still.

    Sources
    -------
    [1] None: a plain rule. One instrument that stops, or one line, is no power failure.
    """
    series = {
        name: np.unique(np.asarray(times, dtype=np.float64))
        for name, times in sorted(readings.items())
        if len(times) >= FEWEST_READINGS
    }
    usual = {name: float(np.median(np.diff(at))) for name, at in series.items()}
    if len(series) < FEWEST_SERIES:
        return ()
    every = np.unique(np.concatenate(list(series.values())))
    silent_s = np.diff(every)
    least_s = max(LEAST_S, SILENT_TIMES * min(usual.values()))
    found = []
    for index in np.flatnonzero((silent_s > least_s) & (silent_s <= LONGEST_S)):
        start, end = float(every[index]), float(every[index + 1])
        silent = _silent(series, usual, start, end)
        if len(silent) >= FEWEST_SERIES:
            found.append(Gap(start, end, silent))
    return tuple(found)


def _silent(
    series: Mapping[str, np.ndarray], usual: Mapping[str, float], start: float, end: float
) -> tuple[str, ...]:
    """Series that were being read until the gap; none if one of them would not have been missed."""
    names = []
    for name, at in series.items():
        before = at[at <= start]
        after = at[at >= end]
        was_read = before.size and start - float(before[-1]) <= NEAR_TIMES * usual[name]
        if not was_read:
            continue
        goes_on = after.size and float(after[0]) - end <= NEAR_TIMES * usual[name]
        if not goes_on or end - float(before[-1]) <= SILENT_TIMES * usual[name]:
            return ()
        names.append(name)
    return tuple(names)
