"""How much a bin holds by its shape, and how well that is known; how dense what lies in it is."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache

from bedstone.batching.liquids import Ends, Tank, density_kg_m3
from bedstone.materials.composition import BulkDensity
from bedstone.materials.library import library
from bedstone.mill.instrument_tables import Liquid, TankMeasure
from bedstone.mill.model import Bin, Mill
from bedstone.mill.storage_tables import BinMeasure
from bedstone.storage.levels import shape_of, strapping_of
from bedstone.storage.shape import BinShape, Strapping, Top

__all__ = ["Density", "Holds", "density_of", "holds_of", "measure_of", "volumes_of"]

NOT_KNOWN_FRAC = 0.05
"""Spread of a bulk density where no source gives a range: common practice, no source."""
SHEET_FRAC = 0.003
"""Spread of a liquid's density from load to load about its sheet: common practice, no source."""
KNOWN_K, UNKNOWN_K = 1.0, 8.0
"""How well the mean temperature of a tank is known when it was read, and when it was not."""
KG_M3 = {"kg/m3": 1.0, "lb/ft3": 16.018463}
ENDS: Mapping[str, Ends] = {
    "flat": "flat",
    "elliptical": "elliptical",
    "hemispherical": "hemispherical",
}
TANK_STEPS = 400
OF_WHOLE = math.sqrt(12)


@dataclass(frozen=True, slots=True, kw_only=True)
class Density:
    """A bulk density, the standard deviation of its error, and where that comes from."""

    density_kg_m3: float
    sd_kg_m3: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Holds:
    """The most of a material that a bin holds, with one standard deviation. [kg]"""

    most_kg: float
    sd_kg: float
    by: str


def density_of(mill: Mill, material: str, temperature_c: float | None = None) -> Density:
    """The mill's own figure; its spread by the published range of that material, or a twentieth.

    A range counts as equally likely throughout: its standard deviation is its width over root 12.
    A liquid of the liquids table has the density of its temperature, or where that is not known,
    of the temperature of its sheet.
    """
    liquid = next((one for one in mill.liquids if one.ingredient == material), None)
    if liquid is not None:
        return _of_liquid(liquid, temperature_c)
    row = mill.ingredient_by_code.get(material)
    if row is None:
        product = mill.product(material)
        density = product.density_kg_m3
        return Density(
            density_kg_m3=density,
            sd_kg_m3=NOT_KNOWN_FRAC * density,
            source="spread: common practice, no source",
        )
    density = row.density_kg_m3
    for printed in _near(row.library, density):
        high = printed.high or printed.low
        if high > printed.low:
            return Density(
                density_kg_m3=density,
                sd_kg_m3=(high - printed.low) * KG_M3[printed.unit] / OF_WHOLE,
                source=f"spread: {printed.printed_as}, {printed.source.code}",
            )
    return Density(
        density_kg_m3=density,
        sd_kg_m3=NOT_KNOWN_FRAC * density,
        source="spread: common practice, no source",
    )


def _of_liquid(liquid: Liquid, temperature_c: float | None) -> Density:
    at_c = liquid.density_at_c if temperature_c is None else temperature_c
    density = density_kg_m3(liquid.density_kg_m3, liquid.density_at_c, at_c, liquid.swells_frac)
    not_known_frac = liquid.swells_frac * (UNKNOWN_K if temperature_c is None else KNOWN_K)
    return Density(
        density_kg_m3=density,
        sd_kg_m3=density * math.hypot(SHEET_FRAC, not_known_frac),
        source="spread: of the supplier's sheet and of the temperature, common practice, no source",
    )


def _near(code: str, density: float) -> list[BulkDensity]:
    """Published ranges of an ingredient in kg/m3, that nearest to the mill's own figure first."""
    if not code:
        return []
    rows = [
        row
        for row in library().densities_of(code)
        if row.what == "bulk density" and row.unit in KG_M3 and row.high is not None
    ]
    return sorted(rows, key=lambda row: abs(row.low * KG_M3[row.unit] - density))


def measure_of(mill: Mill, code: str) -> BinMeasure | None:
    """The row of a bin's shape, or None."""
    return next((row for row in mill.bin_shapes if row.bin == code), None)


def volumes_of(mill: Mill, code: str) -> BinShape | Strapping | None:
    """How a bin's volume goes with depth: its table of volumes, else its shape, else None."""
    strapping = strapping_of([row for row in mill.strapping if row.bin == code])
    if strapping is not None:
        return strapping
    tank = next((row for row in mill.tanks if row.bin == code), None)
    if tank is not None:
        return _strapped(tank)
    row = measure_of(mill, code)
    return None if row is None else shape_of(row)


@cache
def _strapped(row: TankMeasure) -> Strapping:
    """The table of volumes of a tank by its measures, close enough that a straight line serves."""
    tank = Tank(
        diameter_m=row.diameter_m,
        length_m=row.length_m,
        ends=ENDS[row.ends],
        lying=row.lies == "lying",
    )
    downs = [tank.full_m * step / TANK_STEPS for step in range(TANK_STEPS + 1)]
    return Strapping(
        depth_m=tuple(downs),
        volume_m3=tuple(tank.volume_m3(max(0.0, tank.full_m - down_m)) for down_m in downs),
    )


@cache
def _filled_m3(row: BinMeasure) -> float:
    """The volume of a bin filled to its spout; summed once, since a heap takes a grid."""
    top: Top = "heap" if row.repose_deg > 0 else "level"
    return shape_of(row).volume_m3(0.0, top=top, repose_deg=row.repose_deg)


def holds_of(mill: Mill, held: Bin, material: str) -> Holds:
    """The most of a material that a bin takes: its capacity, or what its volume takes if less.

    Without a shape the capacity of the tables is taken as it stands.
    """
    row, container = measure_of(mill, held.bin), volumes_of(mill, held.bin)
    if isinstance(container, Strapping):
        volume_m3 = container.volume_m3[0]
    elif container is not None and row is not None:
        volume_m3 = _filled_m3(row)
    elif held.volume_m3 is not None:
        volume_m3 = held.volume_m3
    else:
        return Holds(most_kg=held.capacity_kg, sd_kg=0.0, by="capacity")
    density = density_of(mill, material)
    by_volume = Holds(
        most_kg=volume_m3 * density.density_kg_m3,
        sd_kg=volume_m3 * density.sd_kg_m3,
        by="volume and bulk density",
    )
    if held.capacity_kg < by_volume.most_kg - 3 * by_volume.sd_kg:
        return Holds(most_kg=held.capacity_kg, sd_kg=0.0, by="capacity")
    return replace(by_volume, most_kg=min(held.capacity_kg, by_volume.most_kg))
