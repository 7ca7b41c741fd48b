"""Runs on the pellet lines: what was read, what that says, their water, and forms for readings."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from bedstone.cooling.after_cooler import mould_words
from bedstone.desk.bag_activity import bags_of_run
from bedstone.desk.line_tests import durability_tests, mill_repeats
from bedstone.desk.log_run import NEAR, KnownRun, find_run, known_runs, log_run
from bedstone.desk.readings import record_readings
from bedstone.desk.run_logged import RunLogged, facts_of_run, logged_runs, run_logged, run_water
from bedstone.errors import BadInput, BedstoneError, Fault
from bedstone.mill.plan import Finding, Verdict
from bedstone.mill.reading_lines import reading_words, shown_unit
from bedstone.mill.readings import LINE_QUANTITIES, ReadingRow
from bedstone.quantities import line_figures
from bedstone.web.guard import Posted, SignedIn
from bedstone.web.roles import needs
from bedstone.web.show import Show
from bedstone.web.site import Site, site_of
from bedstone.web.typed import typed_moment
from bedstone.web.typed_measure import typed_reading

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
RUNS_SHOWN = 40
TIMES_SHOWN = 40
COLUMNS = 3
OFFERED = 30
TOLD = "told"
LOOK_BACK = dt.timedelta(days=60)
"""So far back runs are looked through for findings."""
DEGREES = ("C", "F")
DONE = {
    "read": "The readings are recorded.",
    "water": "The readings are recorded, and the run's water is booked anew by them.",
}


@dataclass(frozen=True, kw_only=True)
class Field:
    """A row of the form: a quantity with the unit that is meant where none is typed."""

    name: str
    quantity: str
    unit: str


def form_fields(show: Show) -> list[Field]:
    """What the form asks, in the order in which feed passes."""
    found = []
    for number, quantity in enumerate(LINE_QUANTITIES, 1):
        unit = shown_unit(quantity, show.units)
        found.append(
            Field(name=f"q{number}", quantity=quantity, unit=f"{'°' * (unit in DEGREES)}{unit}")
        )
    return found


@router.get("/pellet-line/runs")
def runs(request: Request) -> Response:
    """Logged runs, the newest first, each with what its readings say."""
    return page_of_runs(request)


def page_of_runs(
    request: Request, *, fault: BedstoneError | None = None, typed: Mapping[str, str] | None = None
) -> Response:
    """The page of all runs."""
    site = site_of(request)
    mill = site.mill()
    show, asked = Show.of(mill), request.query_params
    told = asked.get("which", "") == TOLD
    before = typed_moment(asked["before"], show, what="moment") if asked.get("before") else None
    logged = logged_runs(
        site.record,
        since=site.clock() - LOOK_BACK if told else None,
        before=before,
        most=RUNS_SHOWN + 1,
        with_findings=told,
    )
    older, logged = logged[RUNS_SHOWN:], logged[:RUNS_SHOWN]
    known = known_runs(site.record, site.clock())
    offered = sorted(known.values(), key=lambda one: (one.near_at, one.run), reverse=True)
    return site.page(
        request,
        "line_runs.html",
        status=200 if fault is None else fault.http_status,
        fault=fault,
        said="" if fault else DONE.get(asked.get("done", ""), ""),
        rows=[(one, worst_of(one.findings)) for one in logged],
        told=told,
        back_days=LOOK_BACK.days,
        is_first=before is None,
        older=logged[-1].at.strftime("%Y-%m-%dT%H:%M:%SZ") if older else "",
        urgent=[
            (one, finding)
            for one in logged
            for finding in one.findings
            if finding.verdict is Verdict.ACT and not told
        ],
        offered=offered[:OFFERED],
        today=site.today(),
        set_c={row.product: row.conditioning_c for row in mill.pellets},
        bins=[row for row in mill.bins if row.kind != "tank"],
        wanted_bin=(typed or {}).get("bin") or asked.get("bin", ""),
        typed=typed or {},
        figures=line_figures,
    )


def worst_of(findings: tuple[Finding, ...]) -> str:
    """The worst verdict of findings; empty if there is none."""
    rank = ("stop", "act", "note", "good")
    return min((one.verdict.value for one in findings), key=rank.index, default="")


@router.get("/pellet-line/runs/{run}")
def one_run(request: Request, run: str) -> Response:
    """All that is on record of a run on its lines, and the form for more readings."""
    return page_of_run(request, run)


def page_of_run(
    request: Request,
    code: str,
    *,
    fault: BedstoneError | None = None,
    typed: Mapping[str, str] | None = None,
) -> Response:
    """The page of one run."""
    site = site_of(request)
    mill = site.mill()
    show = Show.of(mill)
    known = find_run(known_runs(site.record, site.clock()), code)
    tests = durability_tests(site.record)
    repeats = mill_repeats(tests) if tests else None
    pellets = next((row for row in mill.pellets if row.product == known.product), None)
    return site.page(
        request,
        "line_run.html",
        status=200 if fault is None else fault.http_status,
        fault=fault,
        said="" if fault else DONE.get(request.query_params.get("done", ""), ""),
        known=known,
        pellets=pellets,
        lines=[(line, *of_line(site, known, line)) for line in known.lines],
        facts=facts_of_run(site.record, code),
        bags=bags_of_run(site.record, known.run, known.product),
        mould_words=mould_words,
        tests=[(one, one.found_by(repeats)) for one in tests if one.run == code],
        fields=form_fields(show),
        columns=range(1, COLUMNS + 1),
        typed=first_time(known, site.clock(), show) if typed is None else typed,
        read_table=read_table,
        figures=line_figures,
    )


def first_time(known: KnownRun, now: dt.datetime, show: Show) -> dict[str, str]:
    """The first column's time: now, while the run can still be on its line."""
    return {"at_1": show.form_moment(now)} if now - known.near_at <= NEAR else {}


def of_line(site: Site, known: KnownRun, line: str) -> tuple[RunLogged | None, object]:
    """What is logged of a run on a line, and its water."""
    return run_logged(site.record, known.run, line), run_water(site.record, known.run, line)


def read_table(logged: RunLogged, show: Show) -> tuple[list[str], list[tuple[str, list[str]]]]:
    """Quantities that were read, and for each time what was read of each."""
    read = logged.read
    out = {one.quantity for one in read.left_out}
    names = [name for name in LINE_QUANTITIES if name in read.rows or name in out]
    at: dict[dt.datetime, dict[str, str]] = {}
    for name in names:
        for row in read.rows.get(name, ()):
            at.setdefault(row.at, {})[name] = reading_words(row.value, name, show.units)
    for one in read.left_out:
        words = reading_words(one.row.value, one.quantity, show.units)
        at.setdefault(one.row.at, {})[one.quantity] = f"{words}, left out"
    rows = [
        (show.moment(when), [at[when].get(name, "") for name in names])
        for when in sorted(at, reverse=True)
    ]
    return names, rows[:TIMES_SHOWN]


@router.post("/pellet-line/runs/{run}")
def readings(request: Request, run: str, posted: SignedIn) -> Response:
    """Somebody read the dials of a run and typed what they showed."""
    site = site_of(request)
    try:
        needs(posted.person, "readings")
        rows, faults = typed_rows(posted, Show.of(site.mill()))
        known = find_run(known_runs(site.record, posted.at), run)
        line = posted.text("line") or known.lines[0]
        done = log_run(
            site.record,
            run,
            line,
            rows,
            not_understood=faults,
            by=posted.person.person,
            at=posted.at,
        )
    except BedstoneError as fault:
        if run not in known_runs(site.record, posted.at):
            raise
        return page_of_run(request, run, fault=fault, typed=posted.fields)
    words = "water" if done.water_again else "read"
    return RedirectResponse(f"/pellet-line/runs/{run}?done={words}", status_code=303)


def typed_rows(posted: Posted, show: Show) -> tuple[dict[str, list[ReadingRow]], list[Fault]]:
    """Readings by quantity, as the form's columns have them, and what cannot be understood."""
    found: dict[str, list[ReadingRow]] = {}
    faults: list[Fault] = []
    times: set[dt.datetime] = set()
    for column in range(1, COLUMNS + 1):
        cells = {
            field.quantity: text
            for field in form_fields(show)
            if (text := posted.text(f"{field.name}_{column}"))
        }
        if not cells:
            continue
        try:
            when = typed_moment(posted.text(f"at_{column}"), show, what=f"time of column {column}")
        except BadInput as bad:
            faults.append(Fault(column=f"time {column}", found=bad.seen or "nothing",
                                allowed=bad.allowed or "a day and a time"))  # fmt: skip
            continue
        if when in times:
            faults.append(Fault(column=f"time {column}", found="the same time again",
                                allowed="another time in each column"))  # fmt: skip
        times.add(when)
        for quantity, text in cells.items():
            try:
                value = typed_reading(text, show, quantity)
            except BadInput as bad:
                faults.append(Fault(column=quantity, found=bad.seen, allowed=bad.allowed))
            else:
                found.setdefault(quantity, []).append(ReadingRow(at=when, value=value))
    return found, faults


@router.post("/pellet-line/bin-reading")
def bin_reading(request: Request, posted: SignedIn) -> Response:
    """Somebody read a thermometer inside a bin."""
    site = site_of(request)
    show = Show.of(site.mill())
    try:
        needs(posted.person, "readings")
        when = typed_moment(posted.text("at"), show, what="time")
        value = typed_reading(posted.text("read"), show, "bin temperature")
        record_readings(
            site.record,
            instrument=posted.text("bin"),
            quantity="bin temperature",
            rows=[ReadingRow(at=when, value=value)],
            by=posted.person.person,
            at=posted.at,
        )
    except BedstoneError as fault:
        return page_of_runs(request, fault=fault, typed=posted.fields)
    return RedirectResponse(f"/bins/{posted.text('bin')}", status_code=303)
