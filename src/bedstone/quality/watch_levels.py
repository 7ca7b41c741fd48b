"""What the level of a tank or bin knows of the meters and scales that draw from it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise, permutations
from typing import Final

import numpy as np
import numpy.typing as npt

from bedstone.quality.watch import Suspicion, Witness
from bedstone.quality.watch_samples import DAY_S, DRIFT, ZERO
from bedstone.quality.whitening import whiten

__all__ = [
    "GAUGE",
    "WRONG_BIN",
    "LevelSeen",
    "Passed",
    "beginnings_of",
    "level_evidence",
    "stuck_since",
    "wrong_bins",
]

Floats = npt.NDArray[np.float64]
Key = tuple[str, str]
GAUGE, WRONG_BIN = "gauge shift", "wrong bin opened"
MOST_OF_PAIRS: Final = 60
NEARLY_ALL: Final = (0.7, 1.3)
"""What comes out of the wrong bin, as a part of what was booked: all of it, give or take levels."""
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
    """Mass into (above nothing) or out of a place by the books, and over which instrument.

    ``alike_frac`` is by which part all such movements between two readings may err the same way.
    """

    at: float
    mass_kg: float
    sd_kg: float
    instrument: str
    alike_frac: float = 0.0


@dataclass
class _Draws:
    """What an instrument took from each place, in order of time."""

    at: Floats
    kg: Floats


def beginnings_of(
    passed: Mapping[str, Sequence[Passed]],
    *,
    proved_at: Mapping[str, float],
    instruments: Iterable[str],
) -> dict[str, Floats]:
    """Draws of each instrument since it was last proved: each may be the first wrong one. [s]

    Parameters
    ----------
    passed : mapping of str to sequence of Passed
        Into and out of each place by the books.
    proved_at : mapping of str to float
        When an instrument was last proved right: its fault began later. [s]
    instruments : iterable of str
        Scales and meters that may be wrong.

    Returns
    -------
    begins_at : dict of str to Floats
        By instrument, in order of time, at most four hundred evenly chosen.
    """
    wanted = set(instruments)
    at: dict[str, set[float]] = {tool: set() for tool in sorted(wanted)}
    for rows in passed.values():
        for row in rows:
            if row.mass_kg < 0 and row.instrument in wanted:
                at[row.instrument].add(row.at)
    return {
        tool: _thinned(moment for moment in moments if moment > proved_at.get(tool, -np.inf))
        for tool, moments in at.items()
    }


def _thinned(moments: Iterable[float], most: int = MOST_BEGINNINGS) -> Floats:
    since = np.array(sorted(moments))
    return np.asarray(since[:: max(1, -(-since.size // most))], dtype=np.float64)


def level_evidence(
    levels: Mapping[str, Sequence[LevelSeen]],
    passed: Mapping[str, Sequence[Passed]],
    begins: Mapping[Key, Floats],
) -> tuple[tuple[Witness, ...], dict[Key, dict[str, Floats]]]:
    """Witnesses that levels give, and what each suspicion would show in them.

    Parameters
    ----------
    levels : mapping of str to sequence of LevelSeen
        Of each place, in order of time, each time once.
    passed : mapping of str to sequence of Passed
        Into and out of each place by the books, corrections after a count left out.
    begins : mapping of (str, str) to Floats
        Possible beginnings by instrument (or place) and kind: a gain that stepped (size: part that
        flows more than is read), one that drifts (the same by day), a zero that shifted (kg more
        with each draw), a gauge that shifted (kg it shows too much). [s]

    Returns
    -------
    witnesses : tuple of Witness
        One for each place that was read at least three times.
    shows : dict
        By instrument and kind: by witness, shape (readings, beginnings).
    """
    shown: dict[Key, dict[str, Floats]] = {}
    witnesses = []
    for place, rows in sorted(levels.items()):
        if len(rows) < LEAST_READINGS:
            continue
        flows = passed.get(place, ())
        drawn = _drawn(flows)
        parts: list[tuple[Key, Floats]] = []
        for key, since in begins.items():
            effect = _effect(key, since, place, rows, drawn) if since.size else None
            if effect is not None:
                parts.append((key, effect))
        residual, seen = _whitened(rows, flows, [effect for _, effect in parts])
        name = f"level of {place}"
        witnesses.append(
            Witness(name=name, known_at=np.array([row.at for row in rows]), residual=residual)
        )
        for (key, _), shows in zip(parts, seen, strict=True):
            shown.setdefault(key, {})[name] = shows
    return tuple(witnesses), shown


def _effect(
    key: Key,
    since: Floats,
    place: str,
    rows: Sequence[LevelSeen],
    drawn: Mapping[str, _Draws],
) -> Floats | None:
    """What a suspicion would add to level less book at each reading; None if nothing."""
    about, kind = key
    if kind == GAUGE:
        return _shifted(rows, since) if about == place else None
    draws = drawn.get(about)
    if draws is None:
        return None
    if kind == DRIFT:
        return -_taken_drifting(draws, rows, since)
    if kind == ZERO:
        return -_taken(_Draws(draws.at, np.ones(draws.at.size)), rows, since)
    return -_taken(draws, rows, since)


def wrong_bins(
    levels: Mapping[str, Sequence[LevelSeen]], passed: Mapping[str, Sequence[Passed]]
) -> tuple[Suspicion, ...]:
    """Suspicions that what was booked out of one bin came out of another.

    Parameters
    ----------
    levels, passed
        As :func:`level_evidence` takes them.

    Returns
    -------
    suspicions : tuple of Suspicion
        By the witnesses of :func:`level_evidence`. For each two bins that the same scale draws from and that are both read: since a draw all
        that was booked out of the first came out of the other (size one, give or take).
    """
    read = {place: rows for place, rows in sorted(levels.items()) if len(rows) >= LEAST_READINGS}
    drawn = {place: _drawn(passed.get(place, ())) for place in read}
    pairs: dict[tuple[str, str], tuple[_Draws, Floats]] = {}
    for place, other in permutations(read, 2):
        if drawn[place].keys() & drawn[other].keys():
            out = _merged(drawn[place].values())
            after = out.at[out.at > read[place][0].at]
            pairs[place, other] = out, _thinned(after, MOST_OF_PAIRS)
    found: dict[tuple[str, str], dict[str, Floats]] = {}
    for name, rows in read.items():
        mine = [pair for pair in pairs if name in pair]
        effects = [
            _taken(out, rows, since) * (1.0 if pair[0] == name else -1.0)
            for pair in mine
            for out, since in [pairs[pair]]
        ]
        _, seen = _whitened(rows, passed.get(name, ()), effects)
        for pair, shows in zip(mine, seen, strict=True):
            found.setdefault(pair, {})[f"level of {name}"] = shows
    return tuple(
        Suspicion(
            about=place,
            kind=WRONG_BIN,
            begins_at=pairs[place, other][1],
            shows=shows,
            sizes=NEARLY_ALL,
            other=other,
        )
        for (place, other), shows in found.items()
        if pairs[place, other][1].size
    )


def _drawn(flows: Sequence[Passed]) -> dict[str, _Draws]:
    """What each instrument took, in order of time."""
    rows: dict[str, list[Passed]] = {}
    for row in flows:
        if row.mass_kg < 0 and row.instrument:
            rows.setdefault(row.instrument, []).append(row)
    return {tool: _as_draws(mine) for tool, mine in rows.items()}


def _as_draws(rows: Sequence[Passed]) -> _Draws:
    at, kg = np.array([row.at for row in rows]), np.array([-row.mass_kg for row in rows])
    order = np.argsort(at, kind="stable")
    return _Draws(at[order], kg[order])


def _merged(drawn: Iterable[_Draws]) -> _Draws:
    rows = list(drawn)
    at, kg = np.concatenate([row.at for row in rows]), np.concatenate([row.kg for row in rows])
    order = np.argsort(at, kind="stable")
    return _Draws(at[order], kg[order])


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
    alike = np.array([abs(row.mass_kg) * row.alike_frac for row in flows])[order]
    same_way = np.concatenate([[0.0], np.cumsum(alike)])[number]
    walk_var += np.diff(same_way, prepend=same_way[:1]) ** 2
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
