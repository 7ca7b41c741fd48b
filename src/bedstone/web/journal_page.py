"""The journal: the last facts, one fact whole, taking one back, and whether the chain is whole."""

from itertools import islice

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from bedstone.desk.line_water import book_water_again, runs_named
from bedstone.desk.readings import READINGS
from bedstone.desk.verify import verify
from bedstone.errors import BadInput, BedstoneError, Refused, Unknown
from bedstone.ledger.model import Recorded
from bedstone.web.fact_words import what_happened
from bedstone.web.guard import SignedIn
from bedstone.web.roles import needs
from bedstone.web.show import Show
from bedstone.web.site import Site, site_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
SHOWN = 60
REVERSED = "journal.reversed/1"
MAY_GO_BACK = (
    "receiving.load_accepted/1",
    "grinding.ground/1",
    "batching.batch_started/1",
    "batching.batch_made/1",
    "pelleting.run_pelleted/1",
    "finishing.run_packed/1",
    "finishing.shipped/1",
    "cleaning.cleaned_out/1",
    "storage.bin_seen_empty/1",
    "storage.counted/1",
    READINGS,
)
"""What the floor records and may have recorded wrongly; all else is set anew instead."""


@router.get("/journal")
def page(request: Request, before: int = 0) -> Response:
    """The last facts, newest first."""
    site = site_of(request)
    facts = site.record.facts(newest_first=True, reversed_too=True)
    if before:
        facts = (one for one in facts if one.position < before)
    gone, show = taken_back(site), Show.of(site.mill_or_none())
    rows = [
        (one, what_happened(one.fact, show), one.position in gone) for one in islice(facts, SHOWN)
    ]
    return site.page(
        request, "journal.html", rows=rows, head=site.record.head(), findings=None, printed=""
    )


def taken_back(site: Site) -> dict[int, int]:
    """Positions of facts that were taken back, each with the fact that did it."""
    found: dict[int, int] = {}
    for one in site.record.facts(kinds=(REVERSED,), reversed_too=True):
        reverses = one.fact.content.get("reverses")
        if isinstance(reverses, int):
            found[reverses] = one.position
    return found


@router.get("/journal/verify")
def verified(request: Request, head: str = "") -> Response:
    """Chain and balances reckoned again, held against a printed head if one is given."""
    site = site_of(request)
    findings = verify(site.record, printed_head=head.strip() or None)
    return site.page(
        request,
        "journal.html",
        rows=[],
        head=site.record.head(),
        findings=findings,
        printed=head.strip(),
    )


@router.get("/journal/{position}")
def one_fact(request: Request, position: int) -> Response:
    """One fact whole, as it was written."""
    return fact_page(request, fact_at(site_of(request), position))


def fact_at(site: Site, position: int) -> Recorded:
    """A fact of the journal.

    Raises
    ------
    Unknown
        If the journal has no such place.
    """
    if not 0 < position <= site.record.head().position:
        raise Unknown(f"There is no fact {position}.", do="see the last facts")
    return site.record.fact(position)


def fact_page(
    request: Request, found: Recorded, *, why: str = "", fault: BedstoneError | None = None
) -> HTMLResponse:
    """The page of a fact, with the form that takes it back where that may be done."""
    site = site_of(request)
    return site.page(
        request,
        "fact.html",
        status=200 if fault is None else fault.http_status,
        fault=fault,
        found=found,
        what=what_happened(found.fact, Show.of(site.mill_or_none())),
        gone=taken_back(site).get(found.position),
        may_go_back=found.fact.kind in MAY_GO_BACK,
        why=why,
    )


@router.post("/journal/{position}/reverse")
def reverse(request: Request, position: int, posted: SignedIn) -> Response:
    """Take back a fact by a new one; only a manager may, and must say why."""
    site = site_of(request)
    found = fact_at(site, position)
    why = posted.text("why")
    try:
        needs(posted.person, "take back")
        if found.fact.kind not in MAY_GO_BACK:
            raise Refused(
                "A fact of this kind is not taken back.",
                seen=found.fact.kind,
                do="set it anew: what was recorded last holds",
            )
        if not why:
            raise BadInput("Say why it is taken back.", seen="nothing", allowed="a few words")
        site.record.reverse(position, by=posted.person.person, why=why, recorded_at=posted.at)
        runs = runs_named([found])
        book_water_again(site.record, runs, by=posted.person.person, at=posted.at)
    except BedstoneError as error:
        return fact_page(request, found, why=why, fault=error)
    return RedirectResponse(f"/journal/{position}", status_code=303)
