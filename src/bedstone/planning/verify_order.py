"""In which order batches reach each place, read from the times and bars of a plan."""

import datetime as dt
from dataclasses import dataclass, field

from bedstone.mill.model import Mill
from bedstone.mill.plan import BarKind, Batch, BatchKind, CleanOut, Finding, Plan, Verdict

__all__ = ["Event", "in_order"]


@dataclass(slots=True, eq=False)
class Event:
    """A batch or a clean-out, with the time at which it reaches each place."""

    name: str
    batch: Batch | None
    clean_out: CleanOut | None
    first_at: dt.datetime
    times: dict[str, dt.datetime] = field(default_factory=dict)


def in_order(mill: Mill, plan: Plan) -> tuple[list[Event], list[Finding]]:
    """Batches and clean-outs in one order that is right at every place they share.

    Where there is none (one batch is before another at one place and behind it at the next), a
    finding says so, and the order is that of the mixers.
    """
    findings: list[Finding] = []
    events = [_batch_event(mill, plan, batch, findings) for batch in plan.batches]
    events += [_clean_event(row) for row in plan.clean_outs]
    events.sort(key=lambda event: (event.first_at, event.clean_out is None, event.name))
    followers: dict[str, set[str]] = {event.name: set() for event in events}
    waiting: dict[str, int] = {event.name: 0 for event in events}
    places = sorted({place for event in events for place in event.times})
    for place in places:
        here = sorted(
            (event for event in events if place in event.times),
            key=lambda event: (
                event.times[place],
                event.first_at,
                event.clean_out is None,
                event.name,
            ),
        )
        for number in range(1, len(here)):
            before, behind = here[number - 1].name, here[number].name
            if behind not in followers[before]:
                followers[before].add(behind)
                waiting[behind] += 1
    ordered: list[Event] = []
    left = list(events)
    while left:
        ready = next((event for event in left if waiting[event.name] == 0), None)
        if ready is None:
            findings.append(_overtaking(left))
            return events, findings
        left.remove(ready)
        ordered.append(ready)
        for name in followers[ready.name]:
            waiting[name] -= 1
    return ordered, findings


def _batch_event(mill: Mill, plan: Plan, batch: Batch, findings: list[Finding]) -> Event:
    event = Event(batch.batch, batch, None, batch.start_at)
    at = batch.start_at
    for number, code in enumerate(batch.route):
        if number > 0 and code in mill.machine_by_code:
            found = _reaches(plan, batch, code)
            if found is None:
                findings.append(
                    Finding(
                        code="steps.no_time",
                        verdict=Verdict.STOP,
                        about=batch.batch,
                        text=f"The plan has no time for {batch.batch} on {code}.",
                        source="the plan's bars",
                        do="plan the day again",
                    )
                )
            else:
                at = max(found, batch.start_at)
        event.times[code] = at
    return event


def _reaches(plan: Plan, batch: Batch, machine: str) -> dt.datetime | None:
    """When a batch reaches a line: its run's first bar there, or the flush's own."""
    kind = BarKind.FLUSH if batch.kind is BatchKind.FLUSH else BarKind.RUN
    about = batch.batch if batch.kind is BatchKind.FLUSH else batch.run
    times = [
        bar.start_at
        for bar in plan.bars
        if bar.machine == machine and bar.kind is kind and bar.about == about
    ]
    return min(times, default=None)


def _clean_event(row: CleanOut) -> Event:
    event = Event(row.clean_out, None, row, row.start_at)
    for place in row.places:
        for code in place.split(">"):
            event.times[code] = row.start_at
    return event


def _overtaking(left: list[Event]) -> Finding:
    names = ", ".join(event.name for event in left[:4])
    return Finding(
        code="steps.overtakes",
        verdict=Verdict.STOP,
        about=left[0].name,
        text=f"{names}: one is before another at one machine and behind it at the next.",
        source="the plan's times",
        do="let each machine take the runs in the same order",
    )
