"""Clean-outs that the tables give no time for."""

from dataclasses import replace

from fakes.planned import plan_of, stops
from fakes.planning_mill import planning_mill, problem, wanted


def test_a_clean_out_of_no_seconds_still_comes_before_its_batch():
    """A clean-out that starts at the moment of its batch is not taken for one that overtakes."""
    mill = planning_mill()
    mill = replace(
        mill,
        machines=tuple(replace(row, clean_out_s=0.0) for row in mill.machines),
        routes=tuple(replace(row, clean_out_s=0.0) for row in mill.routes),
    )
    asked = problem(wanted("4107", "LAYER", 2000, due_h=4.0, pack="bulk"), mill=mill, starting=())
    plan = plan_of(asked)
    assert [row.before_batch for row in plan.clean_outs] == ["4107-01"]
    assert plan.clean_outs[0].start_at == plan.clean_outs[0].end_at
    assert stops(asked, plan) == []
