"""Instruments at a glance, one instrument's history, and the mass balance of the mill."""

import datetime as dt

from fastapi import APIRouter, Request
from fastapi.responses import Response

from bedstone.desk.balance import balance
from bedstone.desk.watch import Seen, Suspect, Watched
from bedstone.desk.watch_history import history, watch_now
from bedstone.errors import BadInput
from bedstone.mill.model import Mill
from bedstone.web.instrument_pictures import chart_picture, flow_picture
from bedstone.web.paper_pages import pdf
from bedstone.web.show import Show
from bedstone.web.site import site_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
PCT = 100.0
WEEK = dt.timedelta(days=6)
LONGEST = dt.timedelta(days=400)


def how_wrong(suspect: Suspect, show: Show) -> str:
    """What is wrong and by how much, in words."""
    if suspect.kind == "stuck reading":
        return "shows the same though mass passed"
    if suspect.unit == "kg":
        return f"shows {show.mass(round(suspect.size * 1e6))} too much"
    a_day = " a day" if suspect.kind == "slow drift" else ""
    more = "more" if suspect.size > 0 else "less"
    return (
        f"{PCT * abs(suspect.size):.1f} % {more} flows than is read{a_day}, "
        f"plus or minus {2 * PCT * suspect.size_sd:.1f}"
    )


def _name(mill: Mill, code: str) -> str:
    tool = mill.scale_by_code.get(code) or mill.meter_by_code.get(code)
    return tool.name if tool else code


def state_of(watched: Watched, code: str) -> tuple[str, str]:
    """Mark and word of an instrument; both empty if it is as it should be."""
    if any(row.about == code for row in watched.suspects):
        return "stop", "wrong"
    standing = next((row for row in watched.proofs if row.instrument == code), None)
    if standing is not None and standing.is_within is False:
        return "stop", "proof out of tolerance"
    if standing is not None and standing.is_due:
        return "act", f"prove it: {standing.why}"
    return "", ""


def seen_words(seen: Seen | None) -> str:
    """What its witness can show."""
    if seen is None:
        return "nothing on record witnesses it; its proofs stand alone"
    if seen.smallest_frac is None:
        return f"the level of {seen.place} cannot show an error of it"
    steps = ", ".join(
        f"{PCT * size:.0f} % after {count}"
        for size, count in zip(seen.sizes, seen.readings, strict=True)
        if count is not None
    )
    return (
        f"level of {seen.place}: {PCT * seen.smallest_frac:.1f} % can be seen in a month of "
        f"readings ({steps} readings)"
    )


@router.get("/instruments")
def instruments(request: Request) -> Response:
    """All scales, meters and gauges; only what is wrong or due stands out."""
    site = site_of(request)
    mill = site.mill()
    show = Show.of(mill)
    watched = watch_now(site.record, at=site.clock())
    rows = [
        (row, _name(mill, row.instrument), *state_of(watched, row.instrument),
         seen_words(watched.seen.get(row.instrument)))
        for row in watched.proofs
    ]  # fmt: skip
    rows.sort(key=lambda row: {"stop": 0, "act": 1}.get(row[2], 2))
    gauges = sorted({seen.place for seen in watched.seen.values()})
    suspects = [(row, how_wrong(row, show)) for row in watched.suspects]
    return site.page(
        request, "instruments.html", rows=rows, suspects=suspects, gauges=gauges, watched=watched
    )


@router.get("/instruments/{code}")
def instrument(request: Request, code: str) -> Response:
    """One instrument: its chart, what it touched, its proofs."""
    site = site_of(request)
    show = Show.of(site.mill())
    found = history(site.record, code, at=site.clock())
    return site.page(
        request,
        "instrument.html",
        found=found,
        picture=chart_picture(found, show),
        wrong=how_wrong(found.suspect, show) if found.suspect else "",
        seen=seen_words(found.watched.seen.get(code)),
        state=state_of(found.watched, code),
    )


def _day(text: str, name: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError as error:
        raise BadInput(
            f"The {name} day is no date.", seen=repr(text)[:40], allowed="YYYY-MM-DD"
        ) from error


@router.get("/instruments/{code}/proofs/{position}.pdf")
def certificate(request: Request, code: str, position: int) -> Response:
    """The certificate of a proof."""
    from bedstone.papers.instrument_papers import proof_certificate

    content = proof_certificate(site_of(request).record, code, position)
    return pdf(content, f"proof-{position}")


@router.get("/instruments-report.pdf")
def report(request: Request) -> Response:
    """The report of a month, the one that runs if none is asked for."""
    from bedstone.papers.instrument_papers import instrument_report

    site = site_of(request)
    asked = request.query_params.get("month") or ""
    month = _day(f"{asked}-01", "month's first") if asked else site.today()
    content = instrument_report(site.record, month, at=site.clock())
    return pdf(content, f"instruments-{month:%Y-%m}")


@router.get("/balance")
def mass_balance(request: Request) -> Response:
    """What came in, went through and left in some days, made to agree."""
    site = site_of(request)
    mill = site.mill()
    asked = request.query_params
    until = asked.get("to") or ""
    last = _day(until, "last") if until else site.today() - dt.timedelta(days=1)
    since = asked.get("from") or ""
    first = _day(since, "first") if since else last - WEEK
    if last - first > LONGEST:
        raise BadInput("A balance is of at most 400 days.", seen=f"{first} to {last}")
    found = balance(site.record, first=first, last=last)
    return site.page(
        request,
        "balance.html",
        found=found,
        first=first,
        last=last,
        picture=flow_picture(found, mill, Show.of(mill)),
    )
