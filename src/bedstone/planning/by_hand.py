"""A day's order of running as a person wants it: its timetable, its cost, what breaks and why.

Nothing is searched. The runs are walked exactly as they are given, by the same evaluator that
judges the planner's own orders, so a flush or a clean-out that the order makes necessary is there,
and one that it makes unnecessary is not. A run that finds no place is named with the reason, and
the others are walked without it.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from bedstone.errors import BadInput
from bedstone.mill.plan import Finding, Run, Verdict
from bedstone.planning.day import OpenDay, open_day, outcome_of
from bedstone.planning.evaluate import Step
from bedstone.planning.floor import DoesNotFit
from bedstone.planning.jobs import Job, Option
from bedstone.planning.model import DayOutcome, DayProblem
from bedstone.planning.reasons import why_left_out
from bedstone.planning.sequence import Order

__all__ = ["HandMade", "run_by_hand", "walk_by_hand"]

SOURCES = {
    "time": "shifts and rates of the machines",
    "bin": "bins of the mill",
    "stock": "book stock",
    "never": "limits of the mill",
}
WAYS_OUT = {
    "time": "move it forward, take another mixer, or leave another run for tomorrow",
    "bin": "move it to where the bin is free",
    "stock": "move it behind what makes or frees it, or receive more first",
    "never": "take a way that has never handled it",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class HandMade:
    """What an order of running given by hand becomes, and what it breaks."""

    outcome: DayOutcome
    breaks: tuple[Finding, ...]

    @property
    def may_run(self) -> bool:
        """True where every run that was named has its place."""
        return all(row.verdict is not Verdict.STOP for row in self.breaks)


def run_by_hand(problem: DayProblem, order: Sequence[tuple[str, str]]) -> HandMade:
    """The day with its runs in the order given, on the mixers given.

    Parameters
    ----------
    problem : DayProblem
        The day.
    order : sequence of (str, str)
        Each run with its mixer, of all mixers together, in order of running. An empty mixer
        stands for whichever is cheapest there. A run that is not named is left out.

    Returns
    -------
    made : HandMade
        The plan but its draws, and what breaks: ``hand.time``, ``hand.bin``, ``hand.stock`` and
        ``hand.never`` stop a run from being made there; ``time.late`` and ``hand.left_out`` are
        told.

    Raises
    ------
    BadInput
        If there is no such run or mixer, or a run is named twice.
    """
    return walk_by_hand(open_day(problem), order, held_against=True)


def walk_by_hand(
    day: OpenDay, order: Sequence[tuple[str, str]], *, held_against: bool = False
) -> HandMade:
    """The same for a day that has been opened already, which takes a few thousandths of a second.

    While a run is held, nobody asks what the order is ``held_against``; see :func:`outcome_of`.
    """
    wished = _wished(day.work.jobs, order)
    made = Order(day.evaluator.opening)
    stops: list[Finding] = []
    for job, options in wished:
        try:
            _append(day, made, job, options)
        except DoesNotFit as reason:
            made.out.append((job, reason))
            stops.append(_stop(day, made.before(len(made.items)), job, reason))
    named = {job.run for job, _ in wished}
    made.out.extend((job, DoesNotFit("hand", "")) for job in day.work.jobs if job.run not in named)
    outcome = outcome_of(day, made, held_against=held_against)
    return HandMade(
        outcome=outcome,
        breaks=(
            *stops,
            *_told(outcome, out=[job for job in day.work.jobs if job.run not in named]),
        ),
    )


def _append(day: OpenDay, made: Order, job: Job, options: tuple[Option, ...]) -> None:
    """Put a run at the end, on the cheapest of its options.

    Raises
    ------
    DoesNotFit
        If it fits on none: the reason of the first.
    """
    best: tuple[Option, Step] | None = None
    why: DoesNotFit | None = None
    for option in options:
        try:
            step = day.evaluator.step(made.before(len(made.items)), job, option)
        except DoesNotFit as reason:
            why = why or reason
            continue
        if best is None or step.costing.total < best[1].costing.total:
            best = (option, step)
    if best is None:
        raise why or DoesNotFit("time", options[0].mixer)
    made.items.append((job, best[0]))
    made.steps.append(best[1])


def _wished(
    jobs: Sequence[Job], order: Sequence[tuple[str, str]]
) -> list[tuple[Job, tuple[Option, ...]]]:
    by_run = {job.run: job for job in jobs}
    seen: set[str] = set()
    wished: list[tuple[Job, tuple[Option, ...]]] = []
    for run, mixer in order:
        job = by_run.get(run)
        if job is None:
            raise BadInput(
                "There is no such run to be made on this day.",
                seen=run,
                allowed=", ".join(by_run) or "no run at all",
                do="plan the day again: its orders have changed",
            )
        if run in seen:
            raise BadInput("A run has one place in the day.", seen=f"{run} twice")
        seen.add(run)
        options = tuple(row for row in job.options if mixer in ("", row.mixer))
        if not options:
            raise BadInput(
                f"{job.product.name} is not made on that mixer, or not in batches of this size.",
                seen=f"{run} on {mixer}",
                allowed=", ".join(row.mixer for row in job.options),
            )
        wished.append((job, options))
    return wished


def _stop(day: OpenDay, before: Step, job: Job, reason: DoesNotFit) -> Finding:
    because, text = why_left_out(day.evaluator.floor, before, job, reason)
    return Finding(
        code=f"hand.{because}",
        verdict=Verdict.STOP,
        about=job.run,
        text=f"{job.run} ({job.product.name}) finds no place there: {text}.",
        source=SOURCES.get(because, "tables of the mill"),
        do=WAYS_OUT.get(because, "move it"),
    )


def _told(outcome: DayOutcome, *, out: Sequence[Job]) -> Iterator[Finding]:
    """Runs that are late, and orders that nobody put into the day."""
    yield from (row for run in outcome.runs for row in _late(run))
    for job in out:
        if job.order is not None:
            yield Finding(
                code="hand.left_out",
                verdict=Verdict.ACT,
                about=job.run,
                text=f"Order {job.order.order} ({job.product.name}) is not in this day.",
                source="the order of running given",
                do="put it into the day, or tell the customer",
            )


def _late(run: Run) -> tuple[Finding, ...]:
    return tuple(row for row in run.findings if row.code == "time.late")
