"""Orders added, changed, cancelled; what is left of them."""

from dataclasses import replace

import pytest

from bedstone.desk.batches import record_batch
from bedstone.desk.orders import all_orders, cancel_order, find_order, set_order
from bedstone.errors import BadInput, Conflict, Refused, Unknown
from fakes.desk_day import PLAN, a_day, actuals, an_order, later


def test_an_order_is_added_changed_and_cancelled():
    """A new order stands open, a change replaces it, a cancelled one is no longer open."""
    record = a_day()
    set_order(record, an_order("4120"), by="osk", at=later(1))
    set_order(record, an_order("4120", mass_kg=900.0), by="osk", at=later(2))
    assert find_order(record, "4120").order.mass_kg == 900.0
    cancel_order(record, "4120", why="no silo free", by="osk", at=later(3))
    assert find_order(record, "4120").status == "cancelled"
    assert [row.order.order for row in all_orders(record) if row.status == "open"] == ["4107"]
    with pytest.raises(Refused, match="cancelled"):
        cancel_order(record, "4120", why="again", by="osk", at=later(4))


def test_every_fault_of_an_order_is_named():
    """An order with a wrong customer, product, mass and pack is refused with all four named."""
    order = an_order("41 20", customer="nobody", product="OATS", mass_kg=-1.0, pack="sack")
    with pytest.raises(BadInput) as caught:
        set_order(a_day(), order, by="osk", at=later(1))
    assert {fault.column for fault in caught.value.faults} == {
        "number",
        "customer",
        "product",
        "mass wanted",
        "bags or bulk",
    }


def test_times_need_a_zone_and_states_a_meaning():
    """An order due at a time without a zone, or in an unknown state, is refused with both named."""
    order = an_order("4122", status="lost")
    order = replace(order, due_at=order.due_at.replace(tzinfo=None))
    with pytest.raises(BadInput) as caught:
        set_order(a_day(), order, by="osk", at=later(1))
    assert [fault.column for fault in caught.value.faults] == [
        "where it stands",
        "when it must be ready",
    ]


def test_bags_of_a_product_without_a_bag_are_refused():
    """Bags cannot be ordered of a product that is only sold loose."""
    with pytest.raises(BadInput, match="has no bag"):
        set_order(a_day(), an_order("4121", product="PIG-FIN"), by="osk", at=later(1))


def test_saying_the_same_again_writes_nothing():
    """An order that says exactly what stands is refused and makes no fact."""
    record = a_day()
    head = record.head()
    with pytest.raises(Refused, match="exactly this already"):
        set_order(record, an_order(), by="osk", at=later(1))
    assert record.head() == head


def test_two_clerks_at_one_order():
    """The second of two clerks who change one order from the same page gets a Conflict."""
    record = a_day()
    shown = record.head().position
    set_order(record, an_order(mass_kg=6000.0), by="osk", at=later(1), after=shown)
    with pytest.raises(Conflict, match="osk"):
        set_order(record, an_order(mass_kg=7000.0), by="mara", at=later(2), after=shown)
    assert find_order(record, "4107").order.mass_kg == 6000.0


def test_two_clerks_at_two_orders():
    """Clerks who change different orders from the same page do not disturb each other."""
    record = a_day()
    shown = record.head().position
    set_order(record, an_order(mass_kg=6000.0), by="osk", at=later(1), after=shown)
    set_order(record, an_order("4130"), by="mara", at=later(2), after=shown)
    assert len(all_orders(record)) == 2


def test_an_unknown_order_offers_near_ones():
    """A mistyped number is answered with the numbers that are near it."""
    with pytest.raises(Unknown, match="4107"):
        find_order(a_day(), "4170")


def test_what_is_left_goes_by_targets():
    """After one of three batches, drawn short, what is left is the order less its target."""
    record = a_day()
    batch = next(row for row in PLAN.batches if row.batch == "4107-01")
    record_batch(
        record, PLAN.plan, batch.batch, actuals(batch, draw_1=-400_000), by="mara", at=later(90)
    )
    standing = find_order(record, "4107")
    assert standing.made_mg == batch.mass_mg - 400_000
    assert standing.left_mg == 5_443_000_000 - batch.mass_mg


def test_an_order_is_made_when_its_batches_are():
    """After all of its batches an order is made and asks for no more."""
    record = a_day()
    for number, batch in enumerate(row for row in PLAN.batches if row.run == "R-4107"):
        at = later(90 + number)
        record_batch(record, PLAN.plan, batch.batch, actuals(batch), by="mara", at=at)
    assert find_order(record, "4107").status == "made"
    assert not any(row.status == "open" for row in all_orders(record))


def test_the_product_of_a_begun_order_cannot_change():
    """An order of which a batch was made cannot become an order of another product."""
    record = a_day()
    batch = next(row for row in PLAN.batches if row.batch == "4107-01")
    record_batch(record, PLAN.plan, batch.batch, actuals(batch), by="mara", at=later(90))
    changed = an_order(product="PIG-FIN", pack="bulk")
    with pytest.raises(Refused, match="product cannot change"):
        set_order(record, changed, by="osk", at=later(91))


@pytest.mark.parametrize("number", ["9" * 41, "-7", "41/20", "ä7"])
def test_an_order_number_is_a_code_of_40_signs(number: str):
    """A number that is no code is refused on every way in, and the message says what is."""
    with pytest.raises(BadInput) as caught:
        set_order(a_day(), an_order(number), by="osk", at=later(1))
    assert "at most 40" in caught.value.faults[0].allowed
    assert "column" not in str(caught.value)


def test_a_note_has_a_limit_and_the_message_says_it():
    """A note of more than 2,000 characters is refused with how long it is and may be."""
    order = replace(an_order("4125"), note="n" * 2001)
    with pytest.raises(BadInput) as caught:
        set_order(a_day(), order, by="osk", at=later(1))
    assert "found 2,001 characters; allowed: at most 2,000 characters" in str(caught.value)


def test_an_impossible_mass_is_said_in_the_mills_unit():
    """A mill that weighs in pounds reads its mistakes in pounds."""
    order = replace(an_order("4126"), mass_kg=4.5e8)
    with pytest.raises(BadInput) as caught:
        set_order(a_day(), order, by="osk", at=later(1))
    assert "992,080,180 lb" in str(caught.value)
    assert " kg" not in str(caught.value)
