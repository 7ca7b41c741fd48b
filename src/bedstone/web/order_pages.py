"""Orders: list, add, change, cancel; and at once what that does to the plan of today."""

import datetime as dt

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from bedstone.desk import plan_day
from bedstone.desk.orders import OrderStanding, all_orders, cancel_order, find_order, set_order
from bedstone.errors import BedstoneError, Conflict, Unknown
from bedstone.mill.goods import PACKS
from bedstone.mill.model import Mill, Order
from bedstone.web.careful import carefully, is_about
from bedstone.web.day_bars import day_picture
from bedstone.web.guard import Posted, SignedIn
from bedstone.web.plan_words import difference_words
from bedstone.web.roles import needs
from bedstone.web.show import MG_IN_KG, Show
from bedstone.web.site import Site, site_of
from bedstone.web.today import made_orders, standing_plan, work_answer, working_day
from bedstone.web.typed import typed_mass, typed_moment

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
DONE = {
    "set": "The order is in the record.",
    "cancelled": "The order is cancelled.",
}


@router.get("/orders")
def orders(request: Request, which: str = "open") -> Response:
    """Orders, the earliest due first."""
    site = site_of(request)
    site.mill()  # nothing is shown before a mill is loaded
    rows = all_orders(site.record)
    shown = [row for row in rows if which == "all" or row.status == "open"]
    return site.page(
        request, "orders.html", rows=shown, which=which, count=len(rows), today=site.today()
    )


@router.get("/orders/new")
def new_order(request: Request) -> Response:
    """An empty form for an order."""
    site = site_of(request)
    return order_page(request, None, fields={"order": next_number(all_orders(site.record))})


def next_number(rows: tuple[OrderStanding, ...]) -> str:
    """The number after the highest one that is all digits; empty if there is none."""
    numbers = [int(row.order.order) for row in rows if row.order.order.isdigit()]
    return str(max(numbers) + 1) if numbers else ""


@router.get("/orders/{code}")
def one_order(request: Request, code: str) -> Response:
    """One order, to be changed or cancelled."""
    return order_page(request, find_order(site_of(request).record, code))


def order_page(
    request: Request,
    standing: OrderStanding | None,
    *,
    fields: dict[str, str] | None = None,
    fault: BedstoneError | None = None,
) -> HTMLResponse:
    """The page of an order, with what was typed so far still in it."""
    site = site_of(request)
    mill = site.mill()
    show = Show.of(mill)
    given = dict(fields or {})
    if standing is not None and fields is None:
        given = fields_of_order(standing.order, show)
    return site.page(
        request,
        "order.html",
        status=200 if fault is None else fault.http_status,
        fault=fault,
        standing=standing,
        given=given,
        both=standing is not None and isinstance(fault, Conflict),
        kept=fields_of_order(standing.order, show) if standing else {},
        customers=sorted(
            (firm for firm in mill.firms if firm.role == "customer"), key=lambda firm: firm.name
        ),
        products=sorted(mill.products, key=lambda product: product.name),
        packs=PACKS,
    )


def fields_of_order(order: Order, show: Show) -> dict[str, str]:
    """An order as the fields of its form."""
    return {
        "order": order.order,
        "customer": order.customer,
        "product": order.product,
        "mass": show.mass_fine(round(order.mass_kg * MG_IN_KG)).replace(".00 ", " "),
        "pack": order.pack,
        "due": show.form_moment(order.due_at),
        "note": order.note,
    }


def order_from(
    posted: Posted, code: str, mill: Mill, *, entered_at: dt.datetime, status: str = "open"
) -> Order:
    """The order that a form means; the desk checks the rest of it."""
    show = Show.of(mill)
    return Order(
        order=code,
        customer=posted.text("customer"),
        product=posted.text("product"),
        mass_kg=typed_mass(posted.text("mass"), show).mass_mg / MG_IN_KG,
        pack=posted.text("pack"),
        entered_at=entered_at,
        due_at=typed_moment(posted.text("due"), show, what="due time"),
        status=status,
        note=posted.text("note"),
    )


@router.post("/orders")
def add(request: Request, posted: SignedIn) -> Response:
    """Add an order."""
    site = site_of(request)
    code = posted.text("order")
    try:
        needs(posted.person, "order")
        refuse_taken(site, code)
        order = order_from(posted, code, site.mill(), entered_at=posted.at)
        set_order(site.record, order, by=posted.person.person, at=posted.at, after=posted.after)
    except BedstoneError as error:
        return order_page(request, None, fields=dict(posted.fields), fault=error)
    return effect(request, code, "set")


def refuse_taken(site: Site, code: str) -> None:
    """Let no new order take the number of an old one.

    Raises
    ------
    Conflict
        If there is an order of this number.
    """
    rows = all_orders(site.record)
    if any(row.order.order == code for row in rows):
        raise Conflict(
            f"There is an order {code} already; nothing was written.",
            do=f"take another number, such as {next_number(rows)}; what you typed is still below",
        )


@router.post("/orders/{code}")
def change(request: Request, code: str, posted: SignedIn) -> Response:
    """Change an order."""
    site = site_of(request)
    standing = find_order(site.record, code)
    try:
        needs(posted.person, "order")
        order = order_from(posted, code, site.mill(), entered_at=standing.order.entered_at)
        carefully(
            site,
            posted,
            same=is_about(order=code),
            act=lambda: set_order(
                site.record, order, by=posted.person.person, at=posted.at, after=posted.after
            ),
        )
    except BedstoneError as error:
        return order_page(request, standing, fields=dict(posted.fields), fault=error)
    return effect(request, code, "set")


@router.post("/orders/{code}/cancel")
def cancel(request: Request, code: str, posted: SignedIn) -> Response:
    """Cancel an order."""
    site = site_of(request)
    standing = find_order(site.record, code)
    try:
        needs(posted.person, "order")
        carefully(
            site,
            posted,
            same=is_about(order=code),
            act=lambda: cancel_order(
                site.record,
                code,
                why=posted.text("why"),
                by=posted.person.person,
                at=posted.at,
                after=posted.after,
            ),
        )
    except BedstoneError as error:
        return order_page(request, standing, fault=error)
    return effect(request, code, "cancelled")


def effect(request: Request, code: str, done: str) -> Response:
    """Reckon what a change of an order does to the plan of today, and show it."""
    site = site_of(request)
    day, at = working_day(site), site.clock()

    def act() -> str:
        plan = plan_day.make_plan(
            site.record, day=day, at=at, tries_an_order=plan_day.QUICK_TRIES_AN_ORDER
        )
        site.work.keep(plan)
        return f"/orders/{code}/effect?plan={plan.plan}&done={done}"

    said = "is cancelled" if done == "cancelled" else "is kept"
    return work_answer(request, f"Order {code} {said}. Reckoning what it does to the plan", act)


@router.get("/orders/{code}/effect")
def effect_page(request: Request, code: str, plan: str, done: str = "") -> Response:
    """What a change of an order does to the plan that stands."""
    site = site_of(request)
    proposed = site.work.plan(plan)
    if proposed is None:
        raise Unknown(
            "This reckoning is no longer remembered.", do="go to Today and plan the day again"
        )
    show = Show.of(site.mill())
    ruling = standing_plan(site, proposed.day)
    return site.page(
        request,
        "effect.html",
        standing=find_order(site.record, code),
        plan=proposed,
        ruling=ruling,
        changes=difference_words(
            ruling.plan if ruling else None, proposed, show, made=made_orders(site)
        ),
        bars=day_picture(proposed, show, now_at=site.clock(), standing={}),
        said=DONE.get(done, ""),
    )


@router.post("/plans/{plan}/propose")
def propose(request: Request, plan: str, posted: SignedIn) -> Response:
    """Put a plan that was reckoned for a change of orders into the record as proposed."""
    needs(posted.person, "plan")
    site = site_of(request)
    proposed = site.work.plan(plan)
    if proposed is None:
        raise Unknown("This plan is no longer remembered.", do="go to Today and plan the day again")
    plan_day.propose(site.record, proposed, by=posted.person.person, at=posted.at)
    return RedirectResponse(f"/plans/{plan}?done=planned", status_code=303)
