"""The plan of a day: orders, stock and what the machines hold, put before the planner."""

import datetime as dt
import re
from collections.abc import Callable, Sequence
from dataclasses import replace

from bedstone.batching.draws import DayEvent, draws_of_day
from bedstone.batching.model import Arrival, BatchToDraw, Part
from bedstone.desk.check_plan import judged
from bedstone.desk.day_stock import free_times, lying_lots, stock_to_plan, under_way
from bedstone.desk.held_stock import held_notes, without_held
from bedstone.desk.last_run import dies_in, last_on_machines
from bedstone.desk.line_air import mill_for_day, rate_notes
from bedstone.desk.lying_contents import lying_contents
from bedstone.desk.machines import machines_hold
from bedstone.desk.made import made_batches, run_of_order, started_batches
from bedstone.desk.merged_rows import MG_IN_KG
from bedstone.desk.orders import all_orders, is_enough
from bedstone.desk.plan_json import named_by_content
from bedstone.desk.plans import order_of_running, released_plan
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import BadInput
from bedstone.mill.model import Mill, Order
from bedstone.mill.plan import Batch, BatchKind, Finding, Plan
from bedstone.planning.assemble import assemble, with_findings
from bedstone.planning.by_hand import run_by_hand
from bedstone.planning.day import plan_runs
from bedstone.planning.model import DayOutcome, DayProblem, OrderToMake

__all__ = ["QUICK_TRIES_AN_ORDER", "TRIES_AN_ORDER", "day_problem", "make_plan"]

TRIES_AN_ORDER = 1500
"""Orders of running tried for each order of the day: about a second's work on one core."""
QUICK_TRIES_AN_ORDER = 100
"""The same where the plan in force is a good beginning."""

BATCH_ID = re.compile(r"(?P<stem>.+)-(?P<number>\d{2,})(?:-flush\d*)?")


def make_plan(
    record: Record,
    *,
    day: dt.date,
    at: dt.datetime,
    seed: int = 0,
    orders: tuple[Order, ...] | None = None,
    by_hand: Sequence[tuple[str, str]] | None = None,
    tries_an_order: int = TRIES_AN_ORDER,
    keep_going: Callable[[float], bool] | None = None,
) -> Plan:
    """The plan of a day from what the record says now; nothing is written.

    Open orders less what was made and what is under way, stock as if the batches under way were
    done, machines as what really ran left them. Nothing starts before ``at``. ``orders`` asks what
    the plan would be with other orders; ``by_hand``, runs with their mixers in order of running,
    asks for that order instead of a search. ``tries_an_order`` bounds the search, so that the same
    record gives the same plan on any machine; QUICK_TRIES_AN_ORDER do where a released plan is
    there to begin from. ``keep_going`` may end it sooner: it is asked now and then, with the cost of
    the best so far in hundredths of a cent. The verifier has looked at the plan that is returned:
    one that it rejects has status "refused".
    """
    problem = day_problem(record, day=day, at=at, seed=seed, orders=orders)
    if by_hand is None:
        tries = tries_an_order * len(problem.orders)
        outcome = plan_runs(replace(problem, evaluations=tries), keep_going=keep_going)
    else:
        outcome = run_by_hand(problem, by_hand).outcome
    return _with_draws(record, problem, outcome)


def day_problem(
    record: Record,
    *,
    day: dt.date,
    at: dt.datetime,
    seed: int = 0,
    orders: tuple[Order, ...] | None = None,
) -> DayProblem:
    """A day as the record has it now, ready to be put before the planner."""
    if at.tzinfo is None:
        raise BadInput("A plan needs a time with its zone.", seen=at.isoformat())
    mill = current_mill(record)
    last = last_on_machines(record)
    used = _numbers_used(record)
    return DayProblem(
        mill=mill_for_day(record, mill, day),
        orders=_to_make(record, orders, used),
        stock_mg=without_held(record, stock_to_plan(record, day=day)),
        starting=machines_hold(record),
        day=day,
        now=at,
        seed=seed,
        dies=dies_in(mill, last),
        last_product=last,
        batches_used=used,
        free_at=free_times(record, day=day),
        lying_contents=lying_contents(record),
        in_force=_in_force(record, day),
    )


def _with_draws(record: Record, problem: DayProblem, outcome: DayOutcome) -> Plan:
    """The plan with its draws, judged by the verifier, named by its content."""
    mill, head = problem.mill, record.head()
    stock = lying_lots(record, dict(problem.stock_mg))
    drawn = draws_of_day(mill, _events(mill, outcome), stock=stock)
    by_batch, others = _by_batch(outcome, drawn.findings)
    plan = assemble(
        outcome,
        drawn.draws,
        made_at=problem.now,
        revision=mill.revision,
        position=head.position,
        head=head.head,
        batch_findings=by_batch,
        findings=(
            *others,
            *held_notes(record),
            *rate_notes(record, problem.day, {row.order.product for row in problem.orders}),
        ),
    )
    wanted = {row.order.order: row for row in problem.orders}
    return named_by_content(with_findings(plan, judged(record, plan, orders=wanted)))


def _to_make(
    record: Record, orders: tuple[Order, ...] | None, used: dict[str, int]
) -> tuple[OrderToMake, ...]:
    """Orders with what of them is still to be made."""
    gone_mg: dict[str, int] = {}
    for row in made_batches(record).values():
        if row.made.kind is BatchKind.FEED:
            gone_mg[row.made.run] = gone_mg.get(row.made.run, 0) + row.target_mg
    for batch in under_way(record):
        if batch.kind is BatchKind.FEED:
            gone_mg[batch.run] = gone_mg.get(batch.run, 0) + batch.mass_mg
    if orders is None:
        orders = tuple(row.order for row in all_orders(record) if row.status == "open")
    return tuple(
        OrderToMake(
            order=order,
            remaining_mg=max(0, wanted_mg - gone),
            batches_used=used.get(order.order, 0),
        )
        for order in orders
        if order.status == "open"
        for wanted_mg in (round(order.mass_kg * MG_IN_KG),)
        for gone in (gone_mg.get(run_of_order(order.order), 0),)
        if not is_enough(wanted_mg, gone)
    )


def _in_force(record: Record, day: dt.date) -> tuple[tuple[str, str], ...]:
    """Runs of the plan in force, each with its mixer, in order of their first batch or flush."""
    standing = released_plan(record, day)
    return () if standing is None else order_of_running(standing.plan)


def _numbers_used(record: Record) -> dict[str, int]:
    """The highest number of a batch or flush that is on record or under way, by its stem."""
    used: dict[str, int] = {}
    for batch in (*made_batches(record), *started_batches(record)):
        found = BATCH_ID.fullmatch(batch)
        if found is not None:
            stem = found["stem"]
            used[stem] = max(used.get(stem, 0), int(found["number"]))
    return used


def _events(mill: Mill, outcome: DayOutcome) -> list[DayEvent]:
    """Batches, grinding and feed for stock, in order of time; of one moment, what brings first."""
    stock_runs = {run.run for run in outcome.runs if run.pack == "stock"}
    events: list[tuple[dt.datetime, int, DayEvent]] = [
        (job.start_at, 0, job) for job in outcome.grinding
    ]
    for batch in outcome.batches:
        events.append((batch.start_at, 1, _to_draw(mill, batch)))
        if batch.run in stock_runs and batch.kind is BatchKind.FEED:
            arrival = Arrival(
                place=batch.destination,
                material=batch.material,
                lot=batch.batch,
                mass_mg=batch.mass_mg,
                at=batch.end_at,
            )
            events.append((batch.end_at, 0, arrival))
    events.sort(key=lambda event: event[:2])
    return [event for _, _, event in events]


def _to_draw(mill: Mill, batch: Batch) -> BatchToDraw:
    """A batch with its parts by the version of the formula it is made by; a flush has one."""
    lines = (
        ()
        if batch.formula_version is None
        else mill.lines_of(batch.material, batch.formula_version)
    )
    parts = tuple(Part(ingredient=row.ingredient, parts_frac=row.parts_frac) for row in lines)
    return BatchToDraw(
        batch=batch.batch,
        material=batch.material,
        mixer=batch.mixer,
        mass_mg=batch.mass_mg,
        parts=parts or (Part(ingredient=batch.material, parts_frac=1.0),),
    )


def _by_batch(
    outcome: DayOutcome, findings: tuple[Finding, ...]
) -> tuple[dict[str, tuple[Finding, ...]], tuple[Finding, ...]]:
    """Findings of draws sorted to the batches they are about, and the others."""
    ids = {batch.batch for batch in outcome.batches}
    by_batch: dict[str, tuple[Finding, ...]] = {}
    others: list[Finding] = []
    for finding in findings:
        if finding.about in ids:
            by_batch[finding.about] = (*by_batch.get(finding.about, ()), finding)
        else:
            others.append(finding)
    return by_batch, tuple(others)
