"""One version of a formula: its parts against its limits, approved, put in use, withdrawn, compared."""

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from bedstone.desk.formula_checks import Judged, judge
from bedstone.desk.formula_versions import (
    approve_formula,
    formula_history,
    put_formula_in_use,
    version_of,
    withdraw_formula,
)
from bedstone.desk.formulate import Choices
from bedstone.errors import BadInput, BedstoneError
from bedstone.mill.model import Mill
from bedstone.mill.plan import Verdict
from bedstone.web.formula_pages import limit_unit, limit_words
from bedstone.web.formula_pictures import CostBar, cost_picture, limit_picture
from bedstone.web.formula_work import chosen
from bedstone.web.guard import SignedIn, is_whole
from bedstone.web.roles import needs
from bedstone.web.show import Show
from bedstone.web.site import Site, site_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
DONE = {
    "draft": "It is kept as a draft. It does not run until it was approved and put in use.",
    "approved": "It is approved. It runs once somebody puts it in use.",
}


def whole(text: str) -> int:
    """A version's number.

    Raises
    ------
    BadInput
        If it is none.
    """
    if not is_whole(text):
        raise BadInput("That is no version of a formula.", seen=repr(text[:40]), allowed="1, 2 ...")
    return int(text)


def _judged(site: Site, mill: Mill, product: str, version: int, choices: Choices) -> Judged:
    shares = {row.ingredient: row.parts_frac for row in mill.lines_of(product, version)}
    return judge(site.record, product, shares, choices)


@router.get("/formulas/{product}/versions/{version}")
def one_version(request: Request, product: str, version: str, done: str = "") -> Response:
    """A version with its parts, what it keeps of its limits, and what may be done with it."""
    return version_page(request, product, whole(version), done=done)


def version_page(
    request: Request,
    product: str,
    version: int,
    *,
    done: str = "",
    why: str = "",
    fault: BedstoneError | None = None,
) -> Response:
    """The page of a version, with what was typed so far still in it."""
    site = site_of(request)
    mill = site.mill()
    row = version_of(mill, product, version)
    seen = _judged(site, mill, product, version, chosen(site, request.query_params))
    show = Show.of(mill)
    return site.page(
        request,
        "formula_version.html",
        status=200 if fault is None else fault.http_status,
        fault=fault,
        said=DONE.get(done, ""),
        product=mill.product(product),
        version=row,
        seen=seen,
        why=why,
        wants_why=any(one.verdict is Verdict.ACT for one in seen.findings),
        stopped=any(one.verdict is Verdict.STOP for one in seen.findings),
        history=formula_history(site.record).get((product, version), ()),
        others=[one for one in mill.formulas if one.product == product and one != row],
        reach=limit_picture(seen.limits, "How far each limit is") if seen.limits else None,
        costs=_costs(seen, show),
        limit_words=limit_words,
        limit_unit=limit_unit,
    )


def _costs(seen: Judged, show: Show) -> Any:
    prices = {row.code: row for row in seen.asked.problem.ingredients}
    bars = [
        CostBar(
            name=prices[code].name,
            cost=share * prices[code].price_usd_t,
            words=f"{show.price(share * prices[code].price_usd_t)}  ({share * 100:.3g} %)",
        )
        for code, share in seen.shares.items()
    ]
    bars.sort(key=lambda bar: -bar.cost)
    return cost_picture(bars, f"Where the cost of {show.price(seen.cost_usd_t)} comes from")


@router.post("/formulas/{product}/versions/{version}/approve")
def approve(request: Request, product: str, version: str, posted: SignedIn) -> Response:
    """Approve a draft in the name of whoever is signed in."""
    site = site_of(request)
    number, why = whole(version), posted.text("why")
    version_of(site.mill(), product, number)
    try:
        needs(posted.person, "formula approve")
        approve_formula(
            site.record,
            product,
            number,
            choices=chosen(site, posted.fields),
            by=posted.person.person,
            at=posted.at,
            why=why,
            after=posted.after,
        )
    except BedstoneError as fault:
        return version_page(request, product, number, why=why, fault=fault)
    return RedirectResponse(f"/formulas/{product}/versions/{number}?done=approved", status_code=303)


@router.post("/formulas/{product}/versions/{version}/use")
def use(request: Request, product: str, version: str, posted: SignedIn) -> Response:
    """Let an approved version run from now on."""
    site = site_of(request)
    number = whole(version)
    version_of(site.mill(), product, number)
    try:
        needs(posted.person, "formula use")
        put_formula_in_use(
            site.record, product, number, by=posted.person.person, at=posted.at, after=posted.after
        )
    except BedstoneError as fault:
        return version_page(request, product, number, fault=fault)
    return RedirectResponse(f"/formulas/{product}?done=use", status_code=303)


@router.post("/formulas/{product}/versions/{version}/withdraw")
def withdraw(request: Request, product: str, version: str, posted: SignedIn) -> Response:
    """Withdraw a version for good."""
    site = site_of(request)
    number, why = whole(version), posted.text("why")
    version_of(site.mill(), product, number)
    try:
        needs(posted.person, "formula use")
        withdraw_formula(
            site.record,
            product,
            number,
            why=why,
            by=posted.person.person,
            at=posted.at,
            after=posted.after,
        )
    except BedstoneError as fault:
        return version_page(request, product, number, why=why, fault=fault)
    return RedirectResponse(f"/formulas/{product}?done=withdrawn", status_code=303)


@router.get("/formulas/{product}/compare")
def compare(request: Request, product: str, a: str = "", b: str = "") -> Response:
    """Two versions side by side: parts, limits, cost, at the same prices and compositions."""
    site = site_of(request)
    mill = site.mill()
    first, second = whole(a), whole(b)
    choices = chosen(site, request.query_params)
    version_of(mill, product, first)
    version_of(mill, product, second)
    left = _judged(site, mill, product, first, choices)
    right = _judged(site, mill, product, second, choices)
    codes = sorted(
        {*left.shares, *right.shares},
        key=lambda code: -max(left.shares.get(code, 0.0), right.shares.get(code, 0.0)),
    )
    by_code = {row.code: row for row in right.limits}
    return site.page(
        request,
        "formula_compare.html",
        product=mill.product(product),
        first=first,
        second=second,
        left=left,
        right=right,
        parts=[(code, left.shares.get(code, 0.0), right.shares.get(code, 0.0)) for code in codes],
        pairs=[(row, by_code.get(row.code)) for row in left.limits],
        limit_words=limit_words,
        limit_unit=limit_unit,
    )
