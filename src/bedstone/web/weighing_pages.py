"""While a batch is weighed up: hand additions beforehand, the second person, re-balancing."""

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from bedstone.desk.beforehand import confirm_drug, weigh_beforehand
from bedstone.desk.rebalance_batch import record_rebalanced
from bedstone.errors import BadInput, BedstoneError, Fault
from bedstone.web.batch_pages import batch_page, find_batch
from bedstone.web.guard import Posted, SignedIn
from bedstone.web.roles import needs
from bedstone.web.show import Show
from bedstone.web.site import site_of
from bedstone.web.typed import reading_of, typed_count, typed_mass

__all__ = ["router"]

router = APIRouter(include_in_schema=False)


@router.post("/batches/{code}/beforehand")
def beforehand(request: Request, code: str, posted: SignedIn) -> Response:
    """Record a hand addition weighed before its batch, its lot scanned."""
    site = site_of(request)
    found = find_batch(site, code, posted.text("plan"))
    plan = found.standing.plan.plan
    try:
        needs(posted.person, "batch")
        typed = typed_mass(posted.text("mass"), Show.of(site.mill()))
        weigh_beforehand(
            site.record,
            plan,
            code,
            typed_count(posted.text("draw"), what="number of the draw"),
            mass_mg=typed.mass_mg,
            lot=posted.text("lot"),
            seen=reading_of(typed),
            by=posted.person.person,
            at=posted.at,
        )
    except BedstoneError as error:
        return batch_page(request, found, fault=error, extra=dict(posted.fields))
    return RedirectResponse(f"/batches/{code}?plan={plan}&done=beforehand", status_code=303)


@router.post("/batches/{code}/confirm")
def confirmed(request: Request, code: str, posted: SignedIn) -> Response:
    """Record that a second person has read label and scale of a drug."""
    site = site_of(request)
    found = find_batch(site, code, posted.text("plan"))
    plan = found.standing.plan.plan
    try:
        needs(posted.person, "drug check")
        confirm_drug(
            site.record,
            plan,
            code,
            typed_count(posted.text("draw"), what="number of the draw"),
            by=posted.person.person,
            at=posted.at,
        )
    except BedstoneError as error:
        return batch_page(request, found, fault=error)
    return RedirectResponse(f"/batches/{code}?plan={plan}&done=confirmed", status_code=303)


@router.post("/batches/{code}/rebalance")
def rebalanced(request: Request, code: str, posted: SignedIn) -> Response:
    """Reckon the rest of a batch anew after what is in; what was typed stays in the form."""
    site = site_of(request)
    plan = posted.text("plan")
    fields = dict(posted.fields)
    fault: BedstoneError | None = None
    try:
        needs(posted.person, "batch")
        found = find_batch(site, code, plan)
        record_rebalanced(
            site.record,
            found.standing.plan.plan,
            code,
            _typed_so_far(
                posted, [draw.sequence for draw in found.batch.draws], Show.of(site.mill())
            ),
            by=posted.person.person,
            at=posted.at,
        )
    except BedstoneError as error:
        fault = error
    return batch_page(request, find_batch(site, code, plan), fields=fields, fault=fault)


def _typed_so_far(posted: Posted, sequences: list[int], show: Show) -> dict[int, int]:
    """Mass of each draw that has a number typed into it. [mg]"""
    found: dict[int, int] = {}
    faults: list[Fault] = []
    for sequence in sequences:
        text = posted.text(f"actual-{sequence}").strip()
        try:
            if text:
                found[sequence] = typed_mass(text, show).mass_mg
        except BadInput as error:
            seen = error.seen or text
            faults.append(Fault(column=f"draw {sequence}", found=seen, allowed=error.allowed))
    if faults:
        raise BadInput("A number cannot be understood.", faults=tuple(faults))
    return found
