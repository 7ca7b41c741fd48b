"""When each batch began: what machines hold follows that, not when somebody typed it in."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from bedstone.desk.folding import folded
from bedstone.desk.made import (
    BATCH_MADE,
    BATCH_STARTED,
    BatchOnRecord,
    batch_from_fact,
    made_batches,
    started_batches,
)
from bedstone.desk.record import Record
from bedstone.ledger.model import Recorded

__all__ = ["FirstSeen", "began", "first_seen", "taken_back"]


@dataclass(frozen=True, slots=True)
class FirstSeen:
    """The earliest word of a batch on record, taken back or not, and the last that it was made."""

    at: dt.datetime
    position: int
    made_position: int = 0  # 0 if it never was


def first_seen(record: Record) -> Mapping[str, FirstSeen]:
    """When each batch was first heard of, facts that were taken back included, by its id."""
    kinds = (BATCH_MADE, BATCH_STARTED)
    start: Mapping[str, FirstSeen] = {}
    return folded(record, "first_seen", kinds=kinds, start=start, fold=_note, reversed_too=True)


def _note(before: Mapping[str, FirstSeen], facts: Iterable[Recorded]) -> Mapping[str, FirstSeen]:
    found = dict(before)
    for item in facts:
        batch = str(item.fact.content["batch"])
        known = found.get(batch, FirstSeen(item.fact.happened_at, item.position))
        is_made = item.fact.kind == BATCH_MADE
        found[batch] = FirstSeen(
            min(known.at, item.fact.happened_at),
            known.position,
            item.position if is_made else known.made_position,
        )
    return found


def began(record: Record) -> Mapping[str, tuple[dt.datetime, int]]:
    """When each batch began, and the place of the journal that orders those of one moment.

    As its start is on record; where it is not, by the earliest record of the batch, even one that
    was taken back, so that correcting a batch does not move it in time.
    """
    started = started_batches(record)
    return {
        batch: (started[batch].happened_at if batch in started else seen.at, seen.position)
        for batch, seen in first_seen(record).items()
    }


def taken_back(record: Record) -> tuple[BatchOnRecord, ...]:
    """Batches whose record was taken back and that nobody has recorded again, as they were."""
    made = made_batches(record)
    return tuple(
        batch_from_fact(record.fact(seen.made_position))
        for batch, seen in first_seen(record).items()
        if seen.made_position and batch not in made
    )
