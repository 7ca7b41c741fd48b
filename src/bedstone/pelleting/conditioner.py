"""The conditioner: mash, steam, molasses and water in, hot moist mash out.

One balance of heat and one of water serve both ways, from steam to temperature and from a wanted
temperature to steam; with liquids and no steam it is the temperature of the mixture.
"""

import math
from dataclasses import dataclass
from typing import Final

from scipy.optimize import brentq

from bedstone.errors import BadInput, NoAnswer
from bedstone.pelleting.specific_heat import TYPICAL_FEED, Proximate, mash_heat_j_kg
from bedstone.pelleting.steam import Steam, water_j_kg
from bedstone.quantities.line_figures import steam_words, temperature_words

__all__ = [
    "WATER",
    "Chamber",
    "Conditioned",
    "Liquid",
    "MashIn",
    "hottest_for_die",
    "molasses",
    "steam_for",
    "unsteamed_c",
    "with_steam",
]

_LEAST_C: Final = -20.0
_WARMEST_C: Final = 60.0
_FASTEST_KG_S: Final = 30.0  # over 100 t/h
_MOST_LIQUID: Final = 0.25
_MOST_STEAM: Final = 0.25
_HOTTEST_LIQUID_C: Final = 100.0
_SETTLED_C: Final = 1e-12
_ASH_OF_SOLIDS: Final = 0.12  # of cane molasses, the rest sugars and the like: from memory

WATER: Final = Proximate(water=1.0, protein=0.0, fat=0.0, carbohydrate=0.0, fibre=0.0, ash=0.0)


def molasses(moisture_wb: float) -> Proximate:
    """Molasses by its solids: sugars with the ash of cane molasses.

    Parameters
    ----------
    moisture_wb : float
        Water in it; solids are the rest. [kg/kg]

    Returns
    -------
    made_of : Proximate
        Its specific heat follows from it: near 2,200 J/(kg K) at 26 % of water, where 2,100 is
        usual (common practice, no source).

    Sources
    -------
    [1] Twelve per cent of ash in the solids: from memory.
    """
    ash = _ASH_OF_SOLIDS * (1 - moisture_wb)
    return Proximate(
        water=moisture_wb,
        protein=0.0,
        fat=0.0,
        carbohydrate=1 - moisture_wb - ash,
        fibre=0.0,
        ash=ash,
    )


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
                seen=_both(self.temperature_c),
                allowed=f"{_both(_LEAST_C)} to {_both(_WARMEST_C)}",
                do="Measure in the mash above the feeder screw.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Liquid:
    """Molasses, water or another liquid put in with the steam, for each kilogram of mash."""

    share: float
    temperature_c: float
    made_of: Proximate

    def __post_init__(self) -> None:
        """Refuse liquid that cannot be."""
        if not 0 <= self.share <= _MOST_LIQUID:
            raise BadInput(
                "So much liquid into the conditioner cannot be right.",
                seen=f"{100 * self.share:.3g} % of the mash",
                allowed=f"0 to {100 * _MOST_LIQUID:g} % of the mash",
                do="Look at the unit of its rate, and at the rate of the mash.",
            )
        if not 0 <= self.temperature_c <= _HOTTEST_LIQUID_C:
            raise BadInput(
                "Temperature of a liquid into the conditioner cannot be right.",
                seen=_both(self.temperature_c),
                allowed=f"{_both(0.0)} to {_both(_HOTTEST_LIQUID_C)}",
            )


def _both(temperature_c: float) -> str:
    return f"{temperature_words(temperature_c, 'US')} ({temperature_words(temperature_c, 'SI')})"


@dataclass(frozen=True, slots=True, kw_only=True)
class Chamber:
    """All that goes into a conditioner; faults are said in the units of ``units`` (US or SI).

    ``loss_frac`` is heat lost to the room, of what mash and liquids take up from the steam.
    """

    mash: MashIn
    steam: Steam
    liquids: tuple[Liquid, ...] = ()
    loss_frac: float = 0.05
    units: str = "SI"

    def __post_init__(self) -> None:
        """Refuse a loss that is no share."""
        if not 0 <= self.loss_frac < 1:
            raise BadInput(
                "Loss is a share.", seen=f"{self.loss_frac:g}", allowed="0 up to, not with, 1"
            )

    @property
    def whole(self) -> float:
        """Mash and liquids for each kilogram of mash."""
        return 1 + math.fsum(one.share for one in self.liquids)

    def taken_j_kg(self, outlet_c: float) -> float:
        """Heat that mash and liquids take up to a temperature, for each kilogram of mash."""
        return math.fsum(
            (
                mash_heat_j_kg(self.mash.made_of, self.mash.temperature_c, outlet_c),
                *(
                    one.share * mash_heat_j_kg(one.made_of, one.temperature_c, outlet_c)
                    for one in self.liquids
                ),
            )
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditioned:
    """What leaves the conditioner."""

    temperature_c: float
    moisture_wb: float
    steam_kg_s: float
    steam_share: float  # for each kilogram of mash and liquids
    rate_kg_s: float
    points: float  # per cent of moisture gained on the mash
    dk_per_point: float | None  # None where no moisture was gained
    heat_kw: float  # that the steam gives up
    loss_kw: float  # of it, to the room


def unsteamed_c(chamber: Chamber) -> float:
    """Temperature of mash and liquids together before any steam.

    Parameters
    ----------
    chamber : Chamber
        What goes in.

    Returns
    -------
    temperature_c : float
        The mash's own where there are no liquids. [degrees C]

    Sources
    -------
    [1] Heat balance of the mixture without loss.
    """
    liquids = [one for one in chamber.liquids if one.share > 0]
    ends = [chamber.mash.temperature_c, *(one.temperature_c for one in liquids)]
    if max(ends) == min(ends):
        return ends[0]
    return float(brentq(chamber.taken_j_kg, min(ends), max(ends), xtol=_SETTLED_C))


def steam_for(chamber: Chamber, wanted_c: float) -> Conditioned:
    """Steam for a wanted temperature.

    Parameters
    ----------
    chamber : Chamber
        What goes in.
    wanted_c : float
        Temperature at the outlet, from that of mash and liquids to where water boils. [degrees C]

    Returns
    -------
    conditioned : Conditioned
        Steam, moisture and mass.

    Raises
    ------
    BadInput
        If the temperature cannot be reached by steam.
    NoAnswer
        If it would take more steam than a quarter of the mash.

    Sources
    -------
    [1] Heat balance of the mixing chamber: what mash and liquids take up, with the loss, is what
        steam gives up to become water at the outlet's temperature.
    """
    coldest_c, hottest_c = unsteamed_c(chamber), chamber.steam.boils_c
    if wanted_c < coldest_c:
        raise BadInput(
            "The wanted temperature is colder than what goes in: steam does not cool.",
            seen=temperature_words(wanted_c, chamber.units),
            allowed=_from_to(coldest_c, hottest_c, chamber),
        )
    if wanted_c > hottest_c:
        raise BadInput(
            "The wanted temperature is above that at which water boils here: steam would blow "
            "through and not condense.",
            seen=temperature_words(wanted_c, chamber.units),
            allowed=_from_to(coldest_c, hottest_c, chamber),
        )
    share = _share(chamber, wanted_c)
    if share > _MOST_STEAM:
        raise NoAnswer(
            "No conditioner takes that much steam.",
            seen=f"{100 * share:.0f} % of the mash",
            allowed=f"up to {100 * _MOST_STEAM:g} %",
            do="Look at the moisture and temperature of mash and liquids, and at the steam.",
        )
    return _conditioned(chamber, share, wanted_c)


def _from_to(coldest_c: float, hottest_c: float, chamber: Chamber) -> str:
    return (
        f"from {temperature_words(coldest_c, chamber.units)}, as mash and liquids go in, to "
        f"{temperature_words(hottest_c, chamber.units)}, where water boils in this air"
    )


def _share(chamber: Chamber, outlet_c: float) -> float:
    """Steam for each kilogram of mash that brings all to a temperature."""
    given = chamber.steam.enthalpy_j_kg - water_j_kg(outlet_c)
    return max(chamber.taken_j_kg(outlet_c) * (1 + chamber.loss_frac) / given, 0.0)


def with_steam(chamber: Chamber, steam_kg_s: float) -> Conditioned:
    """Temperature and moisture that a steam flow gives: the inverse of :func:`steam_for`.

    Parameters
    ----------
    chamber : Chamber
        What goes in.
    steam_kg_s : float
        Steam into the conditioner; 0 mixes mash and liquids. [kg/s]

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
        raise BadInput(
            "Steam flows in.", seen=steam_words(steam_kg_s, chamber.units), allowed="0 or more"
        )
    coldest_c, hottest_c = unsteamed_c(chamber), chamber.steam.boils_c
    share = steam_kg_s / chamber.mash.rate_kg_s
    most = min(_share(chamber, hottest_c), _MOST_STEAM)
    if share > most:
        raise NoAnswer(
            "So much steam would not condense in the mash.",
            seen=steam_words(steam_kg_s, chamber.units),
            allowed=f"up to {steam_words(most * chamber.mash.rate_kg_s, chamber.units)} at this "
            "rate of mash",
            do="Steam that blows through scalds and wets the room: close the valve.",
        )
    if share <= _share(chamber, coldest_c):  # none, or no more than its rounding
        return _conditioned(chamber, share, coldest_c)
    outlet_c = float(
        brentq(lambda c: _share(chamber, c) - share, coldest_c, hottest_c, xtol=_SETTLED_C)
    )
    return _conditioned(chamber, share, outlet_c)


def hottest_for_die(chamber: Chamber, most_wb: float) -> Conditioned:
    """The hottest outlet at which the mash is not yet too wet for the die.

    Parameters
    ----------
    chamber : Chamber
        What goes in.
    most_wb : float
        Most moisture that the die takes without choking; 16 to 17 % is usual (a trade talk's
        figure). [kg/kg]

    Returns
    -------
    conditioned : Conditioned
        At that limit, or where water boils if it is never reached.

    Raises
    ------
    NoAnswer
        If the mash is too wet before any steam.

    Sources
    -------
    [1] As :func:`steam_for`.
    """

    def over(outlet_c: float) -> float:
        return _moisture_wb(chamber, _share(chamber, outlet_c)) - most_wb

    coldest_c, hottest_c = unsteamed_c(chamber), chamber.steam.boils_c
    if over(coldest_c) > 0:
        raise NoAnswer(
            "The mash is too wet for the die before any steam.",
            seen=f"{100 * (over(coldest_c) + most_wb):.1f} %",
            allowed=f"up to {100 * most_wb:.1f} %",
            do="Less molasses or water, or a drier formula.",
        )
    outlet_c = (
        hottest_c
        if over(hottest_c) <= 0
        else float(brentq(over, coldest_c, hottest_c, xtol=_SETTLED_C))
    )
    return _conditioned(chamber, _share(chamber, outlet_c), outlet_c)


def _moisture_wb(chamber: Chamber, share: float) -> float:
    water = math.fsum(
        (
            chamber.mash.made_of.water,
            share,
            *(one.share * one.made_of.water for one in chamber.liquids),
        )
    )
    return water / (chamber.whole + share)


def _conditioned(chamber: Chamber, share: float, outlet_c: float) -> Conditioned:
    mash = chamber.mash
    moisture_wb = _moisture_wb(chamber, share)
    points = 100 * (moisture_wb - mash.made_of.water)
    steam_kg_s = share * mash.rate_kg_s
    heat_kw = steam_kg_s * (chamber.steam.enthalpy_j_kg - water_j_kg(outlet_c)) / 1000
    return Conditioned(
        temperature_c=outlet_c,
        moisture_wb=moisture_wb,
        steam_kg_s=steam_kg_s,
        steam_share=share / chamber.whole,
        rate_kg_s=(chamber.whole + share) * mash.rate_kg_s,
        points=points,
        dk_per_point=(outlet_c - mash.temperature_c) / points if points > 0 else None,
        heat_kw=heat_kw,
        loss_kw=heat_kw * chamber.loss_frac / (1 + chamber.loss_frac),
    )
