"""Today: the plan of a day as bars and words, planned again, released."""

import datetime as dt
from collections.abc import Callable, Mapping
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from bedstone.desk import plan_day
from bedstone.desk.batches import batch_standing
from bedstone.desk.bin_findings import HEATING, findings_of_bins
from bedstone.desk.orders import all_orders
from bedstone.desk.plan_now import stops_now
from bedstone.desk.plans import PlanStanding, find_plan, latest_plan, released_plan
from bedstone.desk.proof_standing import unproved_meters
from bedstone.desk.run_logged import to_act_on
from bedstone.errors import BadInput, BedstoneError, Conflict, Refused
from bedstone.mill.plan import Batch, BatchKind, Finding, Plan, Run
from bedstone.web.careful import carefully
from bedstone.web.day_bars import day_picture, species_stripes
from bedstone.web.guard import Posted, SignedIn
from bedstone.web.plan_words import difference_words, saving_cents100
from bedstone.web.roles import needs
from bedstone.web.show import Show
from bedstone.web.site import Site, site_of
from bedstone.web.typed import sane_day

__all__ = ["day_of", "made_orders", "router", "standing_plan", "work_answer", "working_day"]

router = APIRouter(include_in_schema=False)
DAYS_AHEAD = 4
LOOK_BACK = dt.timedelta(hours=36)
"""Runs of the pellet lines whose findings stand on today's page."""
DONE = {
    "planned": "The day was planned again. This is the new plan; it is not released yet.",
    "same": "The day was planned again and came out as it was.",
    "by-hand": "Your order of running was checked whole by the verifier and is proposed; it is not "
    "released yet.",
    "released": "The plan is released: batch sheets may be printed and batches made.",
    "not-printed": "The plan is released, but its papers in the mill's folder could not be printed "
    "again and still say that it is proposed: print them from here.",
}


def day_of(site: Site, text: str) -> dt.date:
    """The day that an address names; if it names none, today or the next day that has a plan.

    Raises
    ------
    BadInput
        If it is no day.
    """
    if not text:
        return working_day(site)
    try:
        found = dt.date.fromisoformat(text)
    except ValueError:
        allowed = "a day as 2026-11-25"
        raise BadInput("This is no day.", seen=repr(text[:40]), allowed=allowed) from None
    return sane_day(found, what="day")


def working_day(site: Site) -> dt.date:
    """Today, unless it has no plan and one of the next days has one (planned the evening before)."""
    today = site.today()
    ahead = (today + dt.timedelta(days=number) for number in range(DAYS_AHEAD))
    return next((day for day in ahead if latest_plan(site.record, day) is not None), today)


def standing_plan(site: Site, day: dt.date) -> PlanStanding | None:
    """The plan that the floor works by: the released one, else the newest that was proposed."""
    return released_plan(site.record, day) or latest_plan(site.record, day)


@router.get("/")
def page(request: Request, day: str = "", done: str = "") -> Response:
    """The plan that stands for a day."""
    site = site_of(request)
    if site.mill_or_none() is None:
        return site.page(request, "no_mill.html")
    wanted = day_of(site, day)
    standing = standing_plan(site, wanted)
    if standing is None:
        return site.page(
            request,
            "no_plan.html",
            day=wanted,
            is_today=wanted == site.today(),
            heating=heating_bins(site),
            plan=None,
        )
    return plan_page(request, standing, done=done)


@router.get("/plans/{plan}")
def one_plan(request: Request, plan: str, done: str = "") -> Response:
    """Any plan in the record."""
    return plan_page(request, find_plan(site_of(request).record, plan), done=done)


def plan_page(
    request: Request,
    standing: PlanStanding,
    *,
    done: str = "",
    fault: BedstoneError | None = None,
) -> HTMLResponse:
    """The page of a plan, with what differs from the one the floor works by."""
    site, plan = site_of(request), standing.plan
    show = Show.of(site.mill())
    ruling = standing_plan(site, plan.day)
    newest = latest_plan(site.record, plan.day)
    in_force = ruling is not None and ruling.plan.plan == plan.plan
    stands = batch_standing(site.record, plan)
    stops = () if standing.status == "refused" else stops_now(site.record, plan)
    movable = to_move(site, plan, stands)
    return site.page(
        request,
        "today.html",
        status=200 if fault is None else fault.http_status,
        fault=fault,
        standing=standing,
        plan=plan,
        is_today=plan.day == site.today(),
        in_force=in_force,
        stops=stops,
        **watched(site, plan),
        may_print=standing.status != "refused" and not stops,
        newer=newest.plan if in_force and newest and newest.plan.plan != plan.plan else None,
        changes=(
            difference_words(ruling.plan, plan, show, made=made_orders(site))
            if ruling and not in_force
            else []
        ),
        may_move=bool(movable) and standing.status != "refused",
        bars=day_picture(plan, show, now_at=site.clock(), standing=stands, movable=movable),
        stripes=species_stripes(plan, show),
        stands=stands,
        flushes=[one for one in plan.batches if one.kind is BatchKind.FLUSH],
        saving=saving_cents100(plan),
        findings=worst_first(plan),
        said=DONE.get(done, ""),
    )


def watched(site: Site, plan: Plan) -> dict[str, Any]:
    """What stands above the plan: bins that heat whatever day it is of, lines, unproved meters."""
    return {
        "heating": heating_bins(site),
        "on_lines": on_lines(site, plan),
        "unproved": unproved_meters(site.record),
    }


def heating_bins(site: Site) -> list[Finding]:
    """Bins that read hot or warm by themselves."""
    found = findings_of_bins(site.record, at=site.clock())
    return [one for rows in found.values() for one in rows if one.code in HEATING]


def on_lines(site: Site, plan: Plan) -> tuple[Finding, ...]:
    """What the pellet lines sent on that somebody must act on, beside the plan of the working day."""
    if plan.day != working_day(site):
        return ()
    return to_act_on(site.record, since=site.clock() - LOOK_BACK)


def to_move(site: Site, plan: Plan, stands: Mapping[str, str]) -> set[str]:
    """Runs of today or a later day of which nothing has begun, so that they may be moved by hand."""
    if plan.day < site.today():
        return set()
    return {
        run.run
        for run in plan.runs
        if all(stands.get(batch, "planned") == "planned" for batch in run.batches)
    }


def made_orders(site: Site) -> set[str]:
    """Orders that are made already."""
    return {row.order.order for row in all_orders(site.record) if row.status == "made"}


def worst_first(plan: Plan) -> list[Finding]:
    """Findings of the plan that ask for something, what must not happen first."""
    rank = {"stop": 0, "act": 1, "note": 2, "good": 3}
    owners: tuple[Run | Batch, ...] = (*plan.runs, *plan.batches)
    said = {(one.code.split(".")[0], one.about) for one in plan.findings}
    found = [
        *plan.findings,
        *(
            one
            for owner in owners
            for one in owner.findings
            if (one.code.split(".")[0], one.about) not in said
        ),
    ]
    return sorted(
        (one for one in found if one.verdict.value != "good"),
        key=lambda one: rank[one.verdict.value],
    )


@router.post("/plan")
def plan_again(request: Request, posted: SignedIn) -> Response:
    """Plan a day and put the plan into the record as proposed."""
    needs(posted.person, "plan")
    site = site_of(request)
    day = day_of(site, posted.text("day"))

    def act() -> str:
        plan = plan_day.make_plan(site.record, day=day, at=posted.at)
        before = latest_plan(site.record, day)
        if before is not None and before.plan.plan == plan.plan:
            return f"/plans/{plan.plan}?done=same"
        plan_day.propose(site.record, plan, by=posted.person.person, at=posted.at)
        return f"/plans/{plan.plan}?done=planned"

    return work_answer(request, f"Planning {Show.of(site.mill()).day(day)}", act, join=True)


def work_answer(
    request: Request, name: str, act: Callable[[], str], *, join: bool = False
) -> Response:
    """Start work; go to its result if that comes soon, else to the page that shows how it goes."""
    site = site_of(request)
    task = site.work.start(name, act, join=join)
    address = site.work.wait(task)
    return RedirectResponse(address or f"/under-way/{task.task}", status_code=303)


@router.post("/plans/{plan}/release")
def release(request: Request, plan: str, posted: SignedIn) -> Response:
    """Release a plan; only a manager may, and only what the verifier lets pass."""
    site = site_of(request)
    standing = find_plan(site.record, plan)
    try:
        released(site, standing.plan, posted)
    except (Refused, Conflict) as error:
        return plan_page(request, standing, fault=error)
    done = "released" if printed_anew(site, standing.plan) else "not-printed"
    return RedirectResponse(f"/?day={standing.plan.day}&done={done}", status_code=303)


def printed_anew(site: Site, plan: Plan) -> bool:
    """Print the papers of a released plan again where they lie as files; False if that failed."""
    from bedstone.papers.plan_folder import papers_anew

    if site.papers_folder is not None:
        try:
            papers_anew(site.papers_folder, site.record, plan)
        except OSError:
            return False
    return True


def released(site: Site, plan: Plan, posted: Posted) -> None:
    """Release a plan at the place of the journal at which it was read."""
    needs(posted.person, "release")

    carefully(
        site,
        posted,
        same=lambda one: one.fact.kind == "planning.plan_released/1",
        act=lambda: plan_day.release(site.record, plan.plan, by=posted.person.person, at=posted.at),
    )


@router.get("/under-way/{task}")
def work_page(request: Request, task: str) -> Response:
    """How work that takes longer goes; leads on when it is done."""
    site = site_of(request)
    found = site.work.find(task)
    if found.done():
        return RedirectResponse(found.address(), status_code=303)
    return site.page(request, "work.html", task=found)


@router.get("/under-way/{task}/state")
def work_state(request: Request, task: str) -> Response:
    """The piece of that page that changes."""
    site = site_of(request)
    found = site.work.find(task)
    if found.done():
        return HTMLResponse("", headers={"HX-Redirect": f"/under-way/{task}"})
    text = site.templates.get_template("work_state.html").render(task=found)
    return HTMLResponse(text)
