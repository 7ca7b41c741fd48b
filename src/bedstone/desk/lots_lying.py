"""What lots lie where: the layers of the ledger, brought forward as facts are recorded."""

import datetime as dt
from dataclasses import dataclass, field
from threading import RLock
from weakref import WeakKeyDictionary

from bedstone.desk.record import MovementRecorded, Record
from bedstone.desk.revisions import current_mill
from bedstone.ledger.layers import SEEN_EMPTY, Layers, layers_of
from bedstone.ledger.model import FlowPattern, Recorded
from bedstone.ledger.reversal import REVERSED

__all__ = ["SeenEmptyAt", "layers_at", "layers_now"]

Flows = dict[str, FlowPattern]


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenEmptyAt:
    """That a bin was seen empty."""

    place: str
    happened_at: dt.datetime
    position: int


@dataclass
class _Kept:
    layers: Layers
    flows: Flows
    position: int
    last_at: dt.datetime
    lock: RLock = field(default_factory=RLock)


_KEPT: WeakKeyDictionary[Record, _Kept] = WeakKeyDictionary()
_START = dt.datetime.min.replace(tzinfo=dt.UTC)


def layers_at(record: Record, at: dt.datetime) -> Layers:
    """The layers of all places at a past moment."""
    return layers_of(
        record.movements(until=at), _flows(record), seen_empty=_seen_empty(record, until=at)
    )


def layers_now(record: Record) -> Layers:
    """The layers of all places now.

    What is returned is brought forward by the next call: read it at once and keep nothing of it.
    """
    flows = _flows(record)
    kept = _KEPT.get(record)
    if kept is None or kept.flows != flows:
        kept = _KEPT[record] = _fresh(record, flows)
        return kept.layers
    with kept.lock:
        position = record.head().position
        if position == kept.position:
            return kept.layers
        new = [
            item
            for item in record.facts(after=kept.position, reversed_too=True)
            if item.position <= position
        ]
        if _in_order(new, kept.last_at):
            for item in new:
                _apply(kept.layers, item)
            kept.position = position
            kept.last_at = max([kept.last_at, *(item.fact.happened_at for item in new)])
        else:
            kept = _KEPT[record] = _fresh(record, flows)
    return kept.layers


def _flows(record: Record) -> Flows:
    return {row.bin: FlowPattern(row.flow) for row in current_mill(record).bins}


def _fresh(record: Record, flows: Flows) -> _Kept:
    position = record.head().position
    movements = [item for item in record.movements() if item.position <= position]
    empty = [item for item in _seen_empty(record) if item.position <= position]
    moments = [item.happened_at for item in movements] + [item.happened_at for item in empty]
    return _Kept(
        layers=layers_of(movements, flows, seen_empty=empty),
        flows=flows,
        position=position,
        last_at=max(moments, default=_START),
    )


def _seen_empty(record: Record, *, until: dt.datetime | None = None) -> list[SeenEmptyAt]:
    return [
        SeenEmptyAt(
            place=str(item.fact.content["bin"]),
            happened_at=item.fact.happened_at,
            position=item.position,
        )
        for item in record.facts(kinds=(SEEN_EMPTY,), until=until)
    ]


def _in_order(new: list[Recorded], last_at: dt.datetime) -> bool:
    """True when new facts happened after all that was applied, and none takes another back."""
    for item in new:
        moves = bool(item.fact.movements) or item.fact.kind == SEEN_EMPTY
        if item.fact.kind == REVERSED or (moves and item.fact.happened_at < last_at):
            return False
        last_at = max(last_at, item.fact.happened_at) if moves else last_at
    return True


def _apply(layers: Layers, item: Recorded) -> None:
    for line, movement in enumerate(item.fact.movements, start=1):
        layers.apply(
            MovementRecorded(
                position=item.position,
                line=line,
                kind=item.fact.kind,
                happened_at=item.fact.happened_at,
                movement=movement,
            )
        )
    if item.fact.kind == SEEN_EMPTY:
        layers.seen_empty(str(item.fact.content["bin"]))
