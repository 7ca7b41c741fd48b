"""Instruments at a glance, one instrument's history, and the mass balance of the mill."""

import datetime as dt

from fastapi import APIRouter, Request
from fastapi.responses import Response

from bedstone.desk.balance import balance, place_words, said_of
from bedstone.desk.watch import Watched
from bedstone.desk.watch_history import history, watch_now
from bedstone.desk.watch_kinds import LANDING
from bedstone.desk.watch_suspects import name_of
from bedstone.desk.watch_words import (
    kept_words,
    mixer_words,
    seen_words,
    size_words,
    smallest_words,
    witness_words,
)
from bedstone.errors import BadInput
from bedstone.mill.model import Mill
from bedstone.quality.watch_levels import WRONG_BIN
from bedstone.web.instrument_pictures import chart_picture, control_picture, flow_picture
from bedstone.web.paper_pages import pdf
from bedstone.web.show import Show
from bedstone.web.site import site_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
WEEK = dt.timedelta(days=6)
LONGEST = dt.timedelta(days=400)


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


def _rest(watched: Watched, mill: Mill) -> list[tuple[str, str, str, str, str]]:
    """Gauges, dials, bag scales and gates: code, name, mark, word, and what can be seen of each."""
    tools = {row.instrument for row in watched.proofs}
    rows = [
        (about, name_of(mill, about), *state_of(watched, about),
         smallest_words(row, mill.settings.units))
        for about, row in sorted(watched.smallest.items())
        if about not in tools and row.kind != WRONG_BIN
    ]  # fmt: skip
    return sorted(rows, key=lambda row: ({"stop": 0, "act": 1}.get(row[2], 2), row[0]))


@router.get("/instruments")
def instruments(request: Request) -> Response:
    """All scales, meters and gauges; only what is wrong or due stands out."""
    site = site_of(request)
    mill = site.mill()
    watched = watch_now(site.record, at=site.clock())
    rows = [
        (row, _name(mill, row.instrument), *state_of(watched, row.instrument),
         _seen(watched, row.instrument, mill))
        for row in watched.proofs
    ]  # fmt: skip
    rows.sort(key=lambda row: {"stop": 0, "act": 1}.get(row[2], 2))
    units = mill.settings.units
    rest = _rest(watched, mill)
    return site.page(
        request,
        "instruments.html",
        rows=rows,
        rest=[row for row in rest if not _is_gate(watched, row[0])],
        gates=[row for row in rest if _is_gate(watched, row[0])],
        suspects=[(row, size_words(row, units)) for row in watched.suspects],
        mixers=[(row, mill.name_of(row.mixer), mixer_words(row)) for row in watched.mixers],
        watched=watched,
    )


def _is_gate(watched: Watched, about: str) -> bool:
    return watched.smallest[about].kind == LANDING


def _seen(watched: Watched, code: str, mill: Mill) -> str:
    """What all witnesses show of an instrument, and how quick the level alone is."""
    together = smallest_words(watched.smallest.get(code), mill.settings.units)
    alone = seen_words(watched.seen.get(code))
    return f"{together}; {alone}" if alone else together


@router.get("/instruments/{code}")
def instrument(request: Request, code: str) -> Response:
    """One instrument: its chart, what it touched, its proofs."""
    site = site_of(request)
    mill = site.mill()
    found = history(site.record, code, at=site.clock())
    return site.page(
        request,
        "instrument.html",
        found=found,
        picture=chart_picture(found, Show.of(mill)),
        control=control_picture(found, Show.of(mill)),
        kept=kept_words,
        wrong=size_words(found.suspect, mill.settings.units) if found.suspect else "",
        witnesses=witness_words(found.suspect.witnesses) if found.suspect else "",
        seen=_seen(found.watched, code, mill),
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
        flows=said_of(mill, found),
        place=lambda code: place_words(mill, code),
        first=first,
        last=last,
        picture=flow_picture(found, mill, Show.of(mill)),
    )
