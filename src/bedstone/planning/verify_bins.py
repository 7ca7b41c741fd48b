"""Bins of a plan: one material at a time, room for what comes, and for what is flushed."""

import datetime as dt
import itertools
from collections.abc import Iterable, Mapping
from functools import partial

from bedstone.mill.model import Bin, Mill
from bedstone.mill.plan import Bar, BarKind, Batch, BatchKind, Finding, Plan, Run
from bedstone.planning.model import EMPTY_FRAC
from bedstone.planning.verify_known import NOTHING_KNOWN, Known, stop
from bedstone.planning.words import mass_text

__all__ = ["bin_findings"]

MG_KG = 1_000_000
SECOND = dt.timedelta(seconds=1)
ROOM_SLACK_FRAC = 0.02  # bars say when a line runs, not how fast at each minute
Stock = Mapping[tuple[str, str], int]
Stay = tuple[dt.datetime, dt.datetime, Run]

_stop = partial(
    stop, source="bins table", unit="kg", do="plan the day again, or choose another bin"
)


def bin_findings(
    mill: Mill, plan: Plan, stock_mg: Stock | None, known: Known = NOTHING_KNOWN
) -> list[Finding]:
    """What cannot lie in these bins."""
    findings: list[Finding] = []
    stays: dict[str, list[Stay]] = {}
    begun = {batch.run for batch in plan.batches}
    for run in plan.runs:
        batches = [row for row in plan.batches if row.run == run.run and row.kind is BatchKind.FEED]
        if run.run not in begun or known.has_begun(run) or not batches:
            continue  # part of the run is made: its bins are no longer those of the plan
        findings.extend(_of_run(mill, plan, run, batches=batches, stays=stays, stock_mg=stock_mg))
    for code, spans in sorted(stays.items()):
        spans.sort(key=lambda span: (span[0], span[1]))
        for before, behind in itertools.pairwise(spans):
            if behind[0] < before[1] - SECOND and before[2].product != behind[2].product:
                text = f"{behind[2].run} would come into {code} on top of {before[2].run}."
                findings.append(_stop("bin.two_materials", behind[2].run, text))
    findings.extend(_cleaned(plan, stays))
    findings.extend(_flush_bin(mill, plan, stock_mg))
    return findings


def _cleaned(plan: Plan, stays: Mapping[str, list[Stay]]) -> Iterable[Finding]:
    """No bin is cleaned while a run lies in it."""
    for row in plan.clean_outs:
        for place in dict.fromkeys(row.places):
            for comes_at, leaves_at, run in stays.get(place, ()):
                if row.start_at < leaves_at - SECOND and comes_at < row.end_at - SECOND:
                    text = f"{row.clean_out} would clean {place} while {run.run} lies in it."
                    yield _stop("clean_out.busy", row.clean_out, text)


def _of_run(
    mill: Mill,
    plan: Plan,
    run: Run,
    *,
    batches: list[Batch],
    stays: dict[str, list[Stay]],
    stock_mg: Stock | None,
) -> Iterable[Finding]:
    route = batches[0].route
    for number, code in enumerate(route):
        row = mill.bin_by_code.get(code)
        if row is None:
            continue
        comes = _line_bars(plan, run, route[number - 1])
        goes = _line_bars(plan, run, route[number + 1]) if number + 1 < len(route) else []
        arrivals = (
            [(min(bar.start_at for bar in comes), 0)]
            if comes
            else [(batch.end_at, batch.mass_mg) for batch in batches]
        )
        leaves_at = max([bar.end_at for bar in goes] or [run.ready_at])
        stays.setdefault(code, []).append((min(at for at, _ in arrivals), leaves_at, run))
        if row.holds not in ("", run.product):
            text = f"{code} is kept for {mill.name_of(row.holds)}; {run.run} would come into it."
            yield _stop("bin.kept", run.run, text)
        lying_mg, other = _lying(row, run, stock_mg)
        if other:
            text = (
                f"{code} still holds {mass_text(mill, lying_mg / MG_KG)} of {mill.name_of(other)} "
                f"by the book; {run.run} would come on top of it."
            )
            yield _stop("bin.taken", run.run, text, value=lying_mg / MG_KG, limit=0.0)
        yield from _room(mill, row, run, batches=batches, comes=comes, goes=goes, lying_mg=lying_mg)


def _line_bars(plan: Plan, run: Run, machine: str) -> list[Bar]:
    return [
        bar
        for bar in plan.bars
        if bar.machine == machine and bar.about == run.run and bar.kind is BarKind.RUN
    ]


def _lying(row: Bin, run: Run, stock_mg: Stock | None) -> tuple[int, str]:
    """What stays in a bin under a run [mg], and another material if that is too much."""
    same_mg, other, most_mg = 0, "", 0
    empty_mg = (row.hold_up_kg + EMPTY_FRAC * row.capacity_kg) * MG_KG
    for (place, material), mass_mg in (stock_mg or {}).items():
        if place != row.bin or mass_mg <= empty_mg:
            continue
        if material == run.product:
            same_mg += mass_mg
        elif mass_mg > most_mg:
            other, most_mg = material, mass_mg
    return (most_mg, other) if other else (same_mg, "")


def _room(
    mill: Mill,
    row: Bin,
    run: Run,
    *,
    batches: list[Batch],
    comes: list[Bar],
    goes: list[Bar],
    lying_mg: int,
) -> Iterable[Finding]:
    """The most that lies in a bin while a run passes, looked at whenever a bar or batch ends."""
    total_kg = sum(batch.mass_mg for batch in batches) / MG_KG
    batch_kg = max(batch.mass_mg for batch in batches) / MG_KG
    moments = [batch.end_at for batch in batches]
    moments += [at for bar in (*comes, *goes) for at in (bar.start_at, bar.end_at)]
    most_kg = 0.0
    for at in moments:
        if comes:
            in_kg = total_kg * _part_done(comes, at)
        else:
            in_kg = sum(batch.mass_mg for batch in batches if batch.end_at <= at) / MG_KG
        out_kg = total_kg * _part_done(goes, at) if goes else 0.0
        most_kg = max(most_kg, in_kg - out_kg)
    lying_kg = lying_mg / MG_KG
    slack_kg = row.capacity_kg * ROOM_SLACK_FRAC + (batch_kg if goes and comes else 0.0)
    if most_kg + lying_kg > row.capacity_kg + slack_kg:
        text = (
            f"{run.run} would fill {row.bin} with {mass_text(mill, most_kg + lying_kg)}; it holds "
            f"{mass_text(mill, row.capacity_kg)}."
        )
        yield _stop("bin.full", run.run, text, value=most_kg + lying_kg, limit=row.capacity_kg)


def _part_done(bars: list[Bar], at: dt.datetime) -> float:
    whole = sum((bar.end_at - bar.start_at).total_seconds() for bar in bars)
    done = sum(max(0.0, (min(at, bar.end_at) - bar.start_at).total_seconds()) for bar in bars)
    return done / whole if whole > 0 else 1.0


def _flush_bin(mill: Mill, plan: Plan, stock_mg: Stock | None) -> Iterable[Finding]:
    row = mill.bin_by_code.get(mill.settings.flush_bin)
    flushes = [batch for batch in plan.batches if batch.kind is BatchKind.FLUSH]
    if row is None or not flushes:
        return
    lying_mg = sum(
        max(0, mass_mg) for (place, _), mass_mg in (stock_mg or {}).items() if place == row.bin
    )
    total_kg = (lying_mg + sum(batch.mass_mg for batch in flushes)) / MG_KG
    if total_kg > row.capacity_kg:
        text = (
            f"The flushes would bring {row.bin} to {mass_text(mill, total_kg)}; it holds "
            f"{mass_text(mill, row.capacity_kg)}."
        )
        yield _stop("bin.full", flushes[-1].batch, text, value=total_kg, limit=row.capacity_kg)
