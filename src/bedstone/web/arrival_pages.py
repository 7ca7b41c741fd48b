"""A load at the gate, step by step: five short forms, no scripts, nothing written until the end."""

from collections.abc import Mapping

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from bedstone.desk.arrival import Gate, judge_arrival
from bedstone.desk.arrival_acts import take_in, turn_away
from bedstone.desk.arrival_row import LOOKS, Arrival
from bedstone.desk.arrival_tests import is_toxin, tests_of
from bedstone.desk.bin_choice import BinChoice, rank_bins
from bedstone.desk.settlements import paid_for
from bedstone.errors import BadInput, BedstoneError
from bedstone.mill.model import Mill
from bedstone.mill.receiving_tables import CARGO_CLASSES
from bedstone.papers.probe_picture import curve_svg, probes_svg
from bedstone.receiving.gate import Outcome
from bedstone.receiving.operating import accepts_count
from bedstone.receiving.probes import CARRIERS, ProbePlan, probe_plan
from bedstone.receiving.settlement import Settlement
from bedstone.web.arrival_form import FIELDS, STEPS, arrival_of
from bedstone.web.guard import Posted, SignedIn
from bedstone.web.roles import needs
from bedstone.web.site import Site, site_of

__all__ = ["ANSWERS", "router"]

router = APIRouter(include_in_schema=False)
ANSWERS = {
    Outcome.TAKE: ("good", "It may unload"),
    Outcome.PRICE_DOWN: ("act", "It may unload, at a lower price"),
    Outcome.HOLD: ("act", "It stays at the gate"),
    Outcome.REJECT: ("stop", "Turn it away"),
}
LONGEST = 500
BAD_PARTS = (0.05, 0.1, 0.25)


def typed_of(fields: Mapping[str, str]) -> dict[str, str]:
    """The fields of an arrival among what a browser sent."""
    known = {name for names in FIELDS.values() for name in names}
    return {
        name: value.strip()[:LONGEST]
        for name, value in fields.items()
        if (name in known or name.startswith("test:")) and value.strip()
    }


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
        tests=tests_of(mill, typed.get("ingredient", "")),
        is_toxin=is_toxin,
        plan=plan_of(typed, row),
        missed=missed_of(typed, row),
        probes_svg=probes_svg,
        gate=gate,
        row=row,
        answers=ANSWERS,
        last=last,
        today=site.today(),
    )


def plan_of(typed: Mapping[str, str], row: Arrival | None) -> ProbePlan | None:
    """Where to probe the carrier that was typed."""
    kind = typed.get("carrier_kind")
    units = row.units if row is not None and row.units else None
    return probe_plan(kind, units=units) if kind in CARRIERS else None


def missed_of(typed: Mapping[str, str], row: Arrival | None) -> list[tuple[int, float]]:
    """Of totes or bags: how many may be bad, and the odds that none of those is opened."""
    plan = plan_of(typed, row)
    if plan is None or plan.carrier != "tote" or row is None or not row.units:
        return []
    opened = len(plan.points)
    counts = sorted({max(1, round(part * row.units)) for part in BAD_PARTS})
    return [
        (bad, accepts_count(sample=opened, allowed=0, bad_frac=bad / row.units, lot=row.units))
        for bad in counts
    ]


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
            levels=row.levels,
        )
        try:
            paid = paid_for(mill, row, net_mg=gate.weighed.net_mg, at=site.clock())
        except BedstoneError as error:
            unpaid = str(error)
    curves = [
        (wanted, picture)
        for wanted in tests_of(mill, row.ingredient)
        if (picture := curve_svg(wanted))
    ]
    return {"bins": bins, "paid": paid, "unpaid": unpaid, "curves": curves}


@router.post("/arrival/take")
def take(request: Request, posted: SignedIn) -> Response:
    """Record the load as taken in."""
    site = site_of(request)
    typed = typed_of(posted.fields)
    try:
        needs(posted.person, "under hold" if posted.text("act") == "hold" else "arrival")
        row = arrival_of(site.mill(), typed)
        into = posted.text("into")
        if not into:
            raise BadInput("Choose the bin.", seen="none", allowed="one of the bins below")
        take_in(
            site.record,
            row,
            into=into,
            by=posted.person.person,
            at=posted.at,
            under_hold=under_hold(posted),
        )
    except BedstoneError as error:
        return step_page(request, len(STEPS), typed, fault=error)
    return RedirectResponse(f"/arrivals/{row.ticket}", status_code=303)


def under_hold(posted: Posted) -> str:
    """Why a load is unloaded under hold; nothing where it is simply taken in."""
    if posted.text("act") != "hold":
        return ""
    why = posted.text("hold_why")
    if not why:
        raise BadInput("Say what it waits for.", seen="nothing", allowed="a few words")
    return why


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
