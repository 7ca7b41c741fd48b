"""What to buy, what suppliers' loads were like, and which bin a load goes into."""

from fastapi import APIRouter, Request
from fastapi.responses import Response

from bedstone.desk.bin_choice import BinChoice, rank_bins
from bedstone.desk.buying import buying_list
from bedstone.desk.level_masses import latest_levels, level_words
from bedstone.desk.supplier_cards import PRICED, supplier_cards
from bedstone.errors import BedstoneError
from bedstone.web.show import Show
from bedstone.web.site import site_of
from bedstone.web.typed import typed_mass

__all__ = ["router"]

router = APIRouter(include_in_schema=False)


@router.get("/buying")
def buying(request: Request) -> Response:
    """The buying list, the most pressing first."""
    site = site_of(request)
    at = site.clock()
    today = at.astimezone(site.mill().settings.zone).date()
    return site.page(request, "buying.html", rows=buying_list(site.record, at=at), today=today)


@router.get("/suppliers")
def suppliers(request: Request) -> Response:
    """Supplier cards, ingredient by ingredient."""
    site = site_of(request)
    cards = supplier_cards(site.record, at=site.clock())
    codes = dict.fromkeys(card.ingredient for card in cards)
    groups = [
        (
            code,
            [
                (card, next((row for row in card.nutrients if row.nutrient == PRICED), None))
                for card in cards
                if card.ingredient == code
            ],
        )
        for code in codes
    ]
    return site.page(request, "suppliers.html", groups=groups)


@router.get("/levels")
def levels(request: Request) -> Response:
    """The last reading of each bin as mass, held against the books."""
    site = site_of(request)
    rows = latest_levels(site.record)
    ordered = sorted(rows, key=lambda row: row.found is None or not row.found.is_finding)
    return site.page(request, "levels.html", rows=ordered, words=level_words)


@router.get("/which-bin")
def which_bin(request: Request, ingredient: str = "", mass: str = "") -> Response:
    """Bins ranked for a load of an ingredient."""
    site = site_of(request)
    mill = site.mill()
    fault: BedstoneError | None = None
    choices: tuple[BinChoice, ...] = ()
    if mass:
        try:
            load = typed_mass(mass, Show.of(mill))
            choices = rank_bins(
                site.record, ingredient=ingredient, mass_mg=load.mass_mg, at=site.clock()
            )
        except BedstoneError as error:
            fault = error
    return site.page(
        request,
        "which_bin.html",
        status=200 if fault is None else fault.http_status,
        fault=fault,
        choices=choices,
        ingredient=ingredient,
        mass=mass,
        ingredients=[row.ingredient for row in mill.ingredients],
    )
