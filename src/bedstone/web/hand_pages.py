"""Runs of a plan moved by hand: at once what that costs, what it breaks and why; undone, proposed."""

from collections.abc import Callable

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from bedstone.desk import plan_day
from bedstone.desk.plans import ByHand, find_plan
from bedstone.errors import BadInput, BedstoneError, Conflict, Refused
from bedstone.mill.plan import Plan, Verdict
from bedstone.web.fact_words import fact_words
from bedstone.web.guard import Posted, SignedIn
from bedstone.web.hand_view import hand_view, trial_view
from bedstone.web.hand_work import HandWork, Order, known_runs, moved, stepped
from bedstone.web.roles import needs
from bedstone.web.show import Show
from bedstone.web.site import Site, site_of
from bedstone.web.today import work_answer

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
MOST_NEWS = 5


@router.post("/plans/{plan}/by-hand")
def begin(request: Request, plan: str, posted: SignedIn) -> Response:
    """Open a plan to be changed by hand, with its first move if one was made on Today."""
    needs(posted.person, "plan")
    site = site_of(request)
    standing = find_plan(site.record, plan)
    refuse_past(site, standing.plan)
    run, mixer, before = (posted.text(name) for name in ("run", "mixer", "before"))

    def act() -> str:
        work = site.hands.begin(
            site.record, standing.plan, person=posted.person.person, at=posted.at
        )
        if run:
            put_moved(work, run, mixer, before)
        return f"/by-hand/{work.key}"

    return work_answer(request, f"Opening {Show.of(site.mill()).day(standing.plan.day)}", act)


def refuse_past(site: Site, plan: Plan) -> None:
    """Let only plans of today and later be moved by hand.

    Raises
    ------
    Refused
        If the plan's day is over.
    """
    if plan.day < site.today():
        raise Refused(
            f"The day of plan {plan.plan} is over; its runs cannot be moved any more.",
            seen=plan.day.isoformat(),
            allowed="plans of today and later",
            do="open today's plan",
        )


def put_moved(work: HandWork, run: str, mixer: str, before: str) -> None:
    """Move a run; the order stays as it was if the move cannot be understood.

    Raises
    ------
    BadInput
        If there is no such run, or its feed is not made on that mixer.
    """
    order = moved(work.order, run, mixer, before)
    work.hand.tried(order)
    work.put(order)


def mine(request: Request, key: str) -> tuple[Site, HandWork]:
    """The order of a key, if it is that of whoever is signed in.

    Raises
    ------
    Refused
        If nobody is signed in.
    """
    site = site_of(request)
    person = site.person(request)
    if person is None:
        raise Refused("Nobody is signed in at this browser.", do="sign in and open the plan again")
    return site, site.hands.find(key, person.person)


def freshened(site: Site, work: HandWork) -> list[str]:
    """The day read again if the record moved on; what was recorded since, in words."""
    if site.record.head().head == work.hand.head:
        return []
    since = work.reopen(site.record, site.clock())
    news = [fact_words(one, site) for one in site.record.facts(after=since)]
    return [*news[-MOST_NEWS:], *([f"and {len(news) - MOST_NEWS} more"] * (len(news) > MOST_NEWS))]


@router.get("/by-hand/{key}")
def page(request: Request, key: str) -> Response:
    """The order as it stands beside the plan it began with."""
    site, work = mine(request, key)
    with work.lock:
        return shown(request, site, work, news=freshened(site, work))


def shown(
    request: Request,
    site: Site,
    work: HandWork,
    *,
    news: list[str],
    fault: BedstoneError | None = None,
) -> HTMLResponse:
    """The page, or the piece of it that a move changes."""
    piece = request.headers.get("hx-request") == "true"
    view = hand_view(work, Show.of(site.mill()), now_at=site.clock())
    return site.page(
        request,
        "hand_piece.html" if piece else "hand.html",
        status=200 if fault is None else fault.http_status,
        fault=fault,
        work=work,
        view=view,
        news=news,
        day=work.plan.day,
    )


@router.get("/by-hand/{key}/try")
def trial(request: Request, key: str, run: str, mixer: str, before: str = "") -> Response:
    """What a move would cost and break, while a bar is still held; nothing changes."""
    site, work = mine(request, key)
    with work.lock:
        freshened(site, work)
        try:
            view = trial_view(work, moved(work.order, run, mixer, before), Show.of(site.mill()))
        except BadInput as bad:
            return site.page(request, "hand_trial.html", view=None, fault=bad)
    return site.page(request, "hand_trial.html", view=view)


@router.post("/by-hand/{key}/move")
def move(request: Request, key: str, posted: SignedIn) -> Response:
    """Move a run: before another on a mixer, a step earlier or later, out of the day or into it."""
    run, mixer, step = (posted.text(name) for name in ("run", "mixer", "step"))

    def act(work: HandWork) -> None:
        if run not in known_runs(work.hand):
            raise BadInput(
                "There is no such run to be made on this day any more.",
                seen=run[:40],
                do="it has begun or its order has changed: look at the order of running again",
            )
        if step:
            put(work, stepped(work.order, run, step))
        else:
            put_moved(work, run, mixer, posted.text("before"))

    return changed(request, key, posted, act)


def put(work: HandWork, order: Order) -> None:
    """Take an order if it can be walked."""
    work.hand.tried(order)
    work.put(order)


@router.post("/by-hand/{key}/undo")
def undo(request: Request, key: str, posted: SignedIn) -> Response:
    """Go one step back."""
    return changed(request, key, posted, HandWork.undo)


@router.post("/by-hand/{key}/redo")
def redo(request: Request, key: str, posted: SignedIn) -> Response:
    """Take back an undo."""
    return changed(request, key, posted, HandWork.redo)


@router.post("/by-hand/{key}/again")
def again(request: Request, key: str, posted: SignedIn) -> Response:
    """Go back to the order of the plan it began with; that too can be undone."""
    return changed(request, key, posted, lambda work: work.put(work.base))


def changed(
    request: Request, key: str, posted: Posted, act: Callable[[HandWork], None]
) -> Response:
    """The page after a change: a piece for the script, else a page of its own address."""
    needs(posted.person, "plan")
    site, work = mine(request, key)
    with work.lock:
        news = freshened(site, work)
        try:
            act(work)
        except BedstoneError as error:
            return shown(request, site, work, news=news, fault=error)
        if request.headers.get("hx-request") == "true":
            return shown(request, site, work, news=news)
    return RedirectResponse(f"/by-hand/{key}", status_code=303)


@router.post("/by-hand/{key}/propose")
def propose(request: Request, key: str, posted: SignedIn) -> Response:
    """Put the order into the record as a proposed plan, drawn and verified whole."""
    needs(posted.person, "plan")
    site, work = mine(request, key)
    with work.lock:
        if news := freshened(site, work):
            moved_on = Conflict(
                "The record has moved on since you looked; nothing was proposed.",
                seen="; ".join(news),
                do="look at your order as it is now, below, and propose it again if it is right",
            )
            return shown(request, site, work, news=news, fault=moved_on)
        order, hand = work.order, work.hand
        dearer = hand.dearer_cents100(hand.tried(order), work.base)

    def act() -> str:
        plan = plan_day.make_plan(site.record, day=work.plan.day, at=posted.at, by_hand=order)
        if plan.status == "refused":
            stops = [one.text for one in plan.findings if one.verdict is Verdict.STOP]
            raise Refused(
                "The verifier refuses this order; nothing was proposed.",
                seen=" ".join(dict.fromkeys(stops)),
                do="move what it names, then propose it again",
            )
        plan_day.propose(
            site.record,
            plan,
            by=posted.person.person,
            at=posted.at,
            by_hand=ByHand(instead_of=work.plan.plan, dearer_cents100=dearer),
        )
        return f"/plans/{plan.plan}?done=by-hand"

    try:
        return work_answer(request, "Checking your order of running whole", act)
    except (Refused, Conflict, BadInput) as error:
        with work.lock:
            return shown(request, site, work, news=[], fault=error)
