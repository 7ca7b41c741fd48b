"""No random mill and day makes a plan that the verifier refuses."""

from hypothesis import HealthCheck, given, settings

from bedstone.planning.model import DayProblem
from fakes.any_day import days
from fakes.planned import plan_of, stops


@given(days())
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_no_day_makes_a_plan_that_is_refused(asked: DayProblem):
    """Whatever the mill, its residue, stock and orders: the plan is safe, and no order is lost."""
    plan = plan_of(asked)
    assert [finding.text for finding in stops(asked, plan)] == []
    made = {run.order for run in plan.runs if run.order}
    left = {row.order for row in plan.left_out}
    assert made | left == {row.order.order for row in asked.orders}
    assert not made & left
    assert all(row.text and row.because for row in plan.left_out)
