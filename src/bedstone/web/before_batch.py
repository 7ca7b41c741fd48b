"""What is done before a batch that may not start: a flush or a clean-out that no plan has."""

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from bedstone.desk.batches import record_clean_out
from bedstone.desk.extra_flush import record_extra_flush
from bedstone.errors import BadInput, BedstoneError
from bedstone.web.batch_pages import batch_page, find_batch, ways_of
from bedstone.web.careful import carefully, is_about
from bedstone.web.guard import SignedIn
from bedstone.web.roles import needs
from bedstone.web.show import Show
from bedstone.web.site import site_of
from bedstone.web.typed import reading_of, typed_mass

__all__ = ["router"]

router = APIRouter(include_in_schema=False)


@router.post("/batches/{code}/flush")
def flushed(request: Request, code: str, posted: SignedIn) -> Response:
    """Record a flush before a batch that the plan does not have."""
    site = site_of(request)
    found = find_batch(site, code, posted.text("plan"))
    plan = found.standing.plan.plan
    show = Show.of(site.mill())
    try:
        needs(posted.person, "batch")
        mass = typed_mass(posted.text("flush-mass"), show)
        carefully(
            site,
            posted,
            same=is_about(batch=code, run=found.batch.run),
            act=lambda: record_extra_flush(
                site.record,
                plan,
                code,
                from_place=posted.text("flush-from"),
                mass_mg=mass.mass_mg,
                seen=reading_of(mass),
                by=posted.person.person,
                at=posted.at,
            ),
        )
    except BedstoneError as error:
        return batch_page(request, found, fault=error, extra=dict(posted.fields))
    return RedirectResponse(f"/batches/{code}?plan={plan}&done=flushed", status_code=303)


@router.post("/batches/{code}/clean")
def cleaned_out(request: Request, code: str, posted: SignedIn) -> Response:
    """Record that places on the way of a batch were cleaned by hand, though no plan asked for it."""
    site = site_of(request)
    found = find_batch(site, code, posted.text("plan"))
    places = tuple(
        place for place in ways_of(site.mill(), found.batch) if posted.text(f"clean-{place}")
    )
    try:
        needs(posted.person, "clean-out")
        if not places:
            raise BadInput(
                "No place is ticked.", allowed="one or more", do="tick what was cleaned by hand"
            )
        carefully(
            site,
            posted,
            same=is_about(batch=code),
            act=lambda: record_clean_out(
                site.record,
                places=places,
                reason=posted.text("clean-why"),
                by=posted.person.person,
                at=posted.at,
            ),
        )
    except BedstoneError as error:
        return batch_page(request, found, fault=error, extra=dict(posted.fields))
    plan = found.standing.plan.plan
    return RedirectResponse(f"/batches/{code}?plan={plan}&done=cleaned", status_code=303)
