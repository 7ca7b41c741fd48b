"""The plan of a day: made, checked, proposed, released, found again."""

from bedstone.desk.check_plan import check_plan
from bedstone.desk.make_plan import QUICK_TRIES_AN_ORDER, make_plan
from bedstone.desk.plan_acts import propose, release
from bedstone.desk.plans import PlanStanding, batch_of, find_plan, latest_plan, released_plan

__all__ = [
    "QUICK_TRIES_AN_ORDER",
    "PlanStanding",
    "batch_of",
    "check_plan",
    "find_plan",
    "latest_plan",
    "make_plan",
    "propose",
    "release",
    "released_plan",
]
