"""The plain verifier reached through the desk: what the record knows beside the plan."""

import datetime as dt
from dataclasses import replace

import pytest

from bedstone.desk.bin_acts import GROUND
from bedstone.desk.orders import cancel_order, set_order
from bedstone.desk.plan_day import check_plan, make_plan
from bedstone.desk.plan_json import plan_from_json, plan_to_json
from bedstone.desk.tables import load_tables
from bedstone.ledger.model import Fact
from bedstone.mill.plan import CleanOut, GrindJob, LotShare, Plan, Verdict
from fakes.desk_day import MORNING, later
from fakes.joint_mill import joint_folder
from fakes.memory import MemoryRecord
from fakes.plans import DAY


@pytest.fixture
def record() -> MemoryRecord:
    """A record with the folder loaded."""
    record = MemoryRecord()
    load_tables(record, joint_folder(), by="osk", at=MORNING)
    return record


def codes(record: MemoryRecord, plan: Plan, at: dt.datetime | None = None) -> set[tuple[str, str]]:
    """Codes and verdicts of what is found."""
    return {(row.code, row.verdict.value) for row in check_plan(record, plan, at=at)}


def test_a_plan_read_back_from_its_file_is_as_it_was(record: MemoryRecord):
    """Written as JSON and read back, a plan has nothing to stop it and is not called edited."""
    plan = plan_from_json(plan_to_json(make_plan(record, day=DAY, at=MORNING)))
    found = codes(record, plan, at=MORNING)
    assert not any(verdict == "stop" for _, verdict in found), found
    assert ("plan.edited", "note") not in found
    assert ("time.past", "note") not in found


def test_an_edited_plan_is_called_so(record: MemoryRecord):
    """A plan with other costs and its old id is noted as edited by hand."""
    plan = make_plan(record, day=DAY, at=MORNING)
    edited = replace(plan, costs=replace(plan.costs, flush_cents100=plan.costs.flush_cents100 + 1))
    assert ("plan.edited", "note") in codes(record, edited)


def test_batches_that_should_have_begun_are_noted(record: MemoryRecord):
    """Asked in the evening, the batches of a plan that nobody began are noted."""
    plan = make_plan(record, day=DAY, at=MORNING)
    assert ("time.past", "note") in codes(record, plan, at=later(900))


def test_a_lot_that_is_not_on_record_is_refused(record: MemoryRecord):
    """A draw that names a lot which the record does not know is refused."""
    plan = make_plan(record, day=DAY, at=MORNING)
    first = plan.batches[0]
    draw = replace(first.draws[0], lots=(LotShare(lot="L-NOWHERE", mass_mg=1),))
    batches = (replace(first, draws=(draw, *first.draws[1:])), *plan.batches[1:])
    assert ("draws.lots", "stop") in codes(record, replace(plan, batches=batches))


def test_a_clean_out_before_no_batch_is_not_overlooked(record: MemoryRecord):
    """A clean-out before a batch that is neither planned nor on record is refused."""
    plan = make_plan(record, day=DAY, at=MORNING)
    row = CleanOut(
        clean_out="zz", before_batch="nope", places=(plan.batches[0].mixer,),
        start_at=MORNING, end_at=MORNING, reason="",
    )  # fmt: skip
    found = codes(record, replace(plan, clean_outs=(*plan.clean_outs, row)))
    assert ("clean_out.batch", "stop") in found


def test_orders_are_those_on_record(record: MemoryRecord):
    """A plan of an order that was changed or cancelled since, or is none, is refused by its run."""
    plan = make_plan(record, day=DAY, at=MORNING)
    run = next(row for row in plan.runs if row.order == "4107")
    others = tuple(row for row in plan.runs if row is not run)
    for changed in (replace(run, order="9999"), replace(run, customer="depot")):
        found = check_plan(record, replace(plan, runs=(*others, changed)))
        assert ("run.order", run.run) in {(row.code, row.about) for row in found}
    order = next(row for row in joint_folder().orders if row.order == "4107")
    set_order(record, replace(order, mass_kg=order.mass_kg / 4), by="osk", at=later(1))
    assert ("run.order", "stop") in codes(record, plan)
    set_order(record, order, by="osk", at=later(2))
    assert ("run.order", "stop") not in codes(record, plan)
    cancel_order(record, "4107", why="flock sold", by="osk", at=later(3))
    stops = [row for row in check_plan(record, plan) if row.verdict is Verdict.STOP]
    assert [(row.code, row.about) for row in stops] == [("run.order", run.run)]


def test_what_is_ground_is_not_ground_again(record: MemoryRecord):
    """A grinding job recorded since the plan was made is no longer judged as still to come."""
    plan = make_plan(record, day=DAY, at=MORNING)
    job = GrindJob(
        job="G-NO-1", machine="NOPE", ingredient="CORN", makes="CORN-G", from_place="B1",
        to_place="G1", mass_in_mg=1_000_000, mass_out_mg=1_000_000, start_at=MORNING, end_at=MORNING,
    )  # fmt: skip
    with_job = replace(plan, grinding=(job,))
    assert any(row.about == "G-NO-1" for row in check_plan(record, with_job))
    fact = Fact(kind=GROUND, happened_at=MORNING, by="osk", content={"job": "G-NO-1"})
    record.append(fact, recorded_at=MORNING)
    assert not any(row.about == "G-NO-1" for row in check_plan(record, with_job))
