"""Warm pellets in a bin through the night, reckoned with what is typed: sweat, crust, days to mould."""

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import Response

from bedstone.cooling.after_cooler import HOT_C, BinNight, WarmBin, bin_through_the_night
from bedstone.errors import BedstoneError
from bedstone.mill.attributes import column
from bedstone.quantities import line_figures
from bedstone.web.line_calculator import read_fields
from bedstone.web.site import site_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
MG_KG = 1_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedOfBin:
    """What a bin of pellets is asked on the page."""

    pellet_c: float = column(
        "Pellets, as read in the bin", unit="C", default=30.0, low=-30, high=110
    )
    moisture_wb: float = column("Water in them", unit="kg/kg", default=0.125, low=0.04, high=0.3)
    mass_kg: float = column("Pellets in the bin", unit="kg", default=6000.0, low=10, high=500_000)
    wall_m2: float = column("Roof and wall above them", unit="m2", default=12.0, low=0, high=500)
    coldest_wall_c: float = column(
        "Coldest hour to come outside", unit="C", default=5.0, low=-40, high=50
    )


@router.get("/pellet-line/bin")
def night(request: Request) -> Response:
    """What the coming night can do to pellets that lie warm in a bin."""
    site = site_of(request)
    mill = site.mill()
    fields, values = read_fields(AskedOfBin(), mill.settings, request.query_params)
    found: BinNight | None = None
    problem: BedstoneError | None = None
    if not any(one.fault for one in fields):
        try:
            found = bin_through_the_night(WarmBin(**values))
        except BedstoneError as fault:
            problem = fault
    return site.page(
        request,
        "line_bin.html",
        fields=fields,
        found=found,
        problem=problem,
        water_mg=None
        if found is None
        else tuple(round(kg * MG_KG) for kg in (found.water_least_kg, found.water_most_kg)),
        hot=not any(one.fault for one in fields) and values["pellet_c"] >= HOT_C,
        figures=line_figures,
    )
