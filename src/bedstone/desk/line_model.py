"""A pellet line as the tables have it, in the values that conditioner and cooler are reckoned with."""

import math
from dataclasses import dataclass
from typing import TypeVar

from bedstone.cooling.air_flow import Fan, cooler_at_fan
from bedstone.cooling.limits import Limits
from bedstone.cooling.model import (
    DEFAULT_FACTORS,
    AirIn,
    Cooler,
    Factors,
    PelletKind,
    PelletsIn,
)
from bedstone.desk.line_conditioner import at_temperature, chamber_of
from bedstone.desk.line_mash import formula_share, liquid_made_of, mash_made_of
from bedstone.errors import NoAnswer, Unknown
from bedstone.materials.moist_air import dew_point_c, pressure_at_altitude_pa
from bedstone.mill.conditioner_asked import AskedOfConditioner
from bedstone.mill.model import Mill, Pellets
from bedstone.mill.pellet_tables import Cooler as CoolerRow
from bedstone.mill.pellet_tables import PelletLine, fan_points
from bedstone.pelleting.conditioner import Chamber, Conditioned, hottest_for_die
from bedstone.pelleting.specific_heat import TYPICAL_FEED, Proximate

__all__ = [
    "ProductAtConditioner",
    "best_rate_kg_s",
    "conditioned",
    "cooler_of",
    "cooler_row",
    "fan_of",
    "hot_pellets",
    "limits_of_product",
    "line_row",
    "lines_of_product",
    "mash_before_steam_c",
    "mash_moisture_wb",
    "outside_pressure_pa",
    "pellet_kind",
    "pellets_row",
    "product_at_conditioner",
    "rate_at_hour_kg_s",
    "setting_c",
]

Row = TypeVar("Row")
_USUAL_MASH_C = 15.0
_ROOM_C = 20.0
_MOST_LIQUID_FRAC = 0.2
_MASH_SHARE = 0.8
"""Bulk density of hot mash in a turning conditioner against mash at rest, from memory."""


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


def fan_of(row: CoolerRow) -> Fan:
    """The fan behind a cooler's bed."""
    return Fan(
        volume_m3_s=row.air_m3_s,
        curve=fan_points(row.fan_curve) or (),
        duct_pa=row.duct_pa,
        duct_at_m3_s=row.duct_at_m3_s,
    )


def cooler_of(  # noqa: PLR0917 - what the air of a cooler depends on
    mill: Mill,
    line: str,
    pellet: PelletKind,
    air: AirIn,
    hot: PelletsIn,
    leaves_c: float | None = None,
    factors: Factors = DEFAULT_FACTORS,
) -> Cooler:
    """The cooler of a line with the dry air that its fan draws with these pellets in this air.

    ``leaves_c`` is the temperature of the air at the fan where it was read; where it was not, the
    bed says it by the cooler's ``factors``.
    """
    row = cooler_row(mill, line)
    return cooler_at_fan(
        fan_of(row),
        area_m2=row.area_m2,
        depth_m=row.depth_m,
        pellet=pellet,
        pellets=hot,
        air=air,
        factors=factors,
        leaves_c=leaves_c,
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


def mash_before_steam_c(mill: Mill, line: str, outside_c: float | None) -> float:
    """Temperature of the mash before steam where no reading says it.

    Parameters
    ----------
    mill, line
        Whose table may say it.
    outside_c : float or None
        Of the air outside, None where no weather is on record. [degrees C]

    Returns
    -------
    temperature_c : float
        The table's; else half-way between the air outside and a room of 20 degrees C; else 15
        (common practice, no source). [degrees C]
    """
    known_c = line_row(mill, line).mash_c
    if known_c is not None:
        return known_c
    if outside_c is None:
        return _USUAL_MASH_C
    return min(max((outside_c + _ROOM_C) / 2, -10.0), 40.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class ProductAtConditioner:
    """What the tables have a product's conditioner do, and how its mash is known."""

    asked: AskedOfConditioner
    liquid: Proximate | None  # of the formula, put in at the conditioner
    usual: tuple[str, ...]  # of the mash's composition, for want of an analysis

    def chamber(self, units: str = "SI") -> Chamber:
        """All that goes in."""
        return chamber_of(self.asked, units, liquid=self.liquid)


def product_at_conditioner(
    mill: Mill,
    product: str,
    line: str,
    *,
    rate_kg_s: float,
    mash_c: float,
    moisture_wb: float | None = None,
) -> ProductAtConditioner:
    """The numbers of a product on a line, as tables and formula have them.

    The rate is the plan's: mash with the liquid that its formula puts in at the conditioner.
    """
    row, machine = pellets_row(mill, product), line_row(mill, line)
    code = row.conditioner_liquid
    share = min(formula_share(mill, product, code), _MOST_LIQUID_FRAC) if code else 0.0
    mash = mash_made_of(mill, product, without=code if share else "")
    made_of = mash.made_of if moisture_wb is None else mash.made_of.with_water(moisture_wb)
    asked = AskedOfConditioner(
        mash_rate_kg_s=rate_kg_s * (1 - share),
        mash_c=mash_c,
        mash_moisture_wb=made_of.water,
        protein_frac=made_of.protein,
        fat_frac=made_of.fat,
        fibre_frac=made_of.fibre,
        ash_frac=made_of.ash,
        wanted_c=row.conditioning_c,
        steam_gauge_pa=machine.steam_gauge_pa,
        steam_quality_frac=machine.steam_quality_frac,
        molasses_kg_s=rate_kg_s * share,
        molasses_at_c=max(mash_c, 0.0) if machine.liquid_c is None else machine.liquid_c,
        molasses_moisture_wb=mill.ingredient_by_code[code].moisture_wb if share else 0.26,
        die_moisture_wb=row.die_moisture_max_wb,
        volume_m3=machine.volume_m3,
        fill_frac=machine.fill_frac,
        bulk_density_kg_m3=_MASH_SHARE * mill.product(product).density_kg_m3,
        loss_frac=machine.loss_frac,
        altitude_m=mill.settings.altitude_m,
        boiler_frac=machine.boiler_frac,
        fuel_usd=machine.fuel_usd_kwh,
    )
    return ProductAtConditioner(
        asked=asked, liquid=liquid_made_of(mill, code) if share else None, usual=mash.usual
    )


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
    """Mash of a product leaving the conditioner of a line; as moist as the formula if not said.

    A temperature out of reach, which a reading or a table may have, is taken to the nearest that
    is not.
    """
    found = product_at_conditioner(
        mill, product, line, rate_kg_s=rate_kg_s, mash_c=mash_c, moisture_wb=moisture_wb
    )
    return at_temperature(found.chamber(), wanted_c)


def setting_c(mill: Mill, product: str, line: str, *, mash_c: float) -> float:
    """The conditioner's temperature by the tables, or less where boiling or the die takes less.

    Mash that is too wet for the die before any steam is taken as the tables have it.
    """
    found = product_at_conditioner(mill, product, line, rate_kg_s=1.0, mash_c=mash_c)
    chamber = found.chamber()
    wanted_c = min(pellets_row(mill, product).conditioning_c, chamber.steam.boils_c)
    try:
        most = hottest_for_die(chamber, found.asked.die_moisture_wb)
    except NoAnswer:
        return wanted_c
    return min(wanted_c, most.temperature_c)


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
