"""Loads on record: the list, one load with its judgement and papers, settling, sending back, samples."""

from decimal import Decimal

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from bedstone.desk.arrival import Gate, judge_arrival, makes_feed_for
from bedstone.desk.arrival_acts import ArrivalOnRecord, arrivals, find_arrival
from bedstone.desk.arrival_row import LOOKS
from bedstone.desk.holds import held_lots
from bedstone.desk.retained_samples import discard_sample, retained_samples
from bedstone.desk.settlements import SettledAt, paid_for, settle_load, settlements
from bedstone.desk.under_hold import send_back, sent_back, waiting_loads
from bedstone.errors import BedstoneError
from bedstone.mill.receiving_tables import CARGO_CLASSES
from bedstone.papers.receiving_papers import PAPERS, papers_of, receiving_paper
from bedstone.papers.settlement_lines import settlement_lines
from bedstone.quantities.units import DIMENSIONS, to_si
from bedstone.receiving.cargo import shipped_rules
from bedstone.receiving.settlement import Settlement
from bedstone.web.arrival_pages import ANSWERS
from bedstone.web.guard import SignedIn
from bedstone.web.paper_pages import pdf
from bedstone.web.roles import needs
from bedstone.web.show import Show
from bedstone.web.site import Site, site_of
from bedstone.web.typed import typed_mass
from bedstone.web.typed_measure import typed_number

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
MOST_SHOWN = 200


@router.get("/arrivals")
def all_arrivals(request: Request, show: str = "") -> Response:
    """Loads judged at the gate, newest first."""
    site = site_of(request)
    settled = settlements(site.record)
    rows = [
        row
        for row in reversed(arrivals(site.record))
        if show != "unsettled" or (row.into and row.arrival.ticket not in settled)
    ]
    return site.page(
        request,
        "arrivals.html",
        rows=rows[:MOST_SHOWN],
        more=max(0, len(rows) - MOST_SHOWN),
        answers=ANSWERS,
        settled=settled,
        held=held_lots(site.record),
        waiting=waiting_loads(site.record),
        due=sum(one.is_due for one in retained_samples(site.record, today=site.today())),
        unsettled_only=show == "unsettled",
        today=site.today(),
    )


@router.get("/arrivals/{ticket}")
def one_arrival(request: Request, ticket: str) -> Response:
    """A load with what was found, and its papers."""
    site = site_of(request)
    return arrival_page(request, find_arrival(site.record, ticket))


def arrival_page(
    request: Request,
    row: ArrivalOnRecord,
    *,
    fault: BedstoneError | None = None,
    typed: dict[str, str] | None = None,
) -> Response:
    """The page of a load; with a fault if what was typed on it cannot be."""
    site = site_of(request)
    mill, ticket = site.mill(), row.arrival.ticket
    gate: Gate | None = None
    try:
        gate = judge_arrival(mill, row.arrival)
    except BedstoneError:  # the tables have changed, so that it could not come in so now
        gate = None
    found = settlements(site.record).get(ticket, ())
    return site.page(
        request,
        "arrival_done.html",
        status=200 if fault is None else fault.http_status,
        fault=fault,
        typed=typed or {},
        row=row,
        gate=gate,
        looks=tuple(LOOKS),
        papers=[(name, PAPERS[name]) for name in papers_of(site.record, row)],
        settled=found,
        lines=settlement_lines(mill, found) if found else None,
        preview=preview_of(site, row, found),
        why_held=held_lots(site.record).get(row.arrival.lot, ""),
        back=sent_back(site.record).get(row.arrival.lot, ""),
        today=site.today(),
    )


def preview_of(site: Site, row: ArrivalOnRecord, found: tuple[SettledAt, ...]) -> Settlement | None:
    """What a load that is not settled would be paid by the figures of the gate."""
    if found or not row.into:
        return None
    net_mg = row.arrival.gross_mg - row.arrival.tare_mg
    try:
        return paid_for(site.mill(), row.arrival, net_mg=net_mg, at=row.at)
    except BedstoneError:
        return None


@router.get("/arrivals/{ticket}/{paper}.pdf")
def paper(request: Request, ticket: str, paper: str) -> Response:
    """A paper of a load."""
    site = site_of(request)
    row = find_arrival(site.record, ticket)
    return pdf(receiving_paper(site.record, row, paper), f"{paper}-{ticket}")


def _number(text: str, what: str) -> float | None:
    return typed_number(text, what=what) if text else None


@router.post("/arrivals/{ticket}/settle")
def settle(request: Request, ticket: str, posted: SignedIn) -> Response:
    """Settle a load, or settle it again."""
    site = site_of(request)
    fields = {name: posted.text(name) for name in ("moisture", "dockage", "price", "why")}
    needs(posted.person, "settle")
    try:
        ton = DIMENSIONS["usd_t"].written(site.mill().settings.units)
        price = _number(fields["price"], "price")
        settle_load(
            site.record,
            ticket,
            by=posted.person.person,
            at=posted.at,
            moisture_pct=_number(fields["moisture"], "moisture"),
            dockage_pct=_number(fields["dockage"], "dockage"),
            price_usd_t=None if price is None else float(to_si(Decimal(repr(price)), ton)),
            why=fields["why"],
        )
    except BedstoneError as error:
        row = find_arrival(site.record, ticket)
        return arrival_page(request, row, fault=error, typed=fields)
    return RedirectResponse(f"/arrivals/{ticket}", status_code=303)


@router.post("/arrivals/{ticket}/back")
def back(request: Request, ticket: str, posted: SignedIn) -> Response:
    """Record that a load unloaded under hold was sent back."""
    site = site_of(request)
    fields = {"mass": posted.text("mass"), "back_why": posted.text("back_why")}
    needs(posted.person, "under hold")
    try:
        send_back(
            site.record,
            ticket,
            mass_mg=typed_mass(fields["mass"], Show.of(site.mill())).mass_mg,
            why=fields["back_why"],
            by=posted.person.person,
            at=posted.at,
        )
    except BedstoneError as error:
        row = find_arrival(site.record, ticket)
        return arrival_page(request, row, fault=error, typed=fields)
    return RedirectResponse(f"/arrivals/{ticket}", status_code=303)


@router.get("/samples")
def samples(request: Request) -> Response:
    """Retained samples, the first to go first."""
    return samples_page(request)


def samples_page(request: Request, fault: BedstoneError | None = None) -> Response:
    """The list of samples; with a fault if one cannot go."""
    site = site_of(request)
    return site.page(
        request,
        "samples.html",
        status=200 if fault is None else fault.http_status,
        fault=fault,
        rows=retained_samples(site.record, today=site.today()),
    )


@router.post("/samples/{ticket}/discard")
def discard(request: Request, ticket: str, posted: SignedIn) -> Response:
    """Record that a sample was thrown away."""
    site = site_of(request)
    try:
        needs(posted.person, "sample")
        discard_sample(
            site.record, ticket, why=posted.text("why"), by=posted.person.person, at=posted.at
        )
    except BedstoneError as error:
        return samples_page(request, error)
    return RedirectResponse("/samples", status_code=303)


@router.get("/cargo-rules")
def cargo_rules(request: Request) -> Response:
    """Which earlier cargo asks for what: the shipped rules, the mill's own beside them."""
    site = site_of(request)
    mill = site.mill()
    makes = makes_feed_for(mill)
    return site.page(
        request,
        "cargo_rules.html",
        classes=CARGO_CLASSES,
        rules=[(rule, rule.makes in makes) for rule in shipped_rules()],
        own=mill.cargo_rules,
    )
