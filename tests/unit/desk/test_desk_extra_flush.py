"""A flush that no plan has, where the plan's own was too small."""

from dataclasses import replace

import pytest

from bedstone.desk.batches import record_batch, record_clean_out, start_batch
from bedstone.desk.extra_flush import flush_bins, flush_way, record_extra_flush
from bedstone.desk.made import made_batches
from bedstone.desk.plan_day import make_plan, propose, release
from bedstone.desk.tables import current_mill, load_tables
from bedstone.errors import BadInput, Refused
from bedstone.mill.plan import Batch, BatchKind, Plan
from bedstone.mill.residue_places import ResiduePlaces
from fakes.desk_day import MORNING, actuals, later
from fakes.joint_mill import joint_folder
from fakes.memory import MemoryRecord
from fakes.plans import DAY


def after_short_flush() -> tuple[MemoryRecord, Plan, Batch, Batch]:
    """A day on which only a twentieth of a planned flush was run; the flush, and what follows."""
    record = MemoryRecord()
    load_tables(record, joint_folder(), by="osk", at=MORNING)
    plan = make_plan(record, day=DAY, at=MORNING)
    propose(record, plan, by="osk", at=MORNING)
    release(record, plan.plan, by="osk", at=MORNING)
    at = next(n for n, row in enumerate(plan.batches) if row.kind is BatchKind.FLUSH)
    for number, batch in enumerate(plan.batches[: at + 1]):
        draws = actuals(batch)
        if batch.kind is BatchKind.FLUSH:
            draws = tuple(replace(row, actual_mg=row.actual_mg // 20) for row in draws)
        record_batch(record, plan.plan, batch.batch, draws, by="mara", at=later(60 + number))
    return record, plan, plan.batches[at], plan.batches[at + 1]


def test_a_second_flush_lets_the_batch_start():
    """After a short flush the start is refused; a further flush of the rest lets it through."""
    record, plan, flush, feed = after_short_flush()
    with pytest.raises(Refused, match=feed.batch):
        start_batch(record, plan.plan, feed.batch, by="mara", at=later(80))
    done = record_extra_flush(
        record, plan.plan, feed.batch, from_place=flush_bins(record)[0], mass_mg=flush.mass_mg,
        by="mara", at=later(81),
    )  # fmt: skip
    assert done.fact.content["batch"] == f"{feed.batch}-flush-2"
    made = made_batches(record)[f"{feed.batch}-flush-2"].made
    assert (made.kind, made.route) == (BatchKind.FLUSH, flush.route)
    assert made.destination == current_mill(record).settings.flush_bin
    assert sum(row.mass_mg for row in record.stock()) == 0
    start_batch(record, plan.plan, feed.batch, by="mara", at=later(90))


def test_a_second_flush_that_is_small_again_is_not_enough():
    """Another few kilograms do not let the batch start; the third flush has a further id."""
    record, plan, _, feed = after_short_flush()
    for number in (2, 3):
        done = record_extra_flush(
            record, plan.plan, feed.batch, from_place="G3", mass_mg=10**6, by="mara",
            at=later(80 + number),
        )  # fmt: skip
        assert done.fact.content["batch"] == f"{feed.batch}-flush-{number}"
        with pytest.raises(Refused, match="must not start"):
            start_batch(record, plan.plan, feed.batch, by="mara", at=later(90))


def test_a_clean_out_that_no_plan_has_lets_the_batch_start():
    """Cleaning every place on the way by hand, for no batch of the plan, is as good."""
    record, plan, _, feed = after_short_flush()
    places = ResiduePlaces(current_mill(record))
    way = tuple(places.all[number].place for number in places.along(feed.route))
    record_clean_out(record, places=way, reason="short flush", by="mara", at=later(81))
    start_batch(record, plan.plan, feed.batch, by="mara", at=later(90))


def test_what_cannot_have_been_flushed_is_refused():
    """Nothing, more than the mixer takes, and a bin without flush material are refused."""
    record, plan, _, feed = after_short_flush()
    head = record.head()
    for wrong in ({"mass_mg": 0}, {"mass_mg": 10**10}, {"from_place": "B4"}, {"from_place": "FB1"}):
        values = {"from_place": "G3", "mass_mg": 10**8, "by": "mara", "at": later(81)} | wrong
        with pytest.raises(BadInput):
            record_extra_flush(record, plan.plan, feed.batch, **values)
    assert record.head() == head


def test_no_flush_goes_before_what_has_begun():
    """Before a batch that has begun, or while another is in the mixer, no flush is recorded."""
    record, plan, flush, feed = after_short_flush()
    values = {"from_place": "G3", "by": "mara"}
    record_extra_flush(record, plan.plan, feed.batch, mass_mg=flush.mass_mg, at=later(81), **values)
    start_batch(record, plan.plan, feed.batch, by="mara", at=later(90))
    with pytest.raises(Refused, match="begun already"):
        record_extra_flush(record, plan.plan, feed.batch, mass_mg=10**8, at=later(91), **values)
    after = plan.batches[plan.batches.index(feed) + 1]
    with pytest.raises(Refused, match="is open in"):
        record_extra_flush(record, plan.plan, after.batch, mass_mg=10**8, at=later(91), **values)


def test_without_a_planned_flush_it_goes_as_far_as_the_flush_bin_can_be_reached():
    """The way ends at the last place of the batch's way that leads to the flush bin."""
    record, plan, _, feed = after_short_flush()
    mill = current_mill(record)
    alone = replace(plan, batches=(feed,))
    way = flush_way(mill, alone, feed)
    assert way == feed.route[: len(way)]
    assert (way[-1], mill.settings.flush_bin) in mill.route_by_ends
