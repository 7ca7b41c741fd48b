"""What a night can do to a bin of warm pellets, between the corners of what is usual.

Bounds, not forecasts: how much water the headspace carries to a cold roof hangs on how air turns
over in it, on wind and on the sky, which nobody knows of a given bin and night.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

from bedstone.cooling.after_cooler import (
    HOT_ADVICE,
    HOT_C,
    KEEPS_DAYS,
    NO_GROWTH,
    QUICKEST_C,
    activity_at,
    days_to_mould,
)
from bedstone.cooling.bin_night import CORNERS, Course, HourOfNight, WarmBin, course
from bedstone.cooling.model import Isotherm

__all__ = ["BinNight", "Crust", "HourBounds", "bin_through_the_night"]

CRUSTS_M: Final = {"under the roof": 0.05, "along the wall": 0.02}
"""Depth of pellets that takes up what runs down: common practice, no source."""

Ends = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class HourBounds:
    """A full hour of the night, each figure from its least to its most."""

    outside_c: float
    core_c: Ends
    top_c: Ends
    edge_c: Ends
    dew_point_c: Ends
    roof_c: Ends
    wall_c: Ends
    roof_kg: Ends  # in the hour before
    wall_kg: Ends
    wet: str  # "no", "maybe", "yes": whether water ran down anywhere in the hour before
    mist: str  # the same of mist in the headspace


@dataclass(frozen=True, slots=True, kw_only=True)
class Crust:
    """Pellets that all the water of a sheet has run into, and as warm as mould likes it best between
    their own temperature and that of the pellets behind them; the soonest of all corners.
    ``high_frac`` is by the isotherm that holds the least water, and the days go by it.
    """

    where: str
    moisture_wb: float
    activity_frac: float
    high_frac: float
    mould_days: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BinNight:
    """What the night can do to a bin of pellets, each figure from its least to its most."""

    hours: tuple[HourBounds, ...]
    roof_kg: Ends
    roof_hours: tuple[int, int]
    wall_kg: Ends
    wall_hours: tuple[int, int]
    wandered_kg: Ends
    top_moisture_wb: Ends  # of the layer below the surface, in the end
    edge_moisture_wb: Ends
    activity_warm_frac: float
    crusts: tuple[Crust, ...]
    is_hot: bool
    sweats: bool  # water may run down somewhere
    surely_sweats: bool  # it does so at every corner
    wets: bool  # a crust may get so damp that mould grows, or all of the pellets are so already
    balance_frac: float
    advice: str


def bin_through_the_night(
    warm: WarmBin, outside_c: Sequence[float], others: Sequence[Isotherm] = ()
) -> BinNight:
    """What the coming night can do to pellets that lie warm in a bin.

    Parameters
    ----------
    warm : WarmBin
        Pellets and skin of the bin.
    outside_c : sequence of float
        Air outside at each full hour; one more than there are hours. [degrees C]
    others : sequence of Isotherm
        How the feed may hold water instead, for days to mould.

    Returns
    -------
    night : BinNight
        Every figure between its ends, the crust at its wettest, and what to do.

    Raises
    ------
    BadInput
        If there is no hour, or an outside that no place on earth has.

    Sources
    -------
    [1] See :func:`bedstone.cooling.bin_night.course`. A crust: what hung on the sheet at its most,
        all run into the pellets next to it, a depth of 5 cm under the roof and 2 cm at the wall.
    """
    nights = [course(warm, outside_c, how) for how in CORNERS]
    activity = activity_at(warm.moisture_wb, warm.pellet_c, warm.isotherm)
    crusts = _crusts(warm, nights, (warm.isotherm, *others))
    water_kg = [night.roof_kg + night.wall_kg for night in nights]
    found = BinNight(
        hours=tuple(_hour(rows) for rows in zip(*(night.hours for night in nights), strict=True)),
        roof_kg=_ends(night.roof_kg for night in nights),
        roof_hours=_counts(nights, lambda row: row.roof_kg > 0),
        wall_kg=_ends(night.wall_kg for night in nights),
        wall_hours=_counts(nights, lambda row: row.wall_kg > 0),
        wandered_kg=_ends(night.wandered_kg for night in nights),
        top_moisture_wb=_ends(night.top_moisture_wb for night in nights),
        edge_moisture_wb=_ends(night.edge_moisture_wb for night in nights),
        activity_warm_frac=activity,
        crusts=crusts,
        is_hot=warm.pellet_c >= HOT_C,
        sweats=max(water_kg) > 0,
        surely_sweats=min(water_kg) > 0,
        wets=max(activity, *(one.activity_frac for one in crusts)) > NO_GROWTH,
        balance_frac=max(night.balance_frac for night in nights),
        advice="",
    )
    return replace(found, advice=_advice(found))


def _ends(values: Iterable[float]) -> Ends:
    every = list(values)
    return min(every), max(every)


def _counts(nights: Sequence[Course], test: Callable[[HourOfNight], bool]) -> tuple[int, int]:
    """In how many hours something is so, at least and at most."""
    counts = [sum(map(test, night.hours)) for night in nights]
    return min(counts), max(counts)


def _hour(rows: Sequence[HourOfNight]) -> HourBounds:
    return HourBounds(
        outside_c=rows[0].outside_c,
        core_c=_ends(row.core_c for row in rows),
        top_c=_ends(row.top_c for row in rows),
        edge_c=_ends(row.edge_c for row in rows),
        dew_point_c=_ends(row.dew_point_c for row in rows),
        roof_c=_ends(row.roof_c for row in rows),
        wall_c=_ends(row.wall_c for row in rows),
        roof_kg=_ends(row.roof_kg for row in rows),
        wall_kg=_ends(row.wall_kg for row in rows),
        wet=_said([row.roof_kg + row.wall_kg > 0 for row in rows]),
        mist=_said([row.mist for row in rows]),
    )


def _said(so: Sequence[bool]) -> str:
    if all(so):
        return "yes"
    return "maybe" if any(so) else "no"


def _crusts(
    warm: WarmBin, nights: Sequence[Course], isotherms: Sequence[Isotherm]
) -> tuple[Crust, ...]:
    """Under the roof and, where pellets touch a wall, along it."""
    found = []
    for where, area_m2 in (("under the roof", warm.top_m2), ("along the wall", warm.wall_m2)):
        if area_m2 > 0:
            every = [_crust(warm, where, area_m2, night, isotherms) for night in nights]
            found.append(min(every, key=lambda one: (one.mould_days, -one.moisture_wb)))
    return tuple(found)


def _crust(
    warm: WarmBin, where: str, area_m2: float, night: Course, isotherms: Sequence[Isotherm]
) -> Crust:
    is_roof = where == "under the roof"
    film_kg = night.most_roof_film_kg if is_roof else night.most_wall_film_kg
    own_c = [row.top_c if is_roof else row.edge_c for row in night.hours]
    crust_c = sum(own_c) / len(own_c)
    mass_kg = min(area_m2 * CRUSTS_M[where] * warm.bulk_density_kg_m3, warm.mass_kg)
    moisture_wb = (mass_kg * warm.moisture_wb + film_kg) / (mass_kg + film_kg)
    low_c, high_c = min(crust_c, warm.pellet_c), max(crust_c, warm.pellet_c)
    at_c = (crust_c, min(max(QUICKEST_C, low_c), high_c))
    high = [max(activity_at(moisture_wb, one, held) for held in isotherms) for one in at_c]
    return Crust(
        where=where,
        moisture_wb=moisture_wb,
        activity_frac=max(activity_at(moisture_wb, one, warm.isotherm) for one in at_c),
        high_frac=max(high),
        mould_days=min(map(days_to_mould, high, at_c)),
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
        by_dampest = (
            f"; by the isotherm that holds the least it may be seen from about day "
            f"{worst.mould_days:.0f}"
            if worst.mould_days < KEEPS_DAYS
            else ""
        )
        return (
            "A little water may run down inside, by the isotherm named not enough to wet a crust "
            f"to where mould grows{by_dampest}. Look in from the hatch in the morning, without "
            "going in."
        )
    return "Nothing runs down: roof and wall stay warmer than the dew point of the air inside."
