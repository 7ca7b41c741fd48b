"""The conditioner: mash, steam, molasses and water in, hot moist mash out."""

from dataclasses import dataclass
from typing import Final

from scipy.optimize import brentq

from bedstone.errors import BadInput, NoAnswer
from bedstone.pelleting.specific_heat import TYPICAL_FEED, Proximate, mash_heat_j_kg
from bedstone.pelleting.steam import Steam, water_j_kg

__all__ = [
    "Boiler",
    "Conditioned",
    "Liquid",
    "MashIn",
    "boiler_load",
    "hottest_for_die",
    "residence_s",
    "steam_for",
    "with_steam",
]

MOST_C: Final = 105.0
HORSEPOWER_KG_S: Final = 34.5 * 0.45359237 / 3600
"""Steam of a boiler horsepower: 34.5 lb/h from and at 212 F (from memory)."""
_LEAST_C: Final = -20.0
_WARMEST_C: Final = 60.0
_FASTEST_KG_S: Final = 30.0  # over 100 t/h
_MOST_LIQUID: Final = 0.25
_MOST_STEAM: Final = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class MashIn:
    """Mash from the mixer: mass flow as it is, temperature, what it is made of."""

    rate_kg_s: float
    temperature_c: float
    made_of: Proximate = TYPICAL_FEED

    def __post_init__(self) -> None:
        """Refuse mash that cannot be."""
        if not 0 < self.rate_kg_s <= _FASTEST_KG_S:
            raise BadInput(
                "Mash rate cannot be right.",
                seen=f"{self.rate_kg_s:g} kg/s",
                allowed=f"above 0, up to {_FASTEST_KG_S:g} kg/s",
            )
        if not _LEAST_C <= self.temperature_c <= _WARMEST_C:
            raise BadInput(
                "Temperature of the mash cannot be right.",
                seen=f"{self.temperature_c:g} degrees C",
                allowed=f"{_LEAST_C:g} to {_WARMEST_C:g} degrees C",
                do="Measure in the mash above the feeder screw.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Liquid:
    """Molasses or water put in with the steam, for each kilogram of mash.

    ``j_kg_k`` of cane molasses is near 2,100 (common practice, no source).
    """

    share: float
    temperature_c: float
    moisture_wb: float
    j_kg_k: float = 2100.0

    def __post_init__(self) -> None:
        """Refuse liquid that cannot be."""
        if not 0 <= self.share <= _MOST_LIQUID or not 0 <= self.moisture_wb <= 1:
            raise BadInput(
                "Liquid into the conditioner cannot be right.",
                seen=f"share {self.share:g}, moisture {self.moisture_wb:g}",
                allowed=f"share 0 to {_MOST_LIQUID:g} of the mash, moisture 0 to 1",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditioned:
    """What leaves the conditioner."""

    temperature_c: float
    moisture_wb: float
    steam_kg_s: float
    steam_share: float  # for each kilogram of mash
    rate_kg_s: float
    points: float  # per cent of moisture gained
    dk_per_point: float | None  # None where no moisture was gained


def steam_for(
    mash: MashIn,
    steam: Steam,
    wanted_c: float,
    *,
    liquids: tuple[Liquid, ...] = (),
    loss_frac: float = 0.05,
) -> Conditioned:
    """Steam for a wanted temperature.

    Parameters
    ----------
    mash : MashIn
        What comes from the mixer.
    steam : Steam
        As it enters.
    wanted_c : float
        Temperature at the outlet, above the mash's and up to 105. [degrees C]
    liquids : tuple of Liquid
        Molasses, water.
    loss_frac : float
        Heat lost to the room, of what the mash takes up. [0 to 1]

    Returns
    -------
    conditioned : Conditioned
        Steam, moisture and mass.

    Raises
    ------
    BadInput
        If the temperature cannot be reached by heating, or the loss is no share.
    NoAnswer
        If it would take more steam than a quarter of the mash.

    Sources
    -------
    [1] Heat balance of the mixing chamber: what mash and liquids take up, with the loss, is what
        steam gives up to become water at the outlet's temperature.
    """
    if not 0 <= loss_frac < 1:
        raise BadInput("Loss is a share.", seen=f"{loss_frac:g}", allowed="0 up to, not with, 1")
    if not mash.temperature_c <= wanted_c <= MOST_C:
        raise BadInput(
            "The wanted temperature cannot be reached by steam.",
            seen=f"{wanted_c:g} degrees C",
            allowed=f"from the mash's {mash.temperature_c:g} to {MOST_C:g} degrees C",
        )
    taken = mash_heat_j_kg(mash.made_of, mash.temperature_c, wanted_c) + sum(
        one.share * one.j_kg_k * (wanted_c - one.temperature_c) for one in liquids
    )
    given = steam.enthalpy_j_kg - water_j_kg(wanted_c)
    share = max(taken * (1 + loss_frac) / given, 0.0)
    if share > _MOST_STEAM:
        raise NoAnswer(
            "No conditioner takes that much steam.",
            seen=f"{share:.2f} kg of steam for each kg of mash",
            allowed=f"up to {_MOST_STEAM:g}",
        )
    return _conditioned(mash, liquids, share, wanted_c)


def with_steam(
    mash: MashIn,
    steam: Steam,
    steam_kg_s: float,
    *,
    liquids: tuple[Liquid, ...] = (),
    loss_frac: float = 0.05,
) -> Conditioned:
    """Temperature and moisture that a steam flow gives: the inverse of :func:`steam_for`.

    Parameters
    ----------
    mash, steam, liquids, loss_frac
        As :func:`steam_for` takes them.
    steam_kg_s : float
        Steam into the conditioner. [kg/s]

    Returns
    -------
    conditioned : Conditioned
        What leaves.

    Raises
    ------
    BadInput
        If the steam flow is below nothing.
    NoAnswer
        If so much steam would not condense.

    Sources
    -------
    [1] As :func:`steam_for`, solved for the temperature.
    """
    if steam_kg_s < 0:
        raise BadInput("Steam flows in.", seen=f"{steam_kg_s:g} kg/s", allowed="0 or more")

    def over(outlet_c: float) -> float:
        found = steam_for(mash, steam, outlet_c, liquids=liquids, loss_frac=loss_frac)
        return found.steam_kg_s - steam_kg_s

    if over(mash.temperature_c) >= 0:
        return _conditioned(mash, liquids, steam_kg_s / mash.rate_kg_s, mash.temperature_c)
    if over(MOST_C) < 0:
        raise NoAnswer(
            "So much steam would not condense in the mash.",
            seen=f"{steam_kg_s:g} kg/s",
            allowed=f"less than {over(MOST_C) + steam_kg_s:.3g} kg/s",
            do="Steam that blows through heats the room: close the valve.",
        )
    outlet_c = float(brentq(over, mash.temperature_c, MOST_C, xtol=1e-9))
    return _conditioned(mash, liquids, steam_kg_s / mash.rate_kg_s, outlet_c)


def hottest_for_die(
    mash: MashIn,
    steam: Steam,
    most_wb: float,
    *,
    liquids: tuple[Liquid, ...] = (),
    loss_frac: float = 0.05,
) -> Conditioned:
    """The hottest outlet at which the mash is not yet too wet for the die.

    Parameters
    ----------
    mash, steam, liquids, loss_frac
        As :func:`steam_for` takes them.
    most_wb : float
        Most moisture that the die takes without choking; 16 to 17 % is usual (a trade talk's
        figure). [kg/kg]

    Returns
    -------
    conditioned : Conditioned
        At that limit, or at 105 degrees C if it is never reached.

    Raises
    ------
    NoAnswer
        If the mash is too wet before any steam.

    Sources
    -------
    [1] As :func:`steam_for`.
    """

    def over(outlet_c: float) -> float:
        found = steam_for(mash, steam, outlet_c, liquids=liquids, loss_frac=loss_frac)
        return found.moisture_wb - most_wb

    start_c = max(mash.temperature_c, 0.01)  # steam becomes liquid water
    if over(start_c) > 0:
        raise NoAnswer(
            "The mash is too wet for the die before any steam.",
            seen=f"{100 * (over(start_c) + most_wb):.1f} %",
            allowed=f"up to {100 * most_wb:.1f} %",
            do="Less molasses or water, or a drier formula.",
        )
    if over(MOST_C) <= 0:
        return steam_for(mash, steam, MOST_C, liquids=liquids, loss_frac=loss_frac)
    outlet_c = float(brentq(over, start_c, MOST_C, xtol=1e-9))
    return steam_for(mash, steam, outlet_c, liquids=liquids, loss_frac=loss_frac)


def _conditioned(
    mash: MashIn, liquids: tuple[Liquid, ...], share: float, outlet_c: float
) -> Conditioned:
    whole = 1 + share + sum(one.share for one in liquids)
    water = mash.made_of.water + share + sum(one.share * one.moisture_wb for one in liquids)
    points = 100 * (water / whole - mash.made_of.water)
    rise = outlet_c - mash.temperature_c
    return Conditioned(
        temperature_c=outlet_c,
        moisture_wb=water / whole,
        steam_kg_s=share * mash.rate_kg_s,
        steam_share=share,
        rate_kg_s=whole * mash.rate_kg_s,
        points=points,
        dk_per_point=rise / points if points > 0 else None,
    )


def residence_s(volume_m3: float, fill_frac: float, bulk_kg_m3: float, rate_kg_s: float) -> float:
    """How long mash stays in the conditioner.

    Parameters
    ----------
    volume_m3 : float
        Of the chamber. [m3]
    fill_frac : float
        How full it runs. [0 to 1]
    bulk_kg_m3 : float
        Bulk density of the hot mash. [kg/m3]
    rate_kg_s : float
        Mass that leaves. [kg/s]

    Returns
    -------
    time_s : float
        Mean time. [s]

    Raises
    ------
    BadInput
        If a number is not above nothing, or the fill above 1.

    Sources
    -------
    [1] Hold-up over throughput. Usual: 12 to 18 s short, 30 s long conditioners (trade press).
    """
    if min(volume_m3, bulk_kg_m3, rate_kg_s) <= 0 or not 0 < fill_frac <= 1:
        raise BadInput(
            "A conditioner has volume, fill, density and rate.",
            seen=f"{volume_m3:g} m3, {fill_frac:g}, {bulk_kg_m3:g} kg/m3, {rate_kg_s:g} kg/s",
            allowed="all above 0, fill up to 1",
        )
    return fill_frac * volume_m3 * bulk_kg_m3 / rate_kg_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Boiler:
    """What the steam of a conditioner asks of the boiler."""

    steam_kg_s: float
    fuel_kw: float
    horsepower: float
    usd_per_h: float
    usd_per_t: float


def boiler_load(
    steam: Steam,
    steam_kg_s: float,
    mash_kg_s: float,
    *,
    feedwater_c: float = 15.0,
    efficiency_frac: float = 0.8,
    fuel_usd_per_kwh: float = 0.03,
) -> Boiler:
    """Fuel and its cost for a steam flow.

    Parameters
    ----------
    steam : Steam
        As the boiler makes it.
    steam_kg_s, mash_kg_s : float
        Steam, and the mash it is for. [kg/s]
    feedwater_c : float
        Temperature of the water that it is made from. [degrees C]
    efficiency_frac : float
        Heat into steam over heat of the fuel. [0 to 1]
    fuel_usd_per_kwh : float
        Price of fuel heat, USD for each kWh.

    Returns
    -------
    boiler : Boiler
        Load in kW of fuel and boiler horsepower, cost by hour and by tonne of mash.

    Raises
    ------
    BadInput
        If efficiency or price cannot be.

    Sources
    -------
    [1] Heat balance of the boiler; ``HORSEPOWER_KG_S`` for the horsepower.
    """
    if not 0 < efficiency_frac <= 1 or fuel_usd_per_kwh < 0 or mash_kg_s <= 0:
        raise BadInput(
            "A boiler's numbers cannot be right.",
            seen=f"efficiency {efficiency_frac:g}, {fuel_usd_per_kwh:g} USD/kWh",
            allowed="efficiency above 0 up to 1, price 0 or more, mash above 0",
        )
    fuel_kw = steam_kg_s * (steam.enthalpy_j_kg - water_j_kg(feedwater_c)) / efficiency_frac / 1000
    usd_per_h = fuel_kw * fuel_usd_per_kwh
    return Boiler(
        steam_kg_s=steam_kg_s,
        fuel_kw=fuel_kw,
        horsepower=steam_kg_s / HORSEPOWER_KG_S,
        usd_per_h=usd_per_h,
        usd_per_t=usd_per_h / (mash_kg_s * 3.6),
    )
