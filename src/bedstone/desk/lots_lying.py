"""What lots lie where: the layers of the ledger, brought forward as facts are recorded."""

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from threading import RLock
from typing import TypeVar
from weakref import WeakKeyDictionary

from bedstone.desk.layers import bins_seen_empty, flow_patterns, read_layers
from bedstone.desk.record import MovementRecorded, Record
from bedstone.desk.revisions import current_mill
from bedstone.ledger.layers import SEEN_EMPTY, Layer, Layers, layers_of
from bedstone.ledger.layers_live import layers_now
from bedstone.ledger.model import FlowPattern, Recorded
from bedstone.ledger.reversal import REVERSED
from bedstone.mill.model import Mill

__all__ = ["layers_at", "lying_now", "read_lying", "read_now"]

Answer = TypeVar("Answer")


@dataclass
class _Kept:
    layers: Layers
    movements: list[MovementRecorded]
    flows: dict[str, FlowPattern]
    position: int
    last_at: dt.datetime
    whole: bool  # with the shares of every movement, not of the latest alone


_READING = RLock()  # the kept layers are brought forward while nobody reads them
_KEPT: WeakKeyDictionary[Record, _Kept] = WeakKeyDictionary()
TRIES = 3
_START = dt.datetime.min.replace(tzinfo=dt.UTC)


def layers_at(record: Record, at: dt.datetime) -> Layers:
    """The layers of all places at a past moment."""
    return read_layers(record, current_mill(record), at=at)


def read_now(
    record: Record, reading: Callable[[Layers, Sequence[MovementRecorded]], Answer]
) -> Answer:
    """What a reading makes of the layers of all places now and of the movements behind them.

    The layers are the same ones each time, brought forward as facts come: a reading must take out
    what it needs and keep no hold of them.
    """
    with _READING:
        kept = _kept(record, whole=True)
        return reading(kept.layers, kept.movements)


def read_lying(record: Record, reading: Callable[[Layers], Answer]) -> Answer:
    """What a reading makes of the layers of all places now, shares of past movements left aside.

    Quicker than :func:`read_now` the first time: only what the present hangs on is folded.
    """
    with _READING:
        return reading(_kept(record, whole=False).layers)


def lying_now(record: Record) -> Mapping[str, tuple[Layer, ...]]:
    """The nominal layers in each place now, that which comes out first first."""
    return read_lying(
        record, lambda layers: {place: layers.layers(place) for place in layers.places()}
    )


def _kept(record: Record, *, whole: bool) -> _Kept:
    mill = current_mill(record)
    kept = _KEPT.get(record)
    if kept is None or kept.flows != flow_patterns(mill) or (whole and not kept.whole):
        kept = _KEPT[record] = _fresh(record, mill, whole=whole)
        return kept
    position = record.head().position
    if position == kept.position:
        return kept
    new = [
        item
        for item in record.facts(after=kept.position, reversed_too=True)
        if item.position <= position
    ]
    if not _in_order(new, kept.last_at):
        kept = _KEPT[record] = _fresh(record, mill, whole=kept.whole)
        return kept
    for item in new:
        kept.movements.extend(_apply(kept.layers, item))
    kept.position = position
    kept.last_at = max([kept.last_at, *(item.fact.happened_at for item in new if _moves(item))])
    return kept


def _fresh(record: Record, mill: Mill, *, whole: bool) -> _Kept:
    """Read what is needed, as far as the journal reached when reading began."""
    position, left = _settled(record)
    empty = [item for item in bins_seen_empty(record) if item.position <= position]
    flows = flow_patterns(mill)
    movements: list[MovementRecorded] = []
    if whole or left is None:
        movements = [item for item in record.movements() if item.position <= position]
        layers = layers_of(movements, flows, seen_empty=empty)
    else:
        layers = layers_now(
            (item for item in record.movements(newest_first=True) if item.position <= position),
            flows,
            left_mg=left,
            seen_empty=empty,
            machines=mill.machine_by_code,
            forgotten=[
                place
                for place in (*flows, *mill.machine_by_code)
                if _remembers_nothing(record, place, is_bin=place in flows, left_mg=left)
            ],
        )
    newest = (item for item in record.movements(newest_first=True) if item.position <= position)
    moments = [item.happened_at for item in islice(newest, 1)]
    moments += [item.happened_at for item in empty]
    return _Kept(
        layers=layers,
        movements=movements if whole else [],
        flows=flows,
        position=position,
        last_at=max(moments, default=_START),
        whole=whole,
    )


def _remembers_nothing(
    record: Record, place: str, *, is_bin: bool, left_mg: dict[str, int]
) -> bool:
    """True for a place that nothing ever went through, and for a machine that was emptied last."""
    last = next(iter(record.movements(place=place, newest_first=True)), None)
    if last is None:
        return True
    return not is_bin and not left_mg.get(place, 0) and last.movement.from_place == place


def _settled(record: Record) -> tuple[int, dict[str, int] | None]:
    """The end of the journal and the book stock of each place at it, in mg; no stock if others
    record so busily that none of one moment was seen.
    """
    position = record.head().position
    for _ in range(TRIES):
        left: dict[str, int] = {}
        for line in record.stock():
            left[line.place] = left.get(line.place, 0) + line.mass_mg
        now = record.head().position
        if now == position:
            return position, left
        position = now
    return position, None


def _in_order(new: list[Recorded], last_at: dt.datetime) -> bool:
    """True when new facts happened after all that was applied, and none takes another back."""
    for item in new:
        if item.fact.kind == REVERSED or (_moves(item) and item.fact.happened_at < last_at):
            return False
        last_at = item.fact.happened_at if _moves(item) else last_at
    return True


def _moves(item: Recorded) -> bool:
    """True when a fact changes what lies where."""
    return bool(item.fact.movements) or item.fact.kind == SEEN_EMPTY


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
