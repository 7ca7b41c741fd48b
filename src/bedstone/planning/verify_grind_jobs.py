"""Grinding jobs of a plan: a grinder that can, its time, and what comes of the grain."""

import itertools
from collections.abc import Iterable

from bedstone.mill.model import Machine, Mill
from bedstone.mill.plan import BarKind, Finding, GrindJob, Plan
from bedstone.planning.verify_known import stop
from bedstone.planning.words import mass_text
from bedstone.quantities.times import shown_span

__all__ = ["grind_job_findings"]

MG_KG = 1_000_000
A_SECOND = 1.0
A_GRAM_MG = 1_000
MACHINES = "machines table, changeover"


def grind_job_findings(mill: Mill, plan: Plan) -> Iterable[Finding]:
    """What is wrong with the grinding jobs of a plan."""
    by_grinder: dict[str, list[GrindJob]] = {}
    for job in plan.grinding:
        by_grinder.setdefault(job.machine, []).append(job)
        yield from _grind(mill, job)
        bars = [bar for bar in plan.bars if bar.kind is BarKind.GRIND and bar.about == job.job]
        if [(bar.machine, bar.start_at, bar.end_at) for bar in bars] != [
            (job.machine, job.start_at, job.end_at)
        ]:
            text = f"The bars of {job.machine} and the times of {job.job} do not agree."
            yield stop("grind.bars", job.job, text)
    for code, jobs in sorted(by_grinder.items()):
        yield from _changed_over(mill, code, jobs)


def _grind(mill: Mill, job: GrindJob) -> Iterable[Finding]:
    """Grain becomes what is made of it, on a grinder that reaches both bins, in its time."""
    machine = mill.machine_by_code.get(job.machine)
    made = mill.ingredient_by_code.get(job.makes)
    ends = mill.route_by_ends
    if machine is None or machine.kind != "grinder":
        text = f"{job.job} would grind on {job.machine}, which is no grinder of the mill."
        yield stop("grind.machine", job.job, text, source="machines table")
        return
    if made is None or made.ground_from != job.ingredient:
        text = f"{job.job} would grind {job.ingredient} to {job.makes}, which is made otherwise."
        yield stop("grind.machine", job.job, text, source="ingredients table, ground_from")
    if (job.from_place, job.machine) not in ends or (job.machine, job.to_place) not in ends:
        text = f"No way leads from {job.from_place} over {job.machine} to {job.to_place}."
        yield stop("grind.machine", job.job, text, source="routes table")
    most_mg = job.mass_in_mg * (1.0 - machine.loss_frac)
    if job.mass_out_mg > most_mg + A_GRAM_MG:
        text = (
            f"{job.job} would make {mass_text(mill, job.mass_out_mg / MG_KG)} out of "
            f"{mass_text(mill, job.mass_in_mg / MG_KG)}."
        )
        yield stop(
            "grind.mass",
            job.job,
            text,
            value=job.mass_out_mg / MG_KG,
            limit=most_mg / MG_KG,
            unit="kg",
            source="machines table, loss",
        )
    yield from _grind_time(job, machine)


def _grind_time(job: GrindJob, machine: Machine) -> Iterable[Finding]:
    needs_s = job.mass_in_mg / MG_KG / (machine.rate_kg_s or 1.0)
    has_s = (job.end_at - job.start_at).total_seconds()
    if has_s < needs_s - A_SECOND:
        text = (
            f"{job.job} has {shown_span(max(0.0, has_s))} and needs {shown_span(needs_s)} at "
            f"the rate of {job.machine}."
        )
        yield stop(
            "grind.time",
            job.job,
            text,
            value=has_s,
            limit=needs_s,
            unit="s",
            source="machines table, rate",
        )


def _changed_over(mill: Mill, code: str, jobs: list[GrindJob]) -> Iterable[Finding]:
    machine = mill.machine_by_code.get(code)
    jobs.sort(key=lambda job: (job.start_at, job.end_at))
    for before, behind in itertools.pairwise(jobs):
        gap_s = (behind.start_at - before.end_at).total_seconds()
        if machine is None or before.makes == behind.makes:
            continue
        if gap_s < int(machine.changeover_s) - A_SECOND:
            text = (
                f"{code} has {shown_span(max(0.0, gap_s))} before {behind.job} to change "
                f"over; it needs {shown_span(machine.changeover_s)}."
            )
            yield stop(
                "changeover.time",
                behind.job,
                text,
                value=gap_s,
                limit=float(machine.changeover_s),
                unit="s",
                source=MACHINES,
            )
