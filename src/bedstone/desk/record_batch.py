"""What was really weighed into a batch becomes a fact with all its movements."""

import datetime as dt
import math
from dataclasses import dataclass

from bedstone.batching.divisions import mass_on_scale
from bedstone.batching.findings import findings_of_draws
from bedstone.batching.model import DrawSeen
from bedstone.desk.appending import appended, nobody_since
from bedstone.desk.beforehand import must_be_confirmed
from bedstone.desk.check_plan import findings_of_start
from bedstone.desk.holds import HELD, refuse_held
from bedstone.desk.made import BATCH_MADE, MadeBatch, MadeDraw, made_batches, started_batches
from bedstone.desk.merged_rows import MG_IN_KG
from bedstone.desk.plain_values import row_plain
from bedstone.desk.plans import PlanStanding, batch_of, find_plan
from bedstone.desk.rebalance_batch import as_rebalanced, rebalancing_finding
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import BadInput, Fault, Refused
from bedstone.ledger.model import Fact, How, Json, Lot, LotKind, Movement, Reading, Recorded
from bedstone.mill.model import Mill
from bedstone.mill.plan import Batch, BatchKind, Draw, Finding, Verdict

__all__ = ["ActualDraw", "BatchRecorded", "batch_fact", "check_batch", "record_batch"]

MOST_TIMES_TARGET = 2
"""More than this many times its target is a slip of the keyboard, not a draw."""
FEW_DIVISIONS = 10
"""A draw of so few divisions may well be off by more than its own target."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ActualDraw:
    """What was really drawn: mass, the reading as it was read, the lot if it was scanned."""

    sequence: int
    actual_mg: int
    seen: Reading | None = None
    lot: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchRecorded:
    """The fact of a batch and what its checks say."""

    recorded: Recorded
    findings: tuple[Finding, ...]


def record_batch(
    record: Record,
    plan_id: str,
    batch_id: str,
    draws: tuple[ActualDraw, ...],
    *,
    by: str,
    at: dt.datetime,
    after: int | None = None,
) -> BatchRecorded:
    """Record a batch or flush as it was really made, all its movements in one fact.

    Asks: one actual for each draw of the plan, nothing or more, at most twice its target.
    Refused when: the plan is not released, the batch is on record already, a scanned lot is on
    hold, a drug was not confirmed by a second person. A batch that was re-balanced is held against
    its new targets, and the record says so. Records: ``batching.batch_made/1``; when a check says STOP, ``quality.held/1`` on the
    batch right after it. Every batch is verified here again, on what really ran before it began.
    """
    mill = current_mill(record)
    findings: tuple[Finding, ...] = ()

    def act() -> Fact:
        nonlocal findings
        nobody_since(record, after, kinds=(BATCH_MADE,), key="batch", value=batch_id)
        standing, batch = check_batch(record, plan_id, batch_id, draws)
        findings = findings_of_draws(mill, batch, seen=tuple(_seen(draw) for draw in draws))
        begun = started_batches(record).get(batch_id)
        begun_at = None if begun is None else begun.happened_at
        planned = batch_of(standing.plan, batch_id)
        findings += rebalancing_finding(record, mill, planned)
        findings += findings_of_start(record, standing.plan, batch, begun_at=begun_at)
        return batch_fact(mill, standing, batch, draws=draws, findings=findings, by=by, at=at)

    recorded = appended(record, act, at=at)
    why = " ".join(item.text for item in findings if item.verdict is Verdict.STOP)
    if why:
        content: dict[str, Json] = {"lots": [batch_id], "why": why}
        record.append(Fact(kind=HELD, happened_at=at, by=by, content=content), recorded_at=at)
    return BatchRecorded(recorded=recorded, findings=findings)


def check_batch(
    record: Record, plan_id: str, batch_id: str, draws: tuple[ActualDraw, ...]
) -> tuple[PlanStanding, Batch]:
    """The plan and the batch, if the batch may be recorded with these draws."""
    mill = current_mill(record)
    standing = find_plan(record, plan_id)
    batch = as_rebalanced(record, batch_of(standing.plan, batch_id))
    _may_record(record, standing, batch)
    _check_draws(mill, batch, draws)
    for draw in draws:
        _check_lot(record, mill, batch, draw)
    given = [(draw.sequence, draw.actual_mg, draw.lot) for draw in draws]
    must_be_confirmed(record, mill, batch, given)
    return standing, batch


def _may_record(record: Record, standing: PlanStanding, batch: Batch) -> None:
    earlier = made_batches(record).get(batch.batch)
    if earlier is not None:
        raise Refused(
            f"Batch {batch.batch} is on record already.",
            seen=f"recorded by {earlier.by}, fact {earlier.position}",
            do=f"if it was recorded wrongly, take fact {earlier.position} back first",
        )
    if standing.status != "released":
        raise Refused(
            f"Plan {standing.plan.plan} is {standing.status}, so batch {batch.batch} has no "
            "released sheet.",
            do="a manager releases the plan first",
        )


def _seen(draw: ActualDraw) -> DrawSeen:
    return DrawSeen(
        sequence=draw.sequence,
        actual_mg=draw.actual_mg,
        number=draw.seen.number if draw.seen else "",
        unit=draw.seen.unit if draw.seen else "",
        lot=draw.lot,
    )


def _check_draws(mill: Mill, batch: Batch, draws: tuple[ActualDraw, ...]) -> None:
    """Every actual must be possible and there must be one for each draw; all faults at once."""
    faults = _faults_of_draws(mill, batch, draws)
    if not faults and not any(draw.actual_mg for draw in draws):
        faults = [Fault(column="all draws", found="nothing", allowed="something was weighed")]
    if faults:
        raise BadInput(f"Batch {batch.batch} cannot be recorded like this.", faults=tuple(faults))


def _faults_of_draws(mill: Mill, batch: Batch, draws: tuple[ActualDraw, ...]) -> list[Fault]:
    planned = {draw.sequence: draw for draw in batch.draws}
    faults: list[Fault] = []
    given: set[int] = set()

    def fault(sequence: int, found: str, allowed: str, do: str = "") -> None:
        name = f"draw {sequence}"
        if sequence in planned:
            name += f" ({mill.name_of(planned[sequence].ingredient)})"
        faults.append(Fault(column=name, found=found, allowed=allowed, do=do))

    def shown(mass_mg: int, on: Draw) -> str:
        return mass_on_scale(mass_mg, on.division_mg, units=mill.settings.units)

    for draw in draws:
        target = planned.get(draw.sequence)
        if target is None:
            fault(draw.sequence, "an actual", f"draws 1 to {len(planned)} of {batch.batch}")
        elif draw.sequence in given:
            fault(draw.sequence, "two actuals", "one")
        elif draw.actual_mg < 0:
            fault(draw.sequence, "less than nothing", "0 or more")
        elif draw.actual_mg > _most_mg(target):
            ask = "look at the decimal point and the unit, and type it again"
            most = f"at most {shown(_most_mg(target), target)}"
            fault(draw.sequence, shown(draw.actual_mg, target), most, ask)
        given.add(draw.sequence)
    for sequence in sorted(planned.keys() - given):
        fault(sequence, "no actual", "one for each draw; 0 if it was left out")
    return faults


def _most_mg(draw: Draw) -> int:
    return max(
        MOST_TIMES_TARGET * draw.target_mg, draw.target_mg + FEW_DIVISIONS * draw.division_mg
    )


def _check_lot(record: Record, mill: Mill, batch: Batch, draw: ActualDraw) -> None:
    """A scanned lot must be known, of the right material, and not on hold."""
    if draw.lot is None:
        return
    wanted = next(row.ingredient for row in batch.draws if row.sequence == draw.sequence)
    lot, _ = record.lot(draw.lot)
    ingredient = mill.ingredient_by_code.get(wanted)
    allowed = {wanted, ingredient.ground_from if ingredient else ""}
    if lot.material not in allowed:
        raise BadInput(
            f"Lot {draw.lot} is not what draw {draw.sequence} of {batch.batch} asks for.",
            seen=mill.name_of(lot.material),
            allowed=mill.name_of(wanted),
            do="scan the lot again; if this is what went in, put the batch aside and say so",
        )
    refuse_held(record, (draw.lot,), act="put into a batch")


def batch_fact(
    mill: Mill,
    standing: PlanStanding,
    batch: Batch,
    *,
    draws: tuple[ActualDraw, ...],
    findings: tuple[Finding, ...],
    by: str,
    at: dt.datetime,
) -> Fact:
    """The fact of a batch or flush that was made with these draws, all its movements in it."""
    made = {draw.sequence: draw for draw in draws}
    rows = tuple(
        MadeDraw(
            sequence=draw.sequence,
            ingredient=draw.ingredient,
            from_place=draw.from_place,
            instrument=draw.instrument,
            target_mg=draw.target_mg,
            actual_mg=made[draw.sequence].actual_mg,
            tolerance_mg=draw.tolerance_mg,
            lot=made[draw.sequence].lot,
        )
        for draw in batch.draws
    )
    content = row_plain(
        MadeBatch(
            batch=batch.batch,
            run=batch.run,
            plan=standing.plan.plan,
            kind=batch.kind,
            material=batch.material,
            formula_version=batch.formula_version,
            mixer=batch.mixer,
            route=batch.route,
            destination=batch.destination,
            draws=rows,
            dry_mix_s=batch.dry_mix_s,
            wet_mix_s=batch.wet_mix_s,
            findings=findings,
        )
    )
    return Fact(
        kind=BATCH_MADE,
        happened_at=at,
        by=by,
        content=content,
        movements=_movements(mill, batch, made),
        lots=(Lot(lot=batch.batch, kind=LotKind.BATCH, material=batch.material),),
    )


def _movements(mill: Mill, batch: Batch, made: dict[int, ActualDraw]) -> tuple[Movement, ...]:
    """Each draw into the mixer, the dust out of it, and all the rest to the next place."""
    drawn = tuple(
        Movement(
            from_place=draw.from_place,
            to_place=batch.mixer,
            mass_mg=made[draw.sequence].actual_mg,
            material=draw.ingredient,
            how=How.METERED if draw.how == "metered" else How.WEIGHED,
            instrument=draw.instrument,
            seen=made[draw.sequence].seen,
            target_mg=draw.target_mg,
            mass_sd_mg=_sd_mg(mill, draw, made[draw.sequence].actual_mg),
            lot=made[draw.sequence].lot,
        )
        for draw in batch.draws
        if made[draw.sequence].actual_mg
    )
    mixed_mg = sum(movement.mass_mg for movement in drawn)
    mixer = mill.machine_by_code.get(batch.mixer)
    dust_mg = round(mixed_mg * mixer.loss_frac) if mixer else 0
    out = [(_next_place(batch), mixed_mg - dust_mg)]
    if dust_mg:
        out.append(("air", dust_mg))
    sd_mg = math.isqrt(sum(movement.mass_sd_mg**2 for movement in drawn))
    return drawn + tuple(
        Movement(
            from_place=batch.mixer,
            to_place=place,
            mass_mg=mass_mg,
            material=batch.material,
            how=How.RECKONED,
            mass_sd_mg=sd_mg if place != "air" else 0,
            lot=batch.batch,
        )
        for place, mass_mg in out
    )


def _next_place(batch: Batch) -> str:
    """Where the mixer empties into. A flush is booked straight into the bin that it ends in."""
    if batch.kind is BatchKind.FLUSH or len(batch.route) == 1:
        return batch.destination
    return batch.route[1]


def _sd_mg(mill: Mill, draw: Draw, actual_mg: int) -> int:
    """Standard deviation of one draw, as its instrument has it."""
    scale = mill.scale_by_code.get(draw.instrument)
    if scale is not None and scale.sd_kg is not None:
        return round(scale.sd_kg * MG_IN_KG)
    meter = mill.meter_by_code.get(draw.instrument)
    if meter is not None:
        return round(meter.sd_frac * actual_mg)
    return draw.division_mg // 2
