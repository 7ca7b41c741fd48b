"""Proofs due and why; a proof typed in and judged before it is kept; power that failed."""

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from bedstone.desk.catches import Judged, judge_proof, prove
from bedstone.desk.checks import must_be_instrument
from bedstone.desk.proof_standing import next_proof, proofs_due
from bedstone.desk.proofs import ProofPoint, power_events, record_power_event
from bedstone.errors import BadInput, BedstoneError
from bedstone.mill.model import Meter
from bedstone.web.careful import carefully, is_about
from bedstone.web.guard import Posted, SignedIn
from bedstone.web.roles import needs
from bedstone.web.show import Show
from bedstone.web.site import site_of
from bedstone.web.typed import typed_mass, typed_moment

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
ROWS = 6
DONE = {
    "proved": "The proof is in the record.",
    "power": "The power event is in the record: every meter counts as unproved until it is proved.",
}


@router.get("/proofs")
def proofs(request: Request, done: str = "") -> Response:
    """What is to be proved and why, and when the rest will be."""
    return due_page(request, done=done)


def due_page(
    request: Request,
    *,
    done: str = "",
    typed: dict[str, str] | None = None,
    fault: BedstoneError | None = None,
) -> HTMLResponse:
    """The page of proofs due, with what was typed of a power event still in it."""
    site = site_of(request)
    return site.page(
        request,
        "proofs.html",
        status=200 if fault is None else fault.http_status,
        fault=fault,
        rows=proofs_due(site.record, at=site.clock()),
        events=power_events(site.record)[::-1][:10],
        typed=typed or {},
        said=DONE.get(done, ""),
    )


@router.post("/power")
def power(request: Request, posted: SignedIn) -> Response:
    """Record that the power failed or surged."""
    site = site_of(request)
    show = Show.of(site.mill())
    try:
        needs(posted.person, "power")
        record_power_event(
            site.record,
            from_at=typed_moment(posted.text("from"), show, what="beginning"),
            to_at=typed_moment(posted.text("to"), show, what="end"),
            note=posted.text("note"),
            by=posted.person.person,
            at=posted.at,
        )
    except BedstoneError as error:
        return due_page(request, typed=dict(posted.fields), fault=error)
    return RedirectResponse("/proofs?done=power", status_code=303)


@router.get("/proofs/{code}")
def form(request: Request, code: str) -> Response:
    """The form of a proof of one scale or meter."""
    return proof_page(request, code, {})


def proof_page(
    request: Request,
    code: str,
    typed: dict[str, str],
    *,
    judged: Judged | None = None,
    understood: str = "",
    fault: BedstoneError | None = None,
) -> HTMLResponse:
    """The form of a proof, with what was typed so far and what it says."""
    site = site_of(request)
    mill = site.mill()
    tool = must_be_instrument(mill, code)
    values: dict[str, Any] = {
        "code": code,
        "tool": tool,
        "is_meter": isinstance(tool, Meter),
        "standing": next(
            row for row in proofs_due(site.record, at=site.clock()) if row.instrument == code
        ),
        "next_words": next_proof(mill, code, proved_at=site.clock()).words(mill),
        "numbers": range(1, ROWS + 1),
    }
    return site.page(
        request,
        "proof.html",
        status=200 if fault is None else fault.http_status,
        fault=fault,
        typed=typed,
        judged=judged,
        understood=understood,
        **values,
    )


def points_of(posted: Posted, show: Show) -> tuple[ProofPoint, ...]:
    """The pairs that were typed; a row without a number on either side is passed over.

    Raises
    ------
    BadInput
        If a pair is half typed, or a mass cannot be understood.
    """
    found = []
    for number in range(1, ROWS + 1):
        known, seen = posted.text(f"known-{number}"), posted.text(f"seen-{number}")
        if bool(known) != bool(seen):
            raise BadInput(
                f"Row {number} is half typed.",
                seen=known or seen,
                allowed="both numbers of a row, or none",
            )
        if known:
            found.append(
                ProofPoint(
                    reference_mg=typed_mass(known, show).mass_mg,
                    seen_mg=typed_mass(seen, show).mass_mg,
                )
            )
    return tuple(found)


@router.post("/proofs/{code}")
def proved(request: Request, code: str, posted: SignedIn) -> Response:
    """Show what a proof says, and record it once it was seen so."""
    site = site_of(request)
    mill = site.mill()
    must_be_instrument(mill, code)
    typed = {name: posted.text(name) for name in posted.fields}
    try:
        needs(posted.person, "proof")
        points = points_of(posted, Show.of(mill))
        judged = judge_proof(mill, code, points)
        adjusted = posted.text("adjusted") == "yes"
        understood = f"{points}{adjusted}"
        if posted.text("look") or posted.text("understood") != understood:
            return proof_page(request, code, typed, judged=judged, understood=understood)
        carefully(
            site,
            posted,
            same=is_about(instrument=code),
            act=lambda: prove(
                site.record,
                code,
                points,
                adjusted=adjusted,
                note=posted.text("note"),
                by=posted.person.person,
                at=posted.at,
            ),
        )
    except BedstoneError as error:
        return proof_page(request, code, typed, fault=error)
    return RedirectResponse("/proofs?done=proved", status_code=303)
