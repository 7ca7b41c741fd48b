"""What lots lie where: the layers of the ledger, brought forward as facts are recorded."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from threading import RLock
from weakref import WeakKeyDictionary

from bedstone.desk.layers import bins_seen_empty, flow_patterns, read_layers
from bedstone.desk.record import MovementRecorded, Record
from bedstone.desk.revisions import current_mill
from bedstone.ledger.layers import SEEN_EMPTY, Layers, layers_of
from bedstone.ledger.model import FlowPattern, Recorded
from bedstone.ledger.reversal import REVERSED
from bedstone.mill.model import Mill

__all__ = ["layers_at", "layers_now", "movements_now"]


@dataclass
class _Kept:
    layers: Layers
    movements: list[MovementRecorded]
    flows: dict[str, FlowPattern]
    position: int
    last_at: dt.datetime
    lock: RLock = field(default_factory=RLock)


_KEPT: WeakKeyDictionary[Record, _Kept] = WeakKeyDictionary()
_START = dt.datetime.min.replace(tzinfo=dt.UTC)


def layers_at(record: Record, at: dt.datetime) -> Layers:
    """The layers of all places at a past moment."""
    return read_layers(record, current_mill(record), at=at)


def layers_now(record: Record) -> Layers:
    """The layers of all places now.

    What is returned is brought forward by the next call: read it at once and keep nothing of it.
    """
    return _kept(record).layers


def movements_now(record: Record) -> tuple[Layers, Sequence[MovementRecorded]]:
    """The layers of all places now, and every movement that they were made from, in order."""
    kept = _kept(record)
    return kept.layers, kept.movements


def _kept(record: Record) -> _Kept:
    mill = current_mill(record)
    kept = _KEPT.get(record)
    if kept is None or kept.flows != flow_patterns(mill):
        kept = _KEPT[record] = _fresh(record, mill)
        return kept
    with kept.lock:
        position = record.head().position
        if position == kept.position:
            return kept
        new = [
            item
            for item in record.facts(after=kept.position, reversed_too=True)
            if item.position <= position
        ]
        if _in_order(new, kept.last_at):
            for item in new:
                kept.movements.extend(_apply(kept.layers, item))
            kept.position = position
            moments = [item.fact.happened_at for item in new if item.fact.movements]
            kept.last_at = max([kept.last_at, *moments])
        else:
            kept = _KEPT[record] = _fresh(record, mill)
    return kept


def _fresh(record: Record, mill: Mill) -> _Kept:
    """Read everything, as far as the journal reached when reading began."""
    position = record.head().position
    movements = [item for item in record.movements() if item.position <= position]
    empty = [item for item in bins_seen_empty(record) if item.position <= position]
    flows = flow_patterns(mill)
    moments = [item.happened_at for item in movements] + [item.happened_at for item in empty]
    return _Kept(
        layers=layers_of(movements, flows, seen_empty=empty),
        movements=movements,
        flows=flows,
        position=position,
        last_at=max(moments, default=_START),
    )


def _in_order(new: list[Recorded], last_at: dt.datetime) -> bool:
    """True when new facts happened after all that was applied, and none takes another back."""
    for item in new:
        moves = bool(item.fact.movements) or item.fact.kind == SEEN_EMPTY
        if item.fact.kind == REVERSED or (moves and item.fact.happened_at < last_at):
            return False
        last_at = max(last_at, item.fact.happened_at) if moves else last_at
    return True


def _apply(layers: Layers, item: Recorded) -> list[MovementRecorded]:
    """Bring the layers forward by a fact; return its movements."""
    movements = [
        MovementRecorded(
            position=item.position,
            line=line,
            kind=item.fact.kind,
            happened_at=item.fact.happened_at,
            movement=movement,
        )
        for line, movement in enumerate(item.fact.movements, start=1)
    ]
    for movement in movements:
        layers.apply(movement)
    if item.fact.kind == SEEN_EMPTY:
        layers.seen_empty(str(item.fact.content["bin"]))
    return movements
