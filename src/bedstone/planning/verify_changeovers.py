"""Time lost between feeds: what the tables want must be in the plan."""

import itertools
from collections.abc import Iterable, Mapping

from bedstone.mill.model import Machine, Mill
from bedstone.mill.plan import Bar, BarKind, Finding, Plan, Verdict
from bedstone.planning.verify_known import Known, stop
from bedstone.quantities.times import shown_span

__all__ = ["changeover_findings"]

A_SECOND = 1.0
WORK = (BarKind.BATCH, BarKind.FLUSH, BarKind.RUN)
MACHINES = "machines table, changeover and die_change"


def changeover_findings(mill: Mill, plan: Plan, known: Known) -> list[Finding]:
    """Where the time between two feeds is missing."""
    findings: list[Finding] = []
    run_of = {batch.batch: batch.run for batch in plan.batches}
    run_of |= {batch: run.run for run in plan.runs for batch in run.batches}
    run_of |= {run.run: run.run for run in plan.runs}
    products = {run.run: run.product for run in plan.runs}
    by_machine: dict[str, list[Bar]] = {}
    for bar in plan.bars:
        by_machine.setdefault(bar.machine, []).append(bar)
        findings.extend(_bar(mill, bar, run_of, known))
    for machine, bars in sorted(by_machine.items()):
        row = mill.machine_by_code.get(machine)
        if row is not None:
            feeds = [
                (bar, products.get(run_of.get(bar.about, known.batches.get(bar.about, "")), ""))
                for bar in sorted(bars, key=lambda bar: (bar.start_at, bar.end_at))
                if bar.kind in WORK
            ]
            findings.extend(_between(mill, row, bars, feeds))
            findings.extend(_first(mill, row, bars, feeds, known))
    return findings


def _bar(mill: Mill, bar: Bar, run_of: Mapping[str, str], known: Known) -> Iterable[Finding]:
    """A bar is of a machine that there is, about something in the plan, and ends after it starts."""
    if bar.machine not in mill.machine_by_code:
        text = f"The plan has a bar of {bar.machine}, which is no machine of the mill."
        yield stop("time.bars", bar.about, text, source="machines table")
    elif bar.end_at < bar.start_at:
        yield stop("time.bars", bar.about, f"A bar of {bar.machine} ends before it starts.")
    elif bar.kind in WORK and bar.about not in run_of and bar.about not in known.batches:
        text = f"{bar.machine} has a bar for {bar.about}, which the plan does not have."
        yield stop("time.bars", bar.about, text)


def _needed_s(mill: Mill, machine: Machine, before: str, behind: str) -> float:
    """Time from one feed to another at a machine. [s]"""
    if "" in (before, behind) or before == behind:
        return 0.0
    needed_s = float(int(machine.changeover_s))
    dies = [
        mill.product_by_code[code].die if code in mill.product_by_code else ""
        for code in (before, behind)
    ]
    if machine.kind == "pellet line" and "" not in dies and dies[0] != dies[1]:
        needed_s += int(machine.die_change_s)
    return needed_s


def _given_s(bars: Iterable[Bar], behind: Bar, before: Bar | None) -> float:
    """Changeover in the bars of a machine between two pieces of work. [s]"""
    return sum(
        (bar.end_at - bar.start_at).total_seconds()
        for bar in bars
        if bar.kind is BarKind.CHANGEOVER
        and (before is None or bar.start_at >= before.end_at)
        and bar.end_at <= behind.start_at
    )


def _between(
    mill: Mill, machine: Machine, bars: list[Bar], feeds: list[tuple[Bar, str]]
) -> Iterable[Finding]:
    for (before, its), (behind, own) in itertools.pairwise(feeds):
        needed_s = _needed_s(mill, machine, its, own)
        given_s = _given_s(bars, behind, before)
        if given_s < needed_s - A_SECOND:
            text = (
                f"{machine.machine} goes from {mill.name_of(its)} to {mill.name_of(own)} before "
                f"{behind.about} with {shown_span(given_s)} of changeover; it needs "
                f"{shown_span(needed_s)}."
            )
            yield stop(
                "changeover.time",
                behind.about,
                text,
                value=given_s,
                limit=needed_s,
                unit="s",
                source=MACHINES,
            )


def _first(
    mill: Mill, machine: Machine, bars: list[Bar], feeds: list[tuple[Bar, str]], known: Known
) -> Iterable[Finding]:
    """A word where the first feed of the day is another than the last before it."""
    last = known.last.get(machine.machine, "")
    if not feeds or not last:
        return
    first, own = feeds[0]
    needed_s, given_s = _needed_s(mill, machine, last, own), _given_s(bars, first, None)
    if given_s < needed_s - A_SECOND:
        yield Finding(
            code="changeover.first",
            verdict=Verdict.ACT,
            about=first.about,
            text=(
                f"{machine.machine} ran {mill.name_of(last)} last; before {first.about} it needs "
                f"{shown_span(needed_s)} of changeover, and the plan has "
                f"{shown_span(given_s)}."
            ),
            value=given_s,
            limit=needed_s,
            unit="s",
            source=MACHINES,
            do="plan the day again, or begin so much later",
        )
