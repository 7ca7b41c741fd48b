"""What the level of a tank or bin knows of the meters and scales that draw from it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
import numpy.typing as npt

from bedstone.quality.watch import Suspicion, Witness
from bedstone.quality.whitening import whiten

__all__ = ["LevelSeen", "Passed", "level_evidence", "stuck_since"]

Floats = npt.NDArray[np.float64]
DAY_S: Final = 86_400.0
MOST_BEGINNINGS: Final = 400
BOOK_SD_FRAC: Final = 0.0005
"""Of what passes, the least that books err by beside the instruments (common practice, no source)."""
SAME_READINGS: Final = 4
LEAST_READINGS: Final = 3
STUCK_SDS: Final = 6.0


@dataclass(frozen=True, slots=True)
class LevelSeen:
    """A level as mass, with the standard deviation of reading it; times are seconds."""

    at: float
    mass_kg: float
    sd_kg: float
    is_gauge: bool


@dataclass(frozen=True, slots=True)
class Passed:
    """Mass into (above nothing) or out of a place by the books, and over which instrument."""

    at: float
    mass_kg: float
    sd_kg: float
    instrument: str


@dataclass
class _Draws:
    """What an instrument took from each place, in order of time."""

    at: Floats
    kg: Floats


def level_evidence(
    levels: Mapping[str, Sequence[LevelSeen]],
    passed: Mapping[str, Sequence[Passed]],
    *,
    proved_at: Mapping[str, float],
    instruments: Iterable[str],
) -> tuple[tuple[Witness, ...], tuple[Suspicion, ...]]:
    """Witnesses and suspicions that levels give.

    Parameters
    ----------
    levels : mapping of str to sequence of LevelSeen
        Of each place, in order of time, each time once.
    passed : mapping of str to sequence of Passed
        Into and out of each place by the books, corrections after a count left out.
    proved_at : mapping of str to float
        When an instrument was last proved right: its fault began later. [s]
    instruments : iterable of str
        Scales and meters that may be wrong.

    Returns
    -------
    witnesses : tuple of Witness
        One for each place that was read at least three times.
    suspicions : tuple of Suspicion
        For each instrument a gain that stepped and one that drifts (size: part that flows more
        than is read; for a drift by day); for each gauge a shift (size: kg it shows too much).
    """
    read = {place: rows for place, rows in sorted(levels.items()) if len(rows) >= LEAST_READINGS}
    found: dict[tuple[str, str], dict[str, Floats]] = {}
    begins: dict[str, Floats] = {
        tool: _begins(read, passed, tool, proved_at.get(tool, -np.inf)) for tool in instruments
    }
    witnesses = []
    for place, rows in read.items():
        flows = passed.get(place, ())
        parts: list[tuple[tuple[str, str], Floats]] = []
        here = {row.instrument for row in flows}
        for tool, since in [pair for pair in begins.items() if pair[0] in here]:
            draws = _draws(flows, tool)
            if draws.at.size and since.size:
                parts.append(((tool, "gain step"), -_taken(draws, rows, since)))
                parts.append(((tool, "slow drift"), -_taken_drifting(draws, rows, since)))
        gauge_at = np.array([row.at for row in rows if row.is_gauge])[1:]
        if gauge_at.size:
            begins[place] = gauge_at
            parts.append(((place, "gauge shift"), _shifted(rows, gauge_at)))
        residual, seen = _whitened(rows, flows, [shown for _, shown in parts])
        name = f"level of {place}"
        witnesses.append(
            Witness(name=name, known_at=np.array([row.at for row in rows]), residual=residual)
        )
        for (key, _), shows in zip(parts, seen, strict=True):
            found.setdefault(key, {})[name] = shows
    suspicions = tuple(
        Suspicion(about=about, kind=kind, begins_at=begins[about], shows=shows)
        for (about, kind), shows in found.items()
    )
    return tuple(witnesses), suspicions


def _begins(
    levels: Mapping[str, Sequence[LevelSeen]],
    passed: Mapping[str, Sequence[Passed]],
    tool: str,
    proved_at: float,
) -> Floats:
    """Draws of an instrument since it was last proved: each may be the first wrong one."""
    at = {row.at for place in levels for row in passed.get(place, ()) if row.instrument == tool}
    since = np.array(sorted(moment for moment in at if moment > proved_at))
    return np.asarray(since[:: max(1, -(-since.size // MOST_BEGINNINGS))], dtype=np.float64)


def _draws(flows: Sequence[Passed], tool: str) -> _Draws:
    rows = [row for row in flows if row.instrument == tool and row.mass_kg < 0]
    return _Draws(np.array([row.at for row in rows]), np.array([-row.mass_kg for row in rows]))


def _before(draws: _Draws, at: Floats, kg: Floats, *, itself: bool) -> Floats:
    """What had been drawn up to moments."""
    whole = np.concatenate([[0.0], np.cumsum(kg)])
    return np.asarray(whole[np.searchsorted(draws.at, at, side="right" if itself else "left")])


def _taken(draws: _Draws, rows: Sequence[LevelSeen], since: Floats) -> Floats:
    """What was drawn from each beginning up to each reading, shape (readings, beginnings). [kg]"""
    read_at = np.array([row.at for row in rows])
    upto = _before(draws, read_at, draws.kg, itself=True)
    start = _before(draws, since, draws.kg, itself=False)
    return np.asarray(np.maximum(0.0, upto[:, None] - start[None, :]))


def _taken_drifting(draws: _Draws, rows: Sequence[LevelSeen], since: Floats) -> Floats:
    """The same, each draw times the days since the beginning. [kg d]"""
    read_at = np.array([row.at for row in rows])
    days = draws.at / DAY_S
    plain = _taken(draws, rows, since)
    moment = draws.kg * days
    upto = _before(draws, read_at, moment, itself=True)
    start = _before(draws, since, moment, itself=False)
    after = plain > 0
    return np.asarray(
        np.where(after, upto[:, None] - start[None, :] - plain * since[None, :] / DAY_S, 0.0)
    )


def _shifted(rows: Sequence[LevelSeen], since: Floats) -> Floats:
    read_at = np.array([row.at for row in rows])
    gauge = np.array([row.is_gauge for row in rows])
    return np.asarray(((read_at[:, None] >= since[None, :]) & gauge[:, None]).astype(float))


def _whitened(
    rows: Sequence[LevelSeen], flows: Sequence[Passed], signatures: Sequence[Floats]
) -> tuple[Floats, list[Floats]]:
    """Level less book, and what each suspicion would show there, as independent residuals."""
    read_at = np.array([row.at for row in rows])
    flow_at = np.array([row.at for row in flows])
    order = np.argsort(flow_at, kind="stable")
    change = np.array([row.mass_kg for row in flows])[order]
    error = np.array([row.sd_kg for row in flows])[order] ** 2
    number = np.searchsorted(flow_at[order], read_at, side="right")
    book = np.concatenate([[0.0], np.cumsum(change)])[number]
    through = np.concatenate([[0.0], np.cumsum(np.abs(change))])[number]
    variance = np.concatenate([[0.0], np.cumsum(error)])[number]
    walk_var = np.diff(variance, prepend=variance[:1])
    walk_var += (BOOK_SD_FRAC * np.diff(through, prepend=through[:1])) ** 2
    widths = np.cumsum([0, *(shown.shape[1] for shown in signatures)])
    stacked = np.concatenate([np.zeros((len(rows), 0)), *signatures], axis=1)
    residual, seen = whiten(
        np.array([row.mass_kg for row in rows]) - book,
        stacked,
        noise_sd=np.array([row.sd_kg for row in rows]),
        walk_sd=np.sqrt(np.maximum(walk_var, 0.0)),
    )
    return residual, [seen[:, a:b] for a, b in pairwise(widths)]


def stuck_since(rows: Sequence[LevelSeen], flows: Sequence[Passed]) -> float | None:
    """Since when a gauge shows the same though mass passed; None if it does not.

    Parameters
    ----------
    rows : sequence of LevelSeen
        Readings of one place in order of time.
    flows : sequence of Passed
        Into and out of it by the books.

    Returns
    -------
    since : float or None
        The first of at least four equal readings at the end, if the books moved between them by
        more than six standard deviations of a reading. [s]
    """
    same = 1
    gauge = [row for row in rows if row.is_gauge]
    while same < len(gauge) and gauge[-same - 1].mass_kg == gauge[-1].mass_kg:
        same += 1
    if same < SAME_READINGS:
        return None
    first = gauge[-same]
    moved, most = 0.0, 0.0
    for row in sorted(flows, key=lambda row: row.at):
        if first.at < row.at <= gauge[-1].at:
            moved += row.mass_kg
            most = max(most, abs(moved))
    return first.at if most > STUCK_SDS * first.sd_kg else None
