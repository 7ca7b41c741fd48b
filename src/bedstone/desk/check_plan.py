"""A plan, or one batch of it, before the plain verifier: on what the machines really hold."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import replace

from bedstone.desk.bin_acts import GROUND
from bedstone.desk.day_stock import stock_to_plan
from bedstone.desk.finished_bins import other_feed, stays_mg
from bedstone.desk.held_stock import held_draws
from bedstone.desk.last_run import last_on_machines
from bedstone.desk.line_air import mill_for_day
from bedstone.desk.lying_contents import lying_contents
from bedstone.desk.machines import machines_hold, what_ran
from bedstone.desk.made import made_batches, started_batches
from bedstone.desk.merged_rows import MG_IN_KG
from bedstone.desk.orders import all_orders
from bedstone.desk.plan_json import named_by_content
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.mill.plan import Batch, Finding, Plan, Verdict
from bedstone.mill.residue import replay
from bedstone.planning.model import OrderToMake
from bedstone.planning.verifier import verify_plan, verify_sequence
from bedstone.planning.verify_known import Known
from bedstone.quantities.masses import shown_mass

__all__ = ["check_plan", "findings_of_start", "judged"]


def check_plan(record: Record, plan: Plan, *, at: dt.datetime | None = None) -> tuple[Finding, ...]:
    """What the plain verifier says of a plan, hand-edited ones too, on what the record says now.

    Batches that have begun or were made are not judged again: what they left in the machines is
    where the rest begins. With ``at``, what should have begun by then is noted.
    """
    orders = {
        row.order.order: OrderToMake(order=row.order, remaining_mg=row.left_mg)
        for row in all_orders(record)
    }
    return (*_edited(plan), *judged(record, plan, orders=orders, at=at))


def judged(
    record: Record,
    plan: Plan,
    *,
    orders: Mapping[str, OrderToMake],
    at: dt.datetime | None = None,
) -> tuple[Finding, ...]:
    """What the plain verifier says of a plan that is to make these orders."""
    begun = started_batches(record)
    gone = {batch: row.made.run for batch, row in made_batches(record).items()}
    gone |= {batch: row.run for batch, row in begun.items()}
    ground = {
        str(item.fact.content["job"]) for item in record.facts(kinds=(GROUND,), after=plan.position)
    }
    rest = tuple(batch for batch in plan.batches if batch.batch not in gone)
    cleaning = tuple(row for row in plan.clean_outs if row.before_batch not in gone)
    left = replace(
        plan,
        batches=rest,
        clean_outs=cleaning,
        grinding=tuple(row for row in plan.grinding if row.job not in ground),
        starting=machines_hold(record),
        findings=(),
    )
    ids = {batch.batch for batch in plan.batches}
    known = Known(
        batches=gone,
        orders=orders,
        lots={row.lot for row, _ in record.lots()} | ids | {run.run for run in plan.runs},
        last={} if ids & gone.keys() else last_on_machines(record),
        now=at,
        lying_contents=lying_contents(record),
    )
    return (
        *verify_plan(
            mill_for_day(record, current_mill(record), plan.day),
            left,
            stock_mg=stock_to_plan(record, day=plan.day),
            known=known,
        ),
        *(finding for batch in rest for finding in held_draws(record, batch)),
    )


def _edited(plan: Plan) -> tuple[Finding, ...]:
    """A word where the id of a plan is not the one that its content gives it."""
    named = named_by_content(plan).plan
    if named == plan.plan:
        return ()
    return (
        Finding(
            code="plan.edited",
            verdict=Verdict.NOTE,
            about=plan.plan,
            text="The plan was edited by hand, or made by another version of the program: "
            f"its content gives it the id {named}.",
            source="the plan itself",
            do="go by the findings below; nobody but the verifier has looked at it",
        ),
    )


def findings_of_start(
    record: Record, plan: Plan, batch: Batch, *, begun_at: dt.datetime | None = None
) -> tuple[Finding, ...]:
    """What the verifier says of one batch, run next on what really ran and was really cleaned.

    A batch that has begun is judged on what is on record of before that moment; that its formula
    ran was asked then.
    """
    mill = current_mill(record)
    starting = replay(mill, what_ran(record, begun_at, but=batch.batch))
    takes_feed = any(draw.ingredient in mill.product_by_code for draw in batch.draws)
    lying = lying_contents(record) if takes_feed else {}
    return (
        *verify_sequence(mill, starting=starting, made=(), then=(batch,), lying=lying),
        *(_formula(record, batch) if begun_at is None else ()),
        *held_draws(record, batch),
        *_bin_taken(record, batch),
        *_drawn_from_other(record, batch),
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
    found = other_feed(record, batch.destination, batch.material)
    if found is None:
        return ()
    return (_taken(record, batch, batch.destination, found=found, verdict=Verdict.ACT),)


def _drawn_from_other(record: Record, batch: Batch) -> tuple[Finding, ...]:
    """Feed that goes into another must not be drawn where the books have something else."""
    return tuple(
        _taken(record, batch, draw.from_place, found=found, verdict=Verdict.STOP)
        for draw in batch.draws
        if (found := other_feed(record, draw.from_place, draw.ingredient)) is not None
    )


def _taken(
    record: Record, batch: Batch, place: str, *, found: tuple[str, int], verdict: Verdict
) -> Finding:
    mill = current_mill(record)
    material, mass_mg = found
    return Finding(
        code="bin.taken",
        verdict=verdict,
        about=batch.batch,
        text=f"By the books {mill.name_of(place)} still holds "
        f"{shown_mass(mass_mg, units=mill.settings.units)} of {mill.name_of(material)}.",
        value=mass_mg / MG_IN_KG,
        limit=stays_mg(mill.bin_by_code[place]) / MG_IN_KG,
        unit="kg",
        source="book stock",
        do="look into the bin; record what was packed, or that it is empty",
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
