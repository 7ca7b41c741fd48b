"""What the machines hold: a reading of what really ran, in order of time.

A batch counts as having gone along its whole way when it began. A place that it came to later
than something that was made or cleaned after it holds it again from then on, and so does one that
it has still to come to: neither a clean-out nor a flush makes a line clean of feed that waits
upstream of it.
"""

import datetime as dt
from collections.abc import Collection, Mapping

from bedstone.desk.happenings import happenings
from bedstone.desk.reaching import reached_after
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.mill.plan import HeldSubstance
from bedstone.mill.residue import CleanedOut, Ran, came_out, replay

__all__ = ["came_out_of", "machines_hold", "what_ran"]


def machines_hold(record: Record, at: dt.datetime | None = None) -> tuple[HeldSubstance, ...]:
    """What each machine, bin and route holds of each substance, now or at a past moment.

    Batches and flushes that were made count with what was really weighed into them; a batch that
    has begun and is not on record yet counts as its plan says; one that was taken back and not
    recorded again counts as dirt alone. What came before the first batch on record is unknown and
    counts as the worst that the mill handles.
    """
    return replay(current_mill(record), what_ran(record, at))


def what_ran(record: Record, at: dt.datetime | None = None, *, but: str = "") -> tuple[Ran, ...]:
    """What went along the machines and what was cleaned, in order of time, without batch ``but``."""
    return tuple(event for _, event in _events(record, at, but))


def came_out_of(
    record: Record, batches: Collection[str]
) -> Mapping[str, tuple[Mapping[str, float], Mapping[str, float]]]:
    """What batches on record contain of each substance: their own, and on average at the end of
    their way, with what they carried along [mg/kg].
    """
    events = _events(record, None, "")
    numbers = {number: batch for number, (batch, _) in enumerate(events) if batch in batches}
    means = came_out(current_mill(record), [event for _, event in events], numbers=numbers.keys())
    return {
        batch: (event.contents, means.get(number, {}))
        for number, batch in numbers.items()
        if not isinstance(event := events[number][1], CleanedOut)
    }


def _events(record: Record, at: dt.datetime | None, but: str) -> list[tuple[str, Ran]]:
    """What happened, each with the batch that it is; nothing for what is none."""
    mill = current_mill(record)
    rows = [
        row
        for row in happenings(record, mill)
        if (not but or row.batch != but) and (at is None or row.at <= at)
    ]
    reached = reached_after(record, mill, rows, at=at, but=but)
    events: list[tuple[str, Ran]] = [("", event) for event in reached.get(-1, ())]
    for number, row in enumerate(rows):
        events.append((row.batch, row.event))
        events.extend(("", event) for event in reached.get(number, ()))
    return events
