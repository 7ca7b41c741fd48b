"""Plans made from the record, proposed, released, found; what they leave alone."""

import datetime as dt
from dataclasses import replace

import pytest

from bedstone.desk.batches import record_batch, start_batch
from bedstone.desk.day_stock import free_times, lying_lots, stock_to_plan, under_way
from bedstone.desk.holds import hold_lots, release_lots
from bedstone.desk.last_run import dies_in, last_on_machines
from bedstone.desk.plan_day import (
    find_plan,
    latest_plan,
    make_plan,
    propose,
    release,
    released_plan,
)
from bedstone.desk.runs import PelletedBatch, record_load, record_pelleted, record_seen_empty
from bedstone.desk.tables import current_mill, load_tables
from bedstone.errors import BadInput, Conflict, Refused, Unknown
from bedstone.mill.folder import LoadedFolder
from bedstone.mill.model import Mill
from bedstone.mill.plan import BatchKind, Plan
from fakes.desk_day import MORNING, actuals, later
from fakes.joint_mill import joint_folder
from fakes.memory import MemoryRecord
from fakes.plans import DAY


def loaded() -> MemoryRecord:
    """A record with the folder loaded."""
    record = MemoryRecord()
    load_tables(record, joint_folder(), by="osk", at=MORNING)
    return record


def test_planning_writes_nothing_and_twice_gives_one_plan():
    """Planning appends no fact, and the same record planned twice gives the same plan and id."""
    record = loaded()
    head = record.head()
    plan = make_plan(record, day=DAY, at=MORNING)
    assert record.head() == head
    assert make_plan(record, day=DAY, at=MORNING) == plan
    assert plan.plan.startswith("P-2026-11-25-")
    assert (plan.position, plan.head, plan.revision) == (head.position, head.head, 1)


def test_every_batch_has_its_draws_and_they_add_up():
    """Draws of a batch add up to it within half a division of the main scale, lots named."""
    plan = make_plan(loaded(), day=DAY, at=MORNING)
    for batch in plan.batches:
        drawn = sum(draw.target_mg for draw in batch.draws)
        assert abs(drawn - batch.mass_mg) <= batch.draws[0].division_mg / 2 + 1
        for draw in batch.draws:
            assert sum(share.mass_mg for share in draw.lots) == draw.target_mg


def test_a_plan_needs_a_zone():
    """A time without a zone is refused."""
    with pytest.raises(BadInput, match="zone"):
        make_plan(loaded(), day=DAY, at=MORNING.replace(tzinfo=None))


def test_other_orders_can_be_asked_about():
    """What the plan would be without an order is answered without cancelling it."""
    record = loaded()
    others = tuple(row for row in joint_folder().orders if row.order != "4107")
    plan = make_plan(record, day=DAY, at=MORNING, orders=others)
    assert {run.order for run in plan.runs} == {"4105", "4106"}
    assert not any(batch.kind is BatchKind.FLUSH for batch in plan.batches)


def test_proposed_released_and_found():
    """A plan is proposed once, released once, and found with who released it."""
    record = loaded()
    plan = make_plan(record, day=DAY, at=MORNING)
    assert latest_plan(record, DAY) is None
    first = propose(record, plan, by="osk", at=MORNING)
    again = make_plan(record, day=DAY, at=MORNING)
    assert propose(record, again, by="osk", at=MORNING) == first
    assert latest_plan(record, DAY).status == "proposed"
    shown = record.head().position
    release(record, plan.plan, by="osk", at=later(1), after=shown)
    standing = find_plan(record, plan.plan)
    assert (standing.status, standing.released_by) == ("released", "osk")
    assert standing.plan == plan
    with pytest.raises(Refused, match="released already"):
        release(record, plan.plan, by="mara", at=later(2))
    with pytest.raises(Conflict, match="osk"):
        release(record, plan.plan, by="mara", at=later(2), after=shown)
    with pytest.raises(Unknown, match=plan.plan):
        find_plan(record, plan.plan[:-1])


def test_a_plan_of_old_tables_is_not_proposed():
    """A plan made before the tables changed is refused and asks to plan again."""
    record = loaded()
    plan = make_plan(record, day=DAY, at=MORNING)
    mill = joint_folder().mill
    changed = replace(mill, settings=replace(mill.settings, place="Ferris"))
    load_tables(record, joint_folder_with(changed), by="osk", at=later(1))
    with pytest.raises(Refused, match="revision 1"):
        propose(record, plan, by="osk", at=later(2))


def joint_folder_with(mill: Mill) -> LoadedFolder:
    """The folder with another mill."""
    return replace(joint_folder(), mill=mill)


def test_a_formula_that_no_longer_runs_stops_its_batches():
    """A batch planned by a version that was withdrawn since must not start."""
    record = loaded()
    plan = make_plan(record, day=DAY, at=MORNING)
    propose(record, plan, by="osk", at=MORNING)
    release(record, plan.plan, by="osk", at=MORNING)
    mill = joint_folder().mill
    newer = tuple(
        replace(row, version=row.version + 1) if row.product == "BROIL-M" else row
        for row in mill.formulas
    )
    lines = tuple(
        replace(row, version=row.version + 1) if row.product == "BROIL-M" else row
        for row in mill.formula_lines
    )
    older = replace(mill.formulas[2], status="withdrawn")
    changed = replace(
        mill, formulas=(*newer, older), formula_lines=(*lines, *mill.formula_lines[-5:])
    )
    load_tables(record, joint_folder_with(changed), by="osk", at=later(1))
    with pytest.raises(Refused, match="version 2 of the formula"):
        start_batch(record, plan.plan, "4105-01", by="mara", at=later(60))


def in_force(record: MemoryRecord) -> Plan:
    """Plan the day and release the plan."""
    plan = make_plan(record, day=DAY, at=MORNING)
    propose(record, plan, by="osk", at=MORNING)
    release(record, plan.plan, by="osk", at=MORNING)
    return plan


def test_a_batch_under_way_is_not_planned_again():
    """A batch that has begun is neither planned again nor is what it takes counted as stock."""
    record = loaded()
    plan = in_force(record)
    batch = next(row for row in plan.batches if row.batch == "4106-01")
    start_batch(record, plan.plan, "4106-01", by="mara", at=later(60))
    assert under_way(record) == (batch,)
    stock = stock_to_plan(record, day=DAY)
    assert stock["G1", "CORN-GR"] == 9_000_000_000 - batch.draws[0].target_mg
    again = make_plan(record, day=DAY, at=later(62))
    assert [row.batch for row in again.batches if row.run == "R-4106"] == ["4106-02"]


def test_a_plan_that_was_replaced_starts_nothing():
    """Once another plan of the day is released, batches of the earlier one do not start."""
    record = loaded()
    plan = in_force(record)
    later_plan = make_plan(record, day=DAY, at=later(20))
    assert later_plan.plan != plan.plan
    propose(record, later_plan, by="osk", at=later(20))
    release(record, later_plan.plan, by="osk", at=later(20))
    assert released_plan(record, DAY).plan == later_plan
    with pytest.raises(Refused, match=f"replaced by {later_plan.plan}"):
        start_batch(record, plan.plan, "4105-01", by="mara", at=later(60))
    start_batch(record, later_plan.plan, "4105-01", by="mara", at=later(60))


def test_feed_on_its_way_does_not_block_a_bin():
    """Feed mixed by the plan in force and not packed yet blocks no bin of a plan made later."""
    record = loaded()
    plan = in_force(record)
    batch = next(row for row in plan.batches if row.batch == "4106-01")
    start_batch(record, plan.plan, "4106-01", by="mara", at=later(60))
    record_batch(record, plan.plan, "4106-01", actuals(batch), by="mara", at=later(65))
    book = {(row.place, row.material): row.mass_mg for row in record.stock()}
    assert book[batch.destination, "PIG-FIN"] == sum(draw.target_mg for draw in batch.draws)
    assert stock_to_plan(record, day=DAY)[batch.destination, "PIG-FIN"] == 0
    again = make_plan(record, day=DAY, at=later(70))
    assert again.left_out == ()


def test_what_is_under_way_keeps_its_machines():
    """A batch that began half an hour late keeps mixer, bin and load-out half an hour longer than
    planned, and nothing of a later plan uses them before.
    """
    record = loaded()
    plan = in_force(record)
    batch = next(row for row in plan.batches if row.batch == "4105-01")
    began = batch.start_at + dt.timedelta(minutes=30)
    start_batch(record, plan.plan, "4105-01", by="mara", at=began)
    free = free_times(record, day=DAY)
    assert free["MX1"] == batch.end_at + dt.timedelta(minutes=30)
    bar = next(row for row in plan.bars if row.machine == "LO1" and row.about == "R-4105")
    assert free["LO1"] == bar.end_at + dt.timedelta(minutes=30)
    assert free[batch.destination] == free["LO1"]
    again = make_plan(record, day=DAY, at=began)
    assert min(row.start_at for row in again.batches) >= free["MX1"]
    assert all(row.start_at >= free["LO1"] for row in again.bars if row.machine == "LO1")


def test_lots_lying_add_up_to_the_stock():
    """Layers handed to the planner add up to each line of stock to the milligram."""
    record = loaded()
    stock = stock_to_plan(record, day=DAY)
    for key, layers in lying_lots(record, stock).items():
        assert sum(layer.mass_mg for layer in layers) == stock[key]
    short = {("G1", "CORN-GR"): 5, ("B4", "SBM"): 10**12}
    lying = lying_lots(record, short)
    assert [layer.mass_mg for layer in lying["G1", "CORN-GR"]] == [5]
    assert lying["B4", "SBM"][-1].lot == ""


def test_a_bin_with_a_lot_on_hold_is_not_planned_with():
    """Corn in a bin that has a lot on hold is no stock; a batch that would draw from it is refused;
    where lots are kept apart only the held lot is out.
    """
    record = loaded()
    plan = in_force(record)
    record_load(
        record, firm="fenwold", ingredient="PIG-PX", into="F1", lot="L-PX-2", mass_mg=60 * 10**6,
        by="osk", at=later(5),
    )  # fmt: skip
    hold_lots(record, ("L-PIG-PX",), why="wrong smell", by="osk", at=later(6))
    fine = make_plan(record, day=DAY, at=later(7))
    assert fine.left_out == ()
    assert any("L-PIG-PX" in finding.text for finding in fine.findings)
    hold_lots(record, ("L-CORN-GR",), why="mouldy", by="osk", at=later(61))
    with pytest.raises(Refused, match="L-CORN-GR lies, which is on hold"):
        start_batch(record, plan.plan, "4105-01", by="mara", at=later(62))
    short = make_plan(record, day=DAY, at=later(63))
    assert {row.because for row in short.left_out} == {"stock"}
    release_lots(record, ("L-CORN-GR",), why="assay clean", by="osk", at=later(64))
    assert make_plan(record, day=DAY, at=later(65)).left_out == ()


def test_machines_remember_what_they_ran_last():
    """The mixer remembers its last batch, the pellet line its product and so its die."""
    record = loaded()
    plan = in_force(record)
    for minute, batch in enumerate(plan.batches):
        record_batch(record, plan.plan, batch.batch, actuals(batch), by="mara", at=later(minute))
    mixed = max(plan.batches, key=lambda row: row.start_at)
    assert last_on_machines(record) == {"MX1": mixed.material}
    row = PelletedBatch(batch="4107-01", in_mg=10**9, steam_mg=0, dust_mg=0, out_mg=10**9)
    record_seen_empty(record, "FB1", by="mara", at=later(99))
    record_pelleted(
        record, run="R-4107", machine="PL1", from_place="SB1", to_place="FB1", batches=(row,),
        by="mara", at=later(100),
    )  # fmt: skip
    assert last_on_machines(record)["PL1"] == "SHEEP-GR"
    assert dies_in(current_mill(record), last_on_machines(record)) == {"PL1": "4.0 mm"}
    assert released_plan(record, DAY).plan == plan
