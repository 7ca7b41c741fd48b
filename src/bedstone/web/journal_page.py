"""The journal: the last facts, the end of the chain, and whether it is whole."""

from itertools import islice

from fastapi import APIRouter, Request
from fastapi.responses import Response

from bedstone.desk.verify import verify
from bedstone.web.fact_words import what_happened
from bedstone.web.site import site_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
SHOWN = 60


@router.get("/journal")
def page(request: Request, before: int = 0) -> Response:
    """The last facts, newest first."""
    site = site_of(request)
    facts = site.record.facts(newest_first=True, reversed_too=True)
    if before:
        facts = (one for one in facts if one.position < before)
    rows = [(one, what_happened(one.fact)) for one in islice(facts, SHOWN)]
    return site.page(
        request, "journal.html", rows=rows, head=site.record.head(), findings=None, printed=""
    )


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
