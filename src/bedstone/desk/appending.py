"""Facts appended so that two people at once never lose or double anything.

An act reads the record, judges and makes a fact. The fact enters only if nobody recorded anything
in between; else the act reads and judges again. Whoever filled in a form hands in the place of
the journal at which it was shown: the act is refused as a Conflict only if somebody has since
recorded something about the same thing.
"""

import datetime as dt
from collections.abc import Callable, Sequence

from bedstone.desk.record import Record
from bedstone.errors import Conflict
from bedstone.ledger.model import Fact, Recorded

__all__ = ["appended", "nobody_since"]

TRIES = 20


def appended(record: Record, act: Callable[[], Fact], *, at: dt.datetime) -> Recorded:
    """The fact of an act, appended on the very record that the act has read.

    Raises
    ------
    Conflict
        If others keep recording faster than the act can read.
    """
    for _ in range(TRIES):
        head = record.head()
        fact = act()
        try:
            return record.append(fact, recorded_at=at, after=head.position)
        except Conflict as lost:
            last = lost
    raise last


def nobody_since(
    record: Record, after: int | None, *, kinds: Sequence[str], key: str, value: str
) -> None:
    """Pass if no fact about the same thing was recorded after a place of the journal.

    Raises
    ------
    Conflict
        If there is one; it says who recorded it and when.
    """
    if after is None:
        return
    for item in record.facts(kinds=kinds, after=after):
        if item.fact.content.get(key) == value:
            raise Conflict(
                f"{item.fact.by} has recorded something about {key} {value} since this was read.",
                seen=f"{item.fact.kind} at {item.recorded_at.isoformat()}",
                do="read it again and decide anew",
            )
