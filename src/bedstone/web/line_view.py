"""What the pages of the pellet line share: which line and product is meant, and the plan's rates."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from bedstone.cooling.limits import HourLimit
from bedstone.desk.line_model import lines_of_product
from bedstone.errors import Unknown
from bedstone.mill.model import Mill
from bedstone.mill.plan import Bar, BarKind, Plan, Run
from bedstone.web.line_pictures import PlannedRate
from bedstone.web.site import Site
from bedstone.web.today import standing_plan, working_day

__all__ = [
    "Choice",
    "RunOnLine",
    "choices_of",
    "chosen",
    "hour_of",
    "planned_rates",
    "runs_ahead",
    "runs_on_lines",
]

HOUR = dt.timedelta(hours=1)
MG_IN_KG = 1e6
FAST_FRAC = 1.005  # a rate over the limit by less than half of one per cent is the same rate


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """A product on a line, both with settings in the tables."""

    line: str
    product: str

    @property
    def code(self) -> str:
        """As a form sends it."""
        return f"{self.line}:{self.product}"


@dataclass(frozen=True, slots=True, kw_only=True)
class RunOnLine:
    """A run of the plan while it is on a pellet line."""

    plan: str
    run: Run
    line: str
    start_at: dt.datetime
    end_at: dt.datetime
    rate_kg_s: float  # of the whole run over all its time on the line


def choices_of(mill: Mill) -> tuple[Choice, ...]:
    """Every product on every line that the tables know the heat of."""
    known = {row.line for row in mill.pellet_lines}
    return tuple(
        Choice(line=line, product=row.product)
        for row in mill.pellets
        for line in lines_of_product(mill, row.product)
        if line in known
    )


def chosen(choices: Sequence[Choice], code: str, first: Choice | None = None) -> Choice | None:
    """The choice that an address names, the first one if it names none.

    Raises
    ------
    Unknown
        If there is no such product on such a line.
    """
    if not code:
        return first or (choices[0] if choices else None)
    found = next((one for one in choices if one.code == code), None)
    if found is None:
        raise Unknown(
            f"No product on a pellet line is called {code[:40]!r} here.",
            allowed=", ".join(one.code for one in choices) or "none: the tables name no pellets",
            do="choose from the list",
        )
    return found


def runs_on_lines(plan: Plan, mill: Mill) -> tuple[RunOnLine, ...]:
    """The runs of a plan on its pellet lines, in order of time."""
    lines = {row.machine for row in mill.machines if row.kind == "pellet line"}
    runs = {run.run: run for run in plan.runs}

    def is_pelleting(bar: Bar) -> bool:
        return bar.machine in lines and bar.kind is BarKind.RUN and bar.end_at > bar.start_at

    bars = [bar for bar in plan.bars if is_pelleting(bar) and bar.about in runs]
    took_s: dict[tuple[str, str], float] = {}
    for bar in bars:
        key = (bar.about, bar.machine)
        took_s[key] = took_s.get(key, 0.0) + (bar.end_at - bar.start_at).total_seconds()
    found = [
        RunOnLine(
            plan=plan.plan,
            run=runs[bar.about],
            line=bar.machine,
            start_at=bar.start_at,
            end_at=bar.end_at,
            rate_kg_s=runs[bar.about].mass_mg / MG_IN_KG / took_s[bar.about, bar.machine],
        )
        for bar in bars
    ]
    return tuple(sorted(found, key=lambda one: (one.start_at, one.line)))


def runs_ahead(site: Site, mill: Mill) -> tuple[RunOnLine, ...]:
    """Pelleting of the standing plan that is not over yet; all of it if all is over."""
    standing = standing_plan(site, working_day(site))
    if standing is None:
        return ()
    every = runs_on_lines(standing.plan, mill)
    ahead = tuple(one for one in every if one.end_at > site.clock())
    return ahead or every


def hour_of(limits: Sequence[HourLimit], at: dt.datetime) -> HourLimit | None:
    """The limit of the hour that holds a moment, None where there is none."""
    return next((one for one in limits if one.starts_at <= at < one.starts_at + HOUR), None)


def planned_rates(
    limits: Sequence[HourLimit], runs: Sequence[RunOnLine]
) -> tuple[PlannedRate, ...]:
    """The plan's rates of one product on one line, held against what its hours let through."""
    found = []
    for one in runs:
        allowed = _mean_allowed(limits, one)
        if allowed is not None:
            found.append(
                PlannedRate(
                    run=one.run.run,
                    start_at=one.start_at,
                    end_at=one.end_at,
                    rate_kg_s=one.rate_kg_s,
                    too_fast=one.rate_kg_s > FAST_FRAC * allowed,
                )
            )
    return tuple(found)


def _mean_allowed(limits: Sequence[HourLimit], one: RunOnLine) -> float | None:
    """What the limit lets through on average while a run is on the line; None without hours."""
    weighed, whole = 0.0, 0.0
    for row in limits:
        start_at, end_at = max(row.starts_at, one.start_at), min(row.starts_at + HOUR, one.end_at)
        if start_at < end_at:
            part = (end_at - start_at).total_seconds()
            weighed += part * row.rate_kg_s
            whole += part
    return weighed / whole if whole else None
