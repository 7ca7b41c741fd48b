"""The mass balance of a mill: flows as measured, made to agree by what their instruments can err.

Flows run between places; each place inside gives out what it takes in (what it stored is a flow
into its stock). Measured flows are moved as little as their errors allow, by weighted least
squares. Unmeasured ones follow where a balance reaches them; where none does, they are named.
"""

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy import sparse, stats
from scipy.linalg import cho_factor, cho_solve

from bedstone.errors import BadInput

__all__ = ["Agreed", "Flow", "Gross", "Reconciled", "reconcile"]

Floats = npt.NDArray[np.float64]
_SAME: Final = 1e-9
_MOST_ERRORS: Final = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Flow:
    """Mass that went from one place to another in a time; unmeasured if ``measured_kg`` is None."""

    flow: str
    from_place: str
    to_place: str
    measured_kg: float | None = None
    sd_kg: float | None = None
    instrument: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreed:
    """A flow after the balance."""

    flow: str
    measured_kg: float | None
    agreed_kg: float | None  # None where no balance reaches it
    sd_kg: float | None  # of the agreed value
    moved_sds: float | None  # adjustment over its own standard deviation; None if it cannot move
    says: str  # "measured and checked", "measured only", "reckoned", "cannot be known"


@dataclass(frozen=True, slots=True, kw_only=True)
class Gross:
    """An error beyond chance: an instrument that reads wrong, or a place that loses or gains."""

    about: str
    is_place: bool
    size_kg: float  # what the instrument reads too much, or the place loses
    size_sd_kg: float
    statistic: float
    probability: float  # to see as much by chance in the whole balance
    not_told_from: tuple[str, ...]  # others that would explain the same


@dataclass(frozen=True, slots=True, kw_only=True)
class Reconciled:
    """The balance: every flow, whether all agree, and what does not."""

    flows: tuple[Agreed, ...]
    misfit: float  # sum of squares of what had to be moved, in standard deviations
    checks: int  # independent balances
    probability: float  # of a misfit as large by chance
    gross: tuple[Gross, ...]

    @property
    def agrees(self) -> bool:
        """Whether no error beyond chance was found."""
        return not self.gross


def reconcile(
    flows: Sequence[Flow], outside: Iterable[str], *, false_alarm: float = 0.05
) -> Reconciled:
    """Flows of a shift made to agree.

    Parameters
    ----------
    flows : sequence of Flow
        Each measured with its standard deviation, or unmeasured.
    outside : iterable of str
        Places that need not balance: supplier, customer, air, stock at the start and at the end.
    false_alarm : float
        Probability to call an error where there is none, for the whole balance. [0 to 1]

    Returns
    -------
    reconciled : Reconciled
        Agreed flows with their standard deviation, and errors beyond chance one after another.
        The agreed values are those after compensating the errors that were found.

    Raises
    ------
    BadInput
        If a flow has no standard deviation, runs in a circle, or occurs twice.

    Sources
    -------
    [1] Steady-state data reconciliation and the generalised likelihood ratio for gross errors with
        serial compensation: S. Narasimhan, C. Jordache, Data Reconciliation and Gross Error
        Detection (from memory). Unmeasured flows are taken out by merging the places they join;
        one is known if it is a bridge among them.
    """
    _check(flows)
    graph = _Graph(flows, frozenset(outside))
    system = _System(graph)
    measured = graph.measured_kg.copy()
    gross, shift = _serial(system, graph, measured, false_alarm)
    agreed = system.agreed(measured - shift)
    residual = system.residual(measured)
    misfit = float(residual @ system.solve(residual)) if system.rank else 0.0
    return Reconciled(
        flows=tuple(_words(flows, graph, system, agreed)),
        misfit=misfit,
        checks=system.rank,
        probability=float(stats.chi2.sf(misfit, system.rank)) if system.rank else 1.0,
        gross=tuple(gross),
    )


def _check(flows: Sequence[Flow]) -> None:
    seen: set[str] = set()
    for flow in flows:
        if flow.flow in seen:
            raise BadInput("A flow occurs twice.", seen=flow.flow, allowed="each flow once")
        seen.add(flow.flow)
        if flow.from_place == flow.to_place:
            raise BadInput(
                "A flow must lead somewhere else.", seen=f"{flow.flow}: {flow.from_place} to itself"
            )
        if flow.measured_kg is None:
            continue
        if flow.sd_kg is None or not flow.sd_kg > 0 or not math.isfinite(flow.measured_kg):
            raise BadInput(
                "A measured flow needs the error of its instrument.",
                seen=f"{flow.flow}: {flow.measured_kg} kg, standard deviation {flow.sd_kg}",
                allowed="a number, with a standard deviation above 0 kg",
            )


class _Graph:
    """Places merged over unmeasured flows; the outside is place -1."""

    def __init__(self, flows: Sequence[Flow], outside: frozenset[str]) -> None:
        self.flows = flows
        self.outside = outside
        self.measured = [i for i, flow in enumerate(flows) if flow.measured_kg is not None]
        self.unmeasured = [i for i, flow in enumerate(flows) if flow.measured_kg is None]
        self.measured_kg = np.array([flows[i].measured_kg or 0.0 for i in self.measured])
        self.sd_kg = np.array([flows[i].sd_kg or 1.0 for i in self.measured])
        self.root: dict[str, str] = {}
        for i in self.unmeasured:
            self._join(self.place(flows[i].from_place), self.place(flows[i].to_place))

    def place(self, name: str) -> str:
        """The place, all of outside being one."""
        return "" if name in self.outside else name

    def merged(self, name: str) -> str:
        """The place that stands for all that unmeasured flows join to it."""
        name = self.place(name)
        while self.root.get(name, name) != name:
            name = self.root[name]
        return name

    def _join(self, a: str, b: str) -> None:
        a, b = self.merged(a), self.merged(b)
        if a == b:
            return
        if a == "":
            a, b = b, a
        self.root[a] = b  # the outside stays a root


class _System:
    """Balances of the merged places over the measured flows."""

    def __init__(self, graph: _Graph) -> None:
        self.graph = graph
        ends = [
            (graph.merged(graph.flows[i].from_place), graph.merged(graph.flows[i].to_place))
            for i in graph.measured
        ]
        self.checked = np.array([a != b for a, b in ends], dtype=bool)
        grounded = _grounded(ends)
        names = sorted({name for pair in ends for name in pair if pair[0] != pair[1]} - grounded)
        self.row = {name: index for index, name in enumerate(names)}
        entries = [
            (self.row[name], column, sign)
            for column, pair in enumerate(ends)
            if pair[0] != pair[1]
            for name, sign in zip(pair, (-1.0, 1.0), strict=True)
            if name in self.row
        ]
        shape = (len(names), len(ends))
        rows, columns, signs = zip(*entries, strict=True) if entries else ((), (), ())
        self.incidence = sparse.csr_array((signs, (rows, columns)), shape=shape)
        self.rank = len(names)
        self.variance = graph.sd_kg**2
        if self.rank:
            weighted = self.incidence * self.variance
            factor = cho_factor((weighted @ self.incidence.T).toarray())
            self.inverse = cho_solve(factor, np.eye(self.rank))

    def residual(self, measured_kg: Floats) -> Floats:
        """By how much each place does not balance."""
        return np.asarray(self.incidence @ measured_kg)

    def solve(self, right: Floats) -> Floats:
        """The inverse of the covariance of the residuals, applied."""
        return np.asarray(self.inverse @ right)

    def agreed(self, measured_kg: Floats) -> Floats:
        """Measured flows moved so that all places balance."""
        if not self.rank:
            return measured_kg
        multipliers = self.solve(self.residual(measured_kg))
        return np.asarray(measured_kg - self.variance * (self.incidence.T @ multipliers))

    def spread(self) -> tuple[Floats, Floats]:
        """Covariance of residuals with measured flows, as it is and through the inverse."""
        spread = (self.incidence * self.variance).toarray()
        return spread, self.solve(spread) if self.rank else spread


def _grounded(ends: Sequence[tuple[str, str]]) -> set[str]:
    """The outside, and one place of each part that does not touch it: its balance says nothing new."""
    neighbours: dict[str, set[str]] = defaultdict(set)
    for a, b in ends:
        if a != b:
            neighbours[a].add(b)
            neighbours[b].add(a)
    grounded, seen = {""}, set[str]()
    for start in ["", *sorted(neighbours)]:
        if start in seen:
            continue
        if start and start not in grounded:
            grounded.add(start)
        queue = [start]
        seen.add(start)
        while queue:
            for other in neighbours[queue.pop()]:
                if other not in seen:
                    seen.add(other)
                    queue.append(other)
    return grounded


def _serial(
    system: _System, graph: _Graph, measured_kg: Floats, false_alarm: float
) -> tuple[list[Gross], Floats]:
    """Errors beyond chance, the largest first, each compensated before the next is looked for."""
    found: list[Gross] = []
    shift = np.zeros_like(measured_kg)
    if not system.rank:
        return found, shift
    count = len(graph.measured)
    names = [graph.flows[i].flow for i in graph.measured] + list(system.row)
    signatures = np.concatenate([system.incidence.toarray(), np.eye(system.rank)], axis=1)
    open_ = np.concatenate([system.checked, np.ones(system.rank, dtype=bool)])
    tried = int(open_.sum())
    level = 1 - (1 - false_alarm) ** (1 / max(tried, 1))
    solved = system.solve(signatures)
    power = np.einsum("ij,ij->j", signatures, solved)
    open_ &= power > 0
    residual = system.residual(measured_kg)
    while len(found) < min(_MOST_ERRORS, system.rank - 1):
        along = residual @ solved
        statistic = np.where(open_, along**2 / np.where(power > 0, power, 1), 0.0)
        best = int(np.argmax(statistic))
        chance = float(stats.chi2.sf(statistic[best], 1))
        if chance >= level:
            break
        size = float(along[best] / power[best])
        alike = np.flatnonzero(statistic >= statistic[best] * (1 - _SAME))
        found.append(
            Gross(
                about=names[best],
                is_place=best >= count,
                size_kg=size,
                size_sd_kg=float(1 / math.sqrt(power[best])),
                statistic=float(statistic[best]),
                probability=-math.expm1(tried * math.log1p(-min(chance, 1 - _SAME))),
                not_told_from=tuple(names[i] for i in alike if i != best),
            )
        )
        open_[best] = False
        residual = residual - size * signatures[:, best]
        if best < count:
            shift[best] += size
    return found, shift


def _words(
    flows: Sequence[Flow], graph: _Graph, system: _System, agreed: Floats
) -> Iterable[Agreed]:
    """Each flow in the order in which it was given."""
    spread, solved = system.spread()
    variance = np.clip(system.variance - np.einsum("ij,ij->j", spread, solved), 0.0, None)
    position = {index: column for column, index in enumerate(graph.measured)}
    reckoned = _reckoned(graph)
    for index, flow in enumerate(flows):
        if index in position:
            column = position[index]
            yield _measured(flow, system, column, float(agreed[column]), float(variance[column]))
        elif index in reckoned:
            weights = np.zeros(len(graph.measured))
            for other, sign in reckoned[index]:
                weights[position[other]] += sign
            own = float(weights**2 @ system.variance - (spread @ weights) @ (solved @ weights))
            yield Agreed(
                flow=flow.flow,
                measured_kg=None,
                agreed_kg=float(weights @ agreed),
                sd_kg=math.sqrt(max(own, 0.0)),
                moved_sds=None,
                says="reckoned",
            )
        else:
            yield Agreed(
                flow=flow.flow,
                measured_kg=None,
                agreed_kg=None,
                sd_kg=None,
                moved_sds=None,
                says="cannot be known",
            )


def _measured(
    flow: Flow, system: _System, column: int, agreed_kg: float, variance_kg2: float
) -> Agreed:
    """A measured flow: what it was moved to, and by how many of its own deviations."""
    moved = float(system.variance[column]) - variance_kg2
    checked = bool(system.checked[column]) and moved > _SAME * float(system.variance[column])
    change = (flow.measured_kg or 0.0) - agreed_kg
    return Agreed(
        flow=flow.flow,
        measured_kg=flow.measured_kg,
        agreed_kg=agreed_kg,
        sd_kg=math.sqrt(variance_kg2),
        moved_sds=change / math.sqrt(moved) if checked else None,
        says="measured and checked" if checked else "measured only",
    )


def _reckoned(graph: _Graph) -> dict[int, list[tuple[int, float]]]:
    """Unmeasured flows that a balance reaches, as sums of measured ones.

    Taking a bridge of the unmeasured flows away parts the places it joined; the side without the
    outside must give out through the bridge what measured flows bring it.
    """
    neighbours: dict[str, list[tuple[str, int]]] = defaultdict(list)
    for index in graph.unmeasured:
        a, b = (
            graph.place(graph.flows[index].from_place),
            graph.place(graph.flows[index].to_place),
        )
        neighbours[a].append((b, index))
        neighbours[b].append((a, index))
    touching: dict[str, list[tuple[int, float]]] = defaultdict(list)
    for index in graph.measured:
        flow = graph.flows[index]
        touching[graph.place(flow.from_place)].append((index, -1.0))
        touching[graph.place(flow.to_place)].append((index, 1.0))
    found = {}
    for index in graph.unmeasured:
        flow = graph.flows[index]
        start, end = graph.place(flow.from_place), graph.place(flow.to_place)
        side = _reach(start, index, neighbours)
        if end in side:
            continue
        sign = 1.0
        if "" in side:
            side, sign = _reach(end, index, neighbours), -1.0
        found[index] = [
            (other, sign * direction) for place in side for other, direction in touching[place]
        ]
    return found


def _reach(start: str, without: int, neighbours: dict[str, list[tuple[str, int]]]) -> set[str]:
    seen, queue = {start}, [start]
    while queue:
        for other, index in neighbours[queue.pop()]:
            if index != without and other not in seen:
                seen.add(other)
                queue.append(other)
    return seen
