"""Orders, opening stock, weather and assays: rows that are merged into the record."""

import math
from collections.abc import Iterator

from bedstone.errors import Fault
from bedstone.mill.equipment import Bin, Firm
from bedstone.mill.goods import Assay, OpeningStock, Order, Weather
from bedstone.mill.residue_places import way_of
from bedstone.mill.validate_places import Check

__all__ = ["order_rules"]

WHOLE_PCT = 100
LEAVES_AS = {"bags": "sacking line", "bulk": "load-out"}


def order_rules(check: Check) -> Iterator[Iterator[Fault]]:
    """Yield the rules of orders, opening stock, weather and assays."""
    for at, order in check.each(Order):
        yield _in_time(check, at, order)
        if check.whole("products", "machines", "bins"):
            yield _can_leave(check, at, order)
            yield _customer(check, at, order)
    for at, stock in check.each(OpeningStock):
        yield _supplier(check, at, stock)
        if check.whole("bins"):
            yield _kept_for(check, at, stock)
    yield _one_material(check)
    if check.whole("bins"):
        yield _fits(check)
    for at, weather in check.each(Weather):
        yield _on_the_hour(check, at, weather)
    for at, assay in check.each(Assay):
        yield _lot_or_place(check, at, assay)
        yield _within_the_whole(check, at, assay)


def _in_time(check: Check, at: int, row: Order) -> Iterator[Fault]:
    if row.due_at <= row.entered_at:
        yield check.fault(
            Order,
            at,
            "due_at",
            found="a time that is not after the order came in",
            allowed="a due time later than entered_at",
        )


def _can_leave(check: Check, at: int, row: Order) -> Iterator[Fault]:
    product = check.products.get(row.product)
    if product is None:
        return
    if row.pack == "bags" and product.pack_kg is None:
        yield check.fault(
            Order,
            at,
            "pack",
            found=f"bags, but {row.product} has no bag",
            allowed="bulk, or a pack_kg of the product",
        )
    machine = LEAVES_AS[row.pack]
    codes = [code for step in way_of(product.route) for code in step]
    if not any(check.machine_kind(code) == machine for code in codes):
        yield check.fault(
            Order,
            at,
            "pack",
            found=f"{row.pack}, but the route of {row.product} ({product.route}) has no {machine}",
            allowed="a pack that the product's route can give",
        )


def _role(check: Check, code: str, wanted: str) -> tuple[str, str]:
    """Return what is found and allowed where a firm has another role; empty where it is right."""
    for _, firm in check.each(Firm):
        if firm.firm == code and firm.role != wanted:
            return f"{code}, which is a {firm.role}", f"a firm that is a {wanted}"
    return "", ""


def _customer(check: Check, at: int, row: Order) -> Iterator[Fault]:
    found, allowed = _role(check, row.customer, "customer")
    if found:
        yield check.fault(Order, at, "customer", found=found, allowed=allowed)


def _supplier(check: Check, at: int, row: OpeningStock) -> Iterator[Fault]:
    found, allowed = _role(check, row.supplier, "supplier")
    if found:
        yield check.fault(OpeningStock, at, "supplier", found=found, allowed=allowed)


def _one_material(check: Check) -> Iterator[Fault]:
    first: dict[str, tuple[int, str]] = {}
    for at, row in check.each(OpeningStock):
        before, material = first.setdefault(row.lot, (at, row.material))
        if material != row.material:
            yield check.fault(
                OpeningStock,
                at,
                "material",
                found=f"{row.material} in lot {row.lot}, which is {material} in "
                f"{check.row_of(OpeningStock, before)}",
                allowed="one material in a lot",
            )


def _kept_for(check: Check, at: int, row: OpeningStock) -> Iterator[Fault]:
    place = check.bins.get(row.place)
    if place is not None and place.holds and place.holds != row.material:
        yield check.fault(
            OpeningStock,
            at,
            "material",
            found=f"{row.material} in {row.place}, which is kept for {place.holds}",
            allowed=place.holds,
            do="correct the material, or what the bin holds in bins.csv",
        )


def _fits(check: Check) -> Iterator[Fault]:
    by_place: dict[str, list[tuple[int, OpeningStock]]] = {}
    for at, row in check.each(OpeningStock):
        by_place.setdefault(row.place, []).append((at, row))
    for code, rows in by_place.items():
        place = check.bins.get(code)
        if place is None:
            continue
        total = math.fsum(row.mass_kg for _, row in rows)
        if total > place.capacity_kg * (1 + 1e-9):
            yield check.fault(
                OpeningStock,
                rows[-1][0],
                "mass_kg",
                found=f"{check.shown(OpeningStock, 'mass_kg', total)} in {code}, which holds "
                f"{check.shown(Bin, 'capacity_kg', place.capacity_kg)}",
                allowed="at most what the bin holds",
            )


def _on_the_hour(check: Check, at: int, row: Weather) -> Iterator[Fault]:
    local = row.hour_at if check.settings is None else row.hour_at.astimezone(check.settings.zone)
    if local.minute or local.second or local.microsecond:
        yield check.fault(
            Weather, at, "hour_at", found=f"{local:%H:%M:%S}", allowed="the start of an hour"
        )


def _lot_or_place(check: Check, at: int, row: Assay) -> Iterator[Fault]:
    if bool(row.lot) == bool(row.place):
        yield check.fault(
            Assay,
            at,
            "lot",
            found="both a lot and a place" if row.lot else "neither a lot nor a place",
            allowed="a lot, or the bin that was sampled",
        )


def _within_the_whole(check: Check, at: int, row: Assay) -> Iterator[Fault]:
    if row.unit == "%" and row.value > WHOLE_PCT:
        yield check.fault(
            Assay,
            at,
            "value",
            found=f"{row.value:g} %",
            allowed=f"at most {WHOLE_PCT} %",
            do="look at the decimal point",
        )
