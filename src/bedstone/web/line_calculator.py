"""The conditioner reckoned with numbers typed in the mill's own units, shown as they are understood."""

from dataclasses import dataclass, replace
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from bedstone.desk.line_conditioner import reckon
from bedstone.desk.line_model import (
    mash_before_steam_c,
    product_at_conditioner,
    rate_at_hour_kg_s,
)
from bedstone.desk.merged_rows import weather_by_hour
from bedstone.errors import BadInput, BedstoneError
from bedstone.mill.conditioner_asked import AskedOfConditioner
from bedstone.mill.model import Mill
from bedstone.mill.typed_fields import TypedField, read_fields
from bedstone.pelleting.boiler import FUELS
from bedstone.quantities import line_figures
from bedstone.web.line_view import Choice, choices_of, chosen
from bedstone.web.site import Site, site_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
USUAL_WANTED_C = 80.0
GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Mash", ("mash_rate_kg_s", "mash_c", "mash_moisture_wb")),
    ("Steam", ("wanted_c", "steam_kg_s", "steam_gauge_pa", "steam_quality_frac", "steam_at_c")),
    (
        "Molasses and water",
        (
            "molasses_kg_s",
            "molasses_at_c",
            "molasses_moisture_wb",
            "water_kg_s",
            "water_at_c",
            "die_moisture_wb",
        ),
    ),
    (
        "Conditioner",
        (
            "volume_m3",
            "length_m",
            "diameter_mm",
            "fill_frac",
            "inside_s",
            "bulk_density_kg_m3",
            "loss_frac",
        ),
    ),
    ("Boiler", ("feedwater_c", "boiler_frac", "fuel", "fuel_usd", "altitude_m")),
    ("What the mash is made of", ("protein_frac", "fat_frac", "fibre_frac", "ash_frac")),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Begun:
    """What the form begins with, and whose it is."""

    asked: AskedOfConditioner
    whose: str  # a product on a line, a line, or empty
    usual: tuple[str, ...]


@router.get("/pellet-line/conditioner")
def conditioner(request: Request, on: str = "", line: str = "") -> Response:
    """Steam or temperature, moisture, time inside and fuel for what is typed."""
    site = site_of(request)
    mill = site.mill()
    choices = choices_of(mill)
    if choices and not request.query_params:
        on = choices[0].code  # the form begins with the product that its list shows
    begun = _begun(site, mill, chosen(choices, on) if on else None, line)
    fields, values = read_fields(begun.asked, mill.settings, request.query_params)
    found, problem = None, None
    if not any(one.fault for one in fields):
        try:
            asked = AskedOfConditioner(**values)
            _check_price(asked, begun.asked)
            found = reckon(asked, mill.settings.units)
        except BedstoneError as fault:
            problem = fault
    return site.page(
        request,
        "line_conditioner.html",
        groups=_groups(fields),
        found=found,
        problem=problem,
        begun=begun,
        choices=choices,
        on=on,
        fuel_unit=_fuel_unit(values),
        figures=line_figures,
    )


def _groups(fields: list[TypedField]) -> list[tuple[str, list[TypedField]]]:
    by_name = {one.name: one for one in fields}
    return [(title, [by_name[name] for name in names]) for title, names in GROUPS]


def _check_price(asked: AskedOfConditioner, begun: AskedOfConditioner) -> None:
    """Another fuel with the price left as it stood would be a price of the wrong thing."""
    if asked.fuel != begun.fuel and asked.fuel_usd == begun.fuel_usd:
        raise BadInput(
            "The fuel was changed, its price was not.",
            seen=f"{asked.fuel} at {asked.fuel_usd:g} USD a {FUELS[asked.fuel][0]}",
            allowed=f"the price of a {FUELS[asked.fuel][0]} of {asked.fuel}",
            do="type the price by your last bill",
        )


def _fuel_unit(values: dict[str, Any]) -> str:
    return FUELS[values["fuel"]][0] if values.get("fuel") in FUELS else ""


def _begun(site: Site, mill: Mill, choice: Choice | None, line: str) -> Begun:
    """What the tables say of a product on a line, or of a line's conditioner, to begin with."""
    if choice is not None:
        return _of_product(site, mill, choice)
    rows = {row.line: row for row in mill.pellet_lines}
    row = rows.get(line) or (mill.pellet_lines[0] if mill.pellet_lines else None)
    asked = AskedOfConditioner(wanted_c=USUAL_WANTED_C, altitude_m=mill.settings.altitude_m)
    if row is None:
        return Begun(asked=asked, whose="", usual=())
    names = (
        "steam_gauge_pa",
        "steam_quality_frac",
        "volume_m3",
        "fill_frac",
        "loss_frac",
        "boiler_frac",
    )
    changed = {name: getattr(row, name) for name in names}
    return Begun(
        asked=replace(asked, **changed, fuel_usd=row.fuel_usd_kwh),
        whose=mill.name_of(row.line),
        usual=(),
    )


def _of_product(site: Site, mill: Mill, choice: Choice) -> Begun:
    at = site.clock()
    known = weather_by_hour(site.record).get(at.replace(minute=0, second=0, microsecond=0))
    found = product_at_conditioner(
        mill,
        choice.product,
        choice.line,
        rate_kg_s=rate_at_hour_kg_s(
            mill, choice.product, choice.line, at.astimezone(mill.settings.zone).hour
        ),
        mash_c=mash_before_steam_c(mill, choice.line, known[-1].temperature_c if known else None),
    )
    return Begun(
        asked=found.asked,
        whose=f"{mill.name_of(choice.product)} on {mill.name_of(choice.line)}",
        usual=found.usual,
    )
