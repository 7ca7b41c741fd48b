"""A cooler asked by numbers: one answer for the terminal, the page and the mill's tables."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from bedstone.cooling.air_flow import Fan, cooler_at_fan
from bedstone.cooling.cooler import cool
from bedstone.cooling.limits import (
    NOT_DRY,
    HourAir,
    HourLimit,
    Limits,
    ToCool,
    hourly_limits,
)
from bedstone.cooling.model import (
    DEFAULT_FACTORS,
    AirIn,
    Cooler,
    Factors,
    Leaving,
    PelletKind,
    PelletsIn,
    Profile,
)
from bedstone.cooling.spread import Spread, spread_of
from bedstone.cooling.start_stop import StartStop, start_and_stop
from bedstone.desk.cooler_mash import AgainstMash, OfMash, against_mash
from bedstone.desk.line_model import cooler_row, fan_of, limits_of_product, pellets_row
from bedstone.desk.line_settings import LineSettings
from bedstone.errors import BadInput
from bedstone.materials.moist_air import dew_point_c, pressure_at_altitude_pa
from bedstone.mill.cooler_asked import AskedOfCooler
from bedstone.mill.model import Mill
from bedstone.quantities.line_figures import (
    air_words,
    moisture_words,
    rise_words,
    temperature_words,
)

__all__ = ["CoolerAnswer", "asked_of_cooler", "leaving_words", "reckon_cooler"]

SLOWEST_KG_S_M2, QUICKEST_KG_S_M2 = 0.02, 6.0
BOILING_ROOM_DK = 1.0
SAME_DK, SAME_FRAC = 0.2, 0.005
"""By so much over a limit counts as at it: a run at its greatest rate lies on it."""
NOW = dt.datetime(2000, 1, 1, tzinfo=dt.UTC)  # an hour without a date


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolerAnswer:
    """What leaves a cooler with its ends, how fast it may run, how a run begins and ends."""

    asked: AskedOfCooler
    cooler: Cooler  # with its dry air
    factors: Factors
    leaving: Leaving
    spread: Spread
    profile: Profile
    limit: HourLimit  # of hot pellets, at most the rate that is asked
    start: StartStop
    mash: OfMash | None  # None where only the cooler was asked
    against: AgainstMash | None
    cautions: tuple[str, ...]


def reckon_cooler(
    asked: AskedOfCooler,
    units: str,
    *,
    fan: Fan | None = None,
    factors: Factors = DEFAULT_FACTORS,
    mash: OfMash | None = None,
) -> CoolerAnswer:
    """The cooler's answer to numbers.

    Parameters
    ----------
    asked : AskedOfCooler
        All numbers.
    units : str
        Units in which faults are said, US or SI.
    fan : Fan, optional
        Of the line, where no air was typed.
    factors : Factors
        How the cooler exchanges, with the interval.
    mash : OfMash, optional
        The mash before steam, to say what is won or lost on it.

    Raises
    ------
    BadInput
        If pellets are colder than the air or would boil, or the air is none that a bed lets through.
    NoAnswer
        If the bed takes more pressure than the fan has.
    NotSettled
        If the bed could not be reckoned.
    """
    pellet, pellets, air = _inputs(asked)
    _check(asked, air, units)
    cooler = _cooler(asked, pellet, pellets, air, fan, factors, units)
    leaving, profile = cool(cooler, pellet, pellets, air, factors)
    limits = Limits(
        above_ambient_dk=asked.above_ambient_dk, water_activity_frac=asked.water_activity_frac
    )
    one = ToCool(
        product="", line="", cooler=cooler, pellet=pellet, pellets=pellets, factors=factors
    )
    spread = spread_of(cooler, pellet, pellets, air, factors)
    dry_kg_s = asked.pellet_rate_kg_s * (1 - asked.pellet_moisture_wb)
    limit = hourly_limits((one,), (HourAir(starts_at=NOW, air=air),), limits)[0]
    return CoolerAnswer(
        asked=asked,
        cooler=cooler,
        factors=factors,
        leaving=leaving,
        spread=spread,
        profile=profile,
        limit=limit,
        start=start_and_stop(cooler, pellet, pellets, air, limits=limits, factors=factors),
        mash=mash,
        against=None if mash is None else against_mash(dry_kg_s, leaving.moisture_wb, mash),
        cautions=(*_cautions(asked, leaving, spread, units), *_no_rate(limit)),
    )


def _inputs(asked: AskedOfCooler) -> tuple[PelletKind, PelletsIn, AirIn]:
    return (
        PelletKind(
            diameter_mm=asked.diameter_mm,
            length_mm=asked.pellet_length_mm,
            bulk_density_kg_m3=asked.bulk_density_kg_m3,
        ),
        PelletsIn(
            rate_kg_s=asked.pellet_rate_kg_s,
            temperature_c=asked.pellet_c,
            moisture_wb=asked.pellet_moisture_wb,
        ),
        AirIn(
            temperature_c=asked.air_c,
            relative_humidity_frac=asked.humidity_frac,
            pressure_pa=pressure_at_altitude_pa(asked.altitude_m),
        ),
    )


def _check(asked: AskedOfCooler, air: AirIn, units: str) -> None:
    if asked.pellet_c < asked.air_c:
        raise BadInput(
            "The pellets come in colder than the air.",
            seen=f"pellets {temperature_words(asked.pellet_c, units)}, air "
            f"{temperature_words(asked.air_c, units)}",
            allowed="pellets warmer than the air that cools them",
            do="Check which reading is which.",
        )
    most_c = dew_point_c(1e9, air.pressure_pa) - BOILING_ROOM_DK
    if asked.pellet_c > most_c:
        raise BadInput(
            "Water in the pellets would boil.",
            seen=f"pellets {temperature_words(asked.pellet_c, units)}",
            allowed=f"up to {temperature_words(most_c, units)} at this height above the sea",
            do="Measure in an insulated jug below the die; steam flashes off before the cooler.",
        )


def _cooler(  # noqa: PLR0917 - what the air of a cooler depends on
    asked: AskedOfCooler,
    pellet: PelletKind,
    pellets: PelletsIn,
    air: AirIn,
    fan: Fan | None,
    factors: Factors,
    units: str,
) -> Cooler:
    """The cooler with its air, by what was typed or else by the line's fan."""
    behind = fan if asked.air_m3_s is None else Fan(volume_m3_s=asked.air_m3_s)
    if behind is None:
        raise BadInput(
            "A cooler without air cools nothing.",
            seen="no air at the fan",
            allowed=f"a volume, such as {air_words(2.0, units)}",
            do="Measure it at the fan behind the bed.",
        )
    volume = behind.volume_m3_s
    least, most = (asked.area_m2 * one / 1.2 for one in (SLOWEST_KG_S_M2, QUICKEST_KG_S_M2))
    if volume is not None and volume <= 0:
        raise BadInput(
            "The fan must draw air up through the bed.",
            seen=air_words(volume, units),
            allowed=f"{air_words(1.5 * least, units)} to {air_words(0.8 * most, units)}",
            do="Nothing or a minus is a wrong reading, or a fan that stands or turns the wrong way: do "
            "not run pellets into the cooler so.",
        )
    if volume is not None and not 1.5 * least <= volume <= 0.8 * most:
        raise BadInput(
            "So much air does not go through such a bed.",
            seen=air_words(volume, units),
            allowed=f"{air_words(1.5 * least, units)} to {air_words(0.8 * most, units)}",
            do="Check the area of the bed, the fan and its damper.",
        )
    return cooler_at_fan(
        behind,
        area_m2=asked.area_m2,
        depth_m=asked.depth_m,
        pellet=pellet,
        pellets=pellets,
        air=air,
        factors=factors,
    )


def _cautions(
    asked: AskedOfCooler, leaving: Leaving, spread: Spread, units: str
) -> tuple[str, ...]:
    said = []
    if leaving.above_ambient_dk > asked.above_ambient_dk + SAME_DK:
        said.append(
            f"Too warm: {rise_words(leaving.above_ambient_dk, units)} above the air, "
            f"{rise_words(asked.above_ambient_dk, units)} allowed. Slow down, or give it more air "
            "or a deeper bed."
        )
    elif spread.above_ambient_dk[1] > asked.above_ambient_dk + SAME_DK:
        said.append("May be too warm, at the slow end of the cooler's range.")
    if leaving.water_activity_frac > asked.water_activity_frac + SAME_FRAC:
        said.append(
            f"Too damp: water activity {leaving.water_activity_frac:.2f}, "
            f"{asked.water_activity_frac:.2f} allowed. It may mould in the bin or bag."
        )
    elif spread.water_activity_frac[1] > asked.water_activity_frac + SAME_FRAC:
        said.append("May be too damp, at the slow end of the cooler's range.")
    if spread.duct_surely_drips:
        said.append("The air that leaves will drip in a bare duct outside: insulate and drain it.")
    elif spread.duct_may_drip or spread.duct_drips_in_wind:
        when = "" if spread.duct_may_drip else " in wind"
        said.append(
            f"The air that leaves may drip in a bare duct outside{when}: look for wet dust."
        )
    return tuple(said)


def _no_rate(limit: HourLimit) -> tuple[str, ...]:
    """What helps where no rate does; slowing down dries nothing in damp air."""
    if limit.rate_kg_s > 0:
        return ()
    if limit.because == NOT_DRY:
        return (
            (
                "No rate dries them enough in this air: wait for drier air, or send drier pellets: less "
                "steam or liquid, drier grain."
            ),
        )
    return ("No rate down to a fifth cools them enough: more air, a deeper bed, or colder air.",)


def asked_of_cooler(mill: Mill, found: LineSettings) -> tuple[AskedOfCooler, Fan]:
    """What the tables ask of a run's cooler, with its fan.

    Without weather of the hour the air is as it starts on an empty form.

    Raises
    ------
    Unknown
        If the line has no cooler in the tables.
    """
    row, pellets = cooler_row(mill, found.line), pellets_row(mill, found.product)
    limits = limits_of_product(mill, found.product)
    usual = AskedOfCooler()
    asked = AskedOfCooler(
        pellet_rate_kg_s=found.conditioned.rate_kg_s,
        pellet_c=found.die_c,
        pellet_moisture_wb=found.conditioned.moisture_wb,
        diameter_mm=pellets.diameter_mm,
        pellet_length_mm=pellets.length_mm,
        bulk_density_kg_m3=pellets.bulk_density_kg_m3,
        air_c=usual.air_c if found.air_c is None else found.air_c,
        humidity_frac=usual.humidity_frac
        if found.air_humidity_frac is None
        else found.air_humidity_frac,
        altitude_m=mill.settings.altitude_m,
        air_m3_s=row.air_m3_s,
        area_m2=row.area_m2,
        depth_m=row.depth_m,
        above_ambient_dk=limits.above_ambient_dk,
        water_activity_frac=limits.water_activity_frac,
    )
    return asked, fan_of(row)


def _spread_of_run(mill: Mill, found: LineSettings) -> Spread | None:
    """Ends of what leaves the cooler of a run; None without cooler or weather."""
    if found.leaving is None or found.air_c is None or found.air_humidity_frac is None:
        return None
    asked, fan = asked_of_cooler(mill, found)
    pellet, pellets, air = _inputs(asked)
    cooler = cooler_at_fan(
        fan,
        area_m2=asked.area_m2,
        depth_m=asked.depth_m,
        pellet=pellet,
        pellets=pellets,
        air=air,
        factors=found.factors.factors,
    )
    return spread_of(cooler, pellet, pellets, air, found.factors.factors)


def leaving_words(mill: Mill, found: LineSettings) -> str:
    """Low and high end of the temperature at which pellets of a run leave the cooler, and their water
    with its ends; empty if nobody knows.
    """
    ends = _spread_of_run(mill, found)
    if ends is None or found.leaving is None:
        return ""
    units = mill.settings.units
    warm = _ends_words([temperature_words(value, units) for value in ends.pellet_c])
    wet = _ends_words([moisture_words(value) for value in ends.moisture_wb])
    water = f"{moisture_words(found.leaving.moisture_wb)} of water" + (f", {wet}" if wet else "")
    return f"{warm}; {water}" if warm else water


def _ends_words(ends: Sequence[str]) -> str:
    """Low and high end; nothing where both are said alike."""
    low, high = ends
    return f"from {low} to {high}" if low != high else ""
