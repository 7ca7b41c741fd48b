"""The plain verifier: replays any plan, hand-edited ones too, and says what must not happen.

It shares no reckoning with the planner: residue is followed in plain numbers by another method,
times and bins are read from the plan as it stands, and nothing is searched for.
"""

from collections.abc import Mapping

from bedstone.mill.model import Mill
from bedstone.mill.plan import BatchKind, Finding, Plan, Verdict
from bedstone.planning.verify_bins import bin_findings
from bedstone.planning.verify_changeovers import changeover_findings
from bedstone.planning.verify_clean_outs import clean_out_findings
from bedstone.planning.verify_costs import cost_findings
from bedstone.planning.verify_day import day_findings, twice
from bedstone.planning.verify_draws import draw_findings, stock_findings
from bedstone.planning.verify_grind_jobs import grind_job_findings
from bedstone.planning.verify_grinders import grinder_findings
from bedstone.planning.verify_known import NOTHING_KNOWN, Known
from bedstone.planning.verify_machines import machine_findings
from bedstone.planning.verify_order import in_order
from bedstone.planning.verify_residue import residue_findings, verify_sequence
from bedstone.planning.verify_runs import run_findings
from bedstone.planning.verify_tools import tool_findings
from bedstone.quantities.times import shown_minutes

__all__ = ["verify_plan", "verify_sequence"]


def verify_plan(
    mill: Mill,
    plan: Plan,
    *,
    stock_mg: Mapping[tuple[str, str], int] | None = None,
    known: Known = NOTHING_KNOWN,
) -> tuple[Finding, ...]:
    """What the plan would break, batch by batch; nothing that says STOP when it is safe.

    A plan of which part is made already may be handed in with the batches that are left, if
    ``known`` names the others; checks that need a whole run (its bins, its lines) are then left
    out for a run that has begun.

    Parameters
    ----------
    mill : Mill
        The mill as it stands.
    plan : Plan
        The plan; what the machines hold before it is its ``starting``.
    stock_mg : mapping, optional
        Book stock of (place, material); without it stock is not judged. [mg]
    known : Known, optional
        What is on record beside the plan: batches made, orders, lots, the time of asking.

    Returns
    -------
    findings : tuple of Finding
        STOP for what must not happen, ACT for what somebody must look at, NOTE for the rest.
    """
    unknown = [*twice(plan), *_unknown(mill, plan)]
    if unknown:
        return tuple(unknown)
    events, findings = in_order(mill, plan)
    findings.extend(residue_findings(mill, plan.starting, events, lying=known.lying_contents))
    findings.extend(grinder_findings(mill, plan))
    findings.extend(machine_findings(mill, plan, known))
    findings.extend(bin_findings(mill, plan, stock_mg, known))
    findings.extend(run_findings(mill, plan, known))
    findings.extend(clean_out_findings(mill, plan, known))
    findings.extend(changeover_findings(mill, plan, known))
    findings.extend(grind_job_findings(mill, plan))
    findings.extend(day_findings(mill, plan, known))
    findings.extend(cost_findings(mill, plan, known))
    for batch in plan.batches:
        findings.extend(draw_findings(mill, batch))
        findings.extend(tool_findings(mill, batch, known))
    if stock_mg is not None:
        findings.extend(stock_findings(mill, plan, stock_mg))
    findings.extend(_due(plan))
    if plan.revision != mill.revision:
        findings.append(
            Finding(
                code="plan.revision",
                verdict=Verdict.ACT,
                about=plan.plan,
                text=(
                    f"The plan was made with revision {plan.revision} of the tables; revision "
                    f"{mill.revision} stands, and is what it was judged by."
                ),
                value=float(plan.revision),
                limit=float(mill.revision),
                source="tables of the mill",
                do="plan the day again",
            )
        )
    return tuple(findings)


def _unknown(mill: Mill, plan: Plan) -> list[Finding]:
    """Codes that the mill does not have: nothing else can be judged then."""
    findings: list[Finding] = []
    places = {*mill.bin_by_code, *mill.machine_by_code}
    for batch in plan.batches:
        materials = (
            mill.ingredient_by_code if batch.kind is BatchKind.FLUSH else mill.product_by_code
        )
        missing = [code for code in batch.route if code not in places]
        if not batch.route:
            missing.append("no route")
        if batch.material not in materials:
            missing.append(batch.material)
        elif batch.kind is BatchKind.FEED and not mill.lines_of(
            batch.material, batch.formula_version or 0
        ):
            missing.append(f"version {batch.formula_version} of {batch.material}")
        if missing:
            text = f"{batch.batch} names {', '.join(missing)}, which the mill does not have."
            findings.append(
                Finding(
                    code="plan.unknown",
                    verdict=Verdict.STOP,
                    about=batch.batch,
                    text=text,
                    source="tables of the mill",
                    do="plan the day again, or correct the plan",
                )
            )
    return findings


def _due(plan: Plan) -> list[Finding]:
    present = {batch.run for batch in plan.batches}
    return [
        Finding(
            code="time.due",
            verdict=Verdict.NOTE,
            about=run.run,
            text=(
                f"{run.run} is ready "
                f"{shown_minutes((run.ready_at - run.due_at).total_seconds())} after it is due."
            ),
            value=(run.ready_at - run.due_at).total_seconds() / 3600,
            limit=0.0,
            unit="h",
            source="order",
            do="tell the customer",
        )
        for run in plan.runs
        if run.run in present and run.due_at is not None and run.ready_at > run.due_at
    ]
