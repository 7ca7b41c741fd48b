"""A batch begins: verified again on what really ran."""

import datetime as dt

from bedstone.desk.appending import appended, nobody_since
from bedstone.desk.check_plan import findings_of_start
from bedstone.desk.made import BATCH_MADE, BATCH_STARTED, made_batches, started_batches
from bedstone.desk.plain_values import row_plain
from bedstone.desk.plans import PlanStanding, batch_of, find_plan, released_plan
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import Refused
from bedstone.ledger.model import Fact, Json
from bedstone.mill.plan import Batch, Finding, Verdict

__all__ = ["may_start", "start_batch"]


def start_batch(
    record: Record,
    plan_id: str,
    batch_id: str,
    *,
    by: str,
    at: dt.datetime,
    after: int | None = None,
) -> tuple[Finding, ...]:
    """Record that a batch or flush begins, and say what the checks note.

    The verifier looks at the batch again, on what really ran and was really cleaned, not on what
    the plan expected. Refused when: it says STOP, the plan is not released or was replaced, the
    batch has begun or was made, another is open in the mixer, or the mixer would drop it straight
    onto another feed. Records: ``batching.batch_started/1``.
    """
    findings: tuple[Finding, ...] = ()

    def act() -> Fact:
        nonlocal findings
        standing = find_plan(record, plan_id)
        batch = batch_of(standing.plan, batch_id)
        for kind in (BATCH_STARTED, BATCH_MADE):
            nobody_since(record, after, kinds=(kind,), key="batch", value=batch_id)
        may_start(record, standing, batch)
        findings = findings_of_start(record, standing.plan, batch)
        _refuse_stops(batch, findings)
        content: dict[str, Json] = {
            "batch": batch.batch,
            "run": batch.run,
            "mixer": batch.mixer,
            "plan": plan_id,
            "formula_version": batch.formula_version,
            "findings": [row_plain(item) for item in findings],
        }
        return Fact(kind=BATCH_STARTED, happened_at=at, by=by, content=content)

    appended(record, act, at=at)
    return findings


def may_start(record: Record, standing: PlanStanding, batch: Batch) -> None:
    """Refuse what may not begin: not in force, begun or made already, the mixer not free."""
    if standing.status != "released":
        raise Refused(
            f"Plan {standing.plan.plan} is {standing.status}; its batches must not start.",
            do="a manager releases the plan first",
        )
    in_force = released_plan(record, standing.plan.day)
    if in_force is not None and in_force.plan.plan != standing.plan.plan:
        raise Refused(
            f"Plan {standing.plan.plan} was replaced by {in_force.plan.plan}.",
            do=f"work by the sheets of {in_force.plan.plan}",
        )
    if batch.batch in made_batches(record):
        raise Refused(f"Batch {batch.batch} is on record already.", do="start the next one")
    begun = started_batches(record).get(batch.batch)
    if begun is not None:
        raise Refused(
            f"Batch {batch.batch} has begun already.",
            seen=f"fact {begun.position}",
            do="record its draws",
        )
    _refuse_second(record, batch)


def _refuse_second(record: Record, batch: Batch) -> None:
    """A mixer holds one batch at a time: the one in it is recorded before the next begins."""
    made = made_batches(record)
    for begun in started_batches(record).values():
        if begun.mixer == batch.mixer and begun.batch not in made:
            mill = current_mill(record)
            raise Refused(
                f"Batch {batch.batch} must not start: {begun.batch} is open in "
                f"{mill.name_of(batch.mixer)}, begun and not recorded.",
                seen=f"{begun.batch}, begun as fact {begun.position}",
                do=f"record {begun.batch} first; if it was never made, a manager takes fact "
                f"{begun.position} back",
            )


def _refuse_stops(batch: Batch, findings: tuple[Finding, ...]) -> None:
    straight = batch.route[1:2] == (batch.destination,)
    stops = [
        finding
        for finding in findings
        if finding.verdict is Verdict.STOP or (straight and finding.code == "bin.taken")
    ]
    if stops:
        raise Refused(
            f"Batch {batch.batch} must not start now. {' '.join(item.text for item in stops)}",
            source=stops[0].source,
            do=stops[0].do or "make what the plan has before it, or plan the day again",
        )
