"""Pellets after the cooler: the air over them as they cool, days to mould, a night in a bin.

Bounds, not forecasts: how much water the headspace carries to a cold roof hangs on how air turns
over in it, which nobody knows of a given bin.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from bedstone.cooling.bin_night import BRISK, QUIET, Course, WarmBin, course
from bedstone.cooling.model import Isotherm
from bedstone.materials.sorption import water_activity
from bedstone.quantities.moisture import dry_basis

__all__ = [
    "HOT_ADVICE",
    "HOT_C",
    "KEEPS_DAYS",
    "NO_GROWTH",
    "Activity",
    "BinNight",
    "Crust",
    "activity_as_it_cools",
    "activity_at",
    "bin_through_the_night",
    "days_to_mould",
]

HOT_C: Final = 55.0
"""A bin that reads so hot heats itself: common practice, no source."""
NO_GROWTH: Final = 0.65
"""Up to this humidity feed is taken as safe; the first moulds grow from about 0.61 to 0.70, as
sources differ (extension sheets on grain storage; University of Guelph)."""
KEEPS_DAYS: Final = 365.0
QUICKEST_C: Final = 28.0
HOT_ADVICE: Final = (
    "Hot: it may be heating by itself, and can char and burn. Do not climb in, nor lean in: the air "
    "may lack oxygen or hold carbon monoxide, and a crust may not carry. Do not open it wide and do "
    "not blow air in. Stop what feeds it, keep people away, call the fire service if it smokes or "
    "smells burnt, and empty it only as they and the local code say."
)
CRUSTS_M: Final = {"under the roof": 0.05, "along the wall": 0.02}
"""Depth of pellets that takes up what runs down: common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Activity:
    """Feed at a temperature, none of its water lost: its water activity and days to mould.

    ``low`` and ``high`` are by the isotherms that hold the most and the least water; the days are
    by ``high``, so that they are rather too few.
    """

    temperature_c: float
    activity_frac: float
    low_frac: float
    high_frac: float
    mould_days: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Crust:
    """Pellets that all the water of a sheet has run into, at the brisk end, and as warm as mould likes
    it best between their own temperature and that of the pellets behind them.
    """

    where: str
    moisture_wb: float
    activity_frac: float
    mould_days: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BinNight:
    """What the night can do to a bin of pellets: between the quiet and the brisk course."""

    quiet: Course
    brisk: Course
    activity_warm_frac: float
    crusts: tuple[Crust, ...]
    is_hot: bool
    advice: str

    @property
    def roof_kg(self) -> tuple[float, float]:
        """Water that runs down under the roof, at least and at most."""
        return _ends(self.quiet.roof_kg, self.brisk.roof_kg)

    @property
    def wall_kg(self) -> tuple[float, float]:
        """Water that runs down along the wall, at least and at most."""
        return _ends(self.quiet.wall_kg, self.brisk.wall_kg)

    @property
    def wandered_kg(self) -> tuple[float, float]:
        """Water that moves from the core towards the cold, at least and at most."""
        return _ends(self.quiet.wandered_kg, self.brisk.wandered_kg)

    @property
    def sweats(self) -> bool:
        """Whether water may run down anywhere."""
        return self.roof_kg[1] + self.wall_kg[1] > 0

    @property
    def surely_sweats(self) -> bool:
        """Whether it does so even where air hardly moves."""
        return self.quiet.roof_kg + self.quiet.wall_kg > 0

    @property
    def wets(self) -> bool:
        """Whether a crust may get so damp that mould grows, or all of the pellets are so already."""
        damp = max(one.activity_frac for one in self.crusts)
        return max(damp, self.activity_warm_frac) > NO_GROWTH


def _ends(one: float, other: float) -> tuple[float, float]:
    return min(one, other), max(one, other)


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
    [1] From memory, ours: three days at 0.90 and 28 degrees C, ten times as long for each 0.125
        of water activity below, twice as long for each 8 K away from 28. Good to a factor of
        three at best; mould inhibitors and the feed itself move it. Never a shelf life.
    """
    if activity_frac <= NO_GROWTH:
        return KEEPS_DAYS
    days = 3.0 * 10 ** ((0.90 - min(activity_frac, 0.95)) / 0.125)
    days *= 2 ** (abs(temperature_c - QUICKEST_C) / 8.0)
    return min(max(days, 1.0), KEEPS_DAYS)


def activity_as_it_cools(
    moisture_wb: float,
    temperatures_c: Sequence[float],
    isotherm: Isotherm,
    others: Sequence[Isotherm] = (),
) -> tuple[Activity, ...]:
    """Water activity of feed in a closed bag or bin at each temperature.

    Parameters
    ----------
    moisture_wb : float
        Moisture, none of which is lost: the air of a closed bag holds next to none of it. [kg/kg]
    temperatures_c : sequence of float
        Temperatures of the feed. [degrees C]
    isotherm : Isotherm
        How the feed is taken to hold water.
    others : sequence of Isotherm
        How it may hold it instead; of a mixed feed nobody has measured.

    Returns
    -------
    rows : tuple of Activity
        One for each temperature.
    """
    rows = []
    for temperature_c in temperatures_c:
        middle = activity_at(moisture_wb, temperature_c, isotherm)
        every = [middle, *(activity_at(moisture_wb, temperature_c, one) for one in others)]
        rows.append(
            Activity(
                temperature_c=temperature_c,
                activity_frac=middle,
                low_frac=min(every),
                high_frac=max(every),
                mould_days=days_to_mould(max(every), temperature_c),
            )
        )
    return tuple(rows)


def bin_through_the_night(warm: WarmBin, outside_c: Sequence[float]) -> BinNight:
    """What the coming night can do to pellets that lie warm in a bin.

    Parameters
    ----------
    warm : WarmBin
        Pellets and skin of the bin.
    outside_c : sequence of float
        Air outside at each full hour; one more than there are hours. [degrees C]

    Returns
    -------
    night : BinNight
        Both ends of the night, the crust at its wettest, and what to do.

    Raises
    ------
    BadInput
        If there is no hour, or an outside that no place on earth has.

    Sources
    -------
    [1] See :func:`bedstone.cooling.bin_night.course`. A crust: what hung on the sheet at its most,
        all run into the pellets next to it, a depth of 5 cm under the roof and 2 cm at the wall.
    """
    quiet, brisk = course(warm, outside_c, QUIET), course(warm, outside_c, BRISK)
    activity = activity_at(warm.moisture_wb, warm.pellet_c, warm.isotherm)
    crusts = tuple(
        _crust(warm, where, area_m2, film_kg, crust_c)
        for where, area_m2, film_kg, crust_c in (
            ("under the roof", warm.top_m2, brisk.most_roof_film_kg,
             _mean([row.top_c for row in brisk.hours])),
            ("along the wall", warm.wall_m2, brisk.most_wall_film_kg,
             _mean([row.edge_c for row in brisk.hours])),
        )
        if area_m2 > 0
    )  # fmt: skip
    found = BinNight(
        quiet=quiet,
        brisk=brisk,
        activity_warm_frac=activity,
        crusts=crusts,
        is_hot=warm.pellet_c >= HOT_C,
        advice="",
    )
    return replace(found, advice=_advice(found))


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values)


def _crust(warm: WarmBin, where: str, area_m2: float, film_kg: float, crust_c: float) -> Crust:
    mass_kg = min(area_m2 * CRUSTS_M[where] * warm.bulk_density_kg_m3, warm.mass_kg)
    moisture_wb = (mass_kg * warm.moisture_wb + film_kg) / (mass_kg + film_kg)
    low_c, high_c = min(crust_c, warm.pellet_c), max(crust_c, warm.pellet_c)
    worst_c = min(max(QUICKEST_C, low_c), high_c)
    days = [
        (days_to_mould(activity_at(moisture_wb, one, warm.isotherm), one), one)
        for one in (crust_c, worst_c)
    ]
    soonest, at_c = min(days)
    return Crust(
        where=where,
        moisture_wb=moisture_wb,
        activity_frac=activity_at(moisture_wb, at_c, warm.isotherm),
        mould_days=soonest,
    )


def _advice(found: BinNight) -> str:
    if found.is_hot:
        return HOT_ADVICE
    if found.activity_warm_frac > NO_GROWTH:
        return (
            "Too damp to keep as warm as it lies: hold it, and put it through the cooler again, or "
            "feed it soon after the laboratory has looked at it. " + _sweat(found)
        )
    return _sweat(found)


def _sweat(found: BinNight) -> str:
    worst = min(found.crusts, key=lambda one: one.mould_days)
    if worst.activity_frac > NO_GROWTH and found.sweats:
        surely = "Water will" if found.surely_sweats else "Water may"
        return (
            f"{surely} run down inside tonight, and a damp crust {worst.where} may show mould from "
            f"about day {worst.mould_days:.0f}: run the bin's fan or open its vent, draw it down a "
            "little in the morning, look in from the hatch without going in, and keep the crust "
            "off what ships."
        )
    if found.sweats:
        return (
            "A little water may run down inside, not enough to wet a crust to where mould grows. "
            "Look in from the hatch in the morning, without going in."
        )
    return "Nothing runs down: roof and wall stay warmer than the dew point of the air inside."
