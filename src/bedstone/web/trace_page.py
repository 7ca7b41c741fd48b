"""Trace: where a lot came from and where it went; scanning a code; holding lots."""

from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from bedstone.desk.holds import held_lots, hold_lots, release_lots
from bedstone.desk.made import made_batches, started_batches
from bedstone.desk.orders import all_orders
from bedstone.desk.trace import trace
from bedstone.errors import BadInput, BedstoneError, Unknown
from bedstone.tracing.model import TraceLink
from bedstone.web.batch_pages import find_batch
from bedstone.web.careful import carefully
from bedstone.web.guard import SignedIn
from bedstone.web.lot_graph import lot_graph
from bedstone.web.roles import needs
from bedstone.web.show import Show
from bedstone.web.site import Site, site_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
MOST_GROUPS = 40


@router.get("/trace")
def page(
    request: Request, lot: str = "", opened: Annotated[list[str] | None, Query(alias="open")] = None
) -> Response:
    """Look up a lot; its way back and forward as picture and table."""
    return trace_page(request, lot.strip(), opened=tuple(opened or ())[:MOST_GROUPS])


def trace_page(
    request: Request,
    lot: str,
    *,
    opened: tuple[str, ...] = (),
    why: str = "",
    fault: BedstoneError | None = None,
) -> HTMLResponse:
    """The page of a trace, with the error that an act on it met."""
    site = site_of(request)
    found = None
    if lot:
        try:
            found = trace(site.record, lot)
        except Unknown as error:
            fault = fault or error
    return site.page(
        request,
        "trace.html",
        status=200 if fault is None else fault.http_status,
        fault=fault,
        lot=lot,
        found=found,
        graph=lot_graph(found, Show.of(site.mill()), opened=opened) if found else "",
        opened=opened,
        customers=firms_of(found.forward if found else (), "customer"),
        suppliers=firms_of(found.back if found else (), "supplier"),
        held=held_lots(site.record),
        why=why,
    )


def firms_of(links: tuple[TraceLink, ...], kind: str) -> list[TraceLink]:
    """The firms at the ends of a trace, each once with its surest link."""
    found: dict[str, TraceLink] = {}
    for link in links:  # the surest way comes first
        if link.firm and link.kind == kind:
            found.setdefault(link.firm, link)
    return list(found.values())


@router.post("/lots/{lot}/hold")
def hold(request: Request, lot: str, posted: SignedIn) -> Response:
    """Put a lot on hold, or let it go."""
    site = site_of(request)
    why = posted.text("why")
    act = release_lots if posted.text("act") == "release" else hold_lots
    try:
        needs(posted.person, "hold")
        if not why:
            raise BadInput("Say why.", allowed="a reason in words")
        carefully(
            site,
            posted,
            same=lambda one: (
                one.fact.kind.startswith("quality.") and lot in str(one.fact.content.get("lots"))
            ),
            act=lambda: act(site.record, (lot,), why=why, by=posted.person.person, at=posted.at),
        )
    except BedstoneError as error:
        return trace_page(request, lot, why=why, fault=error)
    in_progress = lot in started_batches(site.record) and lot not in made_batches(site.record)
    page = f"/batches/{quote(lot)}" if in_progress else f"/trace?lot={quote(lot)}"
    return RedirectResponse(page, status_code=303)


@router.get("/scan")
def scan(request: Request, code: str = "") -> Response:
    """Go to whatever a scanned or typed code names."""
    site = site_of(request)
    wanted = code.strip()
    if not wanted:
        raise BadInput("Nothing was scanned.", allowed="a batch, lot, run, order or bin")
    return RedirectResponse(where_is(site, wanted), status_code=303)


def where_is(site: Site, wanted: str) -> str:
    """The page of a code: a batch to be made first, then a lot, an order, a bin, a run.

    Raises
    ------
    Unknown
        If nothing has this code.
    """
    for code in dict.fromkeys((wanted, wanted.upper(), wanted.lower())):
        try:
            find_batch(site, code)
        except Unknown:
            pass
        else:
            return f"/batches/{quote(code)}"
        mill = site.mill()
        if code in mill.bin_by_code:
            return f"/bins/{quote(code)}"
        if any(row.order.order == code for row in all_orders(site.record)):
            return f"/orders/{quote(code)}"
        try:
            site.record.lot(code)
        except Unknown as error:
            unknown = error
        else:
            return f"/trace?lot={quote(code)}"
    raise unknown
