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
from numba import njit

from bedstone.quality.sequential import HELD, WINDOW, discoveries, unlikely

__all__ = [
    "Found",
    "Standing",
    "Suspicion",
    "Witness",
    "beginnings",
    "find",
    "needed",
    "weighted_ratios",
    "whiten",
]

Floats = npt.NDArray[np.float64]
_QUANTILE_95: Final = 3.841458820694124  # chi-square with one degree of freedom
_WILD: Final = 6.0  # deviations from where one reading is taken for a slip of the pen
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
    """

    about: str
    kind: str
    begins_at: Floats
    shows: Mapping[str, Floats]


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
    while True:
        best = _best(by_name, suspicions, named)
        standings = list(best.values())
        named_now = discoveries(np.array([row.probability for row, _ in standings]), share)
        beyond = [
            (row, suspicion)
            for (row, suspicion), is_named in zip(standings, named_now, strict=True)
            if row.ratio > limit
            and is_named
            and _without_one(by_name, suspicion, row.first) > limit / 2
        ]
        if not beyond or len(found) == _MOST_FOUND:
            break
        row, suspicion = max(beyond, key=lambda pair: pair[0].ratio)
        found.append(_found(by_name, row, suspicion, limit, standings))
        named.add(row.about)
        settled[row.about] = row
        for name, signature in suspicion.shows.items():
            left = by_name[name].residual - row.size * signature[:, row.first]
            by_name[name] = replace(by_name[name], residual=left)
    rest = [row for row, _ in standings]
    return tuple(found), (*settled.values(), *rest)


def _best(
    witnesses: Mapping[str, Witness], suspicions: Sequence[Suspicion], done: set[str]
) -> dict[str, tuple[Standing, Suspicion]]:
    """The likeliest kind of each thing that may be wrong."""
    best: dict[str, tuple[Standing, Suspicion]] = {}
    for suspicion in suspicions:
        if suspicion.about in done:
            continue
        row = _standing(witnesses, suspicion)
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


def _standing(witnesses: Mapping[str, Witness], suspicion: Suspicion) -> Standing | None:
    along, power, count = _sums(witnesses, suspicion)
    if suspicion.begins_at.size == 0 or not power.any():
        return None
    ratio = np.where(power > 0, along**2 / np.where(power > 0, power, 1.0), 0.0) / 2
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
        size=float(along[first] / power[first]) if power[first] > 0 else 0.0,
        size_sd=float(1 / math.sqrt(power[first])) if power[first] > 0 else math.inf,
        residuals=count,
        witnesses=tuple(sorted(suspicion.shows)),
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
    return Found(
        standing=row,
        begins_at=float(suspicion.begins_at[row.first]),
        begins_lo_at=float(suspicion.begins_at[row.first_lo]),
        begins_hi_at=float(suspicion.begins_at[row.first_hi]),
        alarm_at=_alarm_at(witnesses, suspicion, limit),
        rivals=rivals,
        beginnings_at=suspicion.begins_at,
        sizes=along / np.where(power > 0, power, np.inf),
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
    ratio = np.where(power > 0, along**2 / np.where(power > 0, power, 1.0), 0.0).max(axis=1) / 2
    passed = np.flatnonzero(ratio > limit)
    return float(known_at[order][passed[0]]) if passed.size else None


@njit(cache=True, nogil=True)
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


@njit(cache=True, nogil=True)
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
