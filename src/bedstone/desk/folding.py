"""Readings of the record that are folded fact by fact and kept, so that only new facts are read."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TypeVar, cast
from weakref import WeakKeyDictionary

from bedstone.desk.record import Record
from bedstone.ledger.model import Recorded

__all__ = ["folded", "share_readings"]

State = TypeVar("State")
REVERSED = "journal.reversed/1"


@dataclass(frozen=True, slots=True)
class _Kept:
    position: int
    head: str
    state: object


_KEPT: WeakKeyDictionary[Record, dict[str, _Kept]] = WeakKeyDictionary()


def folded(
    record: Record,
    name: str,
    *,
    kinds: Sequence[str],
    start: State,
    fold: Callable[[State, Iterable[Recorded]], State],
    reversed_too: bool = False,
) -> State:
    """The state that facts of these kinds add up to, in order of position.

    ``fold`` must return a new state and leave the old one as it was. When a fact of these kinds has
    been taken back since the last look, everything is folded again from the start. Facts that were
    taken back are folded only if they are asked for.
    """
    kept = _KEPT.setdefault(record, {})
    end = record.head()
    before = kept.get(name)
    if before is not None and before.head == end.head:
        return cast("State", before.state)
    since, state = 0, start
    if (
        before is not None
        and before.position < end.position
        and not _taken_back(record, before, kinds)
    ):
        since, state = before.position, cast("State", before.state)
    facts = [
        item
        for item in record.facts(kinds=kinds, after=since, reversed_too=reversed_too)
        if item.position <= end.position
    ]
    state = fold(state, facts) if facts else state
    kept[name] = _Kept(end.position, end.head, state)
    return state


def share_readings(record: Record, beginning: Record) -> None:
    """Let a record that begins with all facts of another go on from its readings."""
    _KEPT[beginning] = dict(_KEPT.get(record, {}))


def _taken_back(record: Record, before: _Kept, kinds: Sequence[str]) -> bool:
    found = record.facts(kinds=(REVERSED,), after=before.position, reversed_too=True)
    return any(not kinds or item.fact.content.get("kind", kinds[0]) in kinds for item in found)
