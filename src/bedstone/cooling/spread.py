"""How far what leaves a cooler may lie from the middle, by the interval of its factors."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import product as every_pair

from bedstone.cooling.cooler import cool
from bedstone.cooling.model import AirIn, Cooler, Factors, Leaving, PelletKind, PelletsIn

__all__ = ["Spread", "spread_of"]

Ends = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Low and high end of each figure of what leaves."""

    pellet_c: Ends
    moisture_wb: Ends
    water_activity_frac: Ends
    above_ambient_dk: Ends
    air_c: Ends
    air_humidity_frac: Ends
    lost_frac: Ends
    water_lost_kg_s: Ends
    duct_may_drip: bool
    duct_surely_drips: bool
    duct_drips_in_wind: bool  # at the middle


def spread_of(
    cooler: Cooler, pellet: PelletKind, pellets: PelletsIn, air: AirIn, factors: Factors
) -> Spread:
    """What leaves at the middle and at the four corners of the factors, from low to high.

    Parameters
    ----------
    cooler, pellet, pellets, air
        As :func:`bedstone.cooling.cooler.cool` takes them.
    factors : Factors
        With their intervals. That both lie at an end at once is rarer than one in ten: the ends
        are on the safe side.

    Returns
    -------
    spread : Spread
        Ends of each figure.

    Raises
    ------
    BadInput, NotSettled
        As :func:`bedstone.cooling.cooler.cool` does.
    """
    corners = every_pair(
        (factors.heat_lo, factors.heat_hi), (factors.moisture_lo, factors.moisture_hi)
    )
    tried = ((factors.heat, factors.moisture), *corners)
    found = [
        cool(cooler, pellet, pellets, air, replace(factors, heat=heat, moisture=moisture))[0]
        for heat, moisture in tried
    ]

    def ends(figure: Callable[[Leaving], float]) -> Ends:
        values = [figure(one) for one in found]
        return min(values), max(values)

    return Spread(
        pellet_c=ends(lambda one: one.pellet_c),
        moisture_wb=ends(lambda one: one.moisture_wb),
        water_activity_frac=ends(lambda one: one.water_activity_frac),
        above_ambient_dk=ends(lambda one: one.above_ambient_dk),
        air_c=ends(lambda one: one.air_c),
        air_humidity_frac=ends(lambda one: one.air_humidity_frac),
        lost_frac=ends(lambda one: one.lost_frac),
        water_lost_kg_s=ends(lambda one: one.water_lost_kg_s),
        duct_may_drip=any(one.wet_duct for one in found),
        duct_surely_drips=all(one.wet_duct for one in found),
        duct_drips_in_wind=found[0].wet_in_wind,
    )
