"""Tanks: how warm and how dense their liquid is, whether it can be pumped, what a reading means."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from bedstone.batching.liquids import pumpable_from_c, viscosity_pa_s
from bedstone.desk.bin_room import Density, density_of, volumes_of
from bedstone.desk.level_masses import LevelMass, latest_levels, mass_of
from bedstone.desk.levels import Level, must_be_warmth
from bedstone.desk.readings import readings
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import BadInput
from bedstone.mill.instrument_tables import Liquid
from bedstone.mill.model import Bin, Mill
from bedstone.mill.readings import ReadingRow
from bedstone.quantities.units import DIMENSIONS, from_si
from bedstone.storage.levels import MassSeen
from bedstone.storage.shape import Strapping

__all__ = ["TankView", "dip_level", "tank_height_m", "tank_views"]

FRESH = dt.timedelta(days=2)
"""A tank's temperature older than this says nothing of now (common practice, no source)."""
PA_S_IN_CP = 1000.0
TEMPERATURE = "tank temperature"


@dataclass(frozen=True, slots=True, kw_only=True)
class TankView:
    """A tank as its page shows it; None where the tables or the record say nothing."""

    bin: Bin
    liquid: Liquid | None
    warm: ReadingRow | None  # its latest temperature, if fresh
    density: Density | None
    viscosity_cp: float | None
    pumpable_from_c: float | None
    state: str  # what is wrong with its temperature, in words; empty if nothing is
    level: LevelMass | None
    book_mg: int


def tank_views(record: Record, *, at: dt.datetime) -> tuple[TankView, ...]:
    """Every tank of the mill, in the order of the tables."""
    mill = current_mill(record)
    seen: Mapping[str, LevelMass] = {row.level.place: row for row in latest_levels(record)}
    book: dict[str, int] = {}
    for line in record.stock():
        book[line.place] = book.get(line.place, 0) + line.mass_mg
    return tuple(
        _view(record, mill, held, level=seen.get(held.bin), book_mg=book.get(held.bin, 0), at=at)
        for held in mill.bins
        if held.kind == "tank"
    )


def _view(
    record: Record, mill: Mill, held: Bin, *, level: LevelMass | None, book_mg: int, at: dt.datetime
) -> TankView:
    liquid = next((row for row in mill.liquids if row.ingredient == held.holds), None)
    rows = readings(record, held.bin, TEMPERATURE, since=at - FRESH, until=at).rows
    warm = rows[-1] if rows else None
    known = None if liquid is None else _sheet(liquid)
    thick = viscosity_pa_s(warm.value, known) * PA_S_IN_CP if known and warm else None
    from_c = None
    if liquid is not None and known is not None:
        from_c = pumpable_from_c(known, liquid.thickest_cp / PA_S_IN_CP)
    return TankView(
        bin=held,
        liquid=liquid,
        warm=warm,
        density=density_of(mill, held.holds, warm.value if warm else None) if held.holds else None,
        viscosity_cp=thick,
        pumpable_from_c=from_c,
        state=_state(liquid, warm, thick),
        level=level,
        book_mg=book_mg,
    )


def _sheet(liquid: Liquid) -> tuple[tuple[float, float], tuple[float, float]] | None:
    cells = (liquid.thick_cp, liquid.thick_at_c, liquid.thin_cp, liquid.thin_at_c)
    thick, cool_c, thin, warm_c = cells
    if thick is None or cool_c is None or thin is None or warm_c is None:
        return None
    return (cool_c, thick / PA_S_IN_CP), (warm_c, thin / PA_S_IN_CP)


def _state(liquid: Liquid | None, warm: ReadingRow | None, thick_cp: float | None) -> str:
    if liquid is None or warm is None:
        return ""
    if warm.value > liquid.hottest_c:
        return "too hot: it may scorch or spoil, turn the heat down"
    if thick_cp is not None and thick_cp > liquid.thickest_cp:
        return "too thick to pump: warm it slowly before it is dosed"
    return ""


def tank_height_m(mill: Mill, tank: str) -> float:
    """Height of a tank from its floor to the rim where a tape begins. [m]

    Raises
    ------
    BadInput
        If the tables do not say what the tank measures.
    """
    container = volumes_of(mill, tank)
    if container is None:
        raise BadInput(
            f"{mill.name_of(tank)} has no measures.",
            seen="no row in tanks.csv and none in strapping.csv",
            allowed="either",
            do="measure it and fill in the table; no reading can be turned into mass till then",
        )
    return container.depth_m[-1] if isinstance(container, Strapping) else container.height_m


def _height(mill: Mill, height_m: float) -> str:
    unit = DIMENSIONS["m"].written(mill.settings.units)
    return f"{float(from_si(height_m, unit)):.2f} {unit.label}"


def dip_level(
    mill: Mill,
    tank: str,
    *,
    from_bottom: bool,
    length_m: float,
    sd_m: float,
    temperature_c: float | None,
    by: str,
    at: dt.datetime,
) -> tuple[Level, MassSeen]:
    """A dip or ullage as the level that is recorded, with its volume and mass.

    A dip is the height of the liquid on the rod, an ullage the empty space from the rim down.

    Raises
    ------
    BadInput
        If it is no tank, has no measures, or the reading lies outside it.
    """
    held = mill.bin_by_code.get(tank)
    if held is None or held.kind != "tank":
        raise BadInput("This is no tank of the mill.", seen=repr(tank[:40]))
    height_m = tank_height_m(mill, tank)
    if not 0 <= length_m <= height_m:
        raise BadInput(
            "The reading lies outside the tank.",
            seen=_height(mill, length_m),
            allowed=f"0 to {_height(mill, height_m)}",
            do="read the rod again, and look whether it was read from the bottom or from the rim",
        )
    if temperature_c is not None:
        must_be_warmth(temperature_c, mill)
    level = Level(
        place=tank,
        material=held.holds,
        method="tape",
        value=height_m - length_m if from_bottom else length_m,
        unit="m",
        sd=sd_m,
        read_at=at,
        by=by,
        position=0,
        temperature_c=temperature_c,
    )
    return level, mass_of(mill, level)
