"""Lists of orders as customers write them, read by a mapping."""

import datetime as dt
from dataclasses import replace

import pytest

from bedstone.desk.import_orders import Standing, keep_orders, read_orders
from bedstone.desk.orders import all_orders, cancel_order, find_order, set_order
from bedstone.desk.revisions import current_mill
from bedstone.errors import BadInput, Conflict
from bedstone.mill.order_mapping import Mapped, OrderMapping, TheirFile, TheirRow
from fakes.desk_day import a_day, an_order, later

LB_KG = 0.45359237
MAPPING = OrderMapping(
    order="HL-{Ref}",
    customer="harrow",
    product="{Item}",
    mass="{Qty}",
    unit="{UoM}",
    pack="{How}",
    due="{Needed by}",
    note="{Remarks}",
    dates="MM/DD/YYYY hh:mm am",
)
BY = Mapped(
    name="harrow",
    to=MAPPING,
    words={
        "product": {"Sheep grower nuts": "SHEEP-GR", "Pig finisher": "PIG-FIN"},
        "unit": {"pounds": "lb", "sacks": "bags"},
        "pack": {"loose": "bulk"},
    },
)
ROW = {
    "Ref": "118",
    "Item": "Pig finisher",
    "Qty": "4,000",
    "UoM": "pounds",
    "How": "loose",
    "Needed by": "12/3/2026 2:30 pm",
    "Remarks": "call first",
}


def a_list(*rows: dict[str, str]) -> TheirFile:
    return TheirFile(
        name="list.csv",
        columns=tuple(ROW),
        rows=tuple(TheirRow(line=n, cells=ROW | row) for n, row in enumerate(rows, start=2)),
    )


def mapped(**changes: str) -> Mapped:
    return replace(BY, to=replace(MAPPING, **changes))


def test_a_row_is_understood_by_columns_constants_and_texts():
    """A column of theirs, a constant, a text with theirs in it, and their words make one order."""
    record = a_day()
    (row,) = read_orders(record, a_list({}), BY, at=later(0)).rows
    order = row.order
    assert (order.order, order.customer, order.product) == ("HL-118", "harrow", "PIG-FIN")
    assert order.mass_kg == pytest.approx(4000 * LB_KG)
    assert (order.pack, order.note, row.standing) == ("bulk", "call first", Standing.NEW)
    assert order.due_at == dt.datetime(2026, 12, 3, 20, 30, tzinfo=dt.UTC)
    assert order.entered_at == later(0)


def test_the_same_list_twice_changes_nothing():
    """Read again a day later, every order is as it is, though the list does not say when it came."""
    record = a_day()
    read = read_orders(record, a_list({}, {"Ref": "119"}), BY, at=later(0))
    assert keep_orders(record, read, by="osk", at=later(0)) == 2
    head = record.head()
    again = read_orders(record, a_list({}, {"Ref": "119"}), BY, at=later(9))
    assert {row.standing for row in again.rows} == {Standing.SAME}
    assert keep_orders(record, again, by="osk", at=later(9)) == 0
    assert record.head() == head


def test_a_changed_row_changes_its_order_and_a_missing_one_deletes_nothing():
    """Only what differs is recorded, and said; an order that is not in the list stays."""
    record = a_day()
    keep_orders(
        record,
        read_orders(record, a_list({}, {"Ref": "119"}), BY, at=later(0)),
        by="osk",
        at=later(0),
    )
    read = read_orders(record, a_list({"Qty": "6,000"}), BY, at=later(1))
    assert [row.standing for row in read.rows] == [Standing.CHANGED]
    assert "mass_kg" in read.rows[0].change
    assert keep_orders(record, read, by="osk", at=later(1)) == 1
    orders = {row.order.order: row.order for row in all_orders(record)}
    assert orders["HL-118"].mass_kg == pytest.approx(6000 * LB_KG)
    assert "HL-119" in orders


def test_an_older_list_undoes_nothing():
    """What the mill changed or cancelled since stays, when the list that it came by is read again."""
    record = a_day()
    for_one = read_orders(record, a_list({}), BY, at=later(0))
    keep_orders(record, for_one, by="osk", at=later(0))
    set_order(record, replace(for_one.rows[0].order, mass_kg=999.0), by="osk", at=later(1))
    (row,) = read_orders(record, a_list({}), BY, at=later(2)).rows
    assert row.standing is Standing.OLDER
    cancel_order(record, "HL-118", why="no longer wanted", by="osk", at=later(3))
    read = read_orders(record, a_list({}), BY, at=later(4))
    assert keep_orders(record, read, by="osk", at=later(4)) == 0
    assert find_order(record, "HL-118").status == "cancelled"


def test_signs_that_a_number_may_not_have_become_a_dash():
    """PO 118/2 is taken as PO-118-2, and shown so before it is kept."""
    by = mapped(order="{Ref}")
    (row,) = read_orders(a_day(), a_list({"Ref": " PO 118/2 "}), by, at=later(0)).rows
    assert row.order.order == "PO-118-2"


def test_bags_are_as_heavy_as_the_products_own():
    """Counted bags become the mass that they hold."""
    record = a_day()
    row = {"Item": "Sheep grower nuts", "Qty": "40", "UoM": "sacks", "How": "bags"}
    read = read_orders(record, a_list(row), BY, at=later(0))
    pack_kg = current_mill(record).product_by_code["SHEEP-GR"].pack_kg
    assert pack_kg is not None
    assert read.rows[0].order.mass_kg == pytest.approx(40 * pack_kg)


@pytest.mark.parametrize(
    ("written", "decimal", "unit", "mass_kg"),
    [
        ("1250.5", "point", "kg", 1250.5),
        ("1,250.5", "point", "kg", 1250.5),
        ("1.250,5", "comma", "kg", 1250.5),
        ("12,5", "comma", "t", 12_500),
        ("2 ton", "point", "", 4000 * LB_KG),
        ("500kg", "point", "", 500),
        ("3 pounds", "point", "", 3 * LB_KG),
    ],
)
def test_numbers_are_read_as_they_write_them(written: str, decimal: str, unit: str, mass_kg: float):
    """Marks between thousands, decimal commas and units behind the number are understood."""
    by = mapped(mass="{Qty}", unit=unit, decimal=decimal)
    (row,) = read_orders(a_day(), a_list({"Qty": written}), by, at=later(0)).rows
    assert row.order.mass_kg == pytest.approx(mass_kg)


@pytest.mark.parametrize(
    ("dates", "written", "due"),
    [
        ("MM/DD/YYYY", "12/03/2026", "2026-12-03 18:00"),
        ("DD.MM.YYYY", "3.12.2026", "2026-12-03 18:00"),
        ("DD/MM/YY hh:mm", "03/12/26 06:05", "2026-12-03 12:05"),
        ("MM/DD/YYYY hh:mm am", "12/3/2026 12:15 A.M.", "2026-12-03 06:15"),
        ("MM/DD/YYYY", "2026-12-03", "2026-12-03 18:00"),
        ("MM/DD/YYYY", "2026-12-03 14:30:00", "2026-12-03 20:30"),
    ],
)
def test_days_are_read_as_they_write_them(dates: str, written: str, due: str):
    """Each way of writing days gives the moment meant, in the mill's time; due_time fills in."""
    by = mapped(dates=dates, due_time="12:00")
    (row,) = read_orders(a_day(), a_list({"Needed by": written}), by, at=later(0)).rows
    assert row.order.due_at == dt.datetime.fromisoformat(f"{due}+00:00")


@pytest.mark.parametrize(
    ("change", "column", "found"),
    [
        ({"Qty": "many"}, "Qty", '"many"'),
        ({"Qty": "1,25"}, "Qty", '"1,25"'),
        ({"Qty": "-5"}, "Qty", '"-5"'),
        ({"Qty": "0"}, "Qty", "0 lb"),
        ({"Qty": "5 kg"}, "Qty", '"kg" behind the number'),
        ({"UoM": "stone"}, "UoM", 'the unit "stone"'),
        ({"UoM": "sacks"}, "Qty", "bags of PIG-FIN"),
        ({"Item": "Goose mash"}, "Item", '"Goose mash"'),
        ({"How": "crates"}, "How", '"crates"'),
        ({"Needed by": "13/40/2026 1:00 pm"}, "Needed by", "13/40/2026"),
        ({"Needed by": "12/3/2026"}, "Needed by", "12/3/2026"),
        ({"Needed by": "12/3/2026 25:00 am"}, "Needed by", "25:00"),
        ({"Ref": "Ω7"}, "Ref", '"HL-Ω7"'),
        ({"Ref": ""}, "Ref", "an empty cell"),
        ({"Needed by": "3/14/2027 2:30 am"}, "Needed by", "2:30 am"),
        ({"Needed by": "1/3/2020 2:30 am"}, "Needed by", "2020-01-03"),
    ],
)
def test_a_fault_names_row_and_their_column(change: dict[str, str], column: str, found: str):
    """What is wrong is said in the words of their list, and nothing is read."""
    with pytest.raises(BadInput, match="nothing was recorded") as caught:
        read_orders(a_day(), a_list({"Ref": "1"}, change), BY, at=later(0))
    (fault,) = caught.value.faults
    assert (fault.file, fault.row, fault.column) == ("list.csv", 3, column)
    assert found in fault.found
    assert fault.allowed


def test_all_faults_of_a_list_are_said_at_once():
    """Every row is judged; a number twice in a list is one more fault."""
    with pytest.raises(BadInput) as caught:
        read_orders(
            a_day(),
            a_list({"Qty": "x"}, {"How": "?"}, {"Ref": "5"}, {"Ref": "5"}),
            BY,
            at=later(0),
        )
    assert [fault.row for fault in caught.value.faults] == [2, 3, 5]


def test_a_mapping_that_does_not_fit_the_list_is_said_before_the_rows():
    """Columns that the list has not, odd braces, days and times are faults of the mapping."""
    by = mapped(product="{Itm}", note="{Remarks", dates="DD/DD/YYYY", due_time="noon")
    with pytest.raises(BadInput, match="does not fit") as caught:
        read_orders(a_day(), a_list({"Qty": "x"}), by, at=later(0))
    assert [fault.column for fault in caught.value.faults] == [
        "harrow.product",
        "harrow.note",
        "harrow.dates",
        "harrow.due_time",
    ]
    assert "Item" in caught.value.faults[0].do


def test_an_order_of_somebody_else_is_not_taken_over():
    """A number that another customer's order has is refused, with a way to tell them apart."""
    record = a_day()
    set_order(record, an_order("HL-118", customer="stile"), by="osk", at=later(0))
    with pytest.raises(BadInput, match="which is one of stile"):
        read_orders(record, a_list({}), BY, at=later(1))


def test_a_list_read_too_long_ago_is_not_kept():
    """Who recorded in between may have changed what the list was held against: read it again."""
    record = a_day()
    read = read_orders(record, a_list({}), BY, at=later(0))
    set_order(record, an_order("4130"), by="osk", at=later(1))
    with pytest.raises(Conflict, match="first"):
        keep_orders(record, read, by="osk", at=later(2))
    assert "HL-118" not in {row.order.order for row in all_orders(record)}
