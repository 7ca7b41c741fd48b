"""What the pages of the pellet line share: which line and product is meant, and the plan's rates."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from bedstone.cooling.limits import HourLimit
from bedstone.desk.line_model import lines_of_product
from bedstone.errors import Unknown
from bedstone.mill.model import Mill
from bedstone.mill.plan import Bar, BarKind, Plan, Run
from bedstone.quantities.line_figures import rate_words
from bedstone.web.line_pictures import PlannedRate
from bedstone.web.site import Site
from bedstone.web.today import standing_plan, working_day

__all__ = [
    "Choice",
    "RateToRun",
    "RunOnLine",
    "choices_of",
    "chosen",
    "planned_rates",
    "rate_to_run",
    "runs_ahead",
    "runs_on_lines",
    "slowest_hour",
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


@dataclass(frozen=True, slots=True, kw_only=True)
class RateToRun:
    """The rate at which to run a product now, and which of tables, plan and air it comes from."""

    rate_kg_s: float
    binds: str  # "tables", "plan" or "air"
    tables_kg_s: float
    plan_kg_s: float | None
    air: HourLimit | None
    is_trusted: bool  # the cooler is calibrated, and its readings fit

    @property
    def air_doubts(self) -> bool:
        """Whether the air might hold the line back, but the cooler is not known well enough."""
        return (
            not self.is_trusted
            and self.air is not None
            and self.air.rate_kg_s * FAST_FRAC < self.rate_kg_s
        )

    @property
    def why(self) -> str:
        """What binds, in a sentence."""
        why = self.air.because if self.air is not None else ""
        return {
            "tables": "The line's own rate binds.",
            "plan": "The plan binds: it runs slower than the line could.",
            "air": f"The air binds: faster, pellets would leave {why or 'too warm or too damp'}.",
        }[self.binds]

    def others(self, units: str) -> str:
        """What tables and plan have."""
        plan = "" if self.plan_kg_s is None else f", plan {rate_words(self.plan_kg_s, units)}"
        return f"Tables {rate_words(self.tables_kg_s, units)}{plan}."

    def of_air(self, units: str) -> str:
        """What the air lets through, with its interval."""
        if self.air is None:
            return "No weather of this hour is on record, or the line has no cooler."
        low, high = self.air.rate_lo_kg_s, self.air.rate_hi_kg_s
        if low * FAST_FRAC >= self.tables_kg_s:
            return "The air does not hold it back."
        hour = "this hour" if self.plan_kg_s is None else "the run's slowest hour"
        return (
            f"The air of {hour} lets {rate_words(self.air.rate_kg_s, units)} through, from "
            f"{rate_words(low, units)} to {rate_words(high, units)}."
        )


def rate_to_run(
    tables_kg_s: float, plan_kg_s: float | None, air: HourLimit | None, *, is_trusted: bool
) -> RateToRun:
    """The slowest of the tables' rate, the plan's and, where the cooler is calibrated, the air's."""
    rate, binds = tables_kg_s, "tables"
    if plan_kg_s is not None and plan_kg_s * FAST_FRAC < rate:
        rate, binds = plan_kg_s, "plan"
    if is_trusted and air is not None and air.rate_kg_s * FAST_FRAC < rate:
        rate, binds = air.rate_kg_s, "air"
    return RateToRun(
        rate_kg_s=rate,
        binds=binds,
        tables_kg_s=tables_kg_s,
        plan_kg_s=plan_kg_s,
        air=air,
        is_trusted=is_trusted,
    )


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


def slowest_hour(limits: Sequence[HourLimit]) -> HourLimit | None:
    """The hour that lets least through, None where none is known."""
    return min(limits, key=lambda one: one.rate_kg_s, default=None)


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
