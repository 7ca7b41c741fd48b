"""A person changes the order of running of a day: tried at once, kept as a plan like any other."""

from bedstone.desk.hand_plan import hand_day
from bedstone.desk.make_plan import make_plan
from bedstone.desk.plan_day import propose, release
from bedstone.desk.tables import load_tables
from fakes.desk_day import MORNING
from fakes.joint_mill import joint_folder
from fakes.memory import MemoryRecord
from fakes.plans import DAY


def a_record() -> MemoryRecord:
    """A record with the joint mill's tables."""
    record = MemoryRecord()
    load_tables(record, joint_folder(), by="osk", at=MORNING)
    return record


def test_another_order_is_tried_and_released_as_a_plan():
    """Runs turned round: what that costs is said, the plan is verified, and may be released."""
    record = a_record()
    proposal = make_plan(record, day=DAY, at=MORNING)
    day = hand_day(record, day=DAY, at=MORNING)
    order = day.order_of(proposal)
    assert {run for run, _ in order} == {run.run for run in proposal.runs}
    assert day.dearer_cents100(day.tried(order), order) == 0
    turned = tuple(reversed(order))
    made = day.tried(turned)
    assert made.outcome.runs
    plan = make_plan(record, day=DAY, at=MORNING, by_hand=turned)
    assert plan.status == "proposed"
    assert {run.run: run.start_at for run in plan.runs} == {
        run.run: run.start_at for run in made.outcome.runs
    }
    extra = day.dearer_cents100(made, order)
    assert extra == plan.costs.running_cents100 - proposal.costs.running_cents100
    propose(record, plan, by="osk", at=MORNING)
    release(record, plan.plan, by="osk", at=MORNING)
