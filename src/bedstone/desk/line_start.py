"""Beginning and end of a run at the cooler, and what the water it loses is worth."""

import datetime as dt
from dataclasses import dataclass

from bedstone.cooling.start_stop import StartStop, start_and_stop
from bedstone.desk.cooler_mash import AgainstMash, OfMash, against_mash
from bedstone.desk.formula_prices import price_of
from bedstone.desk.line_air import air_of, cooler_hours
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

__all__ = ["RunStart", "mash_usd_per_kg", "of_mash", "rate_in_air", "start_of_run"]

KG_IN_T = 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RunStart:
    """A run's beginning and end at the cooler, and the money that goes with the water."""

    product: str
    line: str
    start: StartStop
    against: AgainstMash | None  # water won or lost on the mash
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
        against=_against(mill, found, at=at),
        bed_mg=round(hot.rate_kg_s * start.fill_s * MG_IN_KG),
    )


def rate_in_air(
    record: Record, product: str, line: str = "", *, at: dt.datetime
) -> tuple[float, float]:
    """The tables' rate of mash, and what the hour's air lets through of it; the tables' where no
    rate does. [kg/s]
    """
    found = settings_for(record, product, line, at=at)
    air = cooler_hours(record, at=at, hours=1, products=(product,), with_interval=False)
    most = next(row.rate_kg_s for row in air.limits if row.line == found.line)
    return found.rate_kg_s, min(found.rate_kg_s, most) if most > 0 else found.rate_kg_s


def of_mash(mill: Mill, found: LineSettings, *, at: dt.datetime) -> OfMash:
    """The mash of a run, with what a kilogram of it costs."""
    return OfMash(
        moisture_wb=found.mash_moisture_wb,
        hot_share=found.conditioned.rate_kg_s / found.rate_kg_s,
        usd_per_kg=mash_usd_per_kg(mill, found.product, at=at),
    )


def _against(mill: Mill, found: LineSettings, *, at: dt.datetime) -> AgainstMash | None:
    if found.leaving is None:
        return None
    dry = found.conditioned.rate_kg_s * (1 - found.conditioned.moisture_wb)
    return against_mash(dry, found.leaving.moisture_wb, of_mash(mill, found, at=at))


def mash_usd_per_kg(mill: Mill, product: str, *, at: dt.datetime) -> float | None:
    """What a kilogram of a product's mash costs; None without a running formula and its prices."""
    day = at.astimezone(mill.settings.zone).date()
    try:
        return price_of(mill, product, on=day).price_usd_t / KG_IN_T
    except NoAnswer:
        return None
