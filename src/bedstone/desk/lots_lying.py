"""What lots lie where: the layers of the ledger, brought forward as facts are recorded."""

import datetime as dt
from dataclasses import dataclass, field
from threading import RLock
from weakref import WeakKeyDictionary

from bedstone.desk.layers import flow_patterns, read_layers
from bedstone.desk.record import MovementRecorded, Record
from bedstone.desk.revisions import current_mill
from bedstone.ledger.layers import SEEN_EMPTY, Layers
from bedstone.ledger.model import FlowPattern, Recorded
from bedstone.ledger.reversal import REVERSED
from bedstone.mill.model import Mill

__all__ = ["layers_at", "layers_now"]


@dataclass
class _Kept:
    layers: Layers
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
    mill = current_mill(record)
    kept = _KEPT.get(record)
    if kept is None or kept.flows != flow_patterns(mill):
        kept = _KEPT[record] = _fresh(record, mill)
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
            kept = _KEPT[record] = _fresh(record, mill)
    return kept.layers


def _fresh(record: Record, mill: Mill) -> _Kept:
    """Read everything; once more if somebody recorded in the meantime."""
    while True:
        position = record.head().position
        last_at = max((item.happened_at for item in record.movements()), default=_START)
        empty = record.facts(kinds=(SEEN_EMPTY,))
        last_at = max([last_at, *(item.fact.happened_at for item in empty)])
        layers = read_layers(record, mill)
        if record.head().position == position:
            return _Kept(layers, flow_patterns(mill), position, last_at)


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
