"""A conditioner asked by numbers: one balance for the terminal, the page and the mill's tables."""

from dataclasses import dataclass
from functools import lru_cache

from bedstone.errors import BadInput, NoAnswer
from bedstone.materials.moist_air import pressure_at_altitude_pa
from bedstone.mill.conditioner_asked import AskedOfConditioner
from bedstone.pelleting.boiler import FUELS, Boiler, boiler_load
from bedstone.pelleting.conditioner import (
    WATER,
    Chamber,
    Conditioned,
    Liquid,
    MashIn,
    hottest_for_die,
    molasses,
    steam_for,
    unsteamed_c,
    with_steam,
)
from bedstone.pelleting.residence import chamber_m3, fill_for, residence_s
from bedstone.pelleting.specific_heat import Proximate, specific_heat_j_kg_k
from bedstone.pelleting.steam import Steam, steam_at_gauge
from bedstone.quantities.line_figures import temperature_words

__all__ = ["ConditionerAnswer", "at_temperature", "chamber_of", "mash_of", "reckon", "set_down_c"]

LITTLE_C = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class ConditionerAnswer:
    """What leaves a conditioner, how long it stays, what its steam costs, what the die takes."""

    asked: AskedOfConditioner
    made_of: Proximate
    specific_heat_j_kg_k: float  # of the mash, at its temperature before steam
    steam: Steam
    unsteamed_c: float  # mash and liquids together
    made: Conditioned
    most: Conditioned | None  # the hottest that the die takes; None: too wet before any steam
    too_wet: bool
    inside_s: float
    fill_frac: float
    boiler: Boiler
    cautions: tuple[str, ...]


def mash_of(asked: AskedOfConditioner) -> Proximate:
    """Composition of the mash that was typed; what is left of it is carbohydrate.

    Raises
    ------
    BadInput
        If its parts are more than the whole.
    """
    parts = (
        asked.mash_moisture_wb,
        asked.protein_frac,
        asked.fat_frac,
        asked.fibre_frac,
        asked.ash_frac,
    )
    left = 1 - sum(parts)
    if left < -LITTLE_C:
        raise BadInput(
            "Water, protein, fat, fibre and ash are more than the whole mash.",
            seen=f"{100 * sum(parts):.1f} % together",
            allowed="100 % at most, all as fed",
        )
    water, protein, fat, fibre, ash = parts
    return Proximate(
        water=water,
        protein=protein,
        fat=fat,
        carbohydrate=max(left, 0.0),
        fibre=fibre,
        ash=ash,
    )


@lru_cache(maxsize=64)
def _steam(
    gauge_pa: float, quality_frac: float, altitude_m: float, superheated_c: float | None
) -> Steam:
    return steam_at_gauge(
        gauge_pa,
        quality_frac,
        pressure_at_altitude_pa(altitude_m),
        superheated_c=superheated_c,
    )


def chamber_of(
    asked: AskedOfConditioner, units: str, *, liquid: Proximate | None = None
) -> Chamber:
    """All that goes in; a liquid other than molasses by what it is made of."""
    rate = asked.mash_rate_kg_s
    liquids = (
        Liquid(
            share=asked.molasses_kg_s / rate,
            temperature_c=asked.molasses_at_c,
            made_of=liquid or molasses(asked.molasses_moisture_wb),
        ),
        Liquid(share=asked.water_kg_s / rate, temperature_c=asked.water_at_c, made_of=WATER),
    )
    return Chamber(
        mash=MashIn(rate_kg_s=rate, temperature_c=asked.mash_c, made_of=mash_of(asked)),
        steam=_steam(
            asked.steam_gauge_pa, asked.steam_quality_frac, asked.altitude_m, asked.steam_at_c
        ),
        liquids=tuple(one for one in liquids if one.share > 0),
        loss_frac=asked.loss_frac,
        units=units,
    )


def at_temperature(chamber: Chamber, outlet_c: float) -> Conditioned:
    """What leaves at a temperature that was read or stands in a table, which may be out of reach:
    colder than what goes in it is that without steam, hotter than boiling it is at boiling.
    """
    if outlet_c <= unsteamed_c(chamber):
        return with_steam(chamber, 0.0)
    return steam_for(chamber, min(outlet_c, chamber.steam.boils_c))


def set_down_c(temperature_c: float, units: str) -> float:
    """A temperature down to one that can be set: whole degrees F, half degrees C."""
    if units == "US":
        return ((temperature_c * 1.8 + 32 + LITTLE_C) // 1 - 32) / 1.8
    return (2 * temperature_c + LITTLE_C) // 1 / 2


def reckon(
    asked: AskedOfConditioner,
    units: str,
    *,
    liquid: Proximate | None = None,
    made: Conditioned | None = None,
) -> ConditionerAnswer:
    """The conditioner's answer, from steam to temperature or from temperature to steam.

    Parameters
    ----------
    asked : AskedOfConditioner
        All numbers; exactly one of wanted temperature and steam.
    units : str
        Units in which faults are said, US or SI.
    liquid : Proximate, optional
        What the liquid is made of, where it is no molasses.
    made : Conditioned, optional
        What leaves, where it is known otherwise.

    Raises
    ------
    BadInput
        If what is asked is not one thing, or cannot be reached.
    NoAnswer
        If so much steam would not condense, or mash could not stay so long.
    """
    chamber = chamber_of(asked, units, liquid=liquid)
    made = made or _made(asked, chamber)
    try:
        most: Conditioned | None = hottest_for_die(chamber, asked.die_moisture_wb)
    except NoAnswer:
        most = None
    inside_s, fill_frac = _inside(asked, made.rate_kg_s)
    return ConditionerAnswer(
        asked=asked,
        made_of=chamber.mash.made_of,
        specific_heat_j_kg_k=specific_heat_j_kg_k(chamber.mash.made_of, asked.mash_c),
        steam=chamber.steam,
        unsteamed_c=unsteamed_c(chamber),
        made=made,
        most=most,
        too_wet=made.moisture_wb > asked.die_moisture_wb + LITTLE_C,
        inside_s=inside_s,
        fill_frac=fill_frac,
        boiler=boiler_load(
            chamber.steam,
            made.steam_kg_s,
            chamber.whole * asked.mash_rate_kg_s,
            feedwater_c=asked.feedwater_c,
            efficiency_frac=asked.boiler_frac,
            fuel_usd_per_kwh=asked.fuel_usd / FUELS[asked.fuel][1],
        ),
        cautions=_cautions(asked, made, most, units),
    )


def _made(asked: AskedOfConditioner, chamber: Chamber) -> Conditioned:
    if asked.wanted_c is not None and asked.steam_kg_s is not None:
        raise BadInput(
            "Either the wanted temperature or the steam, not both: one follows from the other.",
            seen=f"{temperature_words(asked.wanted_c, chamber.units)} and a steam rate",
            allowed="one of them",
            do="leave one of the two empty",
        )
    if asked.wanted_c is not None:
        return steam_for(chamber, asked.wanted_c)
    if asked.steam_kg_s is None:
        raise BadInput(
            "Neither the wanted temperature nor the steam is there.",
            seen="both empty",
            allowed="one of them; 0 of steam for none",
            do="type the temperature that the mash is to leave with, or the steam",
        )
    return with_steam(chamber, asked.steam_kg_s)


def _inside(asked: AskedOfConditioner, rate_kg_s: float) -> tuple[float, float]:
    """Time inside and fill, either from the other."""
    volume_m3 = asked.volume_m3
    if asked.length_m is not None or asked.diameter_mm is not None:
        if asked.length_m is None or asked.diameter_mm is None:
            raise BadInput(
                "Length and diameter of the conditioner go together.",
                seen="one of them",
                allowed="both, or neither and the volume",
            )
        volume_m3 = chamber_m3(asked.length_m, asked.diameter_mm / 1000)
    bulk = asked.bulk_density_kg_m3
    if asked.inside_s is not None:
        return asked.inside_s, fill_for(volume_m3, asked.inside_s, bulk, rate_kg_s)
    return residence_s(volume_m3, asked.fill_frac, bulk, rate_kg_s), asked.fill_frac


def _cautions(
    asked: AskedOfConditioner, made: Conditioned, most: Conditioned | None, units: str
) -> tuple[str, ...]:
    said = []
    if most is None:
        said.append(
            "The mash is too wet for the die before any steam: less molasses or water, or a drier "
            "formula."
        )
    elif made.moisture_wb > asked.die_moisture_wb + LITTLE_C:
        set_c = set_down_c(most.temperature_c, units)
        said.append(
            f"Mash would reach the die with {100 * made.moisture_wb:.1f} % of water; it takes "
            f"{100 * asked.die_moisture_wb:.1f} %: it may choke. Hottest that it takes: "
            f"{temperature_words(set_c, units)}."
        )
    return tuple(said)
