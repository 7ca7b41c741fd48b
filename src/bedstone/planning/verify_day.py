"""A plan as a whole: its day, its ids, its status, and what it says that it costs."""

import datetime as dt
from collections import Counter
from collections.abc import Iterable

from bedstone.mill.model import Mill
from bedstone.mill.plan import BarKind, Batch, BatchKind, Finding, Plan, Verdict
from bedstone.planning.verify_known import Known, stop

__all__ = ["day_findings", "twice"]

CENTS100_USD = 10_000
MG_T = 1_000_000_000
PART = 0.01  # of a cost: what rounding may make it differ
STATUS = ("proposed", "refused")


def twice(plan: Plan) -> list[Finding]:
    """Ids that stand for two things: nothing else can be judged then."""
    findings: list[Finding] = []
    names = [batch.batch for batch in plan.batches] + [row.clean_out for row in plan.clean_outs]
    for ids, word in (
        (names, "batch or clean-out"),
        ([run.run for run in plan.runs], "run"),
        ([job.job for job in plan.grinding], "grinding job"),
    ):
        for name, count in Counter(ids).items():
            if count > 1:
                text = f"The plan has {count} times a {word} {name}."
                findings.append(stop("plan.twice", name, text, value=float(count), limit=1.0))
    return findings


def day_findings(mill: Mill, plan: Plan, known: Known) -> list[Finding]:
    """What does not lie on the day, has passed already, or is said wrongly of the whole."""
    findings = [*_on_day(mill, plan), *_costs(mill, plan, known)]
    if plan.status not in STATUS:
        text = f"The plan says of itself that it is {plan.status or 'nothing'}."
        findings.append(stop("plan.status", plan.plan, text))
    if known.now is not None:
        findings.extend(_past(mill, plan, known.now))
    return findings


def _on_day(mill: Mill, plan: Plan) -> Iterable[Finding]:
    zone = mill.settings.zone
    begins = dt.datetime.combine(plan.day, dt.time(0), tzinfo=zone).astimezone(dt.UTC)
    ends = dt.datetime.combine(plan.day + dt.timedelta(days=1), dt.time(0), tzinfo=zone)
    for bar in plan.bars:
        if bar.start_at < begins or bar.end_at > ends.astimezone(dt.UTC):
            text = (
                f"{bar.machine} would run {bar.about} from "
                f"{bar.start_at.astimezone(zone):%Y-%m-%d %H:%M} to "
                f"{bar.end_at.astimezone(zone):%Y-%m-%d %H:%M}, not on the day of the plan, "
                f"{plan.day.isoformat()}."
            )
            yield stop("time.day", bar.about, text)


def _past(mill: Mill, plan: Plan, now: dt.datetime) -> Iterable[Finding]:
    late = sorted((batch.start_at, batch.batch) for batch in plan.batches if batch.start_at < now)
    if late:
        zone = mill.settings.zone
        yield Finding(
            code="time.past",
            verdict=Verdict.NOTE,
            about=late[0][1],
            text=(
                f"{len(late)} batches have not begun and should have by now, the first of them "
                f"{late[0][1]} at {late[0][0].astimezone(zone):%Y-%m-%d %H:%M}."
            ),
            value=float(len(late)),
            limit=0.0,
            unit="batches",
            source="the clock",
            do="begin it, or plan the day again",
        )


def _flush_cents100(mill: Mill, flushes: list[Batch]) -> float:
    """Flush material, and the crew's time over it."""
    usd = sum(row.mass_mg / MG_T * _usd_t(mill, row.material, ()) for row in flushes)
    crew_s = sum((row.end_at - row.start_at).total_seconds() for row in flushes)
    return (usd + crew_s / 3600 * mill.settings.labour_usd_h) * CENTS100_USD


def _usd_t(mill: Mill, material: str, above: tuple[str, ...]) -> float:
    row = mill.ingredient_by_code.get(material)
    if row is not None:
        return row.price_usd_t
    formula = mill.running_formula(material)
    if formula is None or material in above:
        return 0.0
    return sum(
        line.parts_frac * _usd_t(mill, line.ingredient, (*above, material))
        for line in mill.lines_of(material, formula.version)
    )


def _costs(mill: Mill, plan: Plan, known: Known) -> Iterable[Finding]:
    """A word where a cost is not what runs, flushes and bars make it; nobody is hurt by it."""
    if any(known.has_begun(run) for run in plan.runs):
        return  # part of it is on record and not before us
    ordered = {run.run for run in plan.runs if run.order}
    flushes = [row for row in plan.batches if row.kind is BatchKind.FLUSH]
    bars = [bar for bar in plan.bars if bar.kind is BarKind.CHANGEOVER]
    changeover_s = sum((bar.end_at - bar.start_at).total_seconds() for bar in bars)
    labour = mill.settings.labour_usd_h / 3600 * CENTS100_USD
    clean_s = sum((row.end_at - row.start_at).total_seconds() for row in plan.clean_outs)
    ingredients = sum(
        batch.mass_mg / MG_T * _usd_t(mill, batch.material, ()) * CENTS100_USD
        for batch in plan.batches
        if batch.kind is BatchKind.FEED and batch.run in ordered
    )
    costs = plan.costs
    rows = (
        ("ingredients_cents100", costs.ingredients_cents100, ingredients),
        ("flush_cents100", costs.flush_cents100, _flush_cents100(mill, flushes)),
        ("changeover_cents100", costs.changeover_cents100, changeover_s * labour),
        ("clean_out_cents100", costs.clean_out_cents100, clean_s * labour),
        ("changeover_s", costs.changeover_s, changeover_s),
        ("flush_mg", costs.flush_mg, sum(row.mass_mg for row in flushes)),
        ("flushes", costs.flushes, len({row.run for row in flushes})),
        ("clean_outs", costs.clean_outs, len(plan.clean_outs)),
    )
    for name, says, reckoned in rows:
        if abs(says - reckoned) > PART * max(1.0, abs(reckoned)) + (
            len(plan.runs) if name.endswith("cents100") else 0
        ):
            yield Finding(
                code="plan.costs",
                verdict=Verdict.NOTE,
                about=plan.plan,
                text=f"The plan says {name} is {says:.0f}; what stands in it makes {reckoned:.0f}.",
                value=float(says),
                limit=float(reckoned),
                source="the plan itself",
                do="do not go by its costs; plan the day again for true ones",
            )
