"""Settings of a pellet line for a product: heat, steam, die, cooler, what is left of additives."""

import datetime as dt
from dataclasses import dataclass, replace

from bedstone.cooling.cooler import cool
from bedstone.cooling.model import AirIn, Leaving, PelletsIn, Profile
from bedstone.desk.line_air import air_of
from bedstone.desk.line_factors import Calibrated, line_factors
from bedstone.desk.line_heat import (
    AdditiveHeat,
    additive_cautions,
    additives_at,
    heat_history,
)
from bedstone.desk.line_model import (
    best_rate_kg_s,
    conditioned,
    cooler_of,
    hot_pellets,
    limits_of_product,
    line_row,
    lines_of_product,
    mash_moisture_wb,
    pellet_kind,
    pellets_row,
    rate_at_hour_kg_s,
    steam_of,
)
from bedstone.desk.merged_rows import weather_by_hour
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import BadInput, NoAnswer
from bedstone.mill.model import Mill, PelletLine
from bedstone.pelleting.boiler import Boiler, boiler_load
from bedstone.pelleting.conditioner import (
    Chamber,
    Conditioned,
    MashIn,
    hottest_for_die,
    residence_s,
)
from bedstone.pelleting.specific_heat import TYPICAL_FEED
from bedstone.quantities.line_figures import rise_words

__all__ = ["USUAL_MASH_C", "LineSettings", "settings_for"]

USUAL_MASH_C = 15.0  # where neither table nor weather says it
MASH_SHARE = 0.8
"""Bulk density of hot mash in a turning conditioner against mash at rest, from memory."""
CAUTIONS = (
    "Steam and hot surfaces burn: open conditioner and die chamber only shut off, cold, locked out.",
    "Samples of hot pellets: gloves, insulated jug.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class LineSettings:
    """The settings of a run, with what follows from them."""

    product: str
    line: str
    rate_kg_s: float  # of mash
    mash_c: float
    mash_moisture_wb: float
    conditioned: Conditioned
    residence_s: float
    boiler: Boiler
    die_moisture_max_wb: float
    most_c_for_die: float | None  # None where the mash is too wet before any steam
    die_c: float
    die: str
    additives: tuple[AdditiveHeat, ...]
    air_c: float | None
    air_humidity_frac: float | None
    leaving: Leaving | None
    profile: Profile | None
    factors: Calibrated
    cautions: tuple[str, ...]


def settings_for(
    record: Record,
    product: str,
    line: str = "",
    *,
    at: dt.datetime,
    conditioning_c: float | None = None,
    rate_kg_s: float | None = None,
) -> LineSettings:
    """Settings of a product on a line in the air of a moment.

    Parameters
    ----------
    record : Record
        The mill's record.
    product, line : str
        The line may be left out where the product has one.
    at : datetime
        The moment of the run.
    conditioning_c, rate_kg_s : float, optional
        Other settings than the tables have. [degrees C], [kg/s]

    Raises
    ------
    BadInput
        If the line is none of the product's.
    Unknown
        If product, pellets, or conditioner are not in the tables.
    """
    mill = current_mill(record)
    line = _line(mill, product, line)
    row, machine = pellets_row(mill, product), line_row(mill, line)
    hour = at.replace(minute=0, second=0, microsecond=0)
    known = weather_by_hour(record).get(hour)
    air = None if known is None else air_of(mill, known[-1])
    local = at.astimezone(mill.settings.zone).hour
    rate = rate_kg_s or rate_at_hour_kg_s(mill, product, line, local)
    mash_c = _mash_c(machine, air)
    wanted_c = conditioning_c or row.conditioning_c
    made = conditioned(mill, product, line, rate_kg_s=rate, mash_c=mash_c, wanted_c=wanted_c)
    hot = hot_pellets(mill, product, made)
    factors = line_factors(record, line)
    leaving, profile = _cooled(mill, product, line, hot, air, factors)
    stays_s = _stays_s(machine, mill.product(product).density_kg_m3, made)
    history = heat_history(made.temperature_c, stays_s, hot.temperature_c, leaving, profile)
    found = LineSettings(
        product=product,
        line=line,
        rate_kg_s=rate,
        mash_c=mash_c,
        mash_moisture_wb=mash_moisture_wb(mill, product),
        conditioned=made,
        residence_s=stays_s,
        boiler=_boiler(mill, line, made, rate),
        die_moisture_max_wb=row.die_moisture_max_wb,
        most_c_for_die=_most_for_die(mill, product, line, mash_c=mash_c, rate_kg_s=rate),
        die_c=hot.temperature_c,
        die=mill.product(product).die,
        additives=additives_at(
            record, mill, product, history, on=at.astimezone(mill.settings.zone).date()
        ),
        air_c=None if air is None else air.temperature_c,
        air_humidity_frac=None if air is None else air.relative_humidity_frac,
        leaving=leaving,
        profile=profile,
        factors=factors,
        cautions=(),
    )
    return _with_cautions(mill, found)


def _mash_c(machine: PelletLine, air: AirIn | None) -> float:
    """Mash before steam: the table's, or as cold or warm as the air lets a mill be."""
    if machine.mash_c is not None:
        return machine.mash_c
    return USUAL_MASH_C if air is None else min(max(air.temperature_c, -10.0), 40.0)


def _stays_s(machine: PelletLine, density_kg_m3: float, made: Conditioned) -> float:
    bulk_kg_m3 = MASH_SHARE * density_kg_m3
    return residence_s(machine.volume_m3, machine.fill_frac, bulk_kg_m3, made.rate_kg_s)


def _boiler(mill: Mill, line: str, made: Conditioned, rate_kg_s: float) -> Boiler:
    machine = line_row(mill, line)
    return boiler_load(
        steam_of(mill, line),
        made.steam_kg_s,
        rate_kg_s,
        efficiency_frac=machine.boiler_frac,
        fuel_usd_per_kwh=machine.fuel_usd_kwh,
    )


def _cooled(  # noqa: PLR0917 - what goes into the cooler
    mill: Mill, product: str, line: str, hot: PelletsIn, air: AirIn | None, known: Calibrated
) -> tuple[Leaving | None, Profile | None]:
    """What leaves the cooler, where the line has one and the air is known."""
    if air is None or all(cooler.line != line for cooler in mill.coolers):
        return None, None
    pellet = pellet_kind(mill, product)
    return cool(cooler_of(mill, line, pellet, air), pellet, hot, air, known.factors)


def _line(mill: Mill, product: str, line: str) -> str:
    lines = lines_of_product(mill, product)
    if not lines or (line and line not in lines) or (not line and len(lines) > 1):
        raise BadInput(
            f"{mill.name_of(product)} does not go over one pellet line of that name.",
            seen=line or "no line",
            allowed=", ".join(lines) or "no line: it is no pellet",
        )
    return line or lines[0]


def _most_for_die(
    mill: Mill, product: str, line: str, *, mash_c: float, rate_kg_s: float
) -> float | None:
    mash = MashIn(
        rate_kg_s=rate_kg_s,
        temperature_c=mash_c,
        made_of=TYPICAL_FEED.with_water(mash_moisture_wb(mill, product)),
    )
    most_wb = pellets_row(mill, product).die_moisture_max_wb
    try:
        chamber = Chamber(
            mash=mash, steam=steam_of(mill, line), loss_frac=line_row(mill, line).loss_frac
        )
        found = hottest_for_die(chamber, most_wb)
    except NoAnswer:
        return None
    return found.temperature_c


def _with_cautions(mill: Mill, found: LineSettings) -> LineSettings:
    said = list(CAUTIONS)
    if found.conditioned.moisture_wb > found.die_moisture_max_wb:
        said.append(
            f"Mash would reach the die with {100 * found.conditioned.moisture_wb:.1f} % moisture; "
            f"the tables allow {100 * found.die_moisture_max_wb:.1f} %: it may choke."
        )
    said += additive_cautions(mill, found.additives)
    limits = limits_of_product(mill, found.product)
    if found.leaving is not None and (
        found.leaving.above_ambient_dk > limits.above_ambient_dk
        or found.leaving.water_activity_frac > limits.water_activity_frac
    ):
        said.append(
            f"At this rate pellets would leave "
            f"{rise_words(found.leaving.above_ambient_dk, mill.settings.units)} above the air "
            f"at water activity {found.leaving.water_activity_frac:.2f}: slow down, or wait for "
            "better air; pellets sent warm or damp sweat and mould."
        )
    if found.leaving is not None and found.leaving.wet_duct:
        said.append("Air leaving the cooler will drip in a bare duct: look for wet dust and mould.")
    if found.rate_kg_s > best_rate_kg_s(mill, found.product, found.line) * 1.001:
        said.append("This is quicker than the tables have for the line.")
    return replace(found, cautions=tuple(said))
