"""A plan as ``plan/1`` JSON and back, for rooms that reach the stations through the desk."""

from bedstone.planning.plan_json import plan_from_json, plan_to_json

__all__ = ["plan_from_json", "plan_to_json"]
