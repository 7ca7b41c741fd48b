"""A plan, or one batch of it, before the plain verifier: on what the machines really hold."""

from dataclasses import replace

from bedstone.desk.day_stock import stock_to_plan
from bedstone.desk.held_stock import held_draws
from bedstone.desk.machines import machines_hold, what_ran
from bedstone.desk.made import made_batches, started_batches
from bedstone.desk.merged_rows import MG_IN_KG
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.mill.plan import Batch, Finding, Plan, Verdict
from bedstone.mill.residue import replay
from bedstone.planning.model import EMPTY_FRAC
from bedstone.planning.verifier import verify_plan, verify_sequence
from bedstone.quantities.masses import shown_mass

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
    return verify_plan(current_mill(record), judged, stock_mg=stock_to_plan(record, day=plan.day))


def findings_of_start(record: Record, plan: Plan, batch: Batch) -> tuple[Finding, ...]:
    """What the verifier says of one batch, run next on what really ran and was really cleaned."""
    mill = current_mill(record)
    starting = replay(mill, what_ran(record, but=batch.batch))
    return (
        *verify_sequence(mill, starting=starting, made=(), then=(batch,)),
        *_formula(record, batch),
        *held_draws(record, batch),
        *_bin_taken(record, batch),
        *_out_of_order(record, plan, batch),
    )


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


def _bin_taken(record: Record, batch: Batch) -> tuple[Finding, ...]:
    """A word about another feed that the books have in the bin that this one goes to."""
    mill = current_mill(record)
    row = mill.bin_by_code.get(batch.destination)
    if row is None or row.kind != "finished":
        return ()
    stays_kg = row.hold_up_kg + EMPTY_FRAC * row.capacity_kg
    others = [
        (line.mass_mg / MG_IN_KG, line.material)
        for line in record.stock()
        if line.place == row.bin
        and line.material != batch.material
        and line.mass_mg / MG_IN_KG > stays_kg
    ]
    if not others:
        return ()
    mass_kg, material = max(others)
    return (
        Finding(
            code="bin.taken",
            verdict=Verdict.ACT,
            about=batch.batch,
            text=f"By the books {mill.name_of(row.bin)} still holds "
            f"{shown_mass(round(mass_kg * MG_IN_KG), units=mill.settings.units)} of "
            f"{mill.name_of(material)}.",
            value=mass_kg,
            limit=stays_kg,
            unit="kg",
            source="book stock",
            do="look into the bin; record what was packed, or that it is empty",
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
