"""The conditioner reckoned with numbers typed in the mill's own units, shown as they are understood."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from bedstone.errors import BadInput, BedstoneError, Fault
from bedstone.mill.attributes import column
from bedstone.mill.cells import read_cell
from bedstone.mill.columns import Column, columns_of
from bedstone.mill.equipment import Settings
from bedstone.mill.model import Mill
from bedstone.pelleting.boiler import Boiler, boiler_load
from bedstone.pelleting.conditioner import (
    WATER,
    Chamber,
    Conditioned,
    Liquid,
    MashIn,
    hottest_for_die,
    molasses,
    residence_s,
    steam_for,
)
from bedstone.pelleting.specific_heat import TYPICAL_FEED
from bedstone.pelleting.steam import steam_at_gauge
from bedstone.quantities import line_figures
from bedstone.quantities.units import Unit
from bedstone.web.site import site_of
from bedstone.web.typed_cell import cell_exact, cell_typed

__all__ = ["TypedField", "read_fields", "router"]

router = APIRouter(include_in_schema=False)
LONGEST = 60
FOUR_FIGURES = 10_000


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedOfConditioner:
    """What a conditioner is asked on the page."""

    mash_rate_kg_s: float = column("Mash through it", unit="kg/s", default=2.5, low=0.01, high=30)
    mash_c: float = column("Mash before steam", unit="C", default=15.0, low=-20, high=60)
    mash_moisture_wb: float = column(
        "Water in the mash", unit="kg/kg", default=0.12, low=0.02, high=0.25
    )
    wanted_c: float = column("Mash leaving, wanted", unit="C", default=80.0, low=20, high=105)
    steam_gauge_pa: float = column(
        "Steam pressure on the gauge", unit="Pa", default=170_000.0, low=0, high=1_500_000
    )
    steam_quality_frac: float = column("Vapour in the steam", default=0.98, low=0.5, high=1)
    molasses_frac: float = column("Molasses, of the mash", default=0.0, low=0, high=0.25)
    molasses_c: float = column("Molasses comes at", unit="C", default=40.0, low=0, high=80)
    molasses_moisture_wb: float = column(
        "Water in the molasses", unit="kg/kg", default=0.25, low=0, high=1
    )
    water_frac: float = column("Water put in, of the mash", default=0.0, low=0, high=0.25)
    die_moisture_wb: float = column(
        "Most water that the die takes", unit="kg/kg", default=0.165, low=0.08, high=0.25
    )
    volume_m3: float = column(
        "Volume of the conditioner", unit="m3", default=0.34, low=0.005, high=20
    )
    fill_frac: float = column("How full it runs", default=0.6, low=0.05, high=1)
    loss_frac: float = column("Heat lost to the room", default=0.05, low=0, high=0.5)
    bulk_density_kg_m3: float = column(
        "Bulk density of hot mash", unit="kg/m3", default=550.0, low=200, high=900
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedField:
    """A field of the form: what was typed, how it is understood, or its fault."""

    name: str
    label: str
    unit: str
    value: str
    words: str
    fault: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Reckoned:
    """The answer: at the wanted temperature, and the hottest that the die takes."""

    made: Conditioned
    most: Conditioned | None  # None where the mash is too wet before any steam
    boiler: Boiler
    inside_s: float
    too_wet: bool


@router.get("/pellet-line/conditioner")
def conditioner(request: Request) -> Response:
    """Steam, moisture, time inside and fuel for what is typed."""
    site = site_of(request)
    mill = site.mill()
    start = replace(AskedOfConditioner(), **_of_line(mill, request.query_params.get("line", "")))
    fields, values = read_fields(start, mill.settings, request.query_params)
    reckoned, problem = None, None
    if not any(one.fault for one in fields):
        try:
            reckoned = reckon(AskedOfConditioner(**values))
        except BedstoneError as fault:
            problem = fault
    return site.page(
        request,
        "line_conditioner.html",
        fields=fields,
        found=reckoned,
        problem=problem,
        lines=[row.line for row in mill.pellet_lines],
        figures=line_figures,
    )


def _of_line(mill: Mill, code: str) -> dict[str, float]:
    """What the tables say of a line's conditioner, to begin with."""
    rows = {row.line: row for row in mill.pellet_lines}
    row = rows.get(code) or (mill.pellet_lines[0] if mill.pellet_lines else None)
    if row is None:
        return {}
    names = ("steam_gauge_pa", "steam_quality_frac", "volume_m3", "fill_frac", "loss_frac")
    return {name: getattr(row, name) for name in names}


def read_fields(
    start: object, settings: Settings, typed: Mapping[str, str]
) -> tuple[list[TypedField], dict[str, float]]:
    """Each field as it was typed, or as it starts, and what it means."""
    fields, values = [], {}
    kind: Any = type(start)
    for one in columns_of(kind):
        text = typed.get(one.field)
        value, words, fault = getattr(start, one.field), "", ""
        if text is not None and text.strip():
            value, words, fault = _understood(text, one, settings)
        shown = text if text and text.strip() else _starting(value, one, settings)
        values[one.field] = value
        unit = _unit(one, settings)
        fields.append(
            TypedField(
                name=one.field,
                label=one.attribute.meaning,
                unit=unit.label if unit else "",
                value=shown[:LONGEST],
                words=words,
                fault=fault,
            )
        )
    return fields, values


def _understood(text: str, one: Column, settings: Settings) -> tuple[Any, str, str]:
    """The value of a typed field, how it is understood, and its fault."""
    cell = cell_typed(_with_unit(text[: LONGEST + 1].strip(), one, settings), one, settings)
    try:
        value = read_cell(
            cell.text, column=one, unit=one.written(settings.units)[1], zone=settings.zone
        )
    except BadInput as fault:
        return None, "", _fault_words(fault.faults)
    return value, cell.words, ""


def _unit(one: Column, settings: Settings) -> Unit | None:
    """The unit that a field is in where no other is typed: a gauge is read in psi or kPa."""
    if one.dimension is not None and one.dimension.si_suffix == "pa":
        return one.dimension.units["psi" if settings.units == "US" else "kpa"]
    return one.written(settings.units)[1]


def _with_unit(text: str, one: Column, settings: Settings) -> str:
    """What was typed, with the unit of the field behind a bare number."""
    unit = _unit(one, settings)
    bare = text and text[-1].isdigit() and unit is not one.written(settings.units)[1]
    return f"{text} {unit.suffix}" if bare and unit is not None else text


def _fault_words(faults: tuple[Fault, ...]) -> str:
    return "; ".join(f"found {one.found}; allowed: {one.allowed}" for one in faults)


def _starting(value: float, one: Column, settings: Settings) -> str:
    """A starting value in the mill's unit, to four figures."""
    unit = _unit(one, settings)
    number = value if unit is None else float((value - float(unit.offset)) / float(unit.factor))
    return cell_exact(f"{number:.4g}" if number < FOUR_FIGURES else f"{number:.0f}", one, settings)


def reckon(asked: AskedOfConditioner) -> Reckoned:
    """The conditioner's answer.

    Raises
    ------
    BadInput
        If a temperature cannot be reached by heating.
    NoAnswer
        If it would take more steam than any conditioner takes.
    """
    mash = MashIn(
        rate_kg_s=asked.mash_rate_kg_s,
        temperature_c=asked.mash_c,
        made_of=TYPICAL_FEED.with_water(asked.mash_moisture_wb),
    )
    steam = steam_at_gauge(asked.steam_gauge_pa, asked.steam_quality_frac)
    liquids = (
        Liquid(
            share=asked.molasses_frac,
            temperature_c=asked.molasses_c,
            made_of=molasses(asked.molasses_moisture_wb),
        ),
        Liquid(share=asked.water_frac, temperature_c=asked.mash_c, made_of=WATER),
    )
    chamber = Chamber(mash=mash, steam=steam, liquids=liquids, loss_frac=asked.loss_frac)
    made = steam_for(chamber, asked.wanted_c)
    try:
        most = hottest_for_die(chamber, asked.die_moisture_wb)
    except BedstoneError:
        most = None
    return Reckoned(
        made=made,
        most=most,
        boiler=boiler_load(steam, made.steam_kg_s, asked.mash_rate_kg_s),
        inside_s=residence_s(
            asked.volume_m3, asked.fill_frac, asked.bulk_density_kg_m3, made.rate_kg_s
        ),
        too_wet=made.moisture_wb > asked.die_moisture_wb,
    )
