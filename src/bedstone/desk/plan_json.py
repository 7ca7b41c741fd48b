"""A plan as ``plan/1`` JSON and back, and the id that its content gives it."""

import hashlib
import json
from dataclasses import replace

from bedstone.desk.plain_values import row_from_plain, row_plain
from bedstone.errors import BadInput
from bedstone.ledger.model import Json
from bedstone.mill.plan import Plan

__all__ = ["named", "plan_from_json", "plan_id", "plan_to_json"]


def plan_to_json(plan: Plan) -> dict[str, Json]:
    """The plan as plain values, fields named as in :mod:`bedstone.mill.plan`."""
    return row_plain(plan)


def plan_from_json(content: object) -> Plan:
    """The plan that plain values stand for.

    Raises
    ------
    BadInput
        With every fault where the content is no ``plan/1``.
    """
    plan = row_from_plain(Plan, content)
    if plan.format != "plan/1":
        raise BadInput("This plan has another format.", seen=plan.format, allowed="plan/1")
    return plan


def plan_id(plan: Plan) -> str:
    """The id of a plan, "P-<day>-<6 hex of the content>": same content, same id, whenever made."""
    content = plan_to_json(plan)
    for name in ("plan", "made_at", "position", "head"):
        content.pop(name)
    text = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return f"P-{plan.day.isoformat()}-{hashlib.sha256(text.encode()).hexdigest()[:6]}"


def named(plan: Plan) -> Plan:
    """The plan with the id that its content gives it."""
    return replace(plan, plan=plan_id(plan))
