"""One feed at a time in a finished bin, nothing on hold out of it, no more than there can be."""

from dataclasses import replace

import pytest

from bedstone.desk.batches import record_batch, start_batch
from bedstone.desk.orders import set_order
from bedstone.desk.runs import (
    PelletedBatch,
    hold_lots,
    record_packed,
    record_pelleted,
    record_seen_empty,
    record_shipped,
    record_shipped_bulk,
    release_lots,
)
from bedstone.desk.tables import load_tables
from bedstone.errors import Refused
from fakes.desk_day import (
    PLAN,
    a_day,
    a_desk_mill,
    a_folder,
    actuals,
    an_order,
    later,
    plan_released,
)
from fakes.memory import MemoryRecord

SHEEP = [row for row in PLAN.batches if row.run == "R-4107" and row.formula_version]
PIG = next(row for row in PLAN.batches if row.batch == "4106-01")
BROIL = next(row for row in PLAN.batches if row.batch == "4105-01")


def made(record: MemoryRecord, *batches: str) -> MemoryRecord:
    """Batches of the plan mixed, one a minute."""
    for number, row in enumerate(row for row in PLAN.batches if row.batch in batches):
        record_batch(record, PLAN.plan, row.batch, actuals(row), by="mara", at=later(90 + number))
    return record


def pellet(record: MemoryRecord, to_place: str = "FB1", batch: str = "4107-01") -> None:
    """One sheep batch through the pellet line."""
    row = PelletedBatch(
        batch=batch, in_mg=SHEEP[0].mass_mg, steam_mg=0, dust_mg=0, out_mg=SHEEP[0].mass_mg
    )
    record_pelleted(
        record, run="R-4107", machine="PL1", from_place="SB1", to_place=to_place, batches=(row,),
        by="mara", at=later(120),
    )  # fmt: skip


def pack(record: MemoryRecord, bags: int, from_place: str = "FB1", minute: int = 130) -> None:
    """Bags of the sheep run."""
    record_packed(
        record, run="R-4107", machine="SK1", from_place=from_place, to_place="WH1", bags=bags,
        batches=("4107-01",), by="mara", at=later(minute),
    )  # fmt: skip


def load(record: MemoryRecord, mass_mg: int, minute: int = 140) -> None:
    """A truck of pig feed."""
    record_shipped_bulk(
        record, order="4106", run="R-4106", mass_mg=mass_mg, from_place="FB2", machine="LO1",
        by="osk", at=later(minute),
    )  # fmt: skip


def pig_order(record: MemoryRecord, mass_kg: float = 3600.0) -> None:
    """An order of loose pig feed."""
    order = an_order("4106", product="PIG-FIN", pack="bulk", customer="stile", mass_kg=mass_kg)
    set_order(record, order, by="osk", at=later(1))


def test_pellets_are_not_put_on_another_feed():
    """Pelleting into a bin where a medicated feed lies is refused, naming it, until it is empty."""
    record = made(a_day(), "4105-01", "4107-01")
    head = record.head()
    with pytest.raises(Refused, match=r"pelleted into .*4,000 lb of Broiler"):
        pellet(record, to_place="FB2")
    assert record.head() == head
    record_seen_empty(record, "FB2", by="osk", at=later(119))
    with pytest.raises(Refused, match="no way of it goes there"):
        pellet(record, to_place="FB2")
    mill = a_desk_mill()
    products = tuple(
        replace(row, route=row.route.replace("FB1", "FB1|FB2")) for row in mill.products
    )
    folder = a_folder(mill=replace(mill, products=products))
    load_tables(record, folder, by="osk", at=later(119))
    pellet(record, to_place="FB2")


def test_a_mash_is_not_started_onto_another_feed():
    """A batch that the mixer drops straight into a bin does not start while another feed is in."""
    record = made(a_day(), "4105-01")
    with pytest.raises(Refused, match=r"FB2|finished 2"):
        start_batch(record, PLAN.plan, "4106-01", by="mara", at=later(100))
    record_seen_empty(record, "FB2", by="osk", at=later(101))
    start_batch(record, PLAN.plan, "4106-01", by="mara", at=later(102))


def test_recording_onto_another_feed_is_not_silent():
    """A batch that was recorded without a start onto another feed says so in its findings."""
    record = made(a_day(), "4105-01")
    done = record_batch(record, PLAN.plan, "4106-01", actuals(PIG), by="mara", at=later(100))
    assert "bin.taken" in {row.code for row in done.findings}


def test_feed_does_not_leave_a_bin_where_another_lies():
    """Packing and loading out of a bin in which another feed lies are refused."""
    record = made(a_day(), "4105-01", "4106-01", "4107-01")
    pig_order(record)
    with pytest.raises(Refused, match="Broiler"):
        load(record, 10**9)
    with pytest.raises(Refused, match="packed out of"):
        pack(record, 1, from_place="FB2")


def test_a_held_lot_does_not_come_out_under_another_run():
    """While a lot on hold lies in the bin nothing is loaded out of it, whatever run it is called."""
    record = made(a_day(), "4106-01", "4106-02")
    pig_order(record)
    broil = replace(BROIL, batch="4199-01", run="R-4199", material="PIG-FIN", draws=PIG.draws,
                    formula_version=7)  # fmt: skip
    plan_released(record, replace(PLAN, plan="P-2026-11-25-other", batches=(broil,)))
    record_batch(record, "P-2026-11-25-other", "4199-01", actuals(broil), by="mara", at=later(89))
    hold_lots(record, ("4199-01",), why="overdosed", by="osk", at=later(110))
    head = record.head()
    with pytest.raises(Refused, match=r"4199-01 is on hold and (would|may) come out"):
        load(record, 10**9)
    assert record.head() == head
    release_lots(record, ("4199-01",), why="assay good", by="osk", at=later(111))
    load(record, 10**9)


def test_bags_with_a_held_lot_in_them_stay():
    """A lot that is put on hold after it was bagged under another run keeps those bags here."""
    record = made(a_day(), "4107-01", "4107-02")
    pellet(record, batch="4107-02")
    pellet(record)
    pack(record, 70)
    hold_lots(record, ("4107-02",), why="smells", by="osk", at=later(140))
    with pytest.raises(Refused, match="4107-02 is on hold"):
        record_shipped(
            record, order="4107", run="R-4107", bags=1, from_place="WH1", by="osk", at=later(150)
        )


def test_no_more_bags_than_the_run_can_fill():
    """538 bags of a run of 4,000 lb are refused with the numbers; 80 of 50 lb are not."""
    record = made(a_day(), "4107-01")
    pellet(record)
    head = record.head()
    with pytest.raises(Refused, match=r"538 bags \(26,900 lb\) cannot be packed") as refused:
        pack(record, 538)
    assert "4,000 lb of the run came into it" in refused.value.seen
    assert record.head() == head
    pack(record, 80)
    with pytest.raises(Refused, match="10 bags"):
        pack(record, 10, minute=131)


def test_a_run_is_packed_batch_by_batch():
    """Each batch of a run may be packed by its name, one after the other."""
    record = made(a_day(), "4107-01", "4107-02")
    for number, batch in enumerate(("4107-01", "4107-02")):
        pellet(record, batch=batch)
        record_packed(
            record, run="R-4107", machine="SK1", from_place="FB1", to_place="WH1", bags=20,
            batches=(batch,), by="mara", at=later(130 + number),
        )  # fmt: skip
    assert (
        sum(row.fact.content["bags"] for row in record.facts(kinds=("finishing.run_packed/1",)))
        == 40
    )


def test_no_more_of_a_run_than_came_even_if_the_bin_is_full():
    """Feed of another run of the same product does not go into the bags of this one."""
    record = made(a_day(), "4107-01", "4107-02", "4107-03")
    for row in SHEEP:
        pellet(record, batch=row.batch)
    with pytest.raises(Refused, match="100 bags"):
        pack(record, 100)


def test_no_more_is_loaded_than_lies_there():
    """A truck that is heavier than what the bin can hold is refused."""
    record = made(a_day(), "4106-01")
    pig_order(record)
    with pytest.raises(Refused, match="cannot be loaded out"):
        load(record, PIG.mass_mg + 10**9)


def test_no_more_leaves_for_an_order_than_it_asks_for():
    """Beyond the order and a tenth nothing is shipped, loose or in bags, counted over all trucks."""
    record = made(a_day(), "4106-01", "4107-01")
    pig_order(record, mass_kg=1000.0)
    load(record, 800_000_000)
    with pytest.raises(Refused, match=r"Order 4106 asks for 2,205 lb"):
        load(record, 301_000_000)
    load(record, 299_000_000)
    set_order(record, an_order(mass_kg=1000.0), by="osk", at=later(2))
    pellet(record)
    pack(record, 80)
    with pytest.raises(Refused, match="Order 4107 asks for"):
        record_shipped(
            record, order="4107", run="R-4107", bags=80, from_place="WH1", by="osk", at=later(160)
        )
