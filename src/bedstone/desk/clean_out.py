"""Places cleaned by hand, on record."""

import datetime as dt

from bedstone.desk.appending import appended
from bedstone.desk.made import CLEANED_OUT, made_batches, started_batches
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import BadInput, Fault, Refused
from bedstone.ledger.model import Fact, Json, Recorded
from bedstone.mill.residue_places import ResiduePlaces

__all__ = ["record_clean_out"]


def record_clean_out(
    record: Record,
    *,
    places: tuple[str, ...],
    reason: str,
    before_batch: str = "",
    by: str,
    at: dt.datetime,
) -> Recorded:
    """Record that machines, bins, intakes or routes ("A>B") were cleaned by hand.

    Asks: places on the way of some product, and why; ``at`` is when they were cleaned, which rules
    what it cleaned them of. Refused when: the batch it was for has begun or was made. Records:
    ``cleaning.cleaned_out/1``.
    """
    mill = current_mill(record)
    known = {*ResiduePlaces(mill).number, *mill.bin_by_code, *mill.machine_by_code}
    known |= {row.intake for row in mill.bins if row.intake}
    faults = tuple(
        Fault(
            column="places",
            found=repr(place),
            allowed='a machine, a bin, an intake, or a route as "A>B" that feed goes along',
        )
        for place in places
        if place not in known
    )
    if faults or not places:
        raise BadInput("No such place can be cleaned out.", faults=faults, allowed="places")
    if not reason.strip():
        raise BadInput("Say why it was cleaned.", seen="nothing", allowed="a few words")
    content: dict[str, Json] = {
        "places": list(places),
        "before_batch": before_batch,
        "reason": reason.strip(),
    }

    def act() -> Fact:
        if before_batch:
            _refuse_late(record, before_batch)
        return Fact(kind=CLEANED_OUT, happened_at=at, by=by, content=content)

    return appended(record, act, at=at)


def _refuse_late(record: Record, batch: str) -> None:
    """Refuse a clean-out for a batch that is past: it would wipe what that batch left behind."""
    made, begun = made_batches(record).get(batch), started_batches(record).get(batch)
    past = made or begun
    if past is None:
        return
    raise Refused(
        f"Batch {batch} {'was made' if made else 'has begun'} already, so nothing can be cleaned "
        "before it now.",
        seen=f"fact {past.position}, {past.happened_at.isoformat(timespec='minutes')}",
        do="record the clean-out without the batch, at the time at which it really was; if the "
        f"batch is wrong on record, take fact {past.position} back first",
    )
