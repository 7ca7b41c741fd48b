"""Batches on the floor: today's list, and one batch to start, fill in and record."""

from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from bedstone.batching.import_draws import read_draws
from bedstone.desk.batches import batch_standing, record_batch, record_clean_out, start_batch
from bedstone.desk.beforehand import DRUG_CONFIRMED, HAND_WEIGHED
from bedstone.desk.extra_flush import flush_bins
from bedstone.desk.holds import held_lots
from bedstone.desk.made import BatchOnRecord, made_batches, started_batches
from bedstone.desk.mixer_fill import unmet_fill
from bedstone.desk.plans import PlanStanding, find_plan
from bedstone.desk.rebalance_batch import as_rebalanced
from bedstone.errors import BadInput, BedstoneError, Unknown
from bedstone.mill.model import Mill
from bedstone.mill.plan import Batch, Finding
from bedstone.mill.residue_places import ResiduePlaces
from bedstone.web.batch_form import (
    actual_draws,
    all_seen,
    draw_lines,
    fault_words,
    judged,
    judged_as_typed,
)
from bedstone.web.careful import carefully, is_about
from bedstone.web.guard import Posted, SignedIn
from bedstone.web.roles import needs
from bedstone.web.show import Show
from bedstone.web.site import Site, site_of
from bedstone.web.today import day_of, standing_plan, working_day
from bedstone.web.typed import typed_mass
from bedstone.web.weighing_view import weighing

__all__ = ["batch_page", "find_batch", "router", "ways_of"]

router = APIRouter(include_in_schema=False)
Mass = Annotated[int, Query(ge=0, le=10**15)]  # whole milligrams
SEEN_BY_HAND = (HAND_WEIGHED, DRUG_CONFIRMED)
"""Facts about a batch that change nothing of what was typed into its form."""
DONE = {
    "started": "The batch has begun.",
    "recorded": "The batch is in the record.",
    "beforehand": "The addition is weighed and in the record.",
    "confirmed": "The second person's look is in the record.",
    "cleaned": "The clean-out is in the record.",
    "flushed": "The flush is in the record. Start the batch: it is checked once more.",
}


@dataclass(frozen=True, kw_only=True)
class Found:
    """A batch with the plan it belongs to and what was made of it."""

    batch: Batch
    standing: PlanStanding
    made: BatchOnRecord | None
    state: str


def find_batch(site: Site, code: str, plan: str = "") -> Found:
    """The batch of an id: of the named plan, of the plan it was made by, or of the standing one.

    Raises
    ------
    Unknown
        If no such plan has it.
    """
    made = made_batches(site.record).get(code)
    if made is not None:
        plan = made.made.plan
    standing = find_plan(site.record, plan) if plan else standing_plan(site, working_day(site))
    batch = (
        next((one for one in standing.plan.batches if one.batch == code), None)
        if standing
        else None
    )
    if standing is None or batch is None:
        raise Unknown(
            f"There is no batch {code!r} in the plan that stands.",
            do="look at the list of batches, or trace the lot",
        )
    state = batch_standing(site.record, standing.plan)[code]
    if made is None:
        batch = as_rebalanced(site.record, batch)
    return Found(batch=batch, standing=standing, made=made, state=state)


@router.get("/batches")
def batches(request: Request, day: str = "") -> Response:
    """The batches of a day in the order in which they run."""
    site = site_of(request)
    wanted = day_of(site, day)
    standing = standing_plan(site, wanted)
    stands = batch_standing(site.record, standing.plan) if standing else {}
    waiting = [code for code, state in stands.items() if state in ("planned", "started")]
    return site.page(
        request,
        "batches.html",
        day=wanted,
        standing=standing,
        stands=stands,
        following=waiting[0] if waiting else "",
    )


@router.get("/batches/{code}")
def one_batch(request: Request, code: str, plan: str = "", done: str = "") -> Response:
    """One batch: its sheet, and the form to fill in while it is not made."""
    return batch_page(request, find_batch(site_of(request), code, plan), done=done)


def batch_page(
    request: Request,
    found: Found,
    *,
    done: str = "",
    fields: dict[str, str] | None = None,
    fault: BedstoneError | None = None,
    **more: Any,
) -> HTMLResponse:
    """The page of a batch, with what was typed so far still in it."""
    site = site_of(request)
    show = Show.of(site.mill())
    run = next((one for one in found.standing.plan.runs if one.run == found.batch.run), None)
    cleaning = [
        one for one in found.standing.plan.clean_outs if one.before_batch == found.batch.batch
    ]
    beside = weighing(site, found.batch)
    return site.page(
        request,
        "batch.html",
        weighing=beside,
        status=200 if fault is None else fault.http_status,
        fault=fault,
        batch=found.batch,
        run=run,
        cleaning=cleaning,
        standing=found.standing,
        state=found.state,
        made=found.made,
        findings=findings_of(site, found),
        made_draws=made_lines(found.made, found.batch, show),
        held_because=held_lots(site.record).get(found.batch.batch, ""),
        lines=draw_lines(found.batch, beside.filled(fields), show),
        typed=fields is not None,
        said=DONE.get(done, ""),
        review=more.get("review", False),
        extra=more.get("extra", {}),
        flush_from=flush_bins(site.record),
        ways=ways_of(site.mill(), found.batch),
    )


def ways_of(mill: Mill, batch: Batch) -> tuple[str, ...]:
    """The machines, bins and ways between them that a batch goes over and that can be cleaned."""
    places = ResiduePlaces(mill)
    return tuple(places.all[number].place for number in places.along(batch.route))


def findings_of(site: Site, found: Found) -> list[Finding]:
    """What the checks say of a batch: as it was planned or made, and as it began."""
    begun = started_batches(site.record).get(found.batch.batch)
    said = [*(found.made.made.findings if found.made else found.batch.findings)]
    if begun is not None:
        known = {(one.code, one.about, one.text) for one in said}
        said += [one for one in begun.findings if (one.code, one.about, one.text) not in known]
    if found.made is None:
        said += unmet_fill(site.mill(), found.batch)
    return said


def made_lines(made: BatchOnRecord | None, batch: Batch, show: Show) -> list[dict[str, Any]]:
    """What was really drawn, each against its target."""
    if made is None:
        return []
    divisions = {draw.sequence: draw.division_mg for draw in batch.draws}
    return [
        {
            "draw": draw,
            "division_mg": divisions.get(draw.sequence, 0),
            "judged": judged(
                draw.actual_mg,
                target_mg=draw.target_mg,
                tolerance_mg=draw.tolerance_mg,
                division_mg=divisions.get(draw.sequence, 0),
                show=show,
            ),
        }
        for draw in made.made.draws
    ]


@router.get("/understood")
def understood(request: Request, target: Mass, tolerance: Mass, division: Mass) -> Response:
    """How a number that is being typed is understood; a piece of the batch's page."""
    site = site_of(request)
    show = Show.of(site.mill())
    name, text = next(
        ((key, value) for key, value in request.query_params.items() if key.startswith("actual-")),
        ("", ""),
    )
    verdict, fault = None, ""
    if text.strip():
        try:
            verdict = judged_as_typed(
                typed_mass(text, show),
                target_mg=target,
                tolerance_mg=tolerance,
                division_mg=division,
                show=show,
            )
        except BadInput as error:
            fault = fault_words(error)
    page = site.templates.get_template("understood.html").render(
        judged=verdict, fault_words=fault, sequence=name.removeprefix("actual-")
    )
    return HTMLResponse(page)


@router.post("/batches/{code}/start")
def start(request: Request, code: str, posted: SignedIn) -> Response:
    """Begin a batch; refused with the reason when what really ran forbids it."""
    site = site_of(request)
    found = find_batch(site, code, posted.text("plan"))
    plan = found.standing.plan.plan
    try:
        needs(posted.person, "batch")
        carefully(
            site,
            posted,
            same=is_about(batch=code),
            act=lambda: start_batch(
                site.record,
                plan,
                code,
                by=posted.person.person,
                at=posted.at,
                after=posted.after,
            ),
        )
    except BedstoneError as error:
        return batch_page(request, found, fault=error)
    return RedirectResponse(f"/batches/{code}?plan={plan}&done=started", status_code=303)


@router.post("/batches/{code}/cleaned")
def cleaned(request: Request, code: str, posted: SignedIn) -> Response:
    """Record that the clean-out before a batch was done."""
    site = site_of(request)
    found = find_batch(site, code, posted.text("plan"))
    wanted = posted.text("clean_out")
    job = next((one for one in found.standing.plan.clean_outs if one.clean_out == wanted), None)
    if job is None:
        raise Unknown(f"The plan has no clean-out {wanted!r}.")
    try:
        needs(posted.person, "clean-out")
        carefully(
            site,
            posted,
            same=is_about(batch=job.before_batch, before_batch=job.before_batch),
            act=lambda: record_clean_out(
                site.record,
                places=job.places,
                reason=job.reason,
                before_batch=job.before_batch,
                by=posted.person.person,
                at=posted.at,
            ),
        )
    except BedstoneError as error:
        return batch_page(request, found, fault=error)
    plan = found.standing.plan.plan
    return RedirectResponse(f"/batches/{code}?plan={plan}&done=cleaned", status_code=303)


@router.post("/batches/{code}/record")
def record(request: Request, code: str, posted: SignedIn) -> Response:
    """Record what was weighed, once every number was shown as understood."""
    site = site_of(request)
    found = find_batch(site, code, posted.text("plan"))
    fields = dict(posted.fields)
    try:
        needs(posted.person, "batch")
        draws = actual_draws(found.batch, fields, Show.of(site.mill()))
        if found.made is None and not all_seen(draws, fields):
            return batch_page(request, found, fields=fields, review=True)
        carefully(
            site,
            posted,
            same=lambda one: one.fact.kind not in SEEN_BY_HAND and is_about(batch=code)(one),
            act=lambda: record_batch(
                site.record,
                found.standing.plan.plan,
                code,
                draws,
                by=posted.person.person,
                at=posted.at,
                after=posted.after,
            ),
        )
    except BedstoneError as error:
        return batch_page(
            request, find_batch(site, code, posted.text("plan")), fields=fields, fault=error
        )
    return RedirectResponse(f"/batches/{code}?done=recorded", status_code=303)


@router.post("/batches/{code}/import")
def from_controls(request: Request, code: str, posted: SignedIn) -> Response:
    """Fill the form from the CSV of the mill's batching controls; nothing is recorded yet."""
    site = site_of(request)
    found = find_batch(site, code, posted.text("plan"))
    try:
        needs(posted.person, "batch")
        fields = fields_from_csv(site, found, posted)
    except BedstoneError as error:
        return batch_page(request, found, fault=error)
    return batch_page(request, found, fields=fields, review=True)


def fields_from_csv(site: Site, found: Found, posted: Posted) -> dict[str, str]:
    """The fields of the form as the controls' file fills them.

    Raises
    ------
    BadInput
        If no file was chosen, it is no text, or it does not fit this batch.
    """
    upload = posted.files.get("csv")
    if upload is None or not upload.filename:
        raise BadInput("No file was chosen.", allowed="the CSV that the batching controls export")
    try:
        text = upload.file.read().decode("utf-8-sig")
    except UnicodeDecodeError:
        raise BadInput(f"{upload.filename} is no text in UTF-8.", do="export it as UTF-8") from None
    seen = read_draws(text, found.standing.plan.batches, mill=site.mill(), file=upload.filename)
    draws = seen.get(found.batch.batch)
    if draws is None:
        raise BadInput(
            f"{upload.filename} says nothing about batch {found.batch.batch}.",
            seen=", ".join(seen) or "no batch of this plan",
        )
    fields = {}
    for draw in draws:
        fields[f"actual-{draw.sequence}"] = f"{draw.number} {draw.unit}"
        fields[f"lot-{draw.sequence}"] = draw.lot or ""
    return fields
