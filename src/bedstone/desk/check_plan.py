"""A plan, or one batch of it, before the plain verifier: on what the machines really hold."""

from dataclasses import replace

from bedstone.desk.machines import machines_hold, what_ran
from bedstone.desk.made import made_batches, started_batches
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.mill.plan import Batch, Finding, Plan, Verdict
from bedstone.mill.residue import replay

__all__ = ["check_plan", "findings_of_start"]


def check_plan(record: Record, plan: Plan) -> tuple[Finding, ...]:
    """What the plain verifier says of a plan, hand-edited ones too, on what the record says now.

    Batches that have begun or were made are not judged again: what they left in the machines is
    where the rest begins.
    """
    gone = {*made_batches(record), *started_batches(record)}
    rest = tuple(batch for batch in plan.batches if batch.batch not in gone)
    left = {batch.batch for batch in rest}
    cleaning = tuple(row for row in plan.clean_outs if row.before_batch in left)
    judged = replace(
        plan, batches=rest, clean_outs=cleaning, starting=machines_hold(record), findings=()
    )
    return _verified(record, judged)


def findings_of_start(record: Record, plan: Plan, batch: Batch) -> tuple[Finding, ...]:
    """What the verifier says of one batch, run next on what really ran and was really cleaned."""
    mill = current_mill(record)
    starting = replay(mill, what_ran(record, but=batch.batch))
    judged = replace(plan, batches=(batch,), clean_outs=(), starting=starting, findings=())
    return (
        *_verified(record, judged),
        *_formula(record, batch),
        *_out_of_order(record, plan, batch),
    )


def _verified(record: Record, plan: Plan) -> tuple[Finding, ...]:
    from bedstone.planning.verifier import verify_plan

    return verify_plan(current_mill(record), plan)


def _formula(record: Record, batch: Batch) -> tuple[Finding, ...]:
    """A batch must be made by the version of the formula that runs now."""
    mill = current_mill(record)
    running = mill.running_formula(batch.material)
    now = running.version if running is not None else None
    if batch.formula_version is None or now == batch.formula_version:
        return ()
    stands = "no version of it runs" if now is None else f"version {now} runs"
    return (
        Finding(
            code="formula.not_running",
            verdict=Verdict.STOP,
            about=batch.batch,
            text=f"{batch.batch} was planned by version {batch.formula_version} of the formula of "
            f"{mill.name_of(batch.material)}; now {stands}.",
            value=float(batch.formula_version),
            limit=None if now is None else float(now),
            source="formulas of the mill",
            do="plan the day again",
        ),
    )


def _out_of_order(record: Record, plan: Plan, batch: Batch) -> tuple[Finding, ...]:
    """A word about batches that the plan has before this one on the same mixer."""
    gone = {*made_batches(record), *started_batches(record)}
    before = [
        row.batch
        for row in plan.batches
        if row.mixer == batch.mixer and row.start_at < batch.start_at and row.batch not in gone
    ]
    if not before:
        return ()
    return (
        Finding(
            code="order.changed",
            verdict=Verdict.NOTE,
            about=batch.batch,
            text=f"{batch.batch} starts before {', '.join(before)}, which the plan has first on "
            f"{batch.mixer}.",
            value=float(len(before)),
            unit="batches",
            source="the plan",
            do="those that are passed over are verified again when they start",
        ),
    )
