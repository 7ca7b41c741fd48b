"""Planning again in the middle of the day starts from the plan in force."""

import pytest

from bedstone.desk import make_plan as room
from bedstone.desk.make_plan import make_plan
from bedstone.desk.plan_day import propose, release
from bedstone.desk.tables import load_tables
from bedstone.planning.model import DayProblem
from fakes.desk_day import MORNING, later
from fakes.joint_mill import joint_folder
from fakes.memory import MemoryRecord
from fakes.plans import DAY


def test_the_planner_is_given_the_order_of_the_released_plan(monkeypatch: pytest.MonkeyPatch):
    """Once a plan is released, its runs and mixers in their order are put before the planner."""
    record = MemoryRecord()
    load_tables(record, joint_folder(), by="osk", at=MORNING)
    asked: list[DayProblem] = []
    plan_runs = room.plan_runs
    monkeypatch.setattr(
        room, "plan_runs", lambda day, **more: (asked.append(day), plan_runs(day, **more))[1]
    )
    plan = make_plan(record, day=DAY, at=MORNING)
    propose(record, plan, by="osk", at=MORNING)
    make_plan(record, day=DAY, at=MORNING)
    release(record, plan.plan, by="osk", at=MORNING)
    again = make_plan(record, day=DAY, at=later(1))
    assert [day.in_force for day in asked[:2]] == [(), ()]
    assert {run for run, _ in asked[2].in_force} == {run.run for run in plan.runs}
    first = {run.run: run.start_at for run in plan.runs}
    for mixer in {mixer for _, mixer in asked[2].in_force}:
        runs = [run for run, its in asked[2].in_force if its == mixer]
        assert runs == sorted(runs, key=first.__getitem__)
    assert again.costs.running_cents100 <= plan.costs.running_cents100
