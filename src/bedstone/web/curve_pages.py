"""Cost of a ton of a product against the price of one ingredient, and what the odds of its tag cost."""

from fastapi import APIRouter, Request
from fastapi.responses import Response

from bedstone.errors import NoAnswer, Unknown
from bedstone.formulation.curves import price_curve
from bedstone.formulation.margins import care_cost
from bedstone.web.formula_pictures import curve_picture
from bedstone.web.formula_work import asking
from bedstone.web.show import Show
from bedstone.web.site import site_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
LOW, HIGH = 0.5, 1.6
"""From which to which part of its price an ingredient is followed."""


@router.get("/formulas/{product}/curve")
def curve(request: Request, product: str, of: str = "") -> Response:
    """Cost and share against one price, every other price and limit as it stands."""
    site = site_of(request)
    mill = site.mill()
    row = mill.product(product)
    asked = asking(site, product, request.query_params)
    known = {one.code: one for one in asked.problem.ingredients}
    if of not in known:
        raise Unknown(f"{of!r} is no ingredient of {row.name}.", allowed=", ".join(sorted(known)))
    answer = asked.base.answer
    if answer is None:
        raise NoAnswer(f"Nothing fits for {row.name}, so that there is no curve.")
    price_usd_t = known[of].price_usd_t
    points = price_curve(
        asked.problem, of, low_usd_t=LOW * price_usd_t, high_usd_t=HIGH * price_usd_t + 1.0
    )
    show = Show.of(mill)
    line = [(one.at, one.cost_usd_t) for one in points if one.cost_usd_t is not None]
    care = care_cost(asked.problem)
    return site.page(
        request,
        "formula_curve.html",
        product=row,
        of=known[of],
        points=points,
        care=care,
        picture=curve_picture(
            line,
            (price_usd_t, care.with_odds_usd_t),
            f"Cost of a {show.ton} against the price of {known[of].name}",
            ends=(
                show.price(line[0][0]),
                show.price(line[-1][0]),
                show.price(min(cost for _, cost in line)),
                show.price(max(cost for _, cost in line)),
            ),
        ),
    )
