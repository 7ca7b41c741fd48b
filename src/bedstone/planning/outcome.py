"""The order of running as the values of a plan: runs, batches, bars, costs."""

from dataclasses import dataclass, field

from bedstone.mill.mixing import mix_times
from bedstone.mill.model import Mill
from bedstone.mill.plan import (
    Bar,
    BarKind,
    Batch,
    BatchKind,
    CleanOut,
    Costs,
    Finding,
    GrindJob,
    Run,
    Verdict,
)
from bedstone.planning.batches import MG_KG
from bedstone.planning.bound_late import earliest_ready_s
from bedstone.planning.evaluate import CENTS100_USD, Evaluator
from bedstone.planning.jobs import Job
from bedstone.planning.reasons import fate_of_flush, reason_of
from bedstone.planning.sequence import Order
from bedstone.planning.shifts import clock
from bedstone.planning.timetable import Placed
from bedstone.planning.words import mass_text
from bedstone.quantities.times import shown_minutes

__all__ = ["Parts", "costs_of", "parts_of"]


@dataclass(slots=True, eq=False)
class Parts:
    """What an order of running becomes."""

    runs: list[Run] = field(default_factory=list)
    batches: list[Batch] = field(default_factory=list)
    clean_outs: list[CleanOut] = field(default_factory=list)
    grinding: list[GrindJob] = field(default_factory=list)
    bars: list[Bar] = field(default_factory=list)


def parts_of(evaluator: Evaluator, order: Order) -> Parts:
    """Runs, batches, clean-outs, grinding and bars, each in order of time."""
    parts = Parts()
    placed = [step.placed for step in order.steps if step.placed is not None]
    for one in placed:
        _add_run(evaluator, parts, one)
    _add_grinding(evaluator, parts, placed)
    parts.runs.sort(key=lambda run: (run.start_at, run.run))
    parts.batches.sort(key=lambda batch: (batch.start_at, batch.end_at, batch.batch))
    parts.clean_outs.sort(key=lambda item: (item.start_at, item.clean_out))
    parts.bars.sort(key=lambda bar: (bar.start_at, bar.machine, bar.end_at))
    return parts


def costs_of(evaluator: Evaluator, order: Order) -> Costs:
    """What an order of running costs. Ingredients are those of what is made for orders."""
    placed = [step.placed for step in order.steps if step.placed is not None]
    own = [evaluator.cost_of(one) for one in placed]
    mill = evaluator.floor.mill
    flushes_kg = [mass for one in placed for mass in one.treatment.flush_kg]
    return Costs(
        ingredients_cents100=sum(
            _ingredients_cents100(mill, one.job, sum(one.option.masses_kg))
            for one in placed
            if one.job.order is not None
        ),
        flush_cents100=sum(round(cost.flush) for cost in own),
        changeover_cents100=sum(round(cost.changeover) for cost in own),
        clean_out_cents100=sum(round(cost.clean_out) for cost in own),
        late_cents100=sum(round(cost.late) for cost in own),
        flush_mg=sum(round(mass_kg * MG_KG) for mass_kg in flushes_kg),
        flushes=sum(1 for one in placed if one.treatment.flush_kg),
        clean_outs=sum(1 for one in placed if one.treatment.clean),
        changeover_s=float(sum(one.changeover_s for one in placed)),
    )


def _ingredients_cents100(mill: Mill, job: Job, mass_kg: float) -> int:
    usd_kg = sum(
        parts_frac * _usd_kg(mill, material, ()) for material, parts_frac in job.parts.items()
    )
    return round(mass_kg * usd_kg * CENTS100_USD)


def _usd_kg(mill: Mill, material: str, above: tuple[str, ...]) -> float:
    row = mill.ingredient_by_code.get(material)
    if row is not None:
        return row.price_usd_t / 1000
    formula = mill.running_formula(material)
    if formula is None or material in above:
        return 0.0
    return sum(
        line.parts_frac * _usd_kg(mill, line.ingredient, (*above, material))
        for line in mill.lines_of(material, formula.version)
    )


def _add_run(evaluator: Evaluator, parts: Parts, one: Placed) -> None:
    mill, day, job = evaluator.floor.mill, evaluator.floor.day, one.job
    first = job.first_number
    feed_ids = [f"{job.stem}-{first + at:02d}" for at in range(one.option.cut.batches)]
    flush_ids = [
        f"{feed_ids[0]}-flush{'' if at == 0 else at + 1}"
        for at in range(len(one.treatment.flush_kg))
    ]
    reason = reason_of(mill, job, one.treatment) if one.treatment.breaches else ""
    batches = _batches(evaluator, one, ids=flush_ids + feed_ids, reason=reason)
    parts.batches.extend(batches)
    parts.bars.extend(_bars(evaluator, one, flush_ids=flush_ids, feed_ids=feed_ids, reason=reason))
    if one.clean_s is not None:
        parts.clean_outs.append(
            CleanOut(
                clean_out=f"{feed_ids[0]}-clean",
                before_batch=feed_ids[0],
                places=one.treatment.clean,
                start_at=clock(mill, day, one.clean_s[0]),
                end_at=clock(mill, day, one.clean_s[1]),
                reason=reason,
            )
        )
    parts.runs.append(_run(evaluator, one, feed_ids=feed_ids, batches=batches))


def _run(evaluator: Evaluator, one: Placed, *, feed_ids: list[str], batches: list[Batch]) -> Run:
    mill, day, job = evaluator.floor.mill, evaluator.floor.day, one.job
    own = evaluator.cost_of(one)
    cost_cents100 = _ingredients_cents100(mill, job, sum(one.option.masses_kg))
    cost_cents100 += round(own.flush) + round(own.changeover) + round(own.clean_out)
    last = one.path[-1]
    return Run(
        run=job.run,
        order=job.order.order if job.order is not None else "",
        customer=job.order.customer if job.order is not None else "",
        product=job.product.product,
        formula_version=job.version,
        mass_mg=one.option.cut.mass_mg,
        pack=job.pack,
        bags=job.bags,
        batches=tuple(feed_ids),
        finished_bin=_finished_bin(mill, one.path),
        packing_machine=last if last in mill.machine_by_code else "",
        start_at=min(batch.start_at for batch in batches if batch.kind is BatchKind.FEED),
        ready_at=clock(mill, day, one.ready_s),
        due_at=job.order.due_at if job.order is not None else None,
        late_s=float(max(0, one.ready_s - job.due_s)),
        cost_cents100=cost_cents100,
        price_cents100=round(job.tonnes * job.product.price_usd_t * CENTS100_USD)
        if job.order is not None
        else 0,
        findings=tuple(_run_findings(evaluator, one)),
    )


def _run_findings(evaluator: Evaluator, one: Placed) -> list[Finding]:
    mill, job, cut = evaluator.floor.mill, one.job, one.option.cut
    findings: list[Finding] = []
    if cut.is_smallest_fill:
        row = mill.machine_by_code[one.option.mixer]
        ordered = job.order is not None
        findings.append(
            Finding(
                code="batches.surplus",
                verdict=Verdict.ACT if ordered else Verdict.NOTE,
                about=job.run,
                text=(
                    f"{job.run} makes {mass_text(mill, cut.surplus_mg / MG_KG)} more than "
                    f"{'is ordered' if ordered else 'is wanted'}: the smallest fill of "
                    f"{row.machine} is {mass_text(mill, row.mass_min_kg or 0.0)}."
                ),
                value=cut.surplus_mg / MG_KG,
                limit=row.mass_min_kg,
                unit="kg",
                source="machines table, mass_min",
                do="join the order with another of the same feed, or find a use for the surplus",
            )
        )
    late_s = max(0, one.ready_s - job.due_s)
    if late_s:
        least = _least_late_text(evaluator, job)
        findings.append(
            Finding(
                code="time.late",
                verdict=Verdict.NOTE,
                about=job.run,
                text=f"Ready {shown_minutes(late_s)} after it is due{least}.",
                value=late_s / 3600,
                limit=0.0,
                unit="h",
                source="order",
                do="tell the customer"
                + ("" if least else ", or move it forward at the cost of another"),
            )
        )
    return findings


def _least_late_text(evaluator: Evaluator, job: Job) -> str:
    """What of a lateness no order of running takes away; empty where it could be in time."""
    earliest_s = earliest_ready_s(evaluator, job)
    if earliest_s is None or earliest_s <= job.due_s:
        return ""
    return f"; even run first of all it would be {shown_minutes(earliest_s - job.due_s)} late"


def _finished_bin(mill: Mill, path: tuple[str, ...]) -> str:
    bins = [code for code in path if code in mill.bin_by_code]
    finished = [code for code in bins if mill.bin_by_code[code].kind == "finished"]
    return (finished or bins or [path[-1]])[-1]


def _batches(evaluator: Evaluator, one: Placed, *, ids: list[str], reason: str) -> list[Batch]:
    mill, day, job = evaluator.floor.mill, evaluator.floor.day, one.job
    fate = fate_of_flush(mill, one.treatment) if one.treatment.flush_kg else ""
    batches: list[Batch] = []
    for batch, at in zip(ids, one.batches, strict=True):
        flush = at.is_flush
        material = mill.settings.flush_material if flush else job.product.product
        mixed = mix_times(
            mill, one.option.mixer, material=material, ingredients=() if flush else tuple(job.parts)
        )
        batches.append(
            Batch(
                batch=batch,
                kind=BatchKind.FLUSH if flush else BatchKind.FEED,
                run=job.run,
                material=material,
                formula_version=None if flush else job.version,
                mass_mg=round(at.mass_kg * MG_KG),
                mixer=one.option.mixer,
                route=one.treatment.flush_route if flush else one.path,
                destination=(mill.settings.flush_bin if flush else _finished_bin(mill, one.path)),
                draws=(),
                dry_mix_s=mixed.dry_mix_s,
                wet_mix_s=mixed.wet_mix_s,
                start_at=clock(mill, day, at.start_s),
                end_at=clock(mill, day, at.end_s),
                reason=reason if flush else "",
                fate=fate if flush else "",
            )
        )
    return batches


def _bars(
    evaluator: Evaluator,
    one: Placed,
    *,
    flush_ids: list[str],
    feed_ids: list[str],
    reason: str,
) -> list[Bar]:
    mill, day = evaluator.floor.mill, evaluator.floor.day
    name = one.job.product.name
    seen: dict[tuple[str, BarKind], int] = {}
    bars: list[Bar] = []
    for at in one.bars:
        number = seen.get((at.machine, at.kind), 0)
        seen[(at.machine, at.kind)] = number + 1
        about, label = {
            BarKind.BATCH: (feed_ids[min(number, len(feed_ids) - 1)], name),
            BarKind.FLUSH: (
                flush_ids[min(number, len(flush_ids) - 1)] if flush_ids else "",
                f"flush before {name}",
            ),
            BarKind.CLEAN_OUT: (f"{feed_ids[0]}-clean", f"clean-out before {name}"),
            BarKind.CHANGEOVER: (one.job.run, f"changeover to {name}"),
        }.get(at.kind, (one.job.run, name))
        bars.append(
            Bar(
                machine=at.machine,
                kind=at.kind,
                about=about,
                label=label,
                start_at=clock(mill, day, at.start_s),
                end_at=clock(mill, day, at.end_s),
                reason=reason if at.kind in (BarKind.FLUSH, BarKind.CLEAN_OUT) else "",
            )
        )
    return bars


def _add_grinding(evaluator: Evaluator, parts: Parts, placed: list[Placed]) -> None:
    mill, day = evaluator.floor.mill, evaluator.floor.day
    counts: dict[str, int] = {}
    grinds = sorted(
        (grind for one in placed for grind in one.grinds),
        key=lambda grind: (grind.start_s, grind.key),
    )
    for grind in grinds:
        pool = evaluator.floor.work.pools[grind.key]
        counts[pool.material] = counts.get(pool.material, 0) + 1
        job = f"G-{pool.material}-{counts[pool.material]}"
        start_at, end_at = clock(mill, day, grind.start_s), clock(mill, day, grind.end_s)
        out_mg = round(grind.out_kg * MG_KG)
        parts.grinding.append(
            GrindJob(
                job=job,
                machine=pool.grinder.machine,
                ingredient=pool.source,
                makes=pool.material,
                from_place=pool.from_place,
                to_place=pool.to_place,
                mass_in_mg=round(out_mg / (1.0 - pool.grinder.loss_frac)),
                mass_out_mg=out_mg,
                start_at=start_at,
                end_at=end_at,
            )
        )
        parts.bars.append(
            Bar(
                machine=pool.grinder.machine,
                kind=BarKind.GRIND,
                about=job,
                label=mill.name_of(pool.material),
                start_at=start_at,
                end_at=end_at,
            )
        )
