"""A pellet line as the tables have it, in the values that conditioner and cooler are reckoned with."""

import math
from functools import lru_cache
from typing import TypeVar

from bedstone.cooling.air_flow import air_at_fan, dry_air_kg_s
from bedstone.cooling.limits import Limits
from bedstone.cooling.model import AirIn, Cooler, PelletKind, PelletsIn
from bedstone.errors import Unknown
from bedstone.materials.moist_air import dew_point_c, pressure_at_altitude_pa
from bedstone.mill.model import Mill, Pellets
from bedstone.mill.pellet_tables import Cooler as CoolerRow
from bedstone.mill.pellet_tables import PelletLine, fan_points
from bedstone.pelleting.conditioner import (
    Chamber,
    Conditioned,
    MashIn,
    steam_for,
)
from bedstone.pelleting.specific_heat import TYPICAL_FEED
from bedstone.pelleting.steam import Steam, steam_at_gauge

__all__ = [
    "best_rate_kg_s",
    "conditioned",
    "cooler_of",
    "cooler_row",
    "hot_pellets",
    "limits_of_product",
    "line_row",
    "lines_of_product",
    "mash_moisture_wb",
    "outside_pressure_pa",
    "pellet_kind",
    "pellets_row",
    "rate_at_hour_kg_s",
    "steam_of",
]

Row = TypeVar("Row")
_LEAVES_WARMER_DK = 20.0
_LEAVES_HUMID_FRAC = 0.7
"""Air at the fan behind the bed, for its density alone: 10 K more or less move it by 3 %."""


def line_row(mill: Mill, line: str) -> PelletLine:
    """The conditioner of a line.

    Raises
    ------
    Unknown
        If the tables do not have it.
    """
    return _row(mill.pellet_lines, "line", line, table="pellet_lines")


def cooler_row(mill: Mill, line: str) -> CoolerRow:
    """The cooler of a line; Unknown if the tables do not have it."""
    return _row(mill.coolers, "line", line, table="coolers")


def pellets_row(mill: Mill, product: str) -> Pellets:
    """What pellets of a product should be; Unknown if the tables do not say."""
    return _row(mill.pellets, "product", product, table="pellets")


def _row(rows: tuple[Row, ...], field: str, code: str, *, table: str) -> Row:
    for row in rows:
        if getattr(row, field) == code:
            return row
    known = ", ".join(sorted(str(getattr(row, field)) for row in rows)) or "nothing"
    raise Unknown(
        f"The {table} table has no row for {code!r}.",
        allowed=known,
        do=f"add it to {table}.csv and run bedstone load",
    )


def lines_of_product(mill: Mill, product: str) -> tuple[str, ...]:
    """Pellet lines on a product's way, in order of code."""
    row = mill.product(product)
    codes = row.route.replace(">", " ").replace("|", " ").split()
    lines = {code for code in codes if code in mill.machine_by_code}
    return tuple(sorted(c for c in lines if mill.machine_by_code[c].kind == "pellet line"))


def outside_pressure_pa(mill: Mill) -> float:
    """Pressure of the air at the mill's height."""
    return pressure_at_altitude_pa(mill.settings.altitude_m)


def pellet_kind(mill: Mill, product: str) -> PelletKind:
    """The pellet of a product."""
    row = pellets_row(mill, product)
    return PelletKind(
        diameter_mm=row.diameter_mm,
        length_mm=row.length_mm,
        bulk_density_kg_m3=row.bulk_density_kg_m3,
    )


def limits_of_product(mill: Mill, product: str) -> Limits:
    """How its pellets must leave the cooler."""
    row = pellets_row(mill, product)
    return Limits(
        above_ambient_dk=row.above_ambient_dk, water_activity_frac=row.water_activity_frac
    )


def cooler_of(mill: Mill, line: str, pellet: PelletKind, air: AirIn) -> Cooler:
    """The cooler of a line with its dry air in this air."""
    row = cooler_row(mill, line)
    volume = row.air_m3_s
    if volume is None:
        volume = air_at_fan(
            fan_points(row.fan_curve) or (),
            pellet,
            row.depth_m,
            row.area_m2,
            air,
            duct_pa=row.duct_pa,
            duct_at_m3_s=row.duct_at_m3_s,
        )
    return Cooler(
        area_m2=row.area_m2,
        depth_m=row.depth_m,
        air_kg_s=dry_air_kg_s(
            volume,
            temperature_c=air.temperature_c + _LEAVES_WARMER_DK,
            humidity_frac=_LEAVES_HUMID_FRAC,
            pressure_pa=air.pressure_pa,
        ),
    )


def mash_moisture_wb(mill: Mill, product: str) -> float:
    """Moisture of the mash by the running formula and the usual moisture of its ingredients."""
    return _moisture_wb(mill, product, deep=0)


def _moisture_wb(mill: Mill, material: str, deep: int) -> float:
    found = mill.ingredient_by_code.get(material)
    if found is not None:
        return found.moisture_wb
    formula = mill.running_formula(material)
    if formula is None or deep > len(mill.products):
        return TYPICAL_FEED.water
    lines = mill.lines_of(material, formula.version)
    return math.fsum(row.parts_frac * _moisture_wb(mill, row.ingredient, deep + 1) for row in lines)


@lru_cache(maxsize=64)
def _steam(gauge_pa: float, quality_frac: float, ambient_pa: float) -> Steam:
    return steam_at_gauge(gauge_pa, quality_frac, ambient_pa)


def steam_of(mill: Mill, line: str) -> Steam:
    """Steam as it enters the conditioner of a line."""
    row = line_row(mill, line)
    return _steam(row.steam_gauge_pa, row.steam_quality_frac, outside_pressure_pa(mill))


def conditioned(
    mill: Mill,
    product: str,
    line: str,
    *,
    rate_kg_s: float,
    mash_c: float,
    wanted_c: float,
    moisture_wb: float | None = None,
) -> Conditioned:
    """Mash of a product leaving the conditioner of a line; as moist as the formula if not said."""
    if moisture_wb is None:
        moisture_wb = mash_moisture_wb(mill, product)
    mash = MashIn(
        rate_kg_s=rate_kg_s,
        temperature_c=min(mash_c, wanted_c),
        made_of=TYPICAL_FEED.with_water(moisture_wb),
    )
    chamber = Chamber(
        mash=mash, steam=steam_of(mill, line), loss_frac=line_row(mill, line).loss_frac
    )
    return steam_for(chamber, wanted_c)


def hot_pellets(mill: Mill, product: str, made: Conditioned) -> PelletsIn:
    """What the pellet mill sends to the cooler."""
    boils_c = dew_point_c(1e9, outside_pressure_pa(mill))
    return PelletsIn(
        rate_kg_s=made.rate_kg_s,
        temperature_c=min(made.temperature_c + pellets_row(mill, product).die_rise_dk, boils_c - 2),
        moisture_wb=made.moisture_wb,
    )


def rate_at_hour_kg_s(mill: Mill, product: str, line: str, hour: int) -> float:
    """Rate of a line for a product in an hour of the mill's day, by the tables."""
    rate = mill.machine_by_code[line].rate_kg_s or 0.0
    for row in mill.rates:
        if row.product == product and row.machine == line and row.start_hour <= hour < row.end_hour:
            rate = row.rate_kg_s
    return rate


def best_rate_kg_s(mill: Mill, product: str, line: str) -> float:
    """The most that a line makes of a product in any hour, by the tables."""
    return max(rate_at_hour_kg_s(mill, product, line, hour) for hour in range(24))
