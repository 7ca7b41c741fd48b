"""Stock now or at a past moment, and what the machines hold."""

import datetime as dt

from fastapi import APIRouter, Request
from fastapi.responses import Response

from bedstone.desk.machines import machines_hold
from bedstone.desk.stock import must_have_been, stock_table
from bedstone.web.show import Show
from bedstone.web.site import Site, site_of
from bedstone.web.typed import typed_moment

__all__ = ["past_moment", "router"]

router = APIRouter(include_in_schema=False)


def past_moment(site: Site, text: str) -> dt.datetime | None:
    """The moment an address asks for; None for now."""
    if not text.strip():
        return None
    moment_at = typed_moment(text, Show.of(site.mill()), what="moment")
    must_have_been(moment_at, site.clock(), site.mill())
    return moment_at


@router.get("/stock")
def stock(request: Request, at: str = "") -> Response:
    """What lies where, by the book."""
    site = site_of(request)
    moment_at = past_moment(site, at)
    rows = stock_table(site.record, moment_at)
    return site.page(
        request, "stock.html", rows=rows, at=moment_at, odd=[row for row in rows if row.finding]
    )


@router.get("/stock/machines")
def holding(request: Request, at: str = "") -> Response:
    """What each machine, bin and way still holds of substances that some feed must not get."""
    site = site_of(request)
    moment_at = past_moment(site, at)
    rows = machines_hold(site.record, moment_at)
    substances = list(dict.fromkeys(row.substance for row in rows))
    groups = [
        (
            code,
            sorted(
                (row for row in rows if row.substance == code),
                key=lambda row: -row.concentration_mg_kg,
            ),
        )
        for code in substances
    ]
    return site.page(request, "machines.html", groups=groups, at=moment_at)
