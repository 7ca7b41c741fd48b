"""One batch at a time in a mixer, and what was begun is verified again when it is recorded."""

import pytest

from bedstone.desk.batches import batch_standing, record_batch, start_batch
from bedstone.desk.made import made_batches
from bedstone.desk.plan_day import make_plan, propose, release
from bedstone.desk.tables import load_tables
from bedstone.errors import Refused
from bedstone.mill.plan import BatchKind, Plan, Verdict
from fakes.desk_day import MORNING, PLAN, a_day, actuals, later
from fakes.joint_mill import joint_folder
from fakes.memory import MemoryRecord
from fakes.plans import DAY


def test_a_second_batch_does_not_start_while_one_is_open():
    """The refusal names the open batch and what to do; once that is recorded the next starts."""
    record = a_day()
    first = next(row for row in PLAN.batches if row.batch == "4107-01-flush")
    start_batch(record, PLAN.plan, first.batch, by="mara", at=later(60))
    head = record.head()
    with pytest.raises(Refused, match="4107-01-flush is open in") as refused:
        start_batch(record, PLAN.plan, "4107-01", by="mara", at=later(61))
    assert "record 4107-01-flush first" in refused.value.do
    assert record.head() == head
    record_batch(record, PLAN.plan, first.batch, actuals(first), by="mara", at=later(62))
    start_batch(record, PLAN.plan, "4107-01", by="mara", at=later(63))


def up_to_the_flush() -> tuple[MemoryRecord, Plan, int]:
    """A day made up to and with its first flush; the place of the flush in the plan."""
    record = MemoryRecord()
    load_tables(record, joint_folder(), by="osk", at=MORNING)
    plan = make_plan(record, day=DAY, at=MORNING)
    propose(record, plan, by="osk", at=MORNING)
    release(record, plan.plan, by="osk", at=MORNING)
    at = next(n for n, row in enumerate(plan.batches) if row.kind is BatchKind.FLUSH)
    for number, batch in enumerate(plan.batches[: at + 1]):
        record_batch(
            record, plan.plan, batch.batch, actuals(batch), by="mara", at=later(60 + number)
        )
    return record, plan, at


def test_a_begun_batch_is_verified_again_when_it_is_recorded():
    """A batch that began after a flush which turns out never to have been made goes on hold."""
    record, plan, at = up_to_the_flush()
    flush, feed = plan.batches[at], plan.batches[at + 1]
    start_batch(record, plan.plan, feed.batch, by="mara", at=later(80))
    position = made_batches(record)[flush.batch].position
    record.reverse(position, by="osk", why="never made", recorded_at=later(81))
    done = record_batch(record, plan.plan, feed.batch, actuals(feed), by="mara", at=later(82))
    assert any(
        row.verdict is Verdict.STOP and row.code.startswith("residue.") for row in done.findings
    )
    assert batch_standing(record, plan)[feed.batch] == "held"


def test_a_begun_batch_that_was_rightly_begun_is_not_held():
    """Started after the whole flush and recorded: no check stops it."""
    record, plan, at = up_to_the_flush()
    feed = plan.batches[at + 1]
    start_batch(record, plan.plan, feed.batch, by="mara", at=later(80))
    done = record_batch(record, plan.plan, feed.batch, actuals(feed), by="mara", at=later(82))
    assert [row.text for row in done.findings if row.verdict is Verdict.STOP] == []
    assert batch_standing(record, plan)[feed.batch] == "made"
