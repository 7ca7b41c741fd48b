"""A released plan judged again when tables or the floor moved."""

from dataclasses import replace

import pytest

from bedstone.desk.batches import record_batch
from bedstone.desk.plan_day import make_plan, propose, release
from bedstone.desk.plan_now import refuse_unsafe, stops_now
from bedstone.desk.tables import load_tables
from bedstone.errors import Refused
from bedstone.mill.folder import LoadedFolder
from bedstone.mill.plan import BatchKind, Plan
from fakes.desk_day import MORNING, actuals, later
from fakes.joint_mill import joint_folder
from fakes.memory import MemoryRecord
from fakes.plans import DAY


def released() -> tuple[MemoryRecord, Plan]:
    """A record with a plan of the joint mill in force."""
    record = MemoryRecord()
    load_tables(record, joint_folder(), by="osk", at=MORNING)
    plan = make_plan(record, day=DAY, at=MORNING)
    propose(record, plan, by="osk", at=MORNING)
    release(record, plan.plan, by="osk", at=MORNING)
    return record, plan


def tightened() -> LoadedFolder:
    """The same mill with a flush of twenty tonnes asked for after monensin."""
    folder = joint_folder()
    limits = tuple(
        replace(row, flush_kg=20_000.0) if row.kind == "procedure" else row
        for row in folder.mill.limits
    )
    return replace(folder, mill=replace(folder.mill, limits=limits))


def test_nothing_is_said_while_nothing_moved():
    """A plan that was released on the newest tables is not judged again and may be printed."""
    record, plan = released()
    assert stops_now(record, plan) == ()
    refuse_unsafe(record, plan)


def test_a_tighter_limit_is_seen_under_a_released_plan():
    """Once a limit is tightened the released plan has a STOP, and nothing is printed of it."""
    record, plan = released()
    load_tables(record, tightened(), by="osk", at=later(10))
    stops = stops_now(record, plan)
    assert {row.code for row in stops} == {"residue.procedure"}
    with pytest.raises(Refused, match="no longer safe") as refused:
        refuse_unsafe(record, plan)
    assert refused.value.seen


def test_a_short_flush_is_seen_in_what_is_left():
    """When the flush was made far too small, what follows it has a STOP; made whole, it has none."""
    record, plan = released()
    position = next(n for n, row in enumerate(plan.batches) if row.kind is BatchKind.FLUSH)
    for number, batch in enumerate(plan.batches[: position + 1]):
        draws = actuals(batch)
        if batch.kind is BatchKind.FLUSH:
            draws = tuple(replace(row, actual_mg=row.actual_mg // 20) for row in draws)
        record_batch(record, plan.plan, batch.batch, draws, by="mara", at=later(60 + number))
    stops = stops_now(record, plan)
    assert {row.about for row in stops if row.code.startswith("residue.")} == {
        plan.batches[position + 1].batch
    }
