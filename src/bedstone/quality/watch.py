"""Which instrument went wrong, since when and by how much: all that witnesses it, taken together.

An instrument that doses to its own reading never witnesses itself. Others do: the level of the tank
it draws from, load cells, the laboratory. Each witness gives a series of residuals with the spread
of chance taken out; each suspicion (this meter lets through a part more since that batch) says what
it would show in every witness. Suspicions are weighed by their likelihood against "all is well".
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from bedstone.quality.sequential import HELD, WINDOW, discoveries, unlikely
from bedstone.quantities.compiling import compiled_and_kept

__all__ = [
    "Found",
    "Standing",
    "Suspicion",
    "Witness",
    "beginnings",
    "find",
    "weighted_ratios",
]

Floats = npt.NDArray[np.float64]
_QUANTILE_95: Final = 3.841458820694124  # chi-square with one degree of freedom
_DRIFT_BETTER: Final = 1.0  # log likelihood by which a drift must explain more than a step
_MOST_FOUND: Final = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Witness:
    """A series of residuals in their own standard deviations, in order of time.

    ``known_at`` is when each became known, in seconds; a late result has a late one. A missing
    residual is NaN.
    """

    name: str
    known_at: Floats
    residual: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspicion:
    """One thing that may be wrong, and what a size of one since each beginning would show.

    ``shows`` has for each witness that it touches an array, shape (residuals, beginnings).
    ``limit`` is its own, where it has one. ``sizes`` are the least and the most that it can be;
    ``other`` is what else it is about, the bin that was really opened.
    """

    about: str
    kind: str
    begins_at: Floats
    shows: Mapping[str, Floats]
    limit: float | None = None
    sizes: tuple[float, float] = (-math.inf, math.inf)
    other: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """How a suspicion stands: its likeliest beginning and size, and how much speaks for it.

    ``ratio`` is the log likelihood ratio against "all is well", ``probability`` that of as much
    by chance. Indices count the suspicion's beginnings.
    """

    about: str
    kind: str
    ratio: float
    probability: float
    first: int
    first_lo: int
    first_hi: int
    size: float
    size_sd: float
    residuals: int
    witnesses: tuple[str, ...]
    other: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """Something wrong beyond chance, in order of how much speaks for it."""

    standing: Standing
    begins_at: float
    begins_lo_at: float
    begins_hi_at: float
    alarm_at: float | None  # when the limit was first passed by what was known then
    rivals: tuple[str, ...]  # what would explain the same nearly as well
    beginnings_at: Floats
    sizes: Floats  # likeliest size for each beginning
    size_sds: Floats


def find(
    witnesses: Sequence[Witness],
    suspicions: Sequence[Suspicion],
    *,
    limit: float,
    share: float = 0.05,
) -> tuple[tuple[Found, ...], tuple[Standing, ...]]:
    """What is wrong beyond chance, and how every suspicion stands.

    Parameters
    ----------
    witnesses : sequence of Witness
        Each once.
    suspicions : sequence of Suspicion
        What may be wrong.
    limit : float
        Log likelihood ratio from which something is called wrong (see ``sequential.threshold``).
    share : float
        Of those named, at most so many false ones on average. [0 to 1]

    Returns
    -------
    found : tuple of Found
        One after another, each taken out of the residuals before the next is looked for, so that
        one fault is not named twice.
    standings : tuple of Standing
        One for each thing that may be wrong, as it stands with what was found taken out of the
        others; the likeliest kind of it.

    Sources
    -------
    [1] Generalised likelihood ratio of signatures in whitened residuals: A. Willsky, H. Jones
        (1976), IEEE Transactions on Automatic Control 21, 108-112, from memory; false discoveries
        as in ``sequential.discoveries``.
    """
    by_name = {row.name: row for row in witnesses}
    found: list[Found] = []
    named: set[str] = set()
    settled: dict[str, Standing] = {}
    stand: dict[int, Standing | None] = {}
    while True:
        best = _best(by_name, suspicions, named, stand)
        standings = list(best.values())
        named_now = discoveries(np.array([row.probability for row, _ in standings]), share)
        beyond = [
            (row, suspicion)
            for (row, suspicion), is_named in zip(standings, named_now, strict=True)
            if row.ratio > _limit(suspicion, limit)
            and is_named
            and _without_one(by_name, suspicion, row.first) > _limit(suspicion, limit) / 2
        ]
        if not beyond or len(found) == _MOST_FOUND:
            break
        row, suspicion = max(beyond, key=lambda pair: pair[0].ratio)
        found.append(_found(by_name, row, suspicion, _limit(suspicion, limit), standings))
        named.add(row.about)
        settled[row.about] = row
        for name, signature in suspicion.shows.items():
            left = by_name[name].residual - row.size * signature[:, row.first]
            by_name[name] = replace(by_name[name], residual=left)
        for number, other in enumerate(suspicions):
            if not other.shows.keys().isdisjoint(suspicion.shows):
                stand.pop(number, None)
    rest = [row for row, _ in standings]
    return tuple(found), (*settled.values(), *rest)


def _limit(suspicion: Suspicion, limit: float) -> float:
    return limit if suspicion.limit is None else suspicion.limit


def _best(
    witnesses: Mapping[str, Witness],
    suspicions: Sequence[Suspicion],
    done: set[str],
    stand: dict[int, Standing | None],
) -> dict[str, tuple[Standing, Suspicion]]:
    """The likeliest kind of each thing that may be wrong; ``stand`` keeps what was reckoned."""
    best: dict[str, tuple[Standing, Suspicion]] = {}
    for number, suspicion in enumerate(suspicions):
        if suspicion.about in done:
            continue
        if number not in stand:
            stand[number] = _standing(witnesses, suspicion)
        row = stand[number]
        if row is None:
            continue
        before = best.get(row.about)
        margin = _DRIFT_BETTER if row.kind == "slow drift" else 0.0
        if before is None or row.ratio > before[0].ratio + margin:
            best[row.about] = row, suspicion
    return best


def _sums(witnesses: Mapping[str, Witness], suspicion: Suspicion) -> tuple[Floats, Floats, int]:
    """Over all witnesses: residual times signature, and signature squared, for each beginning."""
    along = np.zeros(suspicion.begins_at.size)
    power = np.zeros(suspicion.begins_at.size)
    count = 0
    for name, signature in suspicion.shows.items():
        residual = witnesses[name].residual
        there = ~np.isnan(residual)
        along += residual[there] @ signature[there]
        power += np.einsum("ij,ij->j", signature[there], signature[there])
        count += int((there & (np.abs(signature[:, :1]).sum(axis=1) > 0)).sum())
    return along, power, count


def _ratio(along: Floats, power: Floats, sizes: tuple[float, float]) -> tuple[Floats, Floats]:
    """Log likelihood ratio and likeliest size of those that can be, for each beginning."""
    size = np.clip(np.where(power > 0, along / np.where(power > 0, power, 1.0), 0.0), *sizes)
    return size * along - size**2 * power / 2, size


def _standing(witnesses: Mapping[str, Witness], suspicion: Suspicion) -> Standing | None:
    along, power, count = _sums(witnesses, suspicion)
    if suspicion.begins_at.size == 0 or not power.any():
        return None
    ratio, size = _ratio(along, power, suspicion.sizes)
    first = int(np.argmax(ratio))
    within = np.flatnonzero(ratio >= ratio[first] - _QUANTILE_95 / 2)
    return Standing(
        about=suspicion.about,
        kind=suspicion.kind,
        ratio=float(ratio[first]),
        probability=unlikely(float(ratio[first]), max(1, count), WINDOW),
        first=first,
        first_lo=int(within[0]),
        first_hi=int(within[-1]),
        size=float(size[first]),
        size_sd=float(1 / math.sqrt(power[first])) if power[first] > 0 else math.inf,
        residuals=count,
        witnesses=tuple(sorted(suspicion.shows)),
        other=suspicion.other,
    )


def _without_one(witnesses: Mapping[str, Witness], suspicion: Suspicion, first: int) -> float:
    """The ratio without the one residual that speaks loudest: a single reading raises no alarm."""
    parts = [
        (witnesses[name].residual * shows[:, first], shows[:, first] ** 2)
        for name, shows in suspicion.shows.items()
    ]
    along = np.nan_to_num(np.concatenate([part for part, _ in parts]))
    power = np.concatenate([part for _, part in parts])
    rest, left = along.sum() - along, power.sum() - power
    return float(np.min(np.where(left > 0, rest**2 / np.where(left > 0, left, 1.0), 0.0)) / 2)


def _found(
    witnesses: Mapping[str, Witness],
    row: Standing,
    suspicion: Suspicion,
    limit: float,
    standings: Sequence[tuple[Standing, Suspicion]],
) -> Found:
    rivals = tuple(
        f"{other.about} ({other.kind})"
        for other, _ in standings
        if other.about != row.about
        and other.ratio > row.ratio - _QUANTILE_95 / 2
        and set(other.witnesses) & set(row.witnesses)
    )
    along, power, _ = _sums(witnesses, suspicion)
    _, sizes = _ratio(along, power, suspicion.sizes)
    return Found(
        standing=row,
        begins_at=float(suspicion.begins_at[row.first]),
        begins_lo_at=float(suspicion.begins_at[row.first_lo]),
        begins_hi_at=float(suspicion.begins_at[row.first_hi]),
        alarm_at=_alarm_at(witnesses, suspicion, limit),
        rivals=rivals,
        beginnings_at=suspicion.begins_at,
        sizes=sizes,
        size_sds=1 / np.sqrt(np.where(power > 0, power, np.nan)),
    )


def _alarm_at(witnesses: Mapping[str, Witness], suspicion: Suspicion, limit: float) -> float | None:
    """When the limit was first passed, reading by reading in the order in which they were known."""
    parts = [
        (witnesses[name].known_at, witnesses[name].residual, signature)
        for name, signature in suspicion.shows.items()
    ]
    known_at = np.concatenate([row[0] for row in parts])
    residual = np.nan_to_num(np.concatenate([row[1] for row in parts]))
    there = ~np.isnan(np.concatenate([row[1] for row in parts]))
    signature = np.concatenate([row[2] for row in parts]) * there[:, None]
    order = np.argsort(known_at, kind="stable")
    along = np.cumsum(residual[order, None] * signature[order], axis=0)
    power = np.cumsum(signature[order] ** 2, axis=0)
    passed = np.flatnonzero(_ratio(along, power, suspicion.sizes)[0].max(axis=1) > limit)
    return float(known_at[order][passed[0]]) if passed.size else None


def beginnings(observed_at: Floats, begins_at: Floats, weight: Floats) -> Floats:
    """Signatures of steps in independent residuals: nothing before a beginning, the weight after.

    Parameters
    ----------
    observed_at : Floats
        Of each residual. [s]
    begins_at : Floats
        Possible beginnings. [s]
    weight : Floats
        What a size of one does to each residual, in standard deviations.

    Returns
    -------
    shows : Floats
        Shape (residuals, beginnings).
    """
    after = observed_at[:, None] >= begins_at[None, :]
    return np.asarray(after * weight[:, None], dtype=np.float64)


@compiled_and_kept
def _weighted(
    x: Floats, weight: Floats, window: int, ratios: Floats, firsts: npt.NDArray[np.int64]
) -> None:
    for i in range(x.size):
        along = power = best = 0.0
        first = i
        for b in range(i, max(-1, i - window), -1):
            if math.isnan(x[b]):
                continue
            along += x[b] * weight[b]
            power += weight[b] * weight[b]
            if power > 0.0:
                ratio = along * along / power / 2.0
                if ratio > best:
                    best, first = ratio, b
        ratios[i], firsts[i] = best, first


def weighted_ratios(
    residuals: Floats, weight: Floats, window: int = WINDOW
) -> tuple[Floats, npt.NDArray[np.int64]]:
    """Log likelihood ratio after each residual when each shows a fault with its own weight.

    A part more of a large draw shows more than of a small one. With equal weights this is
    ``sequential.likelihood_ratio``.

    Parameters
    ----------
    residuals : Floats
        Held residuals; NaN is passed over.
    weight : Floats
        What a size of one does to each.
    window : int
        How many of the latest could be the beginning.

    Returns
    -------
    ratios : Floats
        After each residual.
    firsts : ndarray of int
        The likeliest beginning, as an index.

    Sources
    -------
    [1] As ``sequential.likelihood_ratio``, for a mean that is proportional to a known weight.
    """
    ratios = np.zeros(residuals.size)
    firsts = np.zeros(residuals.size, dtype=np.int64)
    _weighted(
        np.clip(np.asarray(residuals, dtype=np.float64), -HELD, HELD),
        np.asarray(weight, dtype=np.float64),
        window,
        ratios,
        firsts,
    )
    return ratios, firsts
