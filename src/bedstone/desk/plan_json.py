"""A plan as ``plan/1`` JSON and back, for rooms that reach the stations through the desk."""

import hashlib
import json
from dataclasses import replace

from bedstone.mill.plan import Plan
from bedstone.planning.plan_json import plan_from_json, plan_to_json

__all__ = ["named_by_content", "plan_from_json", "plan_to_json"]

NO_CONTENT = ("plan", "made_at", "position", "head")


def named_by_content(plan: Plan) -> Plan:
    """The plan with the id that its content gives it: "P-<day>-<6 hex>". When it was made and how
    long the journal was then are no part of the content, so planning twice gives one id.
    """
    content = {name: value for name, value in plan_to_json(plan).items() if name not in NO_CONTENT}
    text = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    digest = hashlib.sha256(text.encode()).hexdigest()[:6]
    return replace(plan, plan=f"P-{plan.day.isoformat()}-{digest}")
