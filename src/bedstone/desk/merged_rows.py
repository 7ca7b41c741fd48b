"""Orders, weather and opening stock in the record: rows that are merged by key."""

import datetime as dt
from collections.abc import Iterable, Mapping

from bedstone.desk.folding import folded
from bedstone.desk.plain_values import iso, moment, row_from_plain, row_plain
from bedstone.desk.record import Record
from bedstone.desk.revisions import whole_number
from bedstone.errors import RecordDamaged
from bedstone.ledger.model import Json, Recorded
from bedstone.mill.model import OpeningStock, Order, Weather

__all__ = [
    "MG_IN_KG",
    "OPENING",
    "ORDER_CANCELLED",
    "ORDER_SET",
    "WEATHER_SET",
    "opening_recorded",
    "opening_row",
    "order_content",
    "order_history",
    "order_of",
    "weather",
    "weather_by_hour",
]

ORDER_SET = "orders.order_set/1"
ORDER_CANCELLED = "orders.order_cancelled/1"
WEATHER_SET = "weather.hours_set/1"
OPENING = "storage.opening_stock/1"
MG_IN_KG = 1_000_000


def order_content(order: Order) -> dict[str, Json]:
    """Content of ``orders.order_set/1`` for an order."""
    content = row_plain(order)
    content["mass_mg"] = round(order.mass_kg * MG_IN_KG)
    del content["mass_kg"]
    return content


def order_of(content: Mapping[str, Json]) -> Order:
    """The order that content of ``orders.order_set/1`` stands for."""
    row = dict(content)
    row["mass_kg"] = whole_number(row.pop("mass_mg")) / MG_IN_KG
    return row_from_plain(Order, row, where="order")


def order_history(record: Record) -> Mapping[str, tuple[Order, ...]]:
    """Every order with all it has said so far, the last being what stands."""

    def note(
        before: Mapping[str, tuple[Order, ...]], facts: Iterable[Recorded]
    ) -> Mapping[str, tuple[Order, ...]]:
        found = dict(before)
        for item in facts:
            code = str(item.fact.content["order"])
            past = found.get(code, ())
            if item.fact.kind == ORDER_SET:
                found[code] = (*past, order_of(item.fact.content))
            elif past:
                row = row_plain(past[-1])
                row["status"] = "cancelled"
                found[code] = (*past, row_from_plain(Order, row))
        return found

    return folded(record, "orders", kinds=(ORDER_SET, ORDER_CANCELLED), start={}, fold=note)


def weather_by_hour(record: Record) -> Mapping[dt.datetime, tuple[Weather, ...]]:
    """Everything the record was ever told about each hour, the last being what stands."""

    def note(
        before: Mapping[dt.datetime, tuple[Weather, ...]], facts: Iterable[Recorded]
    ) -> Mapping[dt.datetime, tuple[Weather, ...]]:
        found = dict(before)
        for item in facts:
            hours = item.fact.content["hours"]
            for row in hours if isinstance(hours, list) else ():
                hour = row_from_plain(Weather, row, where="weather")
                found[hour.hour_at] = (*found.get(hour.hour_at, ()), hour)
        return found

    return folded(record, "weather", kinds=(WEATHER_SET,), start={}, fold=note)


def weather(record: Record) -> tuple[Weather, ...]:
    """The weather of each hour that the record knows, in order of time."""
    by_hour = weather_by_hour(record)
    return tuple(by_hour[hour][-1] for hour in sorted(by_hour))


def opening_row(row: OpeningStock) -> dict[str, Json]:
    """One lot of opening stock as content of its fact."""
    return {
        "lot": row.lot,
        "place": row.place,
        "material": row.material,
        "received_at": iso(row.received_at),
        "supplier": row.supplier,
    }


def opening_recorded(record: Record) -> tuple[OpeningStock, ...]:
    """The opening stock as it was entered."""
    found: list[OpeningStock] = []
    for item in record.facts(kinds=(OPENING,)):
        rows = item.fact.content["lots"]
        for row, movement in zip(
            rows if isinstance(rows, list) else (), item.fact.movements, strict=True
        ):
            if not isinstance(row, Mapping):
                raise RecordDamaged("Opening stock holds a row that is no row.", seen=repr(row))
            found.append(
                OpeningStock(
                    place=movement.to_place,
                    material=movement.material,
                    lot=str(row["lot"]),
                    mass_kg=movement.mass_mg / MG_IN_KG,
                    received_at=moment(str(row["received_at"])),
                    supplier=str(row["supplier"]),
                )
            )
    return tuple(found)
