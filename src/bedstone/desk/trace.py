"""Where a lot came from and where it went."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from weakref import WeakKeyDictionary

from bedstone.desk.lots_lying import read_now
from bedstone.desk.made import clean_outs, made_batches
from bedstone.desk.merged_rows import OPENING
from bedstone.desk.record import MovementRecorded, Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.runs import RUN_PACKED
from bedstone.errors import Unknown
from bedstone.ledger.layers import Layers
from bedstone.mill.model import Mill
from bedstone.tracing.carried import LotPassed, PlacesCleaned, carried_over
from bedstone.tracing.graph import LotGraph, lot_graph
from bedstone.tracing.model import CARRIED_FRAC, LotEdge, Trace, TracedLot, TraceLink

__all__ = ["trace"]


@dataclass(frozen=True, slots=True)
class _Kept:
    head: str
    revision: int
    graph: LotGraph


_KEPT: WeakKeyDictionary[Record, _Kept] = WeakKeyDictionary()


def trace(record: Record, lot: str, *, carried_frac: float = CARRIED_FRAC) -> Trace:
    """Where a lot came from and where it went: certain, possible, and as carry-over.

    Carry-over is followed down to ``carried_frac`` of a lot. Firms at the ends stand with name,
    address and telephone, as 21 CFR 1.337 and 1.345 ask of records of who a food came from and
    who it went to.

    Raises
    ------
    Unknown
        If the record knows no such lot; near names are offered.
    """
    mill = current_mill(record)
    graph = _graph(record, mill)
    if lot not in graph.lots:
        near = get_close_matches(lot, graph.lots, n=3, cutoff=0.5)
        raise Unknown(
            f"There is no lot {lot!r} in the record.",
            do=f"did you mean {', '.join(near)}?" if near else "see the lots in stock",
        )
    found = graph.trace(lot, carried_frac=carried_frac)
    return replace(
        found,
        back=tuple(_with_firm(mill, link) for link in found.back),
        forward=tuple(_with_firm(mill, link) for link in found.forward),
    )


def _with_firm(mill: Mill, link: TraceLink) -> TraceLink:
    firm = mill.firm_by_code.get(link.firm) if link.firm else None
    if firm is None:
        return link
    return replace(link, firm_name=firm.name, address=firm.address, phone=firm.phone)


def _graph(record: Record, mill: Mill) -> LotGraph:
    """The graph of all lots, built once for each place of the journal."""
    head = record.head()
    kept = _KEPT.get(record)
    if kept is None or (kept.head, kept.revision) != (head.head, mill.revision):
        kept = _Kept(head.head, mill.revision, _build(record, mill))
        _KEPT[record] = kept
    return kept.graph


def _build(record: Record, mill: Mill) -> LotGraph:
    def graph(layers: Layers, movements: Sequence[MovementRecorded]) -> LotGraph:
        return lot_graph(
            movements,
            layers.drawn(),
            lots=_lots(record, movements),
            machines=frozenset(mill.machine_by_code),
            named=_batches_named(record),
            suppliers=_suppliers(record),
            carried=_carried(record, mill),
        )

    return read_now(record, graph)


def _lots(record: Record, movements: Sequence[MovementRecorded]) -> dict[str, TracedLot]:
    """Every lot with when it was made and how much of it."""
    by_fact: dict[int, list[MovementRecorded]] = {}
    for item in movements:
        by_fact.setdefault(item.position, []).append(item)
    found: dict[str, TracedLot] = {}
    for lot, position in record.lots():
        lines = by_fact.get(position, [])
        made = [item for item in lines if item.movement.lot == lot.lot]
        found[lot.lot] = TracedLot(
            lot=lot.lot,
            kind=lot.kind.value,
            material=lot.material,
            made_at=lines[0].happened_at if lines else None,
            mass_mg=sum(item.movement.mass_mg for item in made),
        )
    return found


def _batches_named(record: Record) -> Mapping[int, tuple[str, ...]]:
    """Batches that facts of packing name themselves."""
    found: dict[int, tuple[str, ...]] = {}
    for item in record.facts(kinds=(RUN_PACKED,)):
        batches = item.fact.content.get("batches")
        if isinstance(batches, list):
            found[item.position] = tuple(str(batch) for batch in batches)
    return found


def _suppliers(record: Record) -> Mapping[str, str]:
    """Suppliers of opening stock, by lot."""
    found: dict[str, str] = {}
    for item in record.facts(kinds=(OPENING,)):
        rows = item.fact.content["lots"]
        for row in rows if isinstance(rows, list) else ():
            if isinstance(row, Mapping):
                found[str(row["lot"])] = str(row["supplier"])
    return found


def _carried(record: Record, mill: Mill) -> tuple[LotEdge, ...]:
    """Carry-over between batches, in the order in which they really ran."""
    events: list[tuple[tuple[dt.datetime, int], LotPassed | PlacesCleaned]] = []
    for batch in made_batches(record).values():
        passed = LotPassed(
            lot=batch.made.batch,
            route=batch.made.route,
            mass_mg=batch.mass_mg,
            happened_at=batch.happened_at,
        )
        events.append(((batch.happened_at, batch.position), passed))
    for cleaned in clean_outs(record):
        key = (cleaned.happened_at, cleaned.position)
        events.append((key, PlacesCleaned(places=cleaned.places)))
    events.sort(key=lambda event: event[0])
    return carried_over(mill, (event for _, event in events))
