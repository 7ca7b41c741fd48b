"""Where feed of a run is now: in which bins it still lies, and to which customers it has gone."""

import datetime as dt
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from weakref import WeakKeyDictionary

from bedstone.desk.folding import folded
from bedstone.desk.lots_lying import lying_now
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.ledger.model import Recorded
from bedstone.mill.model import Mill
from bedstone.quantities.masses import shown_mass

__all__ = ["Left", "Lying", "Whereabouts", "lying_of", "where_now"]

SHIPPED = "finishing.shipped/1"
CUSTOMER = "customer/"
_LYING: WeakKeyDictionary[Record, tuple[str, Mapping[str, Mapping[str, int]]]] = WeakKeyDictionary()


@dataclass(frozen=True, slots=True, kw_only=True)
class Lying:
    """What of a run lies in a bin or the warehouse by the books."""

    place: str
    kind: str  # of the bin
    mass_mg: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Left:
    """What of a run left for the order of a customer."""

    customer: str
    order: str
    mass_mg: int
    at: dt.datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Whereabouts:
    """Where a run's pellets are now."""

    lying: tuple[Lying, ...]
    left: tuple[Left, ...]

    def said(self, mill: Mill) -> str:
        """Where it is in a sentence or two."""
        units, zone = mill.settings.units, mill.settings.zone
        here = [
            f"{shown_mass(row.mass_mg, units=units)} in {mill.name_of(row.place)}"
            for row in self.lying
        ]
        gone = [
            f"{shown_mass(row.mass_mg, units=units)} shipped to {mill.name_of(row.customer)} for "
            f"order {row.order} ({row.at.astimezone(zone):%Y-%m-%d})"
            for row in self.left
        ]
        return f"Now, by the books: {'; '.join([*(here or ['none of it in a bin']), *gone])}."

    def call(self, mill: Mill) -> str:
        """Whom to call, with their telephones; empty where nothing has left."""
        firms = [
            mill.firm_by_code.get(code) for code in dict.fromkeys(r.customer for r in self.left)
        ]
        names = [f"{firm.name}{f' ({firm.phone})' if firm.phone else ''}" for firm in firms if firm]
        return f"call {' and '.join(names)}" if names else ""


def where_now(
    record: Record, run: str, batches: Collection[str], *, but: Collection[str] = ()
) -> Whereabouts:
    """Where pellets of a run's batches are now; what lies in some places, as mash, left aside."""
    bins = current_mill(record).bin_by_code
    lying = tuple(
        Lying(place=place, kind=bins[place].kind, mass_mg=mass_mg)
        for place, mass_mg in _together(_lying(record), (run, *batches)).items()
        if place in bins and place not in but and mass_mg > 0
    )
    return Whereabouts(lying=lying, left=_left(record).get(run, ()))


def lying_of(record: Record, lot: str, place: str) -> int:
    """What of a lot lies in a place by the books. [mg]"""
    return _lying(record).get(lot, {}).get(place, 0)


def _together(lying: Mapping[str, Mapping[str, int]], lots: Iterable[str]) -> dict[str, int]:
    found: dict[str, int] = {}
    for lot in dict.fromkeys(lots):
        for place, mass_mg in lying.get(lot, {}).items():
            found[place] = found.get(place, 0) + mass_mg
    return found


def _lying(record: Record) -> Mapping[str, Mapping[str, int]]:
    """What of each lot lies where, read once for each state of the journal."""
    head = record.head().head
    kept = _LYING.get(record)
    if kept is None or kept[0] != head:
        found: dict[str, dict[str, int]] = {}
        for place, layers in lying_now(record).items():
            for layer in layers:
                if layer.lot:
                    places = found.setdefault(layer.lot, {})
                    places[place] = places.get(place, 0) + layer.mass_mg
        kept = _LYING[record] = head, found
    return kept[1]


def _left(record: Record) -> Mapping[str, tuple[Left, ...]]:
    """What left for customers, by run."""

    def note(
        before: Mapping[str, tuple[Left, ...]], facts: Iterable[Recorded]
    ) -> Mapping[str, tuple[Left, ...]]:
        found = dict(before)
        for item in facts:
            run, order = str(item.fact.content["run"]), str(item.fact.content["order"])
            found[run] = found.get(run, ()) + tuple(
                Left(
                    customer=move.to_place.removeprefix(CUSTOMER),
                    order=order,
                    mass_mg=move.mass_mg,
                    at=item.fact.happened_at,
                )
                for move in item.fact.movements
                if move.to_place.startswith(CUSTOMER)
            )
        return found

    start: Mapping[str, tuple[Left, ...]] = {}
    return folded(record, "left for customers", kinds=(SHIPPED,), start=start, fold=note)
