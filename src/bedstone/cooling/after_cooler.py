"""Warm pellets in a bin through the night: sweat on walls, water activity as they cool, mould.

Bounds, not forecasts: how much water the headspace can carry to a cold wall is limited both by the
pellets' vapour pressure and by how fast air turns over, and only the first is known well.
"""

from dataclasses import dataclass
from typing import Final

from bedstone.cooling.model import Isotherm
from bedstone.errors import BadInput
from bedstone.materials.moist_air import dew_point_c, humidity_at, saturation_pressure_pa
from bedstone.materials.sorption import water_activity
from bedstone.quantities.moisture import dry_basis

__all__ = ["HOT_C", "BinNight", "WarmBin", "activity_at", "bin_through_the_night", "days_to_mould"]

HOT_C: Final = 55.0
"""A bin that reads so hot heats itself: common practice, no source."""
_FILM_W_M2_K: Final = 3.0  # still air to a wall at some kelvins of difference, from memory
_NIGHT_S: Final = 12 * 3600
_LATENT_J_KG: Final = 2.46e6
_NO_GROWTH: Final = 0.65
_KEEPS_DAYS: Final = 365.0


@dataclass(frozen=True, slots=True, kw_only=True)
class WarmBin:
    """A bin with pellets: what lies in it, its bare wall above them, the coldest hour to come."""

    pellet_c: float
    moisture_wb: float
    mass_kg: float
    wall_m2: float  # roof and wall above the pellets
    coldest_wall_c: float  # outside air of the coldest hour; a clear sky can take 3 to 5 K more
    pressure_pa: float = 101_325.0

    def __post_init__(self) -> None:
        """Refuse a bin that cannot be."""
        if not 0 < self.moisture_wb < 1 or self.mass_kg <= 0 or self.wall_m2 < 0:
            raise BadInput(
                "A bin of pellets cannot be so.",
                seen=f"moisture {self.moisture_wb:g}, {self.mass_kg:g} kg, {self.wall_m2:g} m2",
                allowed="moisture between 0 and 1, mass above 0, wall 0 or more",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class BinNight:
    """What the night can do to a bin of pellets."""

    activity_warm_frac: float
    activity_cooled_frac: float  # the same pellets, no water lost, at the wall's temperature
    dew_point_c: float  # of the air over the pellets
    sweats: bool
    water_least_kg: float  # without any turnover: the vapour that the headspace already holds
    water_most_kg: float  # as fast as still air carries heat to the wall
    crust_moisture_wb: float  # of a hundredth of the mass, if all of that ran back into it
    mould_days: float  # of that crust, cautious
    advice: str


def activity_at(moisture_wb: float, temperature_c: float, isotherm: Isotherm) -> float:
    """Water activity of a feed.

    Parameters
    ----------
    moisture_wb : float
        Moisture. [kg/kg]
    temperature_c : float
        Of the feed. [degrees C]
    isotherm : Isotherm
        How it holds water.

    Returns
    -------
    activity_frac : float
        [0 to 1]
    """
    found, _, _ = water_activity(
        dry_basis(moisture_wb), temperature_c, isotherm.form, isotherm.a, isotherm.b, isotherm.c
    )
    return float(found)


def days_to_mould(activity_frac: float, temperature_c: float) -> float:
    """Days after which mould may be seen, a cautious estimate.

    Parameters
    ----------
    activity_frac : float
        Water activity of the feed. [0 to 1]
    temperature_c : float
        Of the feed. [degrees C]

    Returns
    -------
    days : float
        At most a year; at 0.65 and below nothing is expected to grow.

    Sources
    -------
    [1] From memory, ours: three days at 0.90 and 25 degrees C, ten times as long for each 0.125
        of water activity below, twice as long for each 8 K away from 28. Good to a factor of
        three at best; mould inhibitors and the feed itself move it. Never a shelf life.
    """
    if activity_frac <= _NO_GROWTH:
        return _KEEPS_DAYS
    days = 3.0 * 10 ** ((0.90 - min(activity_frac, 0.95)) / 0.125)
    days *= 2 ** (abs(temperature_c - 28.0) / 8.0)
    return min(max(days, 1.0), _KEEPS_DAYS)


def bin_through_the_night(warm: WarmBin, isotherm: Isotherm | None = None) -> BinNight:
    """What the coming night can do to pellets that lie warm in a bin.

    Parameters
    ----------
    warm : WarmBin
        Pellets, wall and cold.
    isotherm : Isotherm
        How the feed holds water; corn's if none is given.

    Returns
    -------
    night : BinNight
        Dew point against wall, water between two bounds, and what to do.

    Sources
    -------
    [1] Air over pellets is in equilibrium with them: its vapour pressure is their water activity
        times saturation. Its dew point against the wall decides whether it sweats.
    [2] Most water: heat and vapour go to a wall together (Lewis number near one), so vapour goes
        at h/c_p times the difference of humidities, for a night of twelve hours.
    """
    holds = isotherm or Isotherm()
    activity = activity_at(warm.moisture_wb, warm.pellet_c, holds)
    over_db = humidity_at(activity * saturation_pressure_pa(warm.pellet_c), warm.pressure_pa)
    wall_db = humidity_at(saturation_pressure_pa(warm.coldest_wall_c), warm.pressure_pa)
    difference = max(float(over_db - wall_db), 0.0)
    carried_kg = _FILM_W_M2_K / 1006.0 * difference * warm.wall_m2 * _NIGHT_S
    gives_kg = warm.mass_kg * 1900.0 * max(warm.pellet_c - warm.coldest_wall_c, 0.0) / _LATENT_J_KG
    headspace_kg = warm.wall_m2 * 0.5 * 1.2 * difference  # about half a metre of air over the heap
    most_kg = min(carried_kg, gives_kg)
    least_kg = min(headspace_kg, most_kg)
    crust_kg = max(0.01 * warm.mass_kg, 1.0)
    crust_wb = (crust_kg * warm.moisture_wb + most_kg) / (crust_kg + most_kg)
    crust_c = (warm.pellet_c + warm.coldest_wall_c) / 2
    dew_c = float(dew_point_c(float(over_db), warm.pressure_pa))
    sweats = dew_c > warm.coldest_wall_c
    mould_days = days_to_mould(activity_at(crust_wb, crust_c, holds), crust_c)
    return BinNight(
        activity_warm_frac=activity,
        activity_cooled_frac=activity_at(warm.moisture_wb, warm.coldest_wall_c, holds),
        dew_point_c=dew_c,
        sweats=sweats,
        water_least_kg=least_kg,
        water_most_kg=most_kg,
        crust_moisture_wb=crust_wb,
        mould_days=mould_days,
        advice=_advice(warm, activity, mould_days, sweats=sweats),
    )


def _advice(warm: WarmBin, activity: float, mould_days: float, *, sweats: bool) -> str:
    if warm.pellet_c >= HOT_C:
        return (
            "Hot: do not open it wide nor climb in; feed that heats itself can char and burn, and "
            "its air may not be fit to breathe. Shut fans off, keep people out, call the fire "
            "service if it smokes or smells burnt, and empty it only with them."
        )
    if activity > _NO_GROWTH:
        return (
            "Too damp to keep: hold it, take it out, and put it through the cooler again or feed "
            "it soon after the laboratory has looked at it. Keep the crust off what ships."
        )
    if sweats:
        return (
            "The wall will sweat tonight, and a damp crust under the roof may show mould from "
            f"about day {mould_days:.0f}: run the bin's fan or open its vent, draw it down a little "
            "in the morning, and look under the roof."
        )
    return "Nothing to do: the air over the pellets stays above its dew point at the wall."
