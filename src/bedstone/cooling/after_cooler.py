"""Pellets after the cooler: what air they hold over themselves as they cool, and days to mould."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from bedstone.cooling.model import Isotherm
from bedstone.materials.sorption import water_activity
from bedstone.quantities.moisture import dry_basis

__all__ = [
    "HOT_ADVICE",
    "HOT_C",
    "KEEPS_DAYS",
    "NO_GROWTH",
    "QUICKEST_C",
    "Activity",
    "activity_as_it_cools",
    "activity_at",
    "days_to_mould",
    "mould_words",
]

HOT_C: Final = 55.0
"""A bin that reads so hot heats itself: common practice, no source."""
NO_GROWTH: Final = 0.65
"""Up to this humidity feed is taken as safe; the first moulds grow from about 0.61 to 0.70, as
sources differ (extension sheets on grain storage; University of Guelph)."""
KEEPS_DAYS: Final = 365.0
TOO_HOT_C: Final = 50.0
"""No days to mould are said from here on: heat spoils feed before mould does (common practice, no
source)."""
QUICKEST_C: Final = 28.0
HOT_ADVICE: Final = (
    "Hot: it may be heating by itself, and can char and burn. Do not climb in, nor lean in: the air "
    "may lack oxygen or hold carbon monoxide, and a crust may not carry. Do not open it wide and do "
    "not blow air in. Stop what feeds it, keep people away, call the fire service if it smokes or "
    "smells burnt, and empty it only as they and the local code say."
)


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


def mould_words(days: float, activity_frac: float, temperature_c: float | None = None) -> str:
    """When mould may be seen, in words that promise nothing; no full stop at their end.

    Parameters
    ----------
    days : float
        As :func:`days_to_mould` has them.
    activity_frac : float
        Water activity of the feed. [0 to 1]
    temperature_c : float, optional
        Of the feed, where it stays so warm. [degrees C]
    """
    if temperature_c is not None and temperature_c >= TOO_HOT_C:
        return "too hot for mould: it spoils by heat"
    if activity_frac <= NO_GROWTH:
        return f"none expected below {NO_GROWTH:.2f}"
    if days >= KEEPS_DAYS:
        return "none expected for months"
    return f"from about day {days:.0f}"


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
