"""Tanks: warmth, density, whether they pump; a dip or ullage turned into volume and mass."""

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from bedstone.desk.levels import record_level
from bedstone.desk.tanks import dip_level, tank_views
from bedstone.errors import BadInput, BedstoneError
from bedstone.web.careful import carefully, is_about
from bedstone.web.guard import Posted, SignedIn
from bedstone.web.roles import needs
from bedstone.web.show import Show
from bedstone.web.site import Site, site_of
from bedstone.web.typed_measure import typed_length_m, typed_temperature_c

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
WAYS = {"dip": True, "ullage": False}
SD_M = 0.005
"""How well a rod in a still tank is read: common practice, no source."""


@router.get("/tanks")
def tanks(request: Request, done: str = "") -> Response:
    """Every tank with its liquid, and a form to read it."""
    return tanks_page(request, said="The level is in the record." if done == "read" else "")


def tanks_page(
    request: Request,
    *,
    said: str = "",
    typed: dict[str, str] | None = None,
    understood: dict[str, Any] | None = None,
    fault: BedstoneError | None = None,
) -> HTMLResponse:
    """The page of tanks, with what was typed and what it means."""
    site = site_of(request)
    return site.page(
        request,
        "tanks.html",
        status=200 if fault is None else fault.http_status,
        fault=fault,
        views=tank_views(site.record, at=site.clock()),
        typed=typed or {},
        understood=understood,
        said=said,
    )


def read_of(site: Site, posted: Posted) -> dict[str, Any]:
    """What a typed reading means, ready to be shown and recorded.

    Raises
    ------
    BadInput
        If the tank, the way of reading, a length or the temperature cannot be.
    """
    show = Show.of(site.mill())
    way, warm = posted.text("way"), posted.text("temperature")
    if way not in WAYS:
        raise BadInput("Say how it was read.", seen=repr(way[:40]), allowed=", ".join(WAYS))
    sd = posted.text("sd")
    level, seen = dip_level(
        site.mill(),
        posted.text("tank"),
        from_bottom=WAYS[way],
        length_m=typed_length_m(posted.text("length"), show, what="reading"),
        sd_m=typed_length_m(sd, show, what="error of the reading") if sd else SD_M,
        temperature_c=typed_temperature_c(warm, show, what="temperature") if warm else None,
        by=posted.person.person,
        at=posted.at,
    )
    key = f"{level.place} {level.value:.6f} {level.sd:.6f} {level.temperature_c}"
    return {"level": level, "seen": seen, "key": key}


@router.post("/tanks")
def read(request: Request, posted: SignedIn) -> Response:
    """Show a reading as it is understood, and record it once it was seen so."""
    site = site_of(request)
    typed = {name: posted.text(name) for name in posted.fields}
    try:
        needs(posted.person, "level")
        found = read_of(site, posted)
        if posted.text("look") or posted.text("understood") != found["key"]:
            return tanks_page(request, typed=typed, understood=found)
        level = found["level"]
        carefully(
            site,
            posted,
            same=is_about(place=level.place),
            act=lambda: record_level(
                site.record,
                level.place,
                method=level.method,
                value=level.value,
                unit=level.unit,
                sd=level.sd,
                temperature_c=level.temperature_c,
                by=posted.person.person,
                at=posted.at,
            ),
        )
    except BedstoneError as error:
        return tanks_page(request, typed=typed, fault=error)
    return RedirectResponse("/tanks?done=read", status_code=303)
