"""Beginning and end of a run at the cooler, and what the water it loses is worth."""

import datetime as dt
from dataclasses import dataclass

from bedstone.cooling.start_stop import StartStop, start_and_stop
from bedstone.desk.formula_prices import price_of
from bedstone.desk.line_air import air_of
from bedstone.desk.line_model import (
    cooler_of,
    cooler_row,
    hot_pellets,
    limits_of_product,
    pellet_kind,
)
from bedstone.desk.line_settings import LineSettings, settings_for
from bedstone.desk.merged_rows import MG_IN_KG, weather_by_hour
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import BadInput, NoAnswer
from bedstone.mill.model import Mill

__all__ = ["RunStart", "mash_usd_per_kg", "start_of_run"]

KG_IN_T, HOUR_S = 1000.0, 3600


@dataclass(frozen=True, slots=True, kw_only=True)
class RunStart:
    """A run's beginning and end at the cooler, and the money that goes with the water."""

    product: str
    line: str
    start: StartStop
    lost_usd_per_h: float | None  # None where the product has no running formula
    bed_mg: int  # of pellets that fill the cooler


def start_of_run(
    record: Record,
    product: str,
    line: str = "",
    *,
    at: dt.datetime,
    rate_kg_s: float | None = None,
) -> RunStart:
    """How a run of a product begins and ends at the cooler of a line in the air of a moment.

    Parameters
    ----------
    record : Record
        The mill's record, with the weather of the hour.
    product, line : str
        The line may be left out where the product has one.
    at : datetime
        When it begins.
    rate_kg_s : float, optional
        Of mash, other than the tables have. [kg/s]

    Raises
    ------
    BadInput
        If the line is none of the product's, or there is no weather of the hour.
    Unknown
        If product, pellets, conditioner or cooler are not in the tables.
    """
    mill = current_mill(record)
    found = settings_for(record, product, line, at=at, rate_kg_s=rate_kg_s)
    cooler_row(mill, found.line)
    hour = at.replace(minute=0, second=0, microsecond=0)
    known = weather_by_hour(record).get(hour)
    if known is None:
        raise BadInput(
            "No weather of this hour is on record.",
            seen=f"{hour.astimezone(mill.settings.zone):%Y-%m-%d %H:%M}",
            allowed="a row of weather.csv for it",
            do="add it to weather.csv and run bedstone load",
        )
    air, pellet = air_of(mill, known[-1]), pellet_kind(mill, product)
    hot = hot_pellets(mill, product, found.conditioned)
    start = start_and_stop(
        cooler_of(mill, found.line, pellet, air, hot, factors=found.factors.factors),
        pellet,
        hot,
        air,
        limits=limits_of_product(mill, product),
        factors=found.factors.factors,
    )
    return RunStart(
        product=product,
        line=found.line,
        start=start,
        lost_usd_per_h=_lost_usd_per_h(mill, found, at=at),
        bed_mg=round(hot.rate_kg_s * start.fill_s * MG_IN_KG),
    )


def _lost_usd_per_h(mill: Mill, found: LineSettings, *, at: dt.datetime) -> float | None:
    """The mass that the air takes at the cost of the mash: left in, it would be sold as feed."""
    usd_per_kg = mash_usd_per_kg(mill, found.product, at=at)
    if found.leaving is None or usd_per_kg is None:
        return None
    return found.leaving.water_lost_kg_s * HOUR_S * usd_per_kg


def mash_usd_per_kg(mill: Mill, product: str, *, at: dt.datetime) -> float | None:
    """What a kilogram of a product's mash costs; None without a running formula and its prices."""
    day = at.astimezone(mill.settings.zone).date()
    try:
        return price_of(mill, product, on=day).price_usd_t / KG_IN_T
    except NoAnswer:
        return None
