"""The pellet line: settings for the next run, the cooler, limits by the hour."""

import datetime as dt
import math
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from markupsafe import Markup

from bedstone.cooling.limits import HourLimit
from bedstone.desk import cooler_mash, die_words, line_heat, regression_words
from bedstone.desk.bin_findings import heating_in
from bedstone.desk.die_runs import KnifeSetting, knife_setting
from bedstone.desk.line_air import CoolerHours, cooler_hours, products_on
from bedstone.desk.line_cooler import leaving_words
from bedstone.desk.line_factors import CALIBRATED, calibrate_line, line_factors
from bedstone.desk.line_regression import (
    DurabilityAhead,
    LoadAhead,
    durability_ahead,
    line_says,
    load_ahead,
)
from bedstone.desk.line_settings import CAUTIONS, LineSettings, settings_for
from bedstone.errors import BedstoneError, Unknown
from bedstone.mill.model import Mill
from bedstone.mill.pellet_tables import Cooler, DieRow, PelletLine, Pellets
from bedstone.mill.plan import Finding
from bedstone.quantities import line_figures
from bedstone.web.careful import carefully
from bedstone.web.guard import SignedIn
from bedstone.web.line_pictures import (
    PlannedRate,
    factor_picture,
    limit_picture,
)
from bedstone.web.line_view import (
    Choice,
    RateToRun,
    RunOnLine,
    choices_of,
    chosen,
    planned_rates,
    rate_to_run,
    runs_ahead,
    slowest_hour,
)
from bedstone.web.roles import needs
from bedstone.web.show import Show
from bedstone.web.site import Site, site_of

__all__ = ["OnLine", "one_on_line", "page", "router"]

router = APIRouter(include_in_schema=False)
HOURS = 48
DONE = "The cooler is calibrated: the factors below are in the record."
FREE_FRAC = 0.999


@dataclass(frozen=True, slots=True, kw_only=True)
class OnLine:
    """A line with the run or product that is meant, its settings and the rate to run."""

    choice: Choice
    run: RunOnLine | None
    settings: LineSettings | None
    rate: RateToRun | None
    problem: BedstoneError | None
    pellets: Pellets | None
    line: PelletLine | None
    cooler: Cooler | None
    die: DieRow | None
    die_name: str
    durability: DurabilityAhead | None
    load: LoadAhead | None
    leaves: str  # how pellets leave the cooler, in words; empty if nobody knows
    knives: KnifeSetting | None  # for the length wanted, at the rate to run
    heating: tuple[Finding, ...]  # why nothing may run into the run's bin

    @property
    def cautions(self) -> tuple[str, ...]:
        """What is to be watched in this run, beside what always is."""
        said = self.settings.cautions if self.settings is not None else ()
        return tuple(words for words in said if words not in CAUTIONS)


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitView:
    """A product on a line in the picture of limits."""

    choice: Choice
    limits: tuple[HourLimit, ...]
    planned: tuple[PlannedRate, ...]
    picture: Markup

    @property
    def free(self) -> bool:
        """Whether the plan does not run it, and the air never holds it back, at either end."""
        most = max(row.rate_kg_s for row in self.limits)
        return not self.planned and min(row.rate_lo_kg_s for row in self.limits) >= FREE_FRAC * most


def page(request: Request, template: str, **values: Any) -> Response:
    """A page of the pellet line, with how figures are said."""
    return site_of(request).page(
        request,
        template,
        figures=line_figures,
        said_of=regression_words,
        die_said=die_words,
        heat=line_heat,
        words=cooler_mash,
        **values,
    )


@router.get("/pellet-line")
def next_runs(request: Request, on: str = "") -> Response:
    """For each line the settings of its next run, big enough to be read at arm's length."""
    site = site_of(request)
    mill = site.mill()
    choices = choices_of(mill)
    ahead = runs_ahead(site, mill)
    if on:
        named = chosen(choices, on)
        views = [] if named is None else [on_line(site, mill, named, _run_of(ahead, named))]
    else:
        views = [on_line(site, mill, *one) for one in _next(choices, ahead)]
    return page(request, "line_next.html", views=views, choices=choices, on=on, ahead=ahead)


def _run_of(ahead: tuple[RunOnLine, ...], choice: Choice) -> RunOnLine | None:
    return next(
        (one for one in ahead if (one.line, one.run.product) == (choice.line, choice.product)),
        None,
    )


def _next(
    choices: tuple[Choice, ...], ahead: tuple[RunOnLine, ...]
) -> list[tuple[Choice, RunOnLine | None]]:
    """The next run of each line; where the plan has none, nothing."""
    by_code = {one.code: one for one in choices}
    found: dict[str, tuple[Choice, RunOnLine | None]] = {}
    for one in ahead:
        choice = by_code.get(f"{one.line}:{one.run.product}")
        if choice is not None and one.line not in found:
            found[one.line] = (choice, one)
    return [found[line] for line in sorted(found)]


def on_line(site: Site, mill: Mill, choice: Choice, run: RunOnLine | None) -> OnLine:
    """Settings of a product on a line, with what stands in the tables, or why there are none."""
    at = max(site.clock(), run.start_at) if run is not None else site.clock()
    settings, rate, problem = None, None, None
    try:
        settings, rate = _settings_at_rate(site, choice, run, at)
    except BedstoneError as fault:
        problem = fault
    die_name = mill.product(choice.product).die
    dies = [row for row in mill.dies if (row.die, row.line) == (die_name, choice.line)]
    says = None if settings is None else line_says(site.record, choice.line)
    return OnLine(
        choice=choice,
        run=run,
        settings=settings,
        rate=rate,
        problem=problem,
        pellets=next((row for row in mill.pellets if row.product == choice.product), None),
        line=next((row for row in mill.pellet_lines if row.line == choice.line), None),
        cooler=next((row for row in mill.coolers if row.line == choice.line), None),
        die=dies[0] if dies else None,
        die_name=die_name,
        durability=None if settings is None else durability_ahead(site.record, settings, says),
        load=None if settings is None else load_ahead(site.record, settings, says),
        leaves="" if settings is None else leaving_words(mill, settings),
        knives=None
        if rate is None
        else knife_setting(mill, choice.product, choice.line, rate.rate_kg_s),
        heating=()
        if run is None
        else heating_in(site.record, run.run.finished_bin, at=site.clock()),
    )


def _settings_at_rate(
    site: Site, choice: Choice, run: RunOnLine | None, at: dt.datetime
) -> tuple[LineSettings, RateToRun]:
    """The settings at the rate to run: the tables', the plan's, or what the air lets through."""
    settings = settings_for(site.record, choice.product, choice.line, at=at)
    try:
        hours = cooler_hours(
            site.record, at=at, hours=_hours_on(run, at), products=(choice.product,)
        )
        air = slowest_hour([row for row in hours.limits if row.line == choice.line])
    except BedstoneError:  # no weather of the hour, or no cooler: the page says so
        air = None
    rate = rate_to_run(
        settings.rate_kg_s,
        None if run is None else run.rate_kg_s,
        air,
        is_trusted=settings.factors.is_trusted,
    )
    if rate.rate_kg_s < settings.rate_kg_s:
        settings = settings_for(
            site.record, choice.product, choice.line, at=at, rate_kg_s=rate.rate_kg_s
        )
    return settings, rate


def _hours_on(run: RunOnLine | None, at: dt.datetime) -> int:
    """Hours of the clock that a run is on the line from a moment on; this one without a run."""
    if run is None or run.end_at <= at:
        return 1
    floor = at.replace(minute=0, second=0, microsecond=0)
    return max(1, math.ceil((run.end_at - floor).total_seconds() / 3600))


def one_on_line(site: Site, mill: Mill, on: str) -> tuple[OnLine | None, tuple[Choice, ...]]:
    """What an address asks for: the next run's product if it names none."""
    choices = choices_of(mill)
    ahead = runs_ahead(site, mill)
    coming = _next(choices, ahead)
    choice = chosen(choices, on, coming[0][0] if coming else None)
    if choice is None:
        return None, choices
    return on_line(site, mill, choice, _run_of(ahead, choice)), choices


@router.get("/pellet-line/limits")
def limits(request: Request, line: str = "") -> Response:
    """The greatest rate by the hour of each product, with the plan's rates over it."""
    site = site_of(request)
    mill = site.mill()
    lines = sorted({row.line for row in mill.coolers})
    if line and line not in lines:
        raise Unknown(f"{line[:40]!r} has no cooler in the tables.", allowed=", ".join(lines))
    line = line or (lines[0] if lines else "")
    hours, problem = None, None
    try:
        hours = cooler_hours(
            site.record, at=site.clock(), hours=HOURS, products=products_on(mill, line)
        )
    except BedstoneError as fault:
        problem = fault
    views = [] if hours is None else _limit_views(site, mill, hours, line)
    return page(
        request,
        "line_limits.html",
        views=views,
        hours=hours,
        known=line_factors(site.record, line) if line else None,
        problem=problem,
        lines=lines,
        line_code=line,
    )


def _limit_views(site: Site, mill: Mill, hours: CoolerHours, line: str) -> list[LimitView]:
    """Each product of a line, those of the plan first."""
    show, ahead = Show.of(mill), runs_ahead(site, mill)
    views = []
    for product in dict.fromkeys(row.product for row in hours.limits if row.line == line):
        rows = tuple(row for row in hours.limits if (row.line, row.product) == (line, product))
        mine = [one for one in ahead if (one.line, one.run.product) == (line, product)]
        planned = planned_rates(rows, mine)
        picture = limit_picture(
            rows, planned, show, now_at=site.clock(), label=_limit_words(mill, rows, show)
        )
        views.append(
            LimitView(
                choice=Choice(line=line, product=product),
                limits=rows,
                planned=planned,
                picture=picture,
            )
        )
    return sorted(views, key=lambda one: not one.planned)


def _limit_words(mill: Mill, rows: tuple[HourLimit, ...], show: Show) -> str:
    rates = [row.rate_kg_s for row in rows]
    low, high = (line_figures.rate_words(one, show.units) for one in (min(rates), max(rates)))
    return f"{mill.name_of(rows[0].product)} on {rows[0].line} by the hour: from {low} to {high}"


@router.get("/pellet-line/calibration")
def calibration(request: Request, done: str = "") -> Response:
    """How each cooler exchanges against the correlations, with intervals, and what to log next."""
    return calibration_page(request, said=DONE if done == "calibrated" else "")


def calibration_page(
    request: Request, *, said: str = "", fault: BedstoneError | None = None
) -> Response:
    """The page of calibration, with what came of the form."""
    site = site_of(request)
    mill = site.mill()
    rows = [
        (known, factor_picture(known.factors, f"Factors of the cooler of {known.line}"))
        for known in (line_factors(site.record, row.line) for row in mill.coolers)
    ]
    return page(
        request,
        "line_calibration.html",
        status=200 if fault is None else fault.http_status,
        fault=fault,
        said=said,
        rows=rows,
    )


@router.post("/pellet-line/calibration/{line}")
def calibrate(request: Request, line: str, posted: SignedIn) -> Response:
    """Fit the factors of a line's cooler to its logged runs and keep them."""
    site = site_of(request)
    try:
        needs(posted.person, "readings")
        carefully(
            site,
            posted,
            same=lambda one: one.fact.kind == CALIBRATED and one.fact.content.get("line") == line,
            act=lambda: calibrate_line(site.record, line, by=posted.person.person, at=posted.at),
        )
    except BedstoneError as fault:
        return calibration_page(request, fault=fault)
    return RedirectResponse("/pellet-line/calibration?done=calibrated", status_code=303)
