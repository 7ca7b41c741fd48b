"""Runs after the mixer: pelleted, packed, shipped, recorded from thin forms."""

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from bedstone.desk.line_water import pelleted_by_readings
from bedstone.desk.made import BatchOnRecord, made_batches
from bedstone.desk.runs import (
    PelletedBatch,
    record_ground,
    record_packed,
    record_pelleted,
    record_shipped,
    record_shipped_bulk,
)
from bedstone.errors import BadInput, BedstoneError, Unknown
from bedstone.mill.plan import GrindJob, Run
from bedstone.web.careful import carefully, is_about
from bedstone.web.guard import Posted, SignedIn
from bedstone.web.roles import needs
from bedstone.web.run_stages import Stage, shared, stages_of
from bedstone.web.show import Show
from bedstone.web.site import Site, site_of
from bedstone.web.today import day_of, standing_plan
from bedstone.web.typed import reading_of, typed_count, typed_mass

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
DONE = {
    "pelleted": "The pelleting is in the record.",
    "packed": "The bags are in the record.",
    "shipped": "The shipment is in the record.",
    "ground": "The grinding is in the record.",
}
GROUND = "grinding.ground/1"


@dataclass(frozen=True, kw_only=True)
class RunView:
    """A run with its batches that were made and what has happened to it since."""

    run: Run
    made: tuple[BatchOnRecord, ...]
    stage: Stage

    @property
    def made_mg(self) -> int:
        """What was mixed for it so far."""
        return sum(batch.mass_mg for batch in self.made)


def run_views(site: Site, day: str) -> list[RunView]:
    """The runs of the plan that stands for a day, in order of time."""
    standing = standing_plan(site, day_of(site, day))
    if standing is None:
        return []
    made, stages = made_batches(site.record), stages_of(site.record)
    routes = {batch.batch: batch.route for batch in standing.plan.batches}
    views = []
    for run in sorted(standing.plan.runs, key=lambda one: one.start_at):
        route = routes.get(run.batches[0], ()) if run.batches else ()
        views.append(
            RunView(
                run=run,
                made=tuple(made[code] for code in run.batches if code in made),
                stage=stages.get(run.run, Stage()).on_route(route, site.mill()),
            )
        )
    return views


@router.get("/runs")
def runs(request: Request, day: str = "", done: str = "") -> Response:
    """The runs of a day with what happened to each, and forms for what comes next."""
    return runs_page(request, day, done=done)


def runs_page(
    request: Request,
    day: str,
    *,
    done: str = "",
    opened: str = "",
    fields: dict[str, str] | None = None,
    fault: BedstoneError | None = None,
) -> HTMLResponse:
    """The page of the runs; the form that met an error stays open with what was typed."""
    site = site_of(request)
    mill = site.mill()
    return site.page(
        request,
        "runs.html",
        status=200 if fault is None else fault.http_status,
        fault=fault,
        day=day_of(site, day),
        views=run_views(site, day),
        grinding=grind_views(site, day),
        warehouses=[row for row in mill.bins if row.kind == "warehouse"],
        opened=opened,
        fields=fields or {},
        said=DONE.get(done, ""),
    )


def grind_views(site: Site, day: str) -> list[tuple[GrindJob, int]]:
    """The grinding of the plan that stands, each job with how often it was recorded."""
    standing = standing_plan(site, day_of(site, day))
    jobs = standing.plan.grinding if standing else ()
    done = [one.fact.content.get("job") for one in site.record.facts(kinds=(GROUND,))]
    return [(job, done.count(job.job)) for job in jobs] if standing else []


WHOSE = {"pelleted": "pelleting", "packed": "packing", "shipped": "shipping", "bulk": "shipping"}
"""What each act on a run is in the table of roles."""


@router.post("/grinding/{code}")
def ground(request: Request, code: str, posted: SignedIn) -> Response:
    """Record a job of grinding as it really went."""
    site = site_of(request)
    day = posted.text("day")
    job = next((job for job, _ in grind_views(site, day) if job.job == code), None)
    if job is None:
        raise Unknown(f"The plan that stands has no grinding {code!r}.", do="see the list of runs")
    show = Show.of(site.mill())
    try:
        needs(posted.person, "grinding")
        carefully(
            site,
            posted,
            same=is_about(job=code),
            act=lambda: record_ground(
                site.record,
                machine=job.machine,
                makes=job.makes,
                from_place=job.from_place,
                to_place=job.to_place,
                in_mg=typed_mass(posted.text("in"), show).mass_mg,
                out_mg=typed_mass(posted.text("out"), show).mass_mg,
                job=job.job,
                by=posted.person.person,
                at=posted.at,
            ),
        )
    except BedstoneError as error:
        opened = f"{code}-ground"
        return runs_page(request, day, opened=opened, fields=dict(posted.fields), fault=error)
    return RedirectResponse(f"/runs?day={day}&done=ground#{code}", status_code=303)


def view_of(site: Site, day: str, code: str) -> RunView:
    """One run of the plan that stands.

    Raises
    ------
    Unknown
        If the plan has no such run.
    """
    for view in run_views(site, day):
        if view.run.run == code:
            return view
    raise Unknown(f"The plan that stands has no run {code!r}.", do="see the list of runs")


@router.post("/runs/{code}/{act}")
def record(request: Request, code: str, act: str, posted: SignedIn) -> Response:
    """Record one step of a run."""
    site = site_of(request)
    day = posted.text("day")
    acts = {"pelleted": pelleted, "packed": packed, "shipped": shipped, "bulk": shipped_bulk}
    if act not in acts:
        raise Unknown(f"There is no act {act!r} on a run.", do="see the list of runs")
    view = view_of(site, day, code)
    try:
        needs(posted.person, WHOSE[act])
        carefully(
            site,
            posted,
            same=is_about(run=code),
            act=lambda: acts[act](site, view, posted),
        )
    except BedstoneError as error:
        return runs_page(
            request, day, opened=f"{code}-{act}", fields=dict(posted.fields), fault=error
        )
    words = "shipped" if act == "bulk" else act
    return RedirectResponse(f"/runs?day={day}&done={words}#{code}", status_code=303)


def pelleted(site: Site, view: RunView, posted: Posted) -> None:
    """Record the batches of a run that have not been pelleted yet as pelleted.

    Raises
    ------
    BadInput
        If there is no such batch, or the masses do not fit.
    """
    waiting = [one for one in view.made if one.made.batch not in view.stage.pelleted]
    if not waiting:
        raise BadInput("No batch of this run waits for the pellet line.", do="make a batch first")
    if not view.stage.pellet_line:
        raise BadInput("This run does not go over a pellet line.")
    record_pelleted(
        site.record,
        run=view.run.run,
        machine=view.stage.pellet_line,
        from_place=view.stage.before_pellets,
        to_place=view.stage.after_pellets,
        batches=_through_the_line(site, view, waiting, posted),
        by=posted.person.person,
        at=posted.at,
    )


def _through_the_line(
    site: Site, view: RunView, waiting: list[BatchOnRecord], posted: Posted
) -> tuple[PelletedBatch, ...]:
    """The batches with what was typed of steam, dust and pellets; the rest by the readings.

    Raises
    ------
    BadInput
        If what was typed cannot be.
    """
    show = Show.of(site.mill())
    masses = {one.made.batch: one.mass_mg for one in waiting}

    def typed(name: str) -> dict[str, int] | None:
        text = posted.text(name)
        if not text:
            return None
        parts = shared(typed_mass(text, show).mass_mg, list(masses.values()))
        return dict(zip(masses, parts, strict=True))

    return pelleted_by_readings(
        site.record,
        view.run.run,
        view.stage.pellet_line,
        masses,
        steam_mg=typed("steam"),
        dust_mg=typed("dust"),
        out_mg=typed("out"),
    )


def packed(site: Site, view: RunView, posted: Posted) -> None:
    """Record bags that were filled from a run's bin."""
    record_packed(
        site.record,
        run=view.run.run,
        machine=view.run.packing_machine,
        from_place=view.run.finished_bin,
        to_place=posted.text("to"),
        bags=typed_count(posted.text("bags"), what="number of bags"),
        scrap_mg=typed_mass(posted.text("scrap") or "0", Show.of(site.mill())).mass_mg,
        batches=tuple(one.made.batch for one in view.made),
        by=posted.person.person,
        at=posted.at,
    )


def shipped(site: Site, view: RunView, posted: Posted) -> None:
    """Record bags that left for the customer."""
    record_shipped(
        site.record,
        order=view.run.order,
        run=view.run.run,
        bags=typed_count(posted.text("bags"), what="number of bags"),
        from_place=posted.text("from"),
        by=posted.person.person,
        at=posted.at,
    )


def shipped_bulk(site: Site, view: RunView, posted: Posted) -> None:
    """Record loose feed that left for the customer."""
    mass = typed_mass(posted.text("mass"), Show.of(site.mill()))
    record_shipped_bulk(
        site.record,
        order=view.run.order,
        run=view.run.run,
        mass_mg=mass.mass_mg,
        from_place=view.run.finished_bin,
        machine=view.run.packing_machine,
        seen=reading_of(mass),
        by=posted.person.person,
        at=posted.at,
    )
