"""Readings of the record that are kept: what is read anew when a fact is taken back."""

import datetime as dt
from collections.abc import Iterable

from bedstone.desk.folding import folded
from bedstone.ledger.model import Fact, Recorded
from fakes.memory import MemoryRecord

AT = dt.datetime(2026, 9, 1, 12, tzinfo=dt.UTC)


def test_only_readings_of_its_kind_are_made_anew_by_a_fact_taken_back() -> None:
    """Of three facts two are folded. Taking back one of another kind folds nothing again and goes on
    from what is kept; taking back one of its own kind folds what is left from the start.
    """
    record = MemoryRecord()
    seen: list[int] = []

    def fold(before: tuple[int, ...], facts: Iterable[Recorded]) -> tuple[int, ...]:
        new = tuple(item.position for item in facts)
        seen.extend(new)
        return before + new

    def read() -> tuple[int, ...]:
        start: tuple[int, ...] = ()
        return folded(record, "of a", kinds=("room.a/1",), start=start, fold=fold)

    for kind in ("room.a/1", "room.b/1", "room.a/1"):
        record.append(Fact(kind=kind, happened_at=AT, by="mara"), recorded_at=AT)
    assert read() == (1, 3)
    record.reverse(2, by="mara", why="a slip", recorded_at=AT)
    assert read() == (1, 3)
    assert seen == [1, 3]
    record.append(Fact(kind="room.a/1", happened_at=AT, by="mara"), recorded_at=AT)
    assert read() == (1, 3, 5)
    assert seen == [1, 3, 5]
    record.reverse(1, by="mara", why="a slip", recorded_at=AT)
    assert read() == (3, 5)
    assert seen == [1, 3, 5, 3, 5]
