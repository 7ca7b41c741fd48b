"""A plan put together from the planner's outcome and the draws of its batches."""

import dataclasses
import datetime as dt
import hashlib
import json
from collections.abc import Mapping

from bedstone.errors import BadInput
from bedstone.mill.plan import Draw, Finding, Plan, Verdict
from bedstone.planning.model import DayOutcome
from bedstone.planning.plan_json import plan_to_json

__all__ = ["assemble", "with_findings"]


def assemble(
    outcome: DayOutcome,
    draws: Mapping[str, tuple[Draw, ...]],
    *,
    made_at: dt.datetime,
    revision: int,
    position: int,
    head: str,
    batch_findings: Mapping[str, tuple[Finding, ...]] | None = None,
    findings: tuple[Finding, ...] = (),
) -> Plan:
    """The plan of the day with its draws; its id is made from its content.

    ``draws`` and ``batch_findings`` are keyed by batch id. ``findings`` are added to those of
    the planner; with one that says STOP the plan is refused.

    Raises
    ------
    BadInput
        If a batch has no draws, or draws are given for a batch that is not there.
    """
    ids = {batch.batch for batch in outcome.batches}
    if missing := sorted(ids - set(draws)) or sorted(set(draws) - ids):
        raise BadInput(
            "Draws and batches do not belong together.",
            seen=f"no match for {', '.join(missing[:5])}",
            allowed="draws for each batch of the plan and for no other",
        )
    extra = batch_findings or {}
    batches = tuple(
        dataclasses.replace(
            batch,
            draws=draws[batch.batch],
            findings=batch.findings + extra.get(batch.batch, ()),
        )
        for batch in outcome.batches
    )
    plan = Plan(
        plan="",
        day=outcome.day,
        made_at=made_at,
        revision=revision,
        position=position,
        head=head,
        seed=outcome.seed,
        status="proposed",
        runs=outcome.runs,
        batches=batches,
        clean_outs=outcome.clean_outs,
        grinding=outcome.grinding,
        bars=outcome.bars,
        left_out=outcome.left_out,
        starting=outcome.starting,
        costs=outcome.costs,
        as_orders_came=outcome.as_orders_came,
        findings=outcome.findings,
    )
    text = json.dumps(plan_to_json(plan), sort_keys=True, separators=(",", ":"))
    digest = hashlib.sha256(text.encode()).hexdigest()[:6]
    named = dataclasses.replace(plan, plan=f"P-{plan.day.isoformat()}-{digest}")
    return with_findings(named, findings)


def with_findings(plan: Plan, findings: tuple[Finding, ...]) -> Plan:
    """The plan with further findings (of the verifier); refused when one of all says STOP."""
    together = plan.findings + findings
    everything = together + tuple(item for batch in plan.batches for item in batch.findings)
    stopped = any(item.verdict is Verdict.STOP for item in everything)
    return dataclasses.replace(
        plan, findings=together, status="refused" if stopped else plan.status
    )
