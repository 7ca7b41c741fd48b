"""A plan as a whole: its day, its ids, its status."""

import datetime as dt
from collections import Counter
from collections.abc import Iterable

from bedstone.mill.model import Mill
from bedstone.mill.plan import Finding, Plan, Verdict
from bedstone.planning.verify_known import Known, stop

__all__ = ["day_findings", "twice"]

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
    findings = list(_on_day(mill, plan))
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
