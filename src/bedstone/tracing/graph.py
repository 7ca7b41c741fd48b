"""The graph of lots: which lot went into which, read from the movements of the record.

A lot goes into another where a machine takes something in and gives a lot of another name out in
the same fact: draws into a mixer that give a batch, batches into a sacking line that give a run.
Of which lots a draw was, when nobody scanned it, is what the layers of the bin say: nominal,
certain or only possible. What a machine still held of earlier lots comes in as carry-over.
"""

import datetime as dt
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby

from bedstone.ledger.layers import Booked
from bedstone.ledger.shares import Attribution
from bedstone.tracing.model import CARRIED_FRAC, Degree, LotEdge, Trace, TracedLot, TraceLink
from bedstone.tracing.walk import LotEnds, walk

__all__ = ["LotGraph", "lot_graph"]


@dataclass(frozen=True, slots=True)
class _Intake:
    """Something of one or several lots that went into a lot."""

    to_lot: str
    through: str
    happened_at: dt.datetime
    drawn: Attribution


@dataclass
class LotGraph:
    """Lots and the edges between them; possible ones are written out only when walked along."""

    lots: Mapping[str, TracedLot]
    _edges_into: dict[str, list[LotEdge]] = field(default_factory=dict)
    _edges_out: dict[str, list[LotEdge]] = field(default_factory=dict)
    _intakes: dict[str, list[_Intake]] = field(default_factory=dict)
    _uses: dict[str, list[_Intake]] = field(default_factory=dict)

    def add(self, edge: LotEdge) -> None:
        """Add an edge between two lots."""
        self._edges_into.setdefault(edge.to_lot, []).append(edge)
        self._edges_out.setdefault(edge.from_lot, []).append(edge)

    def take_in(self, intake: _Intake) -> None:
        """Add something of lots that may be known or only possible."""
        self._intakes.setdefault(intake.to_lot, []).append(intake)
        for lot in intake.drawn.lots:
            if lot is not None:
                self._uses.setdefault(lot, []).append(intake)

    def edges_into(self, lot: str) -> list[LotEdge]:
        """What went into a lot, one edge for each pair of lots and kind of way."""
        found = list(self._edges_into.get(lot, ()))
        for intake in self._intakes.get(lot, ()):
            found.extend(_edge(intake, share.lot, intake.drawn) for share in intake.drawn.shares)
        return _together(edge for edge in found if edge.from_lot in self.lots)

    def edges_out(self, lot: str) -> list[LotEdge]:
        """What a lot went into, one edge for each pair of lots and kind of way."""
        found = list(self._edges_out.get(lot, ()))
        found.extend(_edge(intake, lot, intake.drawn) for intake in self._uses.get(lot, ()))
        return _together(edge for edge in found if edge.to_lot in self.lots)

    def trace(self, lot: str, *, carried_frac: float = CARRIED_FRAC) -> Trace:
        """Where a lot of the graph came from and where it went.

        Parameters
        ----------
        lot : str
            A lot of the graph.
        carried_frac : float
            Least part that carry-over makes up to be followed. [kg/kg]

        Returns
        -------
        trace : Trace
            Both ways, nearest first.
        """

        def way(edges: Callable[[str], list[LotEdge]], ends: LotEnds) -> tuple[TraceLink, ...]:
            return walk(edges, self.lots, start=lot, ends=ends, carried_frac=carried_frac)

        start = self.lots[lot]
        return Trace(
            lot=lot,
            kind=start.kind,
            material=start.material,
            made_at=start.made_at,
            mass_mg=start.mass_mg,
            back=way(self.edges_into, LotEnds(forward=False)),
            forward=way(self.edges_out, LotEnds(forward=True)),
            carried_frac=carried_frac,
        )


def _edge(intake: _Intake, lot: str | None, drawn: Attribution) -> LotEdge:
    """The edge of one lot of an intake; a lot None leads to no lot of the graph."""
    mass_mg, certain = None, False
    for share in drawn.nominal:
        if share.lot == lot:
            mass_mg, certain = share.mass_mg, share.certain
    return LotEdge(
        from_lot=lot or "",
        to_lot=intake.to_lot,
        degree=Degree.CERTAIN if certain else Degree.POSSIBLE,
        mass_mg=mass_mg,
        through=intake.through,
        happened_at=intake.happened_at,
    )


def _together(edges: Iterable[LotEdge]) -> list[LotEdge]:
    """One edge for each pair of lots, carry-over apart: masses added, the surest degree."""
    found: dict[tuple[str, str, bool], LotEdge] = {}
    for edge in edges:
        key = (edge.from_lot, edge.to_lot, edge.degree is Degree.CARRY_OVER)
        other = found.get(key)
        if other is None:
            found[key] = edge
            continue
        masses = [item.mass_mg for item in (other, edge) if item.mass_mg is not None]
        surer = other if other.degree is Degree.CERTAIN else edge
        found[key] = replace(
            surer,
            mass_mg=sum(masses) if masses else None,
            share_frac=min(1.0, other.share_frac + edge.share_frac),
            happened_at=other.happened_at,
        )
    return list(found.values())


def lot_graph(
    movements: Iterable[Booked],
    drawn: Mapping[tuple[int, int], Attribution],
    *,
    lots: Mapping[str, TracedLot],
    machines: frozenset[str],
    named: Mapping[int, Sequence[str]],
    suppliers: Mapping[str, str],
    carried: Iterable[LotEdge] = (),
) -> LotGraph:
    """The graph of all lots.

    Parameters
    ----------
    movements : iterable of Booked
        Of facts that were not taken back; those of one fact together.
    drawn : mapping of (position, line) to Attribution
        Of which lots each movement out of a place of the mill was.
    lots : mapping of str to TracedLot
        Every lot of the record.
    machines : frozenset of str
        Places where lots become others.
    named : mapping of int to sequence of str
        Lots that a fact itself says went in, by its position (batches of a run).
    suppliers : mapping of str to str
        Who lots came from that no movement brought in (opening stock).
    carried : iterable of LotEdge
        Carry-over from lot to lot.

    Returns
    -------
    graph : LotGraph
        Lots, and firms at the ends as "supplier/FIRM" and "customer/FIRM".
    """
    known = dict(lots)
    graph = LotGraph(known)
    for position, items in groupby(movements, key=lambda item: item.position):
        group = list(items)
        for machine in sorted(machines & {item.movement.to_place for item in group}):
            _through_machine(graph, group, drawn, machine=machine, named=named.get(position, ()))
        _ends(graph, known, group, drawn)
    for lot, firm in suppliers.items():
        if firm and lot in known:
            _from_supplier(graph, known, lot, f"supplier/{firm}")
    for edge in carried:
        graph.add(edge)
    return graph


def _through_machine(
    graph: LotGraph,
    group: list[Booked],
    drawn: Mapping[tuple[int, int], Attribution],
    *,
    machine: str,
    named: Sequence[str],
) -> None:
    """Add what went into the lots that came out of a machine under a new name."""
    taken = [item for item in group if item.movement.to_place == machine]
    came = {item.movement.lot for item in taken}
    made = {
        item.movement.lot
        for item in group
        if item.movement.from_place == machine and item.movement.lot not in came
    }
    for lot in made - {None}:
        if lot is None:
            continue
        for item in taken:
            attribution = drawn.get((item.position, item.line))
            if attribution is not None:
                through = item.movement.from_place
                graph.take_in(_Intake(lot, through, item.happened_at, attribution))
        for part in named:
            graph.add(
                LotEdge(
                    from_lot=part,
                    to_lot=lot,
                    degree=Degree.CERTAIN,
                    mass_mg=None,
                    through=machine,
                    happened_at=taken[0].happened_at,
                )
            )


def _ends(
    graph: LotGraph,
    known: dict[str, TracedLot],
    group: list[Booked],
    drawn: Mapping[tuple[int, int], Attribution],
) -> None:
    """Add the firms that lots came from and went to."""
    for item in group:
        movement = item.movement
        if movement.from_place.startswith("supplier/") and movement.lot in known:
            _from_supplier(
                graph,
                known,
                movement.lot or "",
                movement.from_place,
                mass_mg=movement.mass_mg,
                happened_at=item.happened_at,
                through=movement.to_place,
            )
        attribution = drawn.get((item.position, item.line))
        if movement.to_place.startswith("customer/") and attribution is not None:
            firm = movement.to_place
            known.setdefault(firm, TracedLot(lot=firm, kind="customer", material=""))
            through = movement.from_place
            graph.take_in(_Intake(firm, through, item.happened_at, attribution))


def _from_supplier(
    graph: LotGraph,
    known: dict[str, TracedLot],
    lot: str,
    firm: str,
    *,
    mass_mg: int | None = None,
    happened_at: dt.datetime | None = None,
    through: str = "opening",
) -> None:
    known.setdefault(firm, TracedLot(lot=firm, kind="supplier", material=""))
    when = happened_at or known[lot].made_at
    graph.add(
        LotEdge(
            from_lot=firm,
            to_lot=lot,
            degree=Degree.CERTAIN,
            mass_mg=mass_mg,
            through=through,
            happened_at=when or dt.datetime.min.replace(tzinfo=dt.UTC),
        )
    )
