"""Clean-outs of a plan: of places that there are, in time, long enough, with nothing else on."""

import datetime as dt
from collections.abc import Iterable

from bedstone.mill.model import Mill
from bedstone.mill.plan import BarKind, CleanOut, Finding, Plan
from bedstone.planning.verify_known import Known, stop
from bedstone.quantities.times import shown_span

__all__ = ["clean_out_findings"]

SECOND = dt.timedelta(seconds=1)


def clean_out_findings(mill: Mill, plan: Plan, known: Known) -> list[Finding]:
    """What is wrong with the clean-outs of a plan."""
    findings: list[Finding] = []
    starts = {batch.batch: batch.start_at for batch in plan.batches}
    for row in plan.clean_outs:
        findings.extend(_places(mill, row))
        start_at = starts.get(row.before_batch)
        if start_at is None and row.before_batch not in known.batches:
            text = f"{row.clean_out} is before {row.before_batch}, which the plan does not have."
            findings.append(stop("clean_out.batch", row.clean_out, text))
        elif start_at is not None and row.end_at > start_at:
            text = f"{row.clean_out} ends after {row.before_batch} begins."
            findings.append(stop("clean_out.batch", row.clean_out, text))
        findings.extend(_time(mill, row))
        findings.extend(_bars(mill, plan, row))
    ids = {row.clean_out for row in plan.clean_outs}
    for bar in plan.bars:
        if bar.kind is BarKind.CLEAN_OUT and bar.about not in ids and not known.batches:
            text = f"{bar.machine} has a bar for {bar.about}, which is no clean-out of the plan."
            findings.append(stop("clean_out.bars", bar.about, text))
    return findings


def _is_place(mill: Mill, place: str) -> bool:
    if ">" in place:
        start, end = place.split(">", 1)
        return (start, end) in mill.route_by_ends
    return place in mill.machine_by_code or place in mill.bin_by_code


def _places(mill: Mill, row: CleanOut) -> Iterable[Finding]:
    unknown = [place for place in row.places if not _is_place(mill, place)]
    if unknown or not row.places:
        text = f"{row.clean_out} cleans {', '.join(unknown) or 'nothing'}: the mill has no such."
        yield stop("clean_out.place", row.clean_out, text, source="machines and routes tables")


def _needs_s(mill: Mill, places: Iterable[str]) -> float:
    """Time to clean places by hand, one after the other. [s]"""
    total_s = 0.0
    for place in dict.fromkeys(places):
        machine = mill.machine_by_code.get(place)
        if machine is not None:
            total_s += machine.clean_out_s
        elif ">" in place:
            start, end = place.split(">", 1)
            route = mill.route_by_ends.get((start, end))
            total_s += route.clean_out_s if route is not None else 0.0
    return total_s


def _time(mill: Mill, row: CleanOut) -> Iterable[Finding]:
    has_s = (row.end_at - row.start_at).total_seconds()
    needs_s = _needs_s(mill, row.places)
    if has_s < needs_s:
        text = (
            f"{row.clean_out} of {', '.join(row.places)} has {shown_span(max(0.0, has_s))} and "
            f"needs {shown_span(needs_s)}."
        )
        yield stop(
            "clean_out.time",
            row.clean_out,
            text,
            value=has_s,
            limit=needs_s,
            unit="s",
            source="machines and routes tables, clean_out",
        )


def _bars(mill: Mill, plan: Plan, row: CleanOut) -> Iterable[Finding]:
    """Each machine that is cleaned stands still for it: one bar of the same times."""
    for place in dict.fromkeys(row.places):
        if place not in mill.machine_by_code:
            continue
        bars = [
            bar
            for bar in plan.bars
            if bar.kind is BarKind.CLEAN_OUT and bar.machine == place and bar.about == row.clean_out
        ]
        if len(bars) != 1 or (bars[0].start_at, bars[0].end_at) != (row.start_at, row.end_at):
            text = f"The bars of {place} and the times of {row.clean_out} do not agree."
            yield stop("clean_out.bars", row.clean_out, text)
