"""When feed really came to lines and bins after the mixer, and what still waits upstream."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from bedstone.desk.finished_bins import stays_mg
from bedstone.desk.folding import folded
from bedstone.desk.lots_lying import lying_now
from bedstone.desk.plans import proposed_at
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.ledger.model import Recorded
from bedstone.mill.model import Mill

__all__ = ["Touched", "origin_of", "planned_times", "touched", "waiting_in"]

PELLETED = "pelleting.run_pelleted/1"
PACKED = "finishing.run_packed/1"
SHIPPED = "finishing.shipped/1"
KEPT_PLANS = 64
_TIMES: dict[str, Mapping[tuple[str, str], dt.datetime]] = {}


@dataclass(frozen=True, slots=True, kw_only=True)
class Touched:
    """Feed of a run that went over a line: which batches (none named: all of the run), where."""

    run: str
    product: str
    batches: tuple[str, ...]
    places: tuple[str, ...]  # bins and machines it really touched, routes between them as "A>B"
    at: dt.datetime
    position: int


def touched(record: Record) -> tuple[Touched, ...]:
    """What was pelleted, packed or loaded out, in order of the journal."""

    def note(before: tuple[Touched, ...], facts: Iterable[Recorded]) -> tuple[Touched, ...]:
        return before + tuple(_touched(item) for item in facts)

    kinds = (PELLETED, PACKED, SHIPPED)
    return folded(record, "touched", kinds=kinds, start=(), fold=note)


def _touched(item: Recorded) -> Touched:
    content = item.fact.content
    places: dict[str, None] = {}
    product = str(content.get("product", ""))
    for movement in item.fact.movements:
        if movement.material == (product or movement.material):
            product = movement.material
            start, end = movement.from_place, movement.to_place
            places |= dict.fromkeys((start, f"{start}>{end}", end))
    batches = content.get("batches", [])
    return Touched(
        run=str(content["run"]),
        product=product,
        batches=tuple(str(row) for row in batches) if isinstance(batches, list) else (),
        places=tuple(places),
        at=item.fact.happened_at,
        position=item.position,
    )


def planned_times(record: Record, plan_id: str) -> Mapping[tuple[str, str], dt.datetime]:
    """When a plan has each batch, or run, on each machine: the beginning of its bar.

    Also (batch, "") for the beginning of a batch; nothing for a plan that is not on record.
    """
    proposed = proposed_at(record, plan_id)
    if proposed is None:
        return {}
    found = _TIMES.get(proposed.head)
    if found is None:
        if len(_TIMES) >= KEPT_PLANS:
            _TIMES.clear()
        found = _TIMES[proposed.head] = _bars(proposed.fact.content.get("plan"))
    return found


def _bars(plan: object) -> dict[tuple[str, str], dt.datetime]:
    times: dict[tuple[str, str], dt.datetime] = {}
    if not isinstance(plan, Mapping):
        return times
    for row in plan["batches"]:
        times[str(row["batch"]), ""] = dt.datetime.fromisoformat(str(row["start_at"]))
    for row in plan["bars"]:
        if row["kind"] in ("batch", "flush", "run"):
            key = str(row["about"]), str(row["machine"])
            start_at = dt.datetime.fromisoformat(str(row["start_at"]))
            times[key] = min(start_at, times.get(key, start_at))
    return times


def waiting_in(
    record: Record, rows: Iterable[tuple[str, str, tuple[str, ...]]], later: Iterable[Touched] = ()
) -> Mapping[str, frozenset[str]]:
    """Surge and finished bins in which batches (id, material, route) lie, of which the books have
    more along their way than stays behind in a finished bin that is run empty. What went on only
    later than the moment that is asked for lay there then.
    """
    mill = current_mill(record)
    stock_mg = {(row.place, row.material): row.mass_mg for row in record.stock()}
    kept = {row.bin: row for row in mill.bins if row.kind in ("surge", "finished")}
    lots: dict[str, set[str]] = {}
    for place, layers in lying_now(record).items():
        for layer in layers:
            if place in kept and layer.lot and layer.mass_mg > 0:
                lots.setdefault(layer.lot, set()).add(place)
    found: dict[str, frozenset[str]] = {}
    for batch, material, route in rows:
        bins = lots.get(batch, set()).union(code for code in route if code in kept)
        there_mg = sum(stock_mg.get((place, material), 0) for place in bins)
        if batch in lots and there_mg > max(stays_mg(kept[place]) for place in bins):
            found[batch] = frozenset(lots[batch])
    for item in later:
        for batch in item.batches:
            if item.places[0] in kept:
                found[batch] = found.get(batch, frozenset()) | {item.places[0]}
    return found


def origin_of(mill: Mill, route: tuple[str, ...], place: str) -> str:
    """The last bin on a route before a place, or its mixer."""
    end = place.split(">", 1)[0] if ">" in place else place
    index = route.index(end) if end in route else len(route)
    if ">" in place:
        index += 1  # the bin that a spout begins at is before it
    for code in reversed(route[:index]):
        if code in mill.bin_by_code:
            return code
    return route[0] if route else ""
