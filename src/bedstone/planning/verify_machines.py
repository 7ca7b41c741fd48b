"""Machines and bins of a plan: overlaps, shifts, order of steps, mixer sizes, capacities."""

import datetime as dt
import math
from collections.abc import Iterable
from functools import partial

from bedstone.mill.mixing import mix_times
from bedstone.mill.model import Machine, Mill
from bedstone.mill.plan import Bar, BarKind, Batch, BatchKind, Finding, Plan, Run
from bedstone.planning.verify_known import NOTHING_KNOWN, Known, stop
from bedstone.planning.words import mass_text

__all__ = ["machine_findings"]

SECOND = dt.timedelta(seconds=1)
DAY = dt.timedelta(days=1)
HALF_HOUR = dt.timedelta(minutes=30)  # zones change at the half too
LAST_MINUTE = dt.time(23, 59)
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MG_KG = 1_000_000
SLACK_KG = 0.01
RATE_SLACK = 0.99

_stop = partial(stop, source="machines and shifts of the mill")


def machine_findings(mill: Mill, plan: Plan, known: Known = NOTHING_KNOWN) -> list[Finding]:
    """What cannot be on these machines at these times."""
    findings = [*_overlaps(plan), *_outside_shifts(mill, plan)]
    for batch in plan.batches:
        findings.extend(_mixer(mill, batch))
        findings.extend(_times(mill, plan, batch))
    runs = {batch.run for batch in plan.batches}
    for run in plan.runs:
        if run.run in runs and not known.has_begun(run):  # times are still those of the plan
            findings.extend(_steps(mill, plan, run))
    return findings


def _overlaps(plan: Plan) -> Iterable[Finding]:
    by_machine: dict[str, list[Bar]] = {}
    for bar in plan.bars:
        by_machine.setdefault(bar.machine, []).append(bar)
    for machine, bars in sorted(by_machine.items()):
        bars.sort(key=lambda bar: (bar.start_at, bar.end_at))
        latest = bars[0]
        for bar in bars[1:]:
            overlap = latest.end_at - bar.start_at
            if overlap > SECOND:
                yield _stop(
                    "time.overlap",
                    bar.about,
                    f"{machine} would be busy with {latest.about} and {bar.about} at once.",
                    value=overlap.total_seconds(),
                    limit=0.0,
                    unit="s",
                )
            if bar.end_at > latest.end_at:
                latest = bar


def _outside_shifts(mill: Mill, plan: Plan) -> Iterable[Finding]:
    if not mill.shifts:
        return
    for bar in plan.bars:
        local_day = bar.start_at.astimezone(mill.settings.zone).date()
        if not any(
            start <= bar.start_at and bar.end_at <= end
            for start, end in _shifts(mill, bar.machine, local_day)
        ):
            zone = mill.settings.zone
            yield _stop(
                "time.shift",
                bar.about,
                f"{bar.machine} would run {bar.about} from "
                f"{bar.start_at.astimezone(zone):%H:%M} to {bar.end_at.astimezone(zone):%H:%M}, "
                "outside its shifts.",
                source="shifts table",
            )


def _shifts(mill: Mill, machine: str, day: dt.date) -> list[tuple[dt.datetime, dt.datetime]]:
    zone = mill.settings.zone
    own = [row for row in mill.shifts if row.machine == machine]
    rows = own or [row for row in mill.shifts if not row.machine]
    spans: list[tuple[dt.datetime, dt.datetime]] = []
    for row in sorted(rows, key=lambda row: row.start_time):
        if row.weekday != WEEKDAYS[day.weekday()]:
            continue
        start = dt.datetime.combine(day, row.start_time, tzinfo=zone).astimezone(dt.UTC)
        if row.end_time >= LAST_MINUTE:
            end = dt.datetime.combine(day + DAY, dt.time(0), tzinfo=zone).astimezone(dt.UTC)
        else:
            end = dt.datetime.combine(day, row.end_time, tzinfo=zone).astimezone(dt.UTC)
        if spans and start <= spans[-1][1]:
            spans[-1] = (spans[-1][0], max(end, spans[-1][1]))
        else:
            spans.append((start, end))
    return spans


def _mixer(mill: Mill, batch: Batch) -> Iterable[Finding]:
    machine = mill.machine_by_code.get(batch.mixer)
    if machine is None or machine.kind != "mixer" or batch.route[:1] != (batch.mixer,):
        yield _stop(
            "route.mixer", batch.batch, f"{batch.batch} does not begin at a mixer of the mill."
        )
        return
    before = batch.mixer
    for code in batch.route[1:]:
        if (before, code) not in mill.route_by_ends:
            text = f"{batch.batch} would go from {before} to {code}, where no route leads."
            yield _stop("route.none", batch.batch, text, source="routes table")
        before = code
    yield from _size(mill, batch, machine)
    yield from _mixing(mill, batch)


def _size(mill: Mill, batch: Batch, machine: Machine) -> Iterable[Finding]:
    mass_kg = batch.mass_mg / MG_KG
    product = mill.product_by_code.get(batch.material)
    ingredient = mill.ingredient_by_code.get(batch.material)
    most_kg = machine.mass_max_kg or 0.0
    row = product or ingredient
    if machine.volume_max_m3 is not None and row is not None:
        most_kg = min(most_kg, machine.volume_max_m3 * row.density_kg_m3)
        if batch.kind is BatchKind.FEED:
            most_kg = min(most_kg, _draws_fit_kg(mill, batch, machine.volume_max_m3))
    if mass_kg > most_kg + SLACK_KG:
        text = (
            f"{batch.batch} of {mass_text(mill, mass_kg)} is more than {machine.machine} takes of "
            f"it by mass and volume, {mass_text(mill, most_kg)}."
        )
        yield _stop("mixer.full", batch.batch, text, value=mass_kg, limit=most_kg, unit="kg")
    least_kg = machine.mass_min_kg or 0.0
    if batch.kind is BatchKind.FEED and mass_kg < least_kg - SLACK_KG:
        text = (
            f"{batch.batch} of {mass_text(mill, mass_kg)} is less than {machine.machine} mixes "
            f"well, {mass_text(mill, least_kg)}."
        )
        yield _stop("mixer.empty", batch.batch, text, value=mass_kg, limit=least_kg, unit="kg")
    mixing_s = machine.fill_s + batch.dry_mix_s + batch.wet_mix_s + machine.discharge_s
    has_s = (batch.end_at - batch.start_at).total_seconds()
    if has_s < mixing_s - 1:
        text = f"{batch.batch} has {has_s:.0f} s in {machine.machine} and needs {mixing_s:.0f} s."
        yield _stop("mixer.time", batch.batch, text, value=has_s, limit=mixing_s, unit="s")


def _draws_fit_kg(mill: Mill, batch: Batch, volume_m3: float) -> float:
    """How much of a batch fits a volume by the bulk volumes of its formula's ingredients. [kg]"""
    liquids = {one.ingredient: one.density_kg_m3 for one in mill.liquids}
    bought = mill.ingredient_by_code
    taken_m3_kg = 0.0
    for line in mill.lines_of(batch.material, batch.formula_version or 0):
        code = line.ingredient
        dry = bought[code].density_kg_m3 if code in bought else mill.product(code).density_kg_m3
        taken_m3_kg += line.parts_frac / liquids.get(code, dry)
    return volume_m3 / taken_m3_kg if taken_m3_kg else math.inf


def _mixing(mill: Mill, batch: Batch) -> Iterable[Finding]:
    """A batch is mixed as long as the tables want; longer is fine."""
    lines = mill.lines_of(batch.material, batch.formula_version or 0)
    is_flush = batch.kind is BatchKind.FLUSH
    wants = mix_times(
        mill,
        batch.mixer,
        material=batch.material,
        ingredients=() if is_flush else tuple(row.ingredient for row in lines),
    )
    for word, has_s, least_s in (
        ("dry", batch.dry_mix_s, wants.dry_mix_s),
        ("wet", batch.wet_mix_s, wants.wet_mix_s),
    ):
        if has_s < least_s:
            text = (
                f"{batch.batch} is mixed {word} for {has_s:.0f} s in {batch.mixer}; it must be "
                f"{least_s:.0f} s."
            )
            yield _stop(
                "mixer.mixing",
                batch.batch,
                text,
                value=has_s,
                limit=least_s,
                unit="s",
                source="machines and products tables, mixing times",
            )


def _times(mill: Mill, plan: Plan, batch: Batch) -> Iterable[Finding]:
    """A batch's bar on its mixer says the same times as the batch."""
    bars = [bar for bar in plan.bars if bar.machine == batch.mixer and bar.about == batch.batch]
    if len(bars) != 1 or (bars[0].start_at, bars[0].end_at) != (batch.start_at, batch.end_at):
        text = f"The bars of {batch.mixer} and the times of {batch.batch} do not agree."
        yield _stop("time.bars", batch.batch, text, source="the plan itself")
    if batch.kind is BatchKind.FLUSH and batch.destination != mill.settings.flush_bin:
        text = f"{batch.batch} is a flush and would go to {batch.destination}."
        yield _stop("flush.destination", batch.batch, text, source="21 CFR 225.65(b)(2)")


def _steps(mill: Mill, plan: Plan, run: Run) -> Iterable[Finding]:
    """A run reaches each machine after the one before it, and has time enough there."""
    batches = [row for row in plan.batches if row.run == run.run and row.kind is BatchKind.FEED]
    if not batches:
        return
    starts_at = min(row.end_at for row in batches)
    ends_at = max(row.end_at for row in batches)
    mass_kg = sum(row.mass_mg for row in batches) / MG_KG
    for code in batches[0].route[1:]:
        machine = mill.machine_by_code.get(code)
        bars = [
            bar
            for bar in plan.bars
            if bar.machine == code and bar.about == run.run and bar.kind is BarKind.RUN
        ]
        if machine is None or not bars:
            continue
        first, last = min(bar.start_at for bar in bars), max(bar.end_at for bar in bars)
        if first < starts_at - SECOND or last < ends_at - SECOND:
            text = f"{code} would run {run.run} before it gets there."
            yield _stop("steps.order", run.run, text)
        worked_kg = sum(_most_kg(mill, run.product, machine, bar) for bar in bars)
        if worked_kg < mass_kg * RATE_SLACK:
            text = (
                f"{code} has time for {mass_text(mill, worked_kg)} of {run.run} at its rates, "
                f"of {mass_text(mill, mass_kg)}."
            )
            yield _stop("steps.rate", run.run, text, value=worked_kg, limit=mass_kg, unit="kg")
        starts_at, ends_at = first, last
    if run.ready_at < ends_at - SECOND:
        text = f"{run.run} would be ready before its last machine is done with it."
        yield _stop("steps.ready", run.run, text)


def _most_kg(mill: Mill, product: str, machine: Machine, bar: Bar) -> float:
    """What a machine can have done in a bar at the rates of its hours."""
    done_kg, at = 0.0, bar.start_at
    while at < bar.end_at:
        into = dt.timedelta(minutes=at.minute % 30, seconds=at.second, microseconds=at.microsecond)
        until = min(bar.end_at, at - into + HALF_HOUR)
        hour = at.astimezone(mill.settings.zone).hour
        rate = machine.rate_kg_s or 0.0
        for row in mill.rates:
            if row.product == product and row.machine == machine.machine:
                rate = row.rate_kg_s if row.start_hour <= hour < row.end_hour else rate
        done_kg += rate * (until - at).total_seconds()
        at = until
    return done_kg
