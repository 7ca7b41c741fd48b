"""A load at the gate, step by step: five short forms, no scripts, nothing written until the end."""

from collections.abc import Mapping

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from bedstone.desk.arrival import Gate, judge_arrival
from bedstone.desk.arrival_acts import (
    ArrivalOnRecord,
    arrivals,
    find_arrival,
    paid_for,
    take_in,
    turn_away,
)
from bedstone.desk.arrival_row import LOOKS, Arrival
from bedstone.desk.bin_choice import BinChoice, rank_bins
from bedstone.errors import BadInput, BedstoneError
from bedstone.mill.model import Mill
from bedstone.mill.receiving_tables import CARGO_CLASSES
from bedstone.papers.probe_picture import curve_svg, probes_svg
from bedstone.papers.receiving_papers import PAPERS, receiving_paper
from bedstone.receiving.gate import Outcome
from bedstone.receiving.probes import CARRIERS, probe_plan
from bedstone.receiving.settlement import Settlement
from bedstone.web.arrival_form import FIELDS, STEPS, arrival_of, tests_asked
from bedstone.web.guard import SignedIn
from bedstone.web.paper_pages import pdf
from bedstone.web.roles import needs
from bedstone.web.site import Site, site_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
ANSWERS = {
    Outcome.TAKE: ("good", "It may unload"),
    Outcome.PRICE_DOWN: ("act", "It may unload, at a lower price"),
    Outcome.HOLD: ("act", "It stays at the gate"),
    Outcome.REJECT: ("stop", "Turn it away"),
}
LONGEST = 500
MOST_SHOWN = 100


def typed_of(fields: Mapping[str, str]) -> dict[str, str]:
    """The fields of an arrival among what a browser sent."""
    known = {name for names in FIELDS.values() for name in names}
    return {
        name: value.strip()[:LONGEST]
        for name, value in fields.items()
        if (name in known or name.startswith("test:")) and value.strip()
    }


@router.get("/arrivals")
def all_arrivals(request: Request) -> Response:
    """Loads judged at the gate, newest first."""
    site = site_of(request)
    rows = arrivals(site.record)[::-1][:MOST_SHOWN]
    return site.page(request, "arrivals.html", rows=rows, answers=ANSWERS, today=site.today())


@router.get("/arrivals/{ticket}")
def one_arrival(request: Request, ticket: str) -> Response:
    """A load with what was found, and its papers."""
    site = site_of(request)
    row = find_arrival(site.record, ticket)
    return site.page(
        request, "arrival_done.html", row=row, answers=ANSWERS, papers=papers_of(row),
        today=site.today(),
    )  # fmt: skip


def papers_of(row: ArrivalOnRecord) -> tuple[tuple[str, str], ...]:
    """The papers that a load has: what it was taken in by, or why it was turned away."""
    return tuple(
        (name, words) for name, (words, taken) in PAPERS.items() if taken is bool(row.into)
    )


@router.get("/arrivals/{ticket}/{paper}.pdf")
def paper(request: Request, ticket: str, paper: str) -> Response:
    """A paper of a load."""
    site = site_of(request)
    row = find_arrival(site.record, ticket)
    return pdf(receiving_paper(site.record, row, paper), f"{paper}-{ticket}")


@router.get("/arrival")
def arrival(request: Request, step: str = "1") -> Response:
    """One step of the form, with what was typed before."""
    number = int(step) if step in {"1", "2", "3", "4", "5"} else 1
    return step_page(request, number, typed_of(request.query_params))


def step_page(
    request: Request, step: int, typed: dict[str, str], *, fault: BedstoneError | None = None
) -> HTMLResponse:
    """A step of the form; with the fault of an earlier one, if what it typed cannot be."""
    site = site_of(request)
    mill = site.mill()
    gate: Gate | None = None
    row: Arrival | None = None
    if step > 1:
        try:
            row = arrival_of(mill, typed)
            gate = judge_arrival(mill, row)
        except BedstoneError as error:
            fault, step = fault or error, max(1, step - 1)
    last = answer_of(site, row, gate) if step == len(STEPS) and row and gate else {}
    shown = {*FIELDS.get(step, ()), *(name for name in typed if step == 3 and ":" in name)}  # noqa: PLR2004 - the step of the sample
    return site.page(
        request,
        "arrival.html",
        status=200 if fault is None else fault.http_status,
        fault=fault,
        step=step,
        steps=STEPS,
        typed=typed,
        carried={name: value for name, value in typed.items() if name not in shown},
        **choices_of(mill),
        tests=tests_asked(mill, typed.get("ingredient", "")),
        plan=probe_plan(typed["carrier_kind"]) if typed.get("carrier_kind") in CARRIERS else None,
        probes_svg=probes_svg,
        gate=gate,
        row=row,
        answers=ANSWERS,
        last=last,
        today=site.today(),
    )


def choices_of(mill: Mill) -> dict[str, object]:
    """What can be chosen on the form: value and words."""
    return {
        "suppliers": [(one.firm, one.name) for one in mill.firms if one.role == "supplier"],
        "carriers": [(one.firm, one.name) for one in mill.firms if one.role == "carrier"],
        "ingredients": [
            (one.ingredient, one.name) for one in mill.ingredients if not one.ground_from
        ],
        "bridges": [
            (one.weighbridge, f"{one.name} ({one.weighbridge})") for one in mill.weighbridges
        ],
        "kinds": [(kind, kind) for kind in CARRIERS],
        "cargo_classes": {name: f"{name}: {words}" for name, words in CARGO_CLASSES.items()},
        "looks": {name: [(one, one) for one in answers] for name, answers in LOOKS.items()},
    }


def answer_of(site: Site, row: Arrival, gate: Gate) -> dict[str, object]:
    """What the last step shows: bins, money and how sure the tests are."""
    mill = site.mill()
    bins: tuple[BinChoice, ...] = ()
    paid: Settlement | None = None
    unpaid = ""
    if gate.weighed is not None:
        bins = rank_bins(
            site.record,
            ingredient=row.ingredient,
            mass_mg=gate.weighed.net_mg,
            at=site.clock(),
            barred=gate.barred_bins,
        )
        try:
            paid = paid_for(mill, row, net_mg=gate.weighed.net_mg, at=site.clock())
        except BedstoneError as error:
            unpaid = str(error)
    curves = [
        (spec, curve_svg(spec))
        for _, _, spec in tests_asked(mill, row.ingredient)
        if spec is not None and spec.repeatability_sd and spec.maximum is not None
    ]
    return {"bins": bins, "paid": paid, "unpaid": unpaid, "curves": curves}


@router.post("/arrival/take")
def take(request: Request, posted: SignedIn) -> Response:
    """Record the load as taken in."""
    site = site_of(request)
    typed = typed_of(posted.fields)
    try:
        needs(posted.person, "arrival")
        row = arrival_of(site.mill(), typed)
        into = posted.text("into")
        if not into:
            raise BadInput("Choose the bin.", seen="none", allowed="one of the bins below")
        take_in(site.record, row, into=into, by=posted.person.person, at=posted.at)
    except BedstoneError as error:
        return step_page(request, len(STEPS), typed, fault=error)
    return RedirectResponse(f"/arrivals/{row.ticket}", status_code=303)


@router.post("/arrival/refuse")
def refuse(request: Request, posted: SignedIn) -> Response:
    """Record the load as turned away."""
    site = site_of(request)
    typed = typed_of(posted.fields)
    try:
        needs(posted.person, "arrival")
        row = arrival_of(site.mill(), typed)
        turn_away(site.record, row, why=posted.text("why"), by=posted.person.person, at=posted.at)
    except BedstoneError as error:
        return step_page(request, len(STEPS), typed, fault=error)
    return RedirectResponse(f"/arrivals/{row.ticket}", status_code=303)
