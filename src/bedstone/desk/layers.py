"""What lots lie in every place of the mill by the record, and of which lots each movement was."""

import datetime as dt
from dataclasses import dataclass

from bedstone.desk.record import Record
from bedstone.ledger.layers import SEEN_EMPTY, Layers, layers_of
from bedstone.ledger.model import FlowPattern
from bedstone.mill.model import Mill

__all__ = ["BinSeenEmpty", "bins_seen_empty", "flow_patterns", "read_layers"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BinSeenEmpty:
    """That a bin was seen empty, and which fact says so."""

    place: str
    happened_at: dt.datetime
    position: int


def flow_patterns(mill: Mill) -> dict[str, FlowPattern]:
    """Return how each bin of the mill empties."""
    return {row.bin: FlowPattern(row.flow) for row in mill.bins}


def bins_seen_empty(record: Record, *, at: dt.datetime | None = None) -> list[BinSeenEmpty]:
    """Return when bins were seen empty, at or before ``at``; ever if it is left out."""
    return [
        BinSeenEmpty(
            place=str(item.fact.content.get("bin", "")),
            happened_at=item.fact.happened_at,
            position=item.position,
        )
        for item in record.facts(kinds=(SEEN_EMPTY,), until=at)
    ]


def read_layers(record: Record, mill: Mill, *, at: dt.datetime | None = None) -> Layers:
    """Return the layers of all places after everything that happened at or before ``at``; after
    everything recorded if it is left out.
    """
    seen = bins_seen_empty(record, at=at)
    return layers_of(record.movements(until=at), flow_patterns(mill), seen_empty=seen)
