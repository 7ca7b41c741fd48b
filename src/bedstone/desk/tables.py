"""A mill folder into the record, and what it has that the record has not.

The tables are replaced as a whole and make a new numbered revision. Orders, weather and
assays merge by key: only rows that say something new make facts, and a missing row never deletes.
A row of the folder that the record has had before is old news and changes nothing, so that an older folder
cannot undo what was recorded since; so are tables as they were loaded last, when they were changed since
on the pages or by a formula.
"""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from bedstone.desk.assays import assay_fact, assay_faults, assay_history, assays
from bedstone.desk.merged_rows import (
    MG_IN_KG,
    OPENING,
    ORDER_SET,
    WEATHER_SET,
    opening_recorded,
    opening_row,
    order_content,
    order_history,
    weather,
    weather_by_hour,
)
from bedstone.desk.plain_values import plain, row_plain
from bedstone.desk.record import Record
from bedstone.desk.revisions import (
    LOADED,
    changed_tables,
    counted,
    current_mill,
    digest_of,
    is_as_loaded,
    mill_from_json,
    newest_revision,
    revision_mill,
    tables_to_json,
    taken_back,
)
from bedstone.errors import BadInput, Conflict, Refused
from bedstone.ledger.model import Fact, How, Json, Lot, LotKind, Movement
from bedstone.mill.folder import LoadedFolder
from bedstone.mill.model import Assay, Mill, Order, Weather

__all__ = [
    "LoadReport",
    "current_mill",
    "difference",
    "load_tables",
    "mill_from_json",
    "recorded_folder",
    "revision_mill",
    "tables_to_json",
    "weather",
]

SHOWN_MOST = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadReport:
    """What loading a folder did: the revision that stands now, and how many facts' worth of rows."""

    revision: int
    changed: tuple[str, ...]
    orders_set: int
    weather_set: int
    opening: int
    nothing_new: bool
    assays_set: int = 0
    assays_left_out: int = 0  # of lots of a time before the record, which it has not
    fell: tuple[str, ...] = ()  # contents that are lower than they were, in words
    is_older: bool = False  # the folder's tables are older than the record's, which stand


def load_tables(record: Record, folder: LoadedFolder, *, by: str, at: dt.datetime) -> LoadReport:
    """Record what a folder has and the record has not, and say what that was.

    Asks: a folder that was read and found right. Refuses when: somebody else recorded while the
    tables were compared; tables that were changed in the folder would take back what was changed in
    the record since the last load. A folder's tables that are as they were then are old news. Records: a revision if settings or whole tables changed; opening stock
    if nothing was ever moved; hours of weather, orders and assays that say something new.
    """
    head = record.head()
    results, past = _assays_to_take(record, folder)
    _must_be_assays(record, folder, results, past)
    is_older = bool(taken_back(record, folder.mill))
    _refuse_older(record, folder.mill)
    changed = () if is_older else changed_tables(record, folder.mill)
    fell = () if is_older else _fallen_contents(record, folder.mill)
    revision = newest_revision(record)
    if changed:
        revision += 1
        fact = _revision_fact(folder.mill, revision, changed, by=by, at=at)
        record.append(fact, recorded_at=at, after=head.position)
    facts, opening = _opening_facts(record, folder, by=by, at=at)
    hours = _new_hours(record, folder)
    if hours:
        facts.append(Fact(kind=WEATHER_SET, happened_at=at, by=by, content={"hours": plain(hours)}))
    orders = _new_orders(record, folder)
    facts.extend(
        Fact(kind=ORDER_SET, happened_at=at, by=by, content=order_content(order))
        for order in orders
    )
    facts.extend(assay_fact(row, by=by, at=at) for row in results)
    if facts:
        _append_rows(record, facts, at=at, last_seen=head.position + bool(changed))
    return LoadReport(
        revision=revision,
        changed=changed,
        orders_set=len(orders),
        weather_set=len(hours),
        assays_set=len(results),
        assays_left_out=len(past),
        opening=opening,
        nothing_new=not changed and not facts,
        is_older=is_older,
        fell=fell,
    )


def _refuse_older(record: Record, mill: Mill) -> None:
    undone = taken_back(record, mill)
    if undone and not is_as_loaded(record, mill):
        raise Refused(
            "The folder's tables are older than the record's: loading them would take back what was "
            "changed on the pages or in formulas since.",
            seen="; ".join(undone[:SHOWN_MOST]) + ("; and more" * (len(undone) > SHOWN_MOST)),
            do="write the tables as they stand with bedstone export DIR OUT, make the changes in "
            "those, copy them over the folder's and load; to take something back on purpose, "
            "change it on the page Tables",
        )


def _revision_fact(
    mill: Mill, revision: int, changed: tuple[str, ...], *, by: str, at: dt.datetime
) -> Fact:
    content: dict[str, Json] = dict(tables_to_json(mill))
    content |= {"revision": revision, "digest": digest_of(mill), "changed": list(changed)}
    return Fact(kind=LOADED, happened_at=at, by=by, content=content)


def _fallen_contents(record: Record, mill: Mill) -> tuple[str, ...]:
    """A sentence about each content that new tables set lower than those that stand."""
    if not newest_revision(record):
        return ()
    after = {(row.ingredient, row.substance): row.content_mg_kg for row in mill.contents}
    return tuple(
        f"{row.ingredient} had {row.content_mg_kg:g} mg/kg of {row.substance} and has "
        f"{after.get((row.ingredient, row.substance), 0.0):g} now: what was mixed before counts "
        "with what it had."
        for row in current_mill(record).contents
        if after.get((row.ingredient, row.substance), 0.0) < row.content_mg_kg
    )


def _append_rows(record: Record, facts: list[Fact], *, at: dt.datetime, last_seen: int) -> None:
    if record.head().position != last_seen:
        raise Conflict(
            "Somebody recorded while the folder was being loaded; its orders are not in yet.",
            do="run: bedstone load DIR again",
        )
    record.append_all(facts, recorded_at=at)


def difference(record: Record, folder: LoadedFolder) -> tuple[str, ...]:
    """What the folder has that the record has not, in words; nothing if it has nothing new."""
    is_older = is_as_loaded(record, folder.mill) and taken_back(record, folder.mill)
    said = [] if is_older else list(changed_tables(record, folder.mill))
    orders = _new_orders(record, folder)
    history = order_history(record)
    for order in orders:
        if order.order in history:
            said.append(f"order {order.order} differs: {_order_change(history, order)}")
        else:
            said.append(f"order {order.order} is new")
    hours = _new_hours(record, folder)
    if hours:
        said.append(f"weather: {counted(len(hours), 'hour')} new or changed")
    results, _ = _assays_to_take(record, folder)
    if results:
        said.append(f"assays: {counted(len(results), 'result')} new or changed")
    if _takes_opening(record) and folder.opening_stock:
        said.append(f"opening stock: {counted(len(folder.opening_stock), 'lot')} not entered yet")
    return tuple(said)


def recorded_folder(record: Record) -> LoadedFolder:
    """What the record would write as a folder: loading it again changes nothing."""
    history = order_history(record)
    return LoadedFolder(
        mill=current_mill(record),
        orders=tuple(history[code][-1] for code in sorted(history)),
        opening_stock=opening_recorded(record),
        weather=weather(record),
        assays=assays(record),
    )


def _order_change(history: Mapping[str, tuple[Order, ...]], order: Order) -> str:
    before, after = row_plain(history[order.order][-1]), row_plain(order)
    return ", ".join(
        f"{name} {before[name]!r} is now {after[name]!r}"
        for name in after
        if before[name] != after[name]
    )


def _new_orders(record: Record, folder: LoadedFolder) -> tuple[Order, ...]:
    history = order_history(record)
    return tuple(
        order
        for order in folder.orders
        if order_content(order) not in [order_content(row) for row in history.get(order.order, ())]
    )


def _new_hours(record: Record, folder: LoadedFolder) -> tuple[Weather, ...]:
    by_hour = weather_by_hour(record)
    return tuple(row for row in folder.weather if row not in by_hour.get(row.hour_at, ()))


def _assays_to_take(
    record: Record, folder: LoadedFolder
) -> tuple[tuple[Assay, ...], tuple[Assay, ...]]:
    """Results that say something new, and apart those of a past that the record has not.

    The folder of another record names lots that were used up before this one began. Their results
    are left out at every load, not at the first alone, so that the folder can be loaded again.
    """
    history = assay_history(record)
    new = [row for row in folder.assays if row not in history.get((row.assay, row.nutrient), ())]
    if not new:
        return (), ()
    lots = _lots(record, folder)
    began_at = record.fact(1).fact.happened_at if record.head().position else None
    is_past = [
        bool(row.lot) and row.lot not in lots and (began_at is None or row.sampled_at < began_at)
        for row in new
    ]
    take = tuple(row for row, past in zip(new, is_past, strict=True) if not past)
    return take, tuple(row for row, past in zip(new, is_past, strict=True) if past)


def _lots(record: Record, folder: LoadedFolder) -> dict[str, str]:
    """Lots that are known once the folder is loaded, each with its material."""
    lots = {lot.lot: lot.material for lot, _ in record.lots()}
    if _takes_opening(record):
        lots |= {row.lot: row.material for row in folder.opening_stock}
    return lots


def _must_be_assays(
    record: Record, folder: LoadedFolder, new: tuple[Assay, ...], past: tuple[Assay, ...]
) -> None:
    """Pass if new results can be taken: none may name a lot that nobody has recorded.

    Of results of the past the lot alone may be unknown; whatever else is wrong with them is named.
    """
    if not new and not past:
        return
    lots = {row.lot: row.of for row in past} | _lots(record, folder)
    faults = assay_faults(folder.mill, (*new, *past), lots=lots)
    if faults:
        raise BadInput(
            "Assays of the folder cannot be taken; nothing was loaded.",
            do="mend them in assays.csv and load again",
            faults=tuple(faults),
        )


def _takes_opening(record: Record) -> bool:
    """True when nothing was ever moved, so that opening stock may enter."""
    return next(iter(record.movements(reversed_too=True)), None) is None


def _opening_facts(
    record: Record, folder: LoadedFolder, *, by: str, at: dt.datetime
) -> tuple[list[Fact], int]:
    if not folder.opening_stock or not _takes_opening(record):
        return [], 0
    rows = folder.opening_stock
    products = folder.mill.product_by_code
    fact = Fact(
        kind=OPENING,
        happened_at=at,
        by=by,
        content={"lots": [opening_row(row) for row in rows]},
        movements=tuple(
            Movement(
                from_place="opening",
                to_place=row.place,
                mass_mg=round(row.mass_kg * MG_IN_KG),
                material=row.material,
                how=How.COUNTED,
                lot=row.lot,
            )
            for row in rows
        ),
        lots=tuple(
            {
                row.lot: Lot(
                    lot=row.lot,
                    kind=LotKind.RUN if row.material in products else LotKind.LOAD,
                    material=row.material,
                )
                for row in rows
            }.values()
        ),
    )
    return [fact], len(rows)
