"""People's acts on themselves that the journal must show."""

import datetime as dt

from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import Unknown
from bedstone.ledger.model import Fact, Recorded

__all__ = ["PIN_SET", "record_pin_set"]

PIN_SET = "people.pin_set/1"


def record_pin_set(record: Record, person: str, *, by: str, at: dt.datetime) -> Recorded:
    """Record that somebody's PIN was set; neither the PIN nor its hash is in the fact.

    Asks: the person is in the mill's people table. Refuses when: there is no such person.
    Records: ``people.pin_set/1``.
    """
    people = current_mill(record).person_by_code
    if person not in people:
        raise Unknown(
            f"There is no person {person!r}.",
            allowed=", ".join(sorted(people)) or "nobody is in the people table",
            do="name one of them, or add the person to people.csv and run bedstone load",
        )
    fact = Fact(kind=PIN_SET, happened_at=at, by=by, content={"person": person})
    return record.append(fact, recorded_at=at)
