"""Dies and rolls with their wear, tests of pellets and of grain, and what was found of each run."""

from collections.abc import Mapping
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from markupsafe import Markup

from bedstone.desk import die_words, regression_words
from bedstone.desk.die_runs import RunOnDie, die_of, products_on_dies, runs_on_dies
from bedstone.desk.line_foretold import feeds_ahead
from bedstone.desk.line_regression import line_says
from bedstone.desk.line_tests import (
    SieveTest,
    durability_tests,
    mill_repeats,
    record_durability,
    record_sieving,
    sieve_tests,
)
from bedstone.desk.wear_parts import record_fitting, wear
from bedstone.errors import BadInput, BedstoneError
from bedstone.mill.model import Mill
from bedstone.pelleting.die import motor_kw
from bedstone.pelleting.particle_size import STANDARD_STACK_UM
from bedstone.quantities import line_figures
from bedstone.quantities.line_figures import rate_number, rate_unit
from bedstone.quantities.units import LB_KG
from bedstone.web.careful import carefully
from bedstone.web.guard import SignedIn
from bedstone.web.line_plot import Plot, round_ticks, svg, words_at
from bedstone.web.roles import needs
from bedstone.web.show import Show
from bedstone.web.site import site_of
from bedstone.web.typed import typed_mass
from bedstone.web.typed_measure import typed_number

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
TON_T = 2 * float(LB_KG)
SHOWN = 25
DONE = {"tumbled": "The tumbling test is recorded.", "sieved": "The sieves are recorded.",
        "fitted": "The fitting is recorded: its tons count from now."}  # fmt: skip


def page(request: Request, template: str, fault: BedstoneError | None, **values: Any) -> Response:
    """A page with what came of its form."""
    status = 200 if fault is None else fault.http_status
    said = "" if fault else DONE.get(request.query_params.get("done", ""), "")
    return site_of(request).page(
        request, template, status=status, fault=fault, said=said, figures=line_figures, **values
    )


@router.get("/pellet-line/die")
def dies(request: Request) -> Response:
    """Every die with its holes, its work and how far it is worn; the rolls; load against rate."""
    return die_page(request)


def die_page(
    request: Request, *, fault: BedstoneError | None = None, typed: Mapping[str, str] | None = None
) -> Response:
    """The page of dies and rolls."""
    site = site_of(request)
    mill = site.mill()
    show = Show.of(mill)
    rows = []
    for line in sorted({row.line for row in mill.dies} | {row.line for row in mill.pellet_lines}):
        runs = runs_on_dies(site.record, line)
        worn = [(one, die_of(one.row) if one.row else None) for one in wear(site.record, line)]
        picture = load_picture(runs, show, line, full_kw(mill, line)) if runs else None
        rows.append((line, worn, products_on_dies(mill, runs), picture))
    return page(request, "line_die.html", fault, rows=rows, typed=typed or {}, die_said=die_words)


def full_kw(mill: Mill, line: str) -> float | None:
    """Power of a line's motor at its plate's full load, where the tables know it."""
    row = next((one for one in mill.pellet_lines if one.line == line), None)
    if row is None or row.motor_v is None or row.motor_full_a is None:
        return None
    return motor_kw(row.motor_v, row.motor_full_a, row.power_factor_frac)


def load_picture(runs: tuple[RunOnDie, ...], show: Show, line: str, full: float | None) -> Markup:
    """Power of the motor against rate, a dot a run, and the plate's full load."""
    rates = [rate_number(one.rate_kg_s, show.units) for one in runs]
    most = max([*(one.power_kw for one in runs), full or 0.0])
    across, up = round_ticks(0.0, max(rates)), round_ticks(0.0, most, 4)
    plot = Plot(left=64, top=34, width=560, height=220, across=(0.0, across[-1]), up=(0.0, up[-1]))
    parts = plot.frame(
        [(x, f"{x:g}") for x in across], [(y, f"{y:g}") for y in up], title="Motor, kW"
    )
    if full is not None:
        parts.append(
            Markup('<line class="limit" x1="{}" y1="{}" x2="{}" y2="{}"/>').format(
                plot.left, plot.y(full), plot.right, plot.y(full)
            )
        )
        parts.append(words_at(plot.right, plot.y(full) - 5, "full load", anchor="end"))
    parts += [
        Markup('<circle class="here" cx="{}" cy="{}" r="4"/>').format(
            plot.x(rate), plot.y(one.power_kw)
        )
        for rate, one in zip(rates, runs, strict=True)
    ]
    parts.append(
        words_at(plot.right, plot.bottom + 40, f"mash, {rate_unit(show.units)}", anchor="end")
    )
    of_t = TON_T if show.us else 1.0
    energies = [one.work.kwh_t * of_t for one in runs]
    label = (
        f"Motor power of {line} against rate in {len(runs)} runs: "
        f"{min(energies):.1f} to {max(energies):.1f} kWh a {show.ton}"
        + ("" if full is None else f"; full load is {full:.0f} kW")
    )
    return svg(680, 304, label, parts)


@router.post("/pellet-line/die/fitted")
def fitted(request: Request, posted: SignedIn) -> Response:
    """A die or rolls were put in."""
    site = site_of(request)
    show = Show.of(site.mill())
    try:
        needs(posted.person, "pelleting")
        line, _, die = posted.text("which").partition(":")
        made, lasts = posted.text("made"), posted.text("lasts")
        carefully(
            site,
            posted,
            same=lambda one: one.fact.content.get("line") == line and "part" in one.fact.content,
            act=lambda: record_fitting(
                site.record,
                line=line,
                part="die" if die else "rolls",
                die=die,
                made_mg=typed_mass(made, show).mass_mg if made else 0,
                expected_mg=typed_mass(lasts, show).mass_mg if lasts else None,
                by=posted.person.person,
                at=posted.at,
            ),
        )
    except BedstoneError as fault:
        return die_page(request, fault=fault, typed=posted.fields)
    return RedirectResponse("/pellet-line/die?done=fitted", status_code=303)


@router.get("/pellet-line/tests")
def tested(request: Request) -> Response:
    """Tumbled pellets and sieved grain, newest first, and the forms for more."""
    return page_of_tests(request)


def page_of_tests(
    request: Request, *, fault: BedstoneError | None = None, typed: Mapping[str, str] | None = None
) -> Response:
    """The page of tests."""
    site = site_of(request)
    mill = site.mill()
    sieved = sieve_tests(site.record)[::-1]
    tumbled = durability_tests(site.record)
    repeats = mill_repeats(tumbled)
    lines = [row.line for row in mill.pellet_lines]
    return page(
        request,
        "line_tests.html",
        fault,
        tumbled=[(row, row.found_by(repeats)) for row in tumbled[::-1][:SHOWN]],
        repeats=repeats,
        says=[
            (one, feeds_ahead(site.record, one, at=site.clock()))
            for one in (line_says(site.record, line) for line in lines)
        ],
        said_of=regression_words,
        sieved=sieved[:SHOWN],
        picture=sieve_picture(sieved[0], mill.name_of(sieved[0].of)) if sieved else None,
        lines=lines,
        materials=[
            *(row.ingredient for row in mill.ingredients if row.ground_from),
            *(row.product for row in mill.products),
        ],
        stack=STANDARD_STACK_UM,
        typed=typed or {},
    )


def sieve_picture(test: SieveTest, name: str) -> Markup:
    """What lay on each sieve, from the pan up, as bars."""
    whole = sum(test.retained_g)
    parts_pct = [100 * mass / whole for mass in reversed(test.retained_g)]
    names = ["pan", *(f"{one:g}" for one in reversed(test.openings_um))]
    up = round_ticks(0.0, max(parts_pct), 4)
    plot = Plot(left=64, top=34, width=700, height=200, across=(0.0, len(names)), up=(0.0, up[-1]))
    ticks = [(number + 0.5, words) for number, words in enumerate(names)]
    parts = plot.frame(ticks, [(y, f"{y:g} %") for y in up], title="Of the sample, on each sieve")
    for number, pct in enumerate(parts_pct):
        left, top = plot.x(number + 0.12), plot.y(pct)
        parts.append(
            Markup('<rect class="planned" x="{}" y="{}" width="{}" height="{}"/>').format(
                left, top, round(plot.x(number + 0.88) - left, 1), round(plot.bottom - top, 1)
            )
        )
    parts.append(words_at(plot.right, plot.bottom + 40, "opening, µm", anchor="end"))
    found = test.found
    label = (
        f"{name} on {len(names) - 1} sieves: mean {found.mean_um:.0f} µm, spread {found.spread:.2f}"
    )
    return svg(820, 284, label, parts)


def _grams(text: str, what: str) -> list[float]:
    """Numbers with spaces between them."""
    words = text.replace(",", " ").replace(";", " ").split()
    if not words:
        raise BadInput(f"The {what} is not typed.", allowed="numbers such as 452.5 449.0")
    return [typed_number(one, what=what, unit="g") for one in words]


@router.post("/pellet-line/tests/tumbled")
def tumbled(request: Request, posted: SignedIn) -> Response:
    """Pellets of a run were tumbled."""
    site = site_of(request)
    try:
        needs(posted.person, "readings")
        test_g = _grams(posted.text("test_g") or "500", "sample")[0]
        record_durability(
            site.record,
            run=posted.text("run"),
            line=posted.text("line"),
            retained_g=_grams(posted.text("retained"), "grams on the sieve"),
            test_g=test_g,
            by=posted.person.person,
            at=posted.at,
        )
    except BedstoneError as fault:
        return page_of_tests(request, fault=fault, typed=posted.fields)
    return RedirectResponse("/pellet-line/tests?done=tumbled", status_code=303)


@router.post("/pellet-line/tests/sieved")
def sieved(request: Request, posted: SignedIn) -> Response:
    """A sample went through the stack of sieves."""
    site = site_of(request)
    try:
        needs(posted.person, "readings")
        names = [f"on_{one}" for one in STANDARD_STACK_UM] + ["on_pan"]
        sample = posted.text("sample")
        record_sieving(
            site.record,
            of=posted.text("of"),
            openings_um=STANDARD_STACK_UM,
            retained_g=[_grams(posted.text(name) or "0", "grams on a sieve")[0] for name in names],
            sample_g=_grams(sample, "sample")[0] if sample else None,
            by=posted.person.person,
            at=posted.at,
        )
    except BedstoneError as fault:
        return page_of_tests(request, fault=fault, typed=posted.fields)
    return RedirectResponse("/pellet-line/tests?done=sieved", status_code=303)
