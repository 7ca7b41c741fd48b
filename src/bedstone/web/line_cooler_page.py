"""The cooler: profile through its bed, what leaves with its ends, by the tables or numbers typed."""

from dataclasses import dataclass, replace

from fastapi import APIRouter, Request
from fastapi.responses import Response

from bedstone.cooling.after_cooler import HOT_ADVICE, HOT_C
from bedstone.cooling.air_flow import Fan
from bedstone.cooling.model import DEFAULT_FACTORS
from bedstone.cooling.start_stop import StartStop
from bedstone.desk.cooler_mash import OfMash
from bedstone.desk.line_cooler import CoolerAnswer, asked_of_cooler, reckon_cooler
from bedstone.desk.line_factors import Calibrated, line_factors
from bedstone.desk.line_start import of_mash, start_of_run
from bedstone.errors import BedstoneError, Unknown
from bedstone.mill.cooler_asked import AskedOfCooler
from bedstone.mill.model import Mill
from bedstone.mill.typed_fields import TypedField, read_fields
from bedstone.web.line_pages import OnLine, one_on_line, page
from bedstone.web.line_pictures import bed_picture
from bedstone.web.show import Show
from bedstone.web.site import Site, site_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Hot pellets", ("pellet_rate_kg_s", "pellet_c", "pellet_moisture_wb")),
    ("A pellet", ("diameter_mm", "pellet_length_mm", "bulk_density_kg_m3")),
    ("Air", ("air_c", "humidity_frac", "altitude_m", "air_m3_s")),
    ("Bed", ("area_m2", "depth_m")),
    ("How pellets must leave", ("above_ambient_dk", "water_activity_frac")),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Begun:
    """What the form begins with: the tables of a run, or what is usual."""

    asked: AskedOfCooler
    fan: Fan | None
    mash: OfMash | None
    air_known: bool


@router.get("/pellet-line/cooler")
def cooler(request: Request, on: str = "") -> Response:
    """The cooler of a product on a line in the air of its hour, or with the numbers typed."""
    site = site_of(request)
    mill = site.mill()
    view, choices = one_on_line(site, mill, on)
    begun = _begun(site, mill, view)
    known = None if view is None else line_factors(site.record, view.choice.line)
    fields, values = read_fields(begun.asked, mill.settings, request.query_params)
    found, problem = None, None
    typed = any(one.name in request.query_params for one in fields)
    if not any(one.fault for one in fields):
        try:
            found = _answer(mill, begun, AskedOfCooler(**values), known)
            if not typed:
                found = replace(found, start=_start(site, view, found))
        except BedstoneError as fault:
            problem = fault
    return page(
        request,
        "line_cooler.html",
        hot_c=HOT_C,
        hot_advice=HOT_ADVICE,
        view=view,
        choices=choices,
        known=known,
        begun=begun,
        found=found,
        problem=problem,
        typed=typed,
        groups=_groups(fields),
        picture=None if found is None else bed_picture(found.profile, found.leaving, Show.of(mill)),
    )


def _answer(
    mill: Mill, begun: Begun, asked: AskedOfCooler, known: Calibrated | None
) -> CoolerAnswer:
    return reckon_cooler(
        asked,
        mill.settings.units,
        fan=begun.fan,
        factors=DEFAULT_FACTORS if known is None else known.factors,
        mash=begun.mash,
    )


def _start(site: Site, view: OnLine | None, found: CoolerAnswer) -> StartStop:
    """Beginning and end as the run sheet has them, where a run and the air of its start are known."""
    if view is None or view.run is None or view.settings is None:
        return found.start
    run, rate_kg_s = view.run, view.settings.rate_kg_s
    try:
        return start_of_run(
            site.record, run.run.product, run.line, at=run.start_at, rate_kg_s=rate_kg_s
        ).start
    except BedstoneError:
        return found.start


def _begun(site: Site, mill: Mill, view: OnLine | None) -> Begun:
    usual = replace(AskedOfCooler(), altitude_m=mill.settings.altitude_m)
    nothing = Begun(asked=usual, fan=None, mash=None, air_known=False)
    if view is None or view.settings is None:
        return nothing
    try:
        asked, fan = asked_of_cooler(mill, view.settings)
    except Unknown:
        return nothing
    at = max(site.clock(), view.run.start_at) if view.run is not None else site.clock()
    return Begun(
        asked=asked,
        fan=fan,
        mash=of_mash(mill, view.settings, at=at),
        air_known=view.settings.air_c is not None,
    )


def _groups(fields: list[TypedField]) -> list[tuple[str, list[TypedField]]]:
    by_name = {one.name: one for one in fields}
    return [(title, [by_name[name] for name in names]) for title, names in GROUPS]
