"""Where feed comes later than what was made or cleaned after it."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from bedstone.desk.drawn import Contents, worse
from bedstone.desk.happenings import Happening, places_along
from bedstone.desk.record import Record
from bedstone.desk.went_on import Touched, origin_of, planned_times, touched, waiting_in
from bedstone.mill.model import Mill
from bedstone.mill.residue import CleanedOut, MaterialPassed, Reached
from bedstone.mill.residue_places import ResiduePlaces

__all__ = ["Coming", "reached_after"]

BEFORE_ALL = -1
_MOMENT = dt.timedelta(microseconds=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Coming:
    """Feed that came to places at a time, or will, at the earliest, after all that happened."""

    batches: tuple[str, ...]
    material: str
    contents: Mapping[str, float]
    places: tuple[str, ...]
    at: dt.datetime
    position: int


def reached_after(
    record: Record,
    mill: Mill,
    rows: Sequence[Happening],
    *,
    at: dt.datetime | None = None,
    but: str = "",
) -> dict[int, list[Reached]]:
    """What reached places after the row of each number; -1 is before all of them."""
    went = [row for row in touched(record) if at is None or row.at <= at]
    order = _Order(record, mill, rows, went)
    found: dict[int, list[Reached]] = {}
    comings = [*_came(record, rows, went, but=but), *_waiting(record, rows, went, at=at)]
    known = ResiduePlaces(mill).number
    for coming in sorted(comings, key=lambda row: (row.at, row.position)):
        places = tuple(place for place in coming.places if place in known)
        for number, reached_places in order.slots(replace(coming, places=places)).items():
            reached = Reached(
                places=tuple(reached_places), material=coming.material, contents=coming.contents
            )
            found.setdefault(number, []).append(reached)
    return found


def _came(
    record: Record, rows: Sequence[Happening], went: Iterable[Touched], *, but: str
) -> list[Coming]:
    """What was pelleted, packed or loaded out."""
    by_batch = {row.batch: row for row in rows if row.batch}
    by_run: dict[str, list[str]] = {}
    for row in rows:
        if row.is_feed:
            by_run.setdefault(row.run, []).append(row.batch)
    contents: Contents | None = None
    found: list[Coming] = []
    for item in went:
        named = item.batches or tuple(by_run.get(item.run, ()))
        batches = tuple(batch for batch in named if batch in by_batch)
        if batches:
            own = worse(*(_own(by_batch[batch]) for batch in batches))
        elif but and (but in named or not item.batches):
            continue  # it was the batch that is left out
        else:
            contents = contents or Contents(record)
            own = dict(contents.of(item.product, positions=(item.position,)))
        found.append(
            Coming(
                batches=batches,
                material=item.product,
                contents=own,
                places=item.places,
                at=item.at,
                position=item.position,
            )
        )
    return found


def _waiting(
    record: Record, rows: Sequence[Happening], went: Iterable[Touched], *, at: dt.datetime | None
) -> list[Coming]:
    """What is mixed, or being mixed, and has not come all the way yet."""
    feeds = [row for row in rows if row.is_feed and isinstance(row.event, MaterialPassed)]
    made = [(row.batch, _material(row), row.route) for row in feeds]
    later = [item for item in touched(record) if at is not None and item.at > at]
    lying = waiting_in(record, made, later)
    moments = [row.at for row in rows] + [item.at for item in went]
    found: list[Coming] = []
    for row in feeds:
        ahead = _ahead(row.route, lying.get(row.batch))
        if ahead:
            found.append(
                Coming(
                    batches=(row.batch,),
                    material=_material(row),
                    contents=_own(row),
                    places=ahead,
                    at=max(moments) + _MOMENT,
                    position=row.position,
                )
            )
    return found


def _ahead(route: tuple[str, ...], bins: frozenset[str] | None) -> tuple[str, ...]:
    """Places that feed lying in bins has still to come to."""
    if not bins:
        return ()
    if not bins <= frozenset(route):
        return places_along(route)[1:]
    first = min(route.index(place) for place in bins)
    return places_along(route[first:])[1:]


def _own(row: Happening) -> Mapping[str, float]:
    return {} if isinstance(row.event, CleanedOut) else row.event.contents


def _material(row: Happening) -> str:
    return "" if isinstance(row.event, CleanedOut) else row.event.material


class _Order:
    """What came to a place before what, as far as the record and the plans say."""

    def __init__(
        self, record: Record, mill: Mill, rows: Sequence[Happening], went: Iterable[Touched]
    ) -> None:
        self._record, self._mill, self._rows = record, mill, rows
        self._number = {row.batch: number for number, row in enumerate(rows) if row.batch}
        self._plans: dict[str, Mapping[tuple[str, str], dt.datetime]] = {}
        self._times: dict[tuple[str, str], dt.datetime] = {}
        for item in went:
            for batch in item.batches:
                for place in item.places:
                    key = (batch, place)
                    self._times[key] = min(item.at, self._times.get(key, item.at))

    def slots(self, coming: Coming) -> dict[int, list[str]]:
        """After which row feed came to each of its places; none where nothing came between."""
        numbers = [self._number[batch] for batch in coming.batches]
        start = max(numbers, default=BEFORE_ALL)
        before = self._rows[start] if numbers else None
        last = dict.fromkeys(coming.places, start)
        for number in range(start + 1, len(self._rows)):
            row = self._rows[number]
            if (row.at, row.position) > (coming.at, coming.position):
                break
            if row.batch in coming.batches:
                continue
            for place in coming.places:
                if place in row.places and self._is_before(row, before, place, coming):
                    last[place] = number
        found: dict[int, list[str]] = {}
        for place, number in last.items():
            if number > start or before is None or place not in before.places:
                found.setdefault(number, []).append(place)
        return found

    def _is_before(
        self, row: Happening, before: Happening | None, place: str, coming: Coming
    ) -> bool:
        if isinstance(row.event, CleanedOut):
            return True
        if not isinstance(row.event, MaterialPassed):
            return False  # it cleans nothing
        if before is not None and self._follows(row, before, place):
            return False
        return self._time(row, place) < coming.at

    def _follows(self, row: Happening, before: Happening, place: str) -> bool:
        """True when both come to a place out of the same surge bin or mixer, in turn."""
        origin = origin_of(self._mill, before.route, place)
        held = self._mill.bin_by_code.get(origin)
        return (held is None or held.kind == "surge") and (
            origin == origin_of(self._mill, row.route, place) and place in before.places
        )

    def _time(self, row: Happening, place: str) -> dt.datetime:
        """When a batch came to a place: on record, or else as its plan has it, at the earliest."""
        known = self._times.get((row.batch, place))
        if known is not None:
            return known
        if row.plan not in self._plans:
            self._plans[row.plan] = planned_times(self._record, row.plan)
        planned = self._plans[row.plan]
        start_at = planned.get((row.batch, ""))
        if start_at is None:
            return row.at
        latest = row.at
        for code in places_along(row.route):
            machine = code.split(">", 1)[-1]
            bar = planned.get((row.batch, machine)) or planned.get((row.run, machine))
            if bar is not None:
                latest = max(latest, row.at + (bar - start_at))
            if code == place:
                break
        return latest
