"""What went along the machines and what was cleaned, each with when it began and where."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from weakref import WeakKeyDictionary

from bedstone.desk.begun import began, taken_back
from bedstone.desk.drawn import Contents, worse
from bedstone.desk.made import BatchOnRecord, clean_outs, made_batches, started_batches
from bedstone.desk.plans import batch_of, find_plan
from bedstone.desk.record import Record
from bedstone.desk.went_on import touched
from bedstone.mill.model import Mill
from bedstone.mill.plan import BatchKind
from bedstone.mill.residue import CleanedOut, MaterialPassed, Ran, Reached

__all__ = ["Happening", "happenings", "places_along"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Happening:
    """A batch along its way, or a clean-out."""

    at: dt.datetime  # when it began
    position: int
    event: Ran
    places: frozenset[str]  # that it cleans, or passes as it was planned
    batch: str = ""  # nothing for a clean-out
    run: str = ""
    plan: str = ""
    route: tuple[str, ...] = ()
    is_feed: bool = False


_KEPT: WeakKeyDictionary[Record, tuple[str, list[Happening]]] = WeakKeyDictionary()


def places_along(route: tuple[str, ...]) -> tuple[str, ...]:
    """Places along a route with the ways between them, as "A>B"."""
    found: list[str] = []
    for before, code in zip(("", *route), route, strict=False):
        if before:
            found.append(f"{before}>{code}")
        found.append(code)
    return tuple(found)


def happenings(record: Record, mill: Mill) -> list[Happening]:
    """Everything that went along the machines or was cleaned by hand, in order of time."""
    head = record.head().head
    kept = _KEPT.get(record)
    if kept is None or kept[0] != head:
        kept = _KEPT[record] = head, _read(record, mill)
    return list(kept[1])


def _read(record: Record, mill: Mill) -> list[Happening]:
    contents = Contents(record)
    went = _went(record, mill)
    order = began(record)
    rows = [
        _made(row, contents, order[row.made.batch], really=went.get(row.made.batch, frozenset()))
        for row in made_batches(record).values()
    ]
    lost = {row.made.batch: row for row in taken_back(record)}
    rows += _under_way(record, contents, order, lost=lost)
    rows += [
        _dirt(row, contents, order[batch])
        for batch, row in lost.items()
        if batch not in started_batches(record)
    ]
    rows += [
        Happening(
            at=row.happened_at,
            position=row.position,
            event=CleanedOut(places=row.places),
            places=frozenset(row.places),
        )
        for row in clean_outs(record)
    ]
    return sorted(rows, key=lambda row: (row.at, row.position))


def _went(record: Record, mill: Mill) -> Mapping[str, frozenset[str]]:
    """Machines and bins that each batch is known to have come to after the mixer."""
    bins = {row.bin for row in mill.bins if row.kind in ("surge", "finished")}
    found: dict[str, frozenset[str]] = {}
    for row in touched(record):
        places = [code for code in row.places if code in bins or code in mill.machine_by_code]
        for batch in row.batches:
            found[batch] = found.get(batch, frozenset()).union(places)
    return found


def _made(
    row: BatchOnRecord,
    contents: Contents,
    order: tuple[dt.datetime, int],
    *,
    really: frozenset[str],
) -> Happening:
    made = row.made
    at, first = order
    route = _as_it_went(made.route, really)
    event = MaterialPassed(
        route=route,
        material=made.material,
        mass_mg=row.mass_mg,
        contents=contents.of_made(row, positions=(first,)),
    )
    return Happening(
        at=at,
        position=first,
        event=event,
        places=frozenset(places_along(route)),
        batch=made.batch,
        run=made.run,
        plan=made.plan,
        route=made.route,
        is_feed=made.kind is BatchKind.FEED,
    )


def _as_it_went(route: tuple[str, ...], really: frozenset[str]) -> tuple[str, ...]:
    """A route as planned, cut off where the batch is known to have gone another way."""
    if really <= frozenset(route):
        return route
    length = 2
    while length < len(route) and route[length] in really:
        length += 1
    return route[:length]


def _under_way(
    record: Record,
    contents: Contents,
    order: Mapping[str, tuple[dt.datetime, int]],
    *,
    lost: Mapping[str, BatchOnRecord],
) -> list[Happening]:
    made = made_batches(record)
    rows: list[Happening] = []
    for begun in started_batches(record).values():
        if begun.batch in made:
            continue
        batch = batch_of(find_plan(record, begun.plan).plan, begun.batch)
        at, first = order[batch.batch]
        own = contents.of_planned(batch, positions=(first,))
        event: Ran = MaterialPassed(
            route=batch.route, material=batch.material, mass_mg=batch.mass_mg, contents=own
        )
        if batch.batch in lost:
            was = lost[batch.batch]
            own = worse(own, contents.of_made(was, positions=(first,)))
            event = Reached(places=places_along(batch.route), material=batch.material, contents=own)
        rows.append(
            Happening(
                at=at,
                position=first,
                event=event,
                places=frozenset(places_along(batch.route)),
                batch=batch.batch,
                run=batch.run,
                plan=begun.plan,
                route=batch.route,
                is_feed=batch.kind is BatchKind.FEED,
            )
        )
    return rows


def _dirt(row: BatchOnRecord, contents: Contents, order: tuple[dt.datetime, int]) -> Happening:
    """A batch that was taken back: it may well have run, so it is dirt, and cleans nothing."""
    made = row.made
    at, first = order
    places = places_along(made.route)
    return Happening(
        at=at,
        position=first,
        event=Reached(
            places=places,
            material=made.material,
            contents=contents.of_made(row, positions=(first,)),
        ),
        places=frozenset(places),
        batch=made.batch,
        run=made.run,
        plan=made.plan,
        route=made.route,
        is_feed=made.kind is BatchKind.FEED,
    )
