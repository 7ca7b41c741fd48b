"""Places cleaned by hand, on record."""

import datetime as dt

from bedstone.desk.made import CLEANED_OUT
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import BadInput, Fault
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
    """Record that machines, bins or routes ("A>B") were cleaned by hand.

    Asks: places on the way of some product, and why. Records: ``cleaning.cleaned_out/1``.
    """
    mill = current_mill(record)
    known = {*ResiduePlaces(mill).number, *mill.bin_by_code, *mill.machine_by_code}
    faults = tuple(
        Fault(
            column="places",
            found=repr(place),
            allowed='a machine, a bin, or a route as "A>B" that feed goes along',
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
    fact = Fact(kind=CLEANED_OUT, happened_at=at, by=by, content=content)
    return record.append(fact, recorded_at=at)
