"""The air of a typical-year file, kept for hours of which the record has no weather."""

import datetime as dt
from collections.abc import Iterable

from bedstone.desk.merged_rows import WEATHER_SET, weather_by_hour
from bedstone.desk.plain_values import plain
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.roles import check
from bedstone.errors import BadInput
from bedstone.ledger.model import Fact
from bedstone.mill.model import Weather

__all__ = ["keep_air"]

HOUR = dt.timedelta(hours=1)


def keep_air(
    record: Record,
    air: Iterable[Weather] | None,
    *,
    by: str,
    first: dt.datetime,
    hours: int,
    at: dt.datetime,
) -> int:
    """Record the air of some hours and say of how many.

    Asks: who may, hours of a typical-year file. Refuses when: no file is given. Records:
    ``weather.hours_set/1`` with the hours of which nothing is known; what is known stands.
    """
    check(current_mill(record), by, "readings")
    if air is None:
        raise BadInput(
            "No air to keep.",
            seen="no file",
            allowed="a typical-year file (EPW, TMY3 CSV)",
            do="name one with --air FILE",
        )
    head = record.head()
    known = weather_by_hour(record)
    new = tuple(
        row
        for row in air
        if first - HOUR < row.hour_at < first + hours * HOUR and row.hour_at not in known
    )
    if new:
        fact = Fact(kind=WEATHER_SET, happened_at=at, by=by, content={"hours": plain(new)})
        record.append(fact, recorded_at=at, after=head.position)
    return len(new)
