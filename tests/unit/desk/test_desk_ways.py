"""Feed stays on the ways of its product."""

from dataclasses import replace

import pytest

from bedstone.desk.batches import record_batch
from bedstone.desk.machines import machines_hold
from bedstone.desk.runs import record_shipped_bulk
from bedstone.desk.tables import load_tables
from bedstone.desk.ways import refuse_off_way
from bedstone.errors import Refused
from bedstone.mill.model import Limit, Machine
from fakes.desk_day import PLAN, a_day, a_desk_mill, a_folder, actuals, an_order, later
from fakes.memory import MemoryRecord

BROIL = next(row for row in PLAN.batches if row.batch == "4105-01")


def made(**changes: object) -> MemoryRecord:
    """A day on which the broiler feed, which may go over two load-outs, was mixed."""
    record = a_day()
    mill = a_desk_mill()
    products = tuple(
        replace(row, route=row.route.replace("LO1", "LO1|LO2")) if row.product == "BROIL-M" else row
        for row in mill.products
    )
    machines = (*mill.machines, Machine(machine="LO2", kind="load-out", hold_up_kg=5.0))
    mill = replace(mill, **({"products": products, "machines": machines} | changes))
    order = an_order("4105", product="BROIL-M", pack="bulk")
    load_tables(record, a_folder(mill=mill, orders=(order,)), by="osk", at=later(1))
    record_batch(record, PLAN.plan, "4105-01", actuals(BROIL), by="mara", at=later(10))
    return record


def load(record: MemoryRecord, machine: str) -> None:
    """A tonne of the broiler feed loaded out."""
    record_shipped_bulk(
        record, order="4105", run="R-4105", mass_mg=10**9, from_place="FB2", machine=machine,
        by="mara", at=later(30),
    )  # fmt: skip


def test_another_way_of_the_product_is_where_it_really_was():
    """Feed that went over the other load-out of its product leaves its drug there."""
    record = made()
    load(record, "LO2")
    rows = [row for row in machines_hold(record) if row.place == "LO2"]
    drug = next(row for row in rows if row.substance == "monensin")
    assert (drug.passed_mg, drug.known, drug.left_by) == (0, True, "BROIL-M")


def test_a_machine_on_no_way_of_the_product_is_refused():
    """A load-out over which no way of the feed leads is refused, and nothing is written."""
    record = made()
    mill = replace(
        a_desk_mill(), machines=(*a_desk_mill().machines, Machine(machine="LO2", kind="load-out"))
    )
    load_tables(record, a_folder(mill=mill), by="osk", at=later(20))
    head = record.head()
    with pytest.raises(Refused, match="no way of it goes there"):
        load(record, "LO2")
    assert record.head() == head
    load(record, "LO1")


def test_a_place_that_must_never_handle_it_is_refused():
    """Another way of the product is refused where a feed runs that must never meet its drug."""
    mill = a_desk_mill()
    products = tuple(
        replace(row, route=row.route.replace("SK1", "SK1|LO2")) if row.product == "SHEEP-GR"
        else replace(row, route=row.route.replace("LO1", "LO1|LO2"))
        for row in mill.products
    )  # fmt: skip
    never = Limit(product="SHEEP-GR", substance="monensin", kind="never", source="mill policy")
    record = made(limits=(*mill.limits, never), products=products)
    with pytest.raises(Refused, match=r"must never handle monensin"):
        load(record, "LO2")


def test_a_planned_way_is_never_refused():
    """Places on the way that a batch was planned to take pass, whatever the tables say now."""
    record = made()
    refuse_off_way(record, ["4105-01"], product="BROIL-M", places=("MX1", "FB2"), act="moved")
