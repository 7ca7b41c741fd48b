"""Formulas: every product with what runs and what would be cheapest, and the page on which one asks."""

from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from bedstone.desk.formula_answer import parts_of, weighed
from bedstone.desk.formula_checks import judge
from bedstone.desk.formula_levels import Composed
from bedstone.desk.formula_limits import running_lines
from bedstone.desk.formula_versions import draft_formula, formula_history
from bedstone.desk.formulate import Choices, can_be_formulated
from bedstone.errors import BedstoneError, NoAnswer, Refused
from bedstone.formulation.answers import Clash, DemandKind, FormulaAnswer, LimitAnswer, Way
from bedstone.formulation.conflicts import why_not
from bedstone.formulation.least_cost import least_cost
from bedstone.formulation.odds_ranges import with_ranges
from bedstone.mill.model import Formula, Mill, Product
from bedstone.web.careful import carefully, is_about
from bedstone.web.formula_pictures import CostBar, cost_picture, limit_picture
from bedstone.web.formula_work import Asking, asking, chosen, limit_sliders, price_sliders
from bedstone.web.guard import SignedIn
from bedstone.web.roles import needs
from bedstone.web.show import Show
from bedstone.web.site import Site, site_of

__all__ = ["limit_unit", "limit_words", "router"]

router = APIRouter(include_in_schema=False)
SHARES = {DemandKind.GROUP, DemandKind.SHARE, DemandKind.CHANGE, DemandKind.MOISTURE}
SOURCES = {
    Composed.TABLES.value: "the tables",
    Composed.ASSAYS.value: "the last ten assays, else the tables",
    Composed.BINS.value: "what lies in the bins now",
}
DONE = {"use": "It runs from now on.", "withdrawn": "It is withdrawn."}


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A product in the list of formulas."""

    product: Product
    running: Formula | None
    cost_usd_t: float | None
    stops: int
    waiting: tuple[Formula, ...]  # drafts, and what is approved and does not run yet


@router.get("/formulas")
def formulas(request: Request) -> Response:
    """Every product with the formula that runs, its cost today, and versions that wait."""
    site = site_of(request)
    mill = site.mill()
    able = set(can_be_formulated(mill))
    lines = [_line(site, mill, row, able=row.product in able) for row in mill.products]
    return site.page(request, "formulas.html", lines=lines)


def _line(site: Site, mill: Mill, row: Product, *, able: bool) -> Line:
    shares = {line.ingredient: line.parts_frac for line in running_lines(mill, row.product)}
    seen = (
        judge(site.record, row.product, shares, Choices(on=site.today()))
        if shares and able
        else None
    )
    return Line(
        product=row,
        running=mill.running_formula(row.product),
        cost_usd_t=None if seen is None else seen.cost_usd_t,
        stops=0
        if seen is None
        else sum(one.verdict.value in {"act", "stop"} for one in seen.findings),
        waiting=tuple(
            one
            for one in mill.formulas
            if one.product == row.product and one.status in {"draft", "approved"}
        ),
    )


@router.get("/formulas/{product}")
def one_formula(request: Request, product: str, done: str = "") -> Response:
    """A product with its limits, and the answer beside it; what is dragged is asked again."""
    return formula_page(request, product, done=done)


def formula_page(
    request: Request, product: str, *, done: str = "", fault: BedstoneError | None = None
) -> Response:
    """The page of a product's formula."""
    site = site_of(request)
    mill = site.mill()
    row = mill.product(product)
    asked = asking(site, product, request.query_params)
    choices = chosen(site, request.query_params)
    return site.page(
        request,
        "formula.html",
        status=200 if fault is None else fault.http_status,
        fault=fault,
        said=DONE.get(done, ""),
        product=row,
        sources=SOURCES,
        source=choices.composed.value,
        odds=request.query_params.get("odds", ""),
        of=request.query_params.get("of", ""),
        nutrient=request.query_params.get("nutrient", ""),
        assay=request.query_params.get("assay", ""),
        nutrients=sorted({one.nutrient for need in asked.problem.requirements for one in need.of}),
        prices=price_sliders(asked, Show.of(mill)),
        limits=limit_sliders(asked),
        versions=sorted(
            (one for one in mill.formulas if one.product == product), key=lambda one: -one.version
        ),
        history=formula_history(site.record),
        **answered(mill, asked, ranged="ranges" in request.query_params),
    )


@router.get("/formulas/{product}/answer")
def answer_piece(request: Request, product: str) -> Response:
    """The answer alone, asked for while one drags."""
    site = site_of(request)
    mill = site.mill()
    row = mill.product(product)
    if request.headers.get("hx-request") != "true":
        return RedirectResponse(f"/formulas/{row.product}?{request.url.query}", status_code=303)
    asked = asking(site, product, request.query_params)
    explained, ranged = "why" in request.query_params, "ranges" in request.query_params
    found = answered(mill, asked, explained=explained, ranged=ranged)
    return site.page(request, "formula_answer.html", product=row, **found)


def answered(
    mill: Mill, asked: Asking, *, explained: bool = True, ranged: bool = False
) -> dict[str, Any]:
    """The answer to what is asked, with its pictures; or what contradicts what.

    Not ``explained`` it is only said that nothing fits: the page then asks for the reason.
    ``ranged``: with the price ranges that take many solves where odds are in.
    """
    answer: FormulaAnswer | None = None
    clash: Clash | None = None
    if asked.changed or asked.base.answer is None:
        try:
            answer = least_cost(asked.problem, explained=False)
        except NoAnswer:
            clash = why_not(asked.problem) if explained else None
    else:
        answer = asked.base.answer
    if answer is not None and ranged:
        answer = with_ranges(asked.problem if asked.changed else asked.base.asked.problem, answer)
    show = Show.of(mill)
    names = {row.code: row for row in asked.problem.ingredients}
    return {
        "asked": asked,
        "answer": answer,
        "clash": clash,
        "names": names,
        "before_usd_t": None if asked.base.answer is None else asked.base.answer.cost_usd_t,
        "running": asked.base.running,
        "ranges_later": answer is not None and not ranged and answer.way is not Way.LINEAR,
        "tag": asked.base.tag if not asked.changed else (),
        "costs": None if answer is None else _costs(answer, names, show),
        "reach": None if answer is None else limit_picture(answer.limits, "How far each limit is"),
        "limit_words": limit_words,
        "limit_unit": limit_unit,
        "shares_in_percent": SHARES,
        "draws": {row.ingredient: row for row in asked.base.weighed.draws}
        if asked.base.weighed is not None and not asked.changed
        else {},
        "not_weighed": asked.base.not_weighed,
    }


def _costs(answer: FormulaAnswer, names: dict[str, Any], show: Show) -> Any:
    rows = sorted(answer.ingredients, key=lambda row: -row.cost_usd_t)
    bars = [
        CostBar(
            name=names[row.code].name,
            cost=row.cost_usd_t,
            words=f"{show.price(row.cost_usd_t)}  ({row.share_frac * 100:.3g} %)",
        )
        for row in rows
        if row.share_frac > 0
    ]
    return cost_picture(bars, f"Where the cost of {show.price(answer.cost_usd_t)} comes from")


def limit_words(row: LimitAnswer, value: float | None) -> str:
    """A value of a limit as people read it; nothing where there is none."""
    if value is None:
        return ""
    return f"{value * 100:.4g}" if row.kind in SHARES else f"{value:.4g}"


def limit_unit(row: LimitAnswer) -> str:
    """The unit in which :func:`limit_words` says a value."""
    return "%" if row.kind in SHARES else row.unit


@router.post("/formulas/{product}/draft")
def keep_draft(request: Request, product: str, posted: SignedIn) -> Response:
    """Keep the answer, rounded to the scales, as a draft of the product's formula."""
    site = site_of(request)
    mill = site.mill()
    mill.product(product)
    try:
        needs(posted.person, "formula draft")
        asked = asking(site, product, posted.fields)
        answer = answered(mill, asked, explained=False)["answer"]
        if answer is None:
            raise Refused(
                "Nothing fits, so that there is nothing to keep.", do="let a limit give in"
            )
        rounded, _ = weighed(mill, asked.base.asked, answer.shares)
        shares = answer.shares if rounded is None else rounded.shares
        version = carefully(
            site,
            posted,
            same=is_about(product=product),
            act=lambda: draft_formula(
                site.record,
                product,
                parts_of(shares),
                why=posted.text("why"),
                by=posted.person.person,
                at=posted.at,
            ),
        )
    except BedstoneError as fault:
        return formula_page(request, product, fault=fault)
    return RedirectResponse(f"/formulas/{product}/versions/{version}?done=draft", status_code=303)
