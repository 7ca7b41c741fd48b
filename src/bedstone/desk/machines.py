"""What the machines hold: a reading of what really ran, in order of time.

A batch counts as having gone along its whole way when it began. A place that it came to later
than something that was made or cleaned after it holds it again from then on, and so does one that
it has still to come to: neither a clean-out nor a flush makes a line clean of feed that waits
upstream of it.
"""

import datetime as dt

from bedstone.desk.happenings import happenings
from bedstone.desk.reaching import reached_after
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.mill.plan import HeldSubstance
from bedstone.mill.residue import Ran, replay

__all__ = ["machines_hold", "what_ran"]


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
    mill = current_mill(record)
    rows = [
        row
        for row in happenings(record, mill)
        if (not but or row.batch != but) and (at is None or row.at <= at)
    ]
    reached = reached_after(record, mill, rows, at=at, but=but)
    events: list[Ran] = list(reached.get(-1, ()))
    for number, row in enumerate(rows):
        events.append(row.event)
        events.extend(reached.get(number, ()))
    return tuple(events)
