"""Instruments watched: which one is wrong, since when, which lots it touched, what to do now."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import numpy.typing as npt

from bedstone.desk.proof_standing import ProofStanding, proof_standings
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.watch_arithmetic import (
    MONTH_S,
    Seen,
    Smallest,
    level_arithmetic,
    smallest_steps,
)
from bedstone.desk.watch_evidence import flows_of_places, levels_seen
from bedstone.desk.watch_gates import MixerWatched, gates, mixers_watched
from bedstone.desk.watch_machines import Twice, bags, dials, load_cells
from bedstone.desk.watch_samples import laboratory, yields
from bedstone.desk.watch_suspects import Suspect, Watching, suspects_of
from bedstone.mill.model import Mill
from bedstone.quality.sequential import threshold
from bedstone.quality.watch import Standing, Suspicion, Witness, find
from bedstone.quality.watch_levels import (
    GAUGE,
    WRONG_BIN,
    LevelSeen,
    Passed,
    beginnings_of,
    level_evidence,
    stuck_since,
    wrong_bins,
)
from bedstone.quality.watch_samples import DRIFT, STEP, ZERO, Sampled, sampled_evidence

__all__ = ["FALSE_ALARMS_A_MONTH", "Evidence", "Watched", "watch", "watched_by"]

Floats = npt.NDArray[np.float64]
Key = tuple[str, str]
FALSE_ALARMS_A_MONTH = {"scales and meters": 0.6, "all else": 0.4}
"""How many the whole mill is expected to raise, by what is watched (mill policy)."""
LEAST_EVERY, MOST_EVERY = 100.0, 1e6


@dataclass(frozen=True, slots=True, kw_only=True)
class Watched:
    """The state of every instrument at a moment.

    ``seen`` is what levels alone can show of each scale and meter, ``smallest`` what all witnesses
    together can show of each thing that is watched.
    """

    at: dt.datetime
    suspects: tuple[Suspect, ...]
    proofs: tuple[ProofStanding, ...]
    seen: Mapping[str, Seen]
    smallest: Mapping[str, Smallest]
    standings: Mapping[str, Standing]
    unwitnessed: tuple[str, ...]
    mixers: tuple[MixerWatched, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """All witnesses, all suspicions with their limits, and what single readings already say."""

    witnesses: tuple[Witness, ...]
    suspicions: tuple[Suspicion, ...]
    limits: tuple[float, ...]
    sampled: tuple[Sampled, ...]
    twice: tuple[Twice, ...]
    read: Mapping[str, tuple[LevelSeen, ...]]
    flows: Mapping[str, list[Passed]]


@cache
def _limit(every: float) -> float:
    return threshold(every)


def watch(record: Record, *, at: dt.datetime) -> Watched:
    """Hold every instrument against what else knows the truth, by what is on record.

    Levels, deliveries, the laboratory, yield, bags weighed again, load cells, steam and second
    thermometers: all that witness an instrument are added up.
    """
    return watched_by(record, at=at)[0]


def watched_by(record: Record, *, at: dt.datetime) -> tuple[Watched, Evidence]:
    """The state of every instrument, and what it was judged by."""
    mill = current_mill(record)
    flows = flows_of_places(record)
    standings = proof_standings(record, mill, _through(flows), at)
    evidence = evidence_of(record, mill, standings, flows)
    found, stands = find(evidence.witnesses, evidence.suspicions, limit=np.inf)
    mixers = mixers_watched(record, mill)
    watching = Watching(
        record=record,
        mill=mill,
        at=at,
        read=evidence.read,
        flows=flows,
        sampled=evidence.sampled,
        twice=evidence.twice,
        mixers=mixers,
    )
    tools = (*mill.scale_by_code, *mill.meter_by_code)
    by_tool = {row.about: row for row in stands}
    limits = {
        row.about: limit
        for row, limit in zip(evidence.suspicions, evidence.limits, strict=True)
        if row.about in tools
    }
    watched = Watched(
        at=at,
        suspects=suspects_of(watching, found),
        proofs=tuple(standings.values()),
        seen=level_arithmetic(evidence.read, flows, limits),
        smallest=smallest_steps(evidence.witnesses, evidence.suspicions, evidence.limits),
        standings=by_tool,
        unwitnessed=tuple(code for code in tools if code not in by_tool),
        mixers=mixers,
    )
    return watched, evidence


def evidence_of(
    record: Record,
    mill: Mill,
    standings: Mapping[str, ProofStanding],
    flows: Mapping[str, list[Passed]],
) -> Evidence:
    """Every witness there is, as independent residuals, and what each suspicion would show."""
    read = levels_seen(record, mill)
    cells, twice = load_cells(record, mill)
    sampled = (
        *laboratory(record),
        *yields(record, mill),
        *bags(record, mill),
        *dials(record, mill),
        *cells,
        *gates(record, mill),
    )
    sound = {place: _until_stuck(rows, flows.get(place, ())) for place, rows in read.items()}
    begins = _begins(mill, standings, flows, sound, sampled)
    witnesses, shown = level_evidence(sound, flows, begins)
    everyone = list(witnesses)
    for row in sampled:
        witness, shows = sampled_evidence(row, begins)
        everyone.append(witness)
        for key, seen in shows.items():
            shown.setdefault(key, {})[witness.name] = seen
    suspicions = [
        Suspicion(about=about, kind=kind, begins_at=begins[about, kind], shows=shows)
        for (about, kind), shows in shown.items()
    ]
    suspicions += wrong_bins(sound, flows)
    limits = _limits(everyone, suspicions, {*mill.scale_by_code, *mill.meter_by_code})
    return Evidence(
        witnesses=tuple(everyone),
        suspicions=tuple(
            replace(row, limit=limit) for row, limit in zip(suspicions, limits, strict=True)
        ),
        limits=limits,
        sampled=sampled,
        twice=tuple(twice),
        read=read,
        flows=flows,
    )


def _until_stuck(rows: tuple[LevelSeen, ...], flows: Sequence[Passed]) -> tuple[LevelSeen, ...]:
    """Readings of a gauge that is stuck witness nothing."""
    since = stuck_since(rows, flows)
    return tuple(row for row in rows if since is None or not row.is_gauge or row.at <= since)


def _begins(
    mill: Mill,
    standings: Mapping[str, ProofStanding],
    flows: Mapping[str, list[Passed]],
    read: Mapping[str, tuple[LevelSeen, ...]],
    sampled: Sequence[Sampled],
) -> dict[Key, Floats]:
    """When each thing may have gone wrong: at each of its draws or readings since it was proved."""
    tools = (*mill.scale_by_code, *mill.meter_by_code)
    proved_at = {
        code: row.last.proved_at.timestamp()
        for code, row in standings.items()
        if row.last is not None and row.is_within
    }
    drawn = beginnings_of(flows, proved_at=proved_at, instruments=tools)
    begins: dict[Key, Floats] = {}
    for tool in tools:
        begins[tool, STEP] = begins[tool, DRIFT] = drawn[tool]
        if tool in mill.scale_by_code:
            begins[tool, ZERO] = drawn[tool]
    for place, rows in read.items():
        begins[place, GAUGE] = np.array([row.at for row in rows if row.is_gauge])[1:]
    others: dict[Key, set[float]] = {}
    for row in sampled:
        for key, weights in row.parts.items():
            if key[0] not in tools:
                others.setdefault(key, set()).update(weights.at.tolist())
    return begins | {key: np.array(sorted(at)[1:]) for key, at in others.items()}


def _limits(
    witnesses: Sequence[Witness], suspicions: Sequence[Suspicion], tools: set[str]
) -> tuple[float, ...]:
    """Of each suspicion, so that each thing has the same share of the mill's false alarms.

    Residuals count by how much they could show: a yield that says nothing of a meter is no chance
    for a false alarm of it.
    """
    ends = [float(at) for row in witnesses if row.known_at.size for at in row.known_at[[0, -1]]]
    months = max(0.2, (max(ends) - min(ends)) / MONTH_S) if ends else 1.0
    groups = [_group(row, tools) for row in suspicions]
    count = {
        group: len({row.about for row, mine in zip(suspicions, groups, strict=True)
                    if mine == group})
        for group in FALSE_ALARMS_A_MONTH
    }  # fmt: skip
    limits = []
    for row, group in zip(suspicions, groups, strict=True):
        every = _telling(row) / months * count[group] / FALSE_ALARMS_A_MONTH[group]
        limits.append(_limit(_rounded(min(MOST_EVERY, max(LEAST_EVERY, every)))))
    return tuple(limits)


def _telling(row: Suspicion) -> float:
    """How many residuals carry what there is to see, as if each carried the same."""
    shown = np.concatenate([shows[:, 0] ** 2 for shows in row.shows.values()])
    return float(shown.sum() ** 2 / max(1e-300, float((shown**2).sum())))


def _rounded(every: float) -> float:
    """To two digits, so that few limits are reckoned."""
    return float(f"{every:.1e}")


def _group(row: Suspicion, tools: set[str]) -> str:
    is_tool = row.about in tools or row.kind in (GAUGE, WRONG_BIN)
    return "scales and meters" if is_tool else "all else"


def _through(flows: Mapping[str, list[Passed]]) -> dict[str, list[tuple[dt.datetime, float]]]:
    found: dict[str, list[tuple[dt.datetime, float]]] = {}
    for rows in flows.values():
        for row in rows:
            if row.instrument and row.mass_kg < 0:
                moment = dt.datetime.fromtimestamp(row.at, dt.UTC)
                found.setdefault(row.instrument, []).append((moment, -row.mass_kg))
    return found
