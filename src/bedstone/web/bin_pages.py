"""Bins: all of them as a picture, one with its layers, seen empty, counted."""

from collections.abc import Callable

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from bedstone.desk.bin_contents import contents_of
from bedstone.desk.bin_findings import (
    bins_with_pellets,
    findings_of_bins,
    last_temperature,
)
from bedstone.desk.checks import must_fit
from bedstone.desk.level_masses import latest_levels, level_words
from bedstone.desk.levels import record_level
from bedstone.desk.runs import record_count, record_seen_empty
from bedstone.desk.stock import BinView, bins_view
from bedstone.errors import BadInput, BedstoneError, Unknown
from bedstone.ledger.model import FlowPattern, Recorded
from bedstone.mill.equipment import BIN_KINDS
from bedstone.quantities.line_figures import temperature_words
from bedstone.web.bin_picture import bin_picture
from bedstone.web.careful import carefully
from bedstone.web.guard import SignedIn
from bedstone.web.level_form import TypedLevel, level_methods, typed_level
from bedstone.web.roles import needs
from bedstone.web.show import Show
from bedstone.web.site import Site, site_of
from bedstone.web.typed import typed_mass

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
DONE = {
    "empty": "Seen empty: the book of this bin begins anew from nothing.",
    "level": "The level is in the record, held against the books.",
    "counted": "The count is in the record; the book agrees with it now.",
}
WARM_WORDS = {
    "bin.hot": "hot: keep out",
    "bin.warming": "warms by itself: look at it",
    "bin.filled_warm": "filled warm: look at it tonight",
    "bin.filled_damp": "filled damp: look at it tonight",
}
HEADINGS = {
    "ingredient": "Ingredients",
    "ground": "Ground grain",
    "tank": "Liquids",
    "floor": "Sacks and totes",
    "surge": "Between machines",
    "finished": "Finished feed",
    "flush": "Flush",
    "warehouse": "Warehouse",
}


def odd(view: BinView) -> str:
    """What is odd about a bin, in two or three words; empty if nothing is."""
    if view.mass_mg < 0:
        return "below nothing: count it"
    if view.fill_frac > 1:
        return "more than it holds: count it"
    return ""


@router.get("/bins")
def bins(request: Request) -> Response:
    """All bins with their levels, by what they are for."""
    site = site_of(request)
    show = Show.of(site.mill())
    views = bins_view(site.record)
    warm = findings_of_bins(site.record, at=site.clock())
    groups = [
        (
            HEADINGS.get(kind, kind),
            [(view, bin_picture(view, show), odd(view)) for view in views if view.bin.kind == kind],
        )
        for kind in BIN_KINDS
    ]
    groups = [group for group in groups if group[1]]
    return site.page(request, "bins.html", groups=groups, warm=warm, warm_words=WARM_WORDS)


def view_of(site: Site, code: str) -> BinView:
    """One bin as it is now.

    Raises
    ------
    Unknown
        If the mill has no such bin.
    """
    for view in bins_view(site.record):
        if view.bin.bin == code:
            return view
    raise Unknown(f"There is no bin {code!r}.", do="see the list of bins")


@router.get("/bins/{code}")
def one_bin(request: Request, code: str, done: str = "") -> Response:
    """One bin with its layers, from the outlet up."""
    return bin_page(request, code, done=done)


def bin_page(
    request: Request,
    code: str,
    *,
    done: str = "",
    typed: str = "",
    material: str = "",
    level_typed: TypedLevel | None = None,
    fault: BedstoneError | None = None,
) -> HTMLResponse:
    """The page of a bin, with what was typed so far still in it."""
    site = site_of(request)
    mill = site.mill()
    view = view_of(site, code)
    return site.page(
        request,
        "bin.html",
        status=200 if fault is None else fault.http_status,
        fault=fault,
        view=view,
        picture=bin_picture(view, Show.of(mill), size=1.7),
        odd=odd(view),
        warm=findings_of_bins(site.record, at=site.clock()).get(code, ()),
        is_pellets=code in {one.bin.bin for one in bins_with_pellets(site.record, at=site.clock())},
        inside=last_temperature(site.record, code, at=site.clock()),
        temperature_words=temperature_words,
        contents=contents_of(site.record, code, view.material, at=site.clock())
        if view.mass_mg > 0 and (view.bin.holds or view.bin.flow != FlowPattern.SEPARATE.value)
        else None,
        read=latest_levels(site.record, code),
        level_words=level_words,
        methods=level_methods(Show.of(mill)),
        level_typed=level_typed or TypedLevel(),
        today=site.today(),
        typed=typed,
        material=material or view.material or view.bin.holds,
        materials=sorted([*mill.ingredient_by_code, *mill.product_by_code]),
        said=DONE.get(done, ""),
    )


def moves(code: str) -> Callable[[Recorded], bool]:
    """A test for facts that put something into a bin, take something out, or count it."""

    def test(one: Recorded) -> bool:
        said = one.fact.content
        return code in (said.get("bin"), said.get("place")) or any(
            code in (move.from_place, move.to_place) for move in one.fact.movements
        )

    return test


@router.post("/bins/{code}/empty")
def seen_empty(request: Request, code: str, posted: SignedIn) -> Response:
    """Record that a person saw the bin empty."""
    site = site_of(request)
    view_of(site, code)
    try:
        needs(posted.person, "bin")
        carefully(
            site,
            posted,
            same=moves(code),
            act=lambda: record_seen_empty(site.record, code, by=posted.person.person, at=posted.at),
        )
    except BedstoneError as error:
        return bin_page(request, code, fault=error)
    return RedirectResponse(f"/bins/{code}?done=empty", status_code=303)


@router.post("/bins/{code}/level")
def level(request: Request, code: str, posted: SignedIn) -> Response:
    """Record how full the bin was read to be."""
    site = site_of(request)
    held, typed = view_of(site, code).bin, TypedLevel.of_form(posted)
    try:
        needs(posted.person, "level")
        said = typed_level(typed, Show.of(site.mill()), held)
        record_level(
            site.record,
            code,
            method=said.method,
            value=said.value,
            unit=said.unit,
            sd=said.sd,
            material=said.material,
            by=posted.person.person,
            at=posted.at,
        )
    except BedstoneError as error:
        return bin_page(request, code, level_typed=typed, fault=error)
    return RedirectResponse(f"/bins/{code}?done=level", status_code=303)


@router.post("/bins/{code}/count")
def count(request: Request, code: str, posted: SignedIn) -> Response:
    """Record how much was found in the bin."""
    site = site_of(request)
    view_of(site, code)
    typed, material = posted.text("counted"), posted.text("material")
    try:
        needs(posted.person, "bin")
        mass = typed_mass(typed, Show.of(site.mill()))
        mill = site.mill()
        if material not in mill.ingredient_by_code and material not in mill.product_by_code:
            raise BadInput("Say what was counted.", seen=material, allowed="a material of the mill")
        must_fit(mill, view_of(site, code).bin, mass.mass_mg)
        if posted.text("understood") != str(mass.mass_mg):
            return understood_page(request, code, typed, material, mass.mass_mg)
        carefully(
            site,
            posted,
            same=moves(code),
            act=lambda: record_count(
                site.record,
                code,
                material=material,
                counted_mg=mass.mass_mg,
                how=posted.text("how") or "counted",
                by=posted.person.person,
                at=posted.at,
            ),
        )
    except BedstoneError as error:
        return bin_page(request, code, typed=typed, material=material, fault=error)
    return RedirectResponse(f"/bins/{code}?done=counted", status_code=303)


def understood_page(
    request: Request, code: str, typed: str, material: str, mass_mg: int
) -> HTMLResponse:
    """Show a count as it was understood, with what it changes, before it is kept."""
    site = site_of(request)
    view = view_of(site, code)
    return site.page(
        request,
        "count.html",
        view=view,
        typed=typed,
        material=material,
        counted_mg=mass_mg,
        change_mg=mass_mg - view.mass_mg,
    )
