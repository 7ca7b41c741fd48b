"""Power events seen as a gap in imported readings: recorded with the readings that show them."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence

from bedstone.desk.plain_values import iso, moment
from bedstone.desk.proofs import POWER_EVENT, power_events
from bedstone.desk.readings import READINGS
from bedstone.desk.record import Record
from bedstone.ledger.model import Fact, Json
from bedstone.mill.readings import ReadingRow
from bedstone.quality.gaps import gaps

__all__ = ["SEEN_AS_GAP", "gap_facts"]

SEEN_AS_GAP = "seen as a gap"
NEAR = dt.timedelta(minutes=10)
MOST_NAMED = 8


def gap_facts(
    record: Record,
    new: Mapping[tuple[str, str], Sequence[ReadingRow]],
    *,
    by: str,
) -> list[Fact]:
    """Power events that new readings show together with those that were imported before.

    Typed readings are left out: a person who reads nothing for an hour is no power failure. A gap
    within ten minutes of a power event on record is that event.
    """
    times = _imported(record)
    fresh: set[float] = set()
    for (machine, quantity), rows in new.items():
        at = [row.at.timestamp() for row in rows]
        times.setdefault(f"{machine} {quantity}", []).extend(at)
        fresh.update(at)
    known = power_events(record)
    found = []
    for gap in gaps(times):
        from_at, to_at = (dt.datetime.fromtimestamp(at, dt.UTC) for at in (gap.from_at, gap.to_at))
        is_new = gap.to_at in fresh or gap.from_at in fresh
        if is_new and not any(
            row.from_at - NEAR <= to_at and from_at <= row.to_at + NEAR for row in known
        ):
            found.append(_fact(from_at, to_at, gap.series, by=by))
    return found


def _imported(record: Record) -> dict[str, list[float]]:
    times: dict[str, list[float]] = {}
    for item in record.facts(kinds=(READINGS,)):
        content = item.fact.content
        rows = content["rows"]
        if content["how"] == "imported" and isinstance(rows, list):
            name = f"{content['instrument']} {content['quantity']}"
            times.setdefault(name, []).extend(_times(rows))
    return times


def _times(rows: Iterable[Json]) -> Iterable[float]:
    for row in rows:
        if isinstance(row, list):
            yield moment(str(row[0])).timestamp()


def _fact(from_at: dt.datetime, to_at: dt.datetime, series: Sequence[str], *, by: str) -> Fact:
    named = ", ".join(series[:MOST_NAMED])
    more = f" and {len(series) - MOST_NAMED} more" if len(series) > MOST_NAMED else ""
    return Fact(
        kind=POWER_EVENT,
        happened_at=to_at,
        by=by,
        content={
            "from_at": iso(from_at),
            "to_at": iso(to_at),
            "how": SEEN_AS_GAP,
            "note": f"silent together: {named}{more}",
        },
    )
