"""What the page of a day moved by hand shows: two pictures, costs held together, what breaks."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from markupsafe import Markup

from bedstone.desk.hand_plan import HandMade
from bedstone.mill.plan import Costs, Finding, Verdict
from bedstone.web.day_axis import OfDay, axis_of
from bedstone.web.day_bars import Stripe, day_picture, species_stripes
from bedstone.web.hand_work import HandWork, Order
from bedstone.web.show import Show

__all__ = ["HandRun", "HandView", "Trial", "hand_view", "trial_view"]


class Costed(OfDay, Protocol):
    """A day that can be drawn and has its costs."""

    @property
    def costs(self) -> Costs:
        """What it costs."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """What an order of running costs beside the plan it began with, and what it breaks."""

    dearer_cents100: int
    words: str
    breaks: tuple[Finding, ...]

    @property
    def stops(self) -> tuple[Finding, ...]:
        """Runs that find no place."""
        return tuple(one for one in self.breaks if one.verdict is Verdict.STOP)

    @property
    def others(self) -> tuple[Finding, ...]:
        """What is told beside them."""
        return tuple(one for one in self.breaks if one.verdict is not Verdict.STOP)


@dataclass(frozen=True, slots=True, kw_only=True)
class HandRun:
    """A run in the order: what it is, when it runs, which mixers could make it."""

    run: str
    name: str
    mass: str
    when: str
    late: str
    mixer: str
    others: tuple[str, ...]
    first: bool
    last: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class HandView:
    """Everything that the page shows of an order."""

    trial: Trial
    own: Markup
    began: Markup
    stripes: dict[str, Stripe]
    figures: tuple[tuple[str, str, str, str], ...]
    mixers: dict[str, tuple[HandRun, ...]]
    out: tuple[HandRun, ...]
    steps: int
    undone: int


def trial_view(work: HandWork, order: Order, show: Show) -> Trial:
    """What an order costs and breaks, without its picture.

    Raises
    ------
    BadInput
        If a run of it is not made on the mixer it is put on.
    """
    return trial_of(work, work.hand.tried(order), show)


def trial_of(work: HandWork, tried: HandMade, show: Show) -> Trial:
    """What a walked order costs beyond the one it began with, and what it breaks."""
    began = work.began.outcome.costs.running_cents100
    dearer = tried.outcome.costs.running_cents100 - began
    return Trial(
        dearer_cents100=dearer, words=cost_words(dearer, show), breaks=worst_first(tried.breaks)
    )


def cost_words(dearer_cents100: int, show: Show) -> str:
    """What an order costs beside the one it began with."""
    if not dearer_cents100:
        return "It costs the same as the plan it began with."
    more = "more" if dearer_cents100 > 0 else "less"
    return f"It costs {show.money(abs(dearer_cents100))} {more} than the plan it began with."


def worst_first(breaks: Sequence[Finding]) -> tuple[Finding, ...]:
    """What must not be, first."""
    rank = {Verdict.STOP: 0, Verdict.ACT: 1, Verdict.NOTE: 2, Verdict.GOOD: 3}
    return tuple(sorted(breaks, key=lambda one: rank[one.verdict]))


def hand_view(work: HandWork, show: Show, *, now_at: dt.datetime) -> HandView:
    """The page of an order as it stands."""
    tried = work.hand.tried(work.order)
    mine, began = tried.outcome, work.began.outcome
    runs = [run for run, _ in work.order]
    drawn = [one for one in (mine, began) if one.bars]
    axis = axis_of(drawn, show) if drawn else None
    if axis is not None and axis not in work.drawn:
        work.drawn[axis] = day_picture(
            began, show, now_at=now_at, standing={}, axis=axis, name="began-"
        )
    own = day_picture(mine, show, now_at=now_at, standing={}, axis=axis, movable=runs)
    return HandView(
        trial=trial_of(work, tried, show),
        own=own,
        began=work.drawn[axis] if axis is not None else Markup(""),
        stripes=species_stripes(began, show),
        figures=figures_of(began, mine, show),
        mixers=by_mixer(work, mine, show),
        out=tuple(
            hand_run(work, job.run, job.options[0].mixer, mine, show)
            for job in work.hand.opened.work.jobs
            if job.run not in runs
        ),
        steps=work.at,
        undone=len(work.steps) - 1 - work.at,
    )


def figures_of(began: Costed, mine: Costed, show: Show) -> tuple[tuple[str, str, str, str], ...]:
    """Costs of both and their difference, a line for each part."""

    def money(name: str, was: int, now: int) -> tuple[str, str, str, str]:
        sign = "+" if now > was else ""
        return (name, show.money(was), show.money(now), sign + show.money(now - was))

    def count(name: str, was: int, now: int) -> tuple[str, str, str, str]:
        return (name, str(was), str(now), f"{now - was:+d}" if now != was else "0")

    old, new = began.costs, mine.costs
    return (
        money("Cost of running", old.running_cents100, new.running_cents100),
        money("of it flushes", old.flush_cents100, new.flush_cents100),
        money("of it changeovers", old.changeover_cents100, new.changeover_cents100),
        money("of it cleaning", old.clean_out_cents100, new.clean_out_cents100),
        money("of it lateness, as it counts", old.late_cents100, new.late_cents100),
        count("Flushes", old.flushes, new.flushes),
        ("Flush material", show.mass(old.flush_mg), show.mass(new.flush_mg), ""),
        count("Clean-outs", old.clean_outs, new.clean_outs),
        count("Late orders", late(began), late(mine)),
        count("Runs in the day", len(began.runs), len(mine.runs)),
    )


def late(day: OfDay) -> int:
    """How many runs are ready after they are due."""
    return sum(run.late_s > 0 for run in day.runs)


def by_mixer(work: HandWork, day: OfDay, show: Show) -> dict[str, tuple[HandRun, ...]]:
    """The order on each mixer, as it would run."""
    mixers: dict[str, list[str]] = {}
    for job in work.hand.opened.work.jobs:
        for option in job.options:
            mixers.setdefault(option.mixer, [])
    for run, mixer in work.order:
        mixers.setdefault(mixer, []).append(run)
    return {
        mixer: tuple(
            hand_run(work, run, mixer, day, show, ends=(runs[0], runs[-1])) for run in runs
        )
        for mixer, runs in sorted(mixers.items())
    }


def hand_run(
    work: HandWork,
    code: str,
    mixer: str,
    day: OfDay,
    show: Show,
    *,
    ends: tuple[str, str] = ("", ""),
) -> HandRun:
    """One run of the order; when it runs, if it finds a place."""
    job = next(job for job in work.hand.opened.work.jobs if job.run == code)
    run = next((run for run in day.runs if run.run == code), None)
    return HandRun(
        run=code,
        name=job.product.name,
        mass=show.mass(job.wanted_mg),
        when="" if run is None else f"{show.clock(run.start_at)} to {show.clock(run.ready_at)}",
        late="" if run is None or run.late_s <= 0 else show.minutes(run.late_s),
        mixer=mixer,
        others=tuple(option.mixer for option in job.options if option.mixer != mixer),
        first=code == ends[0],
        last=code == ends[1],
    )
