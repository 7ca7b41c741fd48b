"""How fast each product may run in the coming hours' air, and the rates that the plan takes."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from bedstone.cooling.limits import HourAir, HourLimit, Limits, ToCool, hourly_limits
from bedstone.cooling.model import AirIn
from bedstone.desk.line_factors import Calibrated, line_factors
from bedstone.desk.line_model import (
    best_rate_kg_s,
    conditioned,
    cooler_of,
    hot_pellets,
    limits_of_product,
    lines_of_product,
    mash_before_steam_c,
    outside_pressure_pa,
    pellet_kind,
    rate_at_hour_kg_s,
    setting_c,
)
from bedstone.desk.merged_rows import weather_by_hour
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import BadInput, Unknown
from bedstone.mill.model import Mill, Rate, Weather
from bedstone.mill.plan import Finding, Verdict
from bedstone.quantities.line_figures import rate_words

__all__ = [
    "CoolerHours",
    "air_of",
    "cooler_hours",
    "hours_known",
    "mill_for_day",
    "products_on",
    "rate_notes",
]

HOUR = dt.timedelta(hours=1)
MOST_HOURS = 24 * 366
STANDARD_PA = 101_325.0
SLOWEST_FRAC = 0.999  # slower than the tables by less than this says nothing


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolerHours:
    """Greatest rates by product, line and hour, in mash as the plan counts it."""

    limits: tuple[HourLimit, ...]
    air: tuple[HourAir, ...]
    factors: Mapping[str, Calibrated]  # by line
    notes: tuple[str, ...]


def air_of(mill: Mill, row: Weather) -> AirIn:
    """The air of an hour; where no pressure was given, that of the mill's height."""
    pressure = row.pressure_pa if row.pressure_pa != STANDARD_PA else outside_pressure_pa(mill)
    return AirIn(
        temperature_c=row.temperature_c,
        relative_humidity_frac=row.humidity_frac,
        pressure_pa=pressure,
    )


def hours_known(
    record: Record, mill: Mill, first: dt.datetime, last: dt.datetime
) -> tuple[HourAir, ...]:
    """Air of the hours from one moment up to another that the record has weather of."""
    by_hour = weather_by_hour(record)
    return tuple(
        HourAir(starts_at=hour, air=air_of(mill, by_hour[hour][-1]))
        for hour in sorted(by_hour)
        if first - HOUR < hour < last
    )


def cooler_hours(
    record: Record,
    *,
    at: dt.datetime,
    hours: int = 48,
    products: Sequence[str] | None = None,
    with_interval: bool = True,
    other_air: Iterable[Weather] | None = None,
) -> CoolerHours:
    """The greatest rate of each product on each of its lines in the coming hours.

    Parameters
    ----------
    record : Record
        The mill's record, with weather by the hour.
    at : datetime
        From the hour that holds this moment.
    hours : int
        So many hours on.
    products : iterable of str, optional
        All that have a row in the pellets table and a line with a cooler, if none are named.
    with_interval : bool
        Also the slow and the quick end of the cooler's factors.
    other_air : iterable of Weather, optional
        Air to reckon with instead of the record's, such as a typical year's.

    Raises
    ------
    BadInput
        If no weather of these hours is on record, or the number of hours cannot be.
    Unknown
        If a product that is named has no pellets or no cooler in the tables.
    """
    if not 1 <= hours <= MOST_HOURS:
        raise BadInput("This many hours cannot be.", seen=str(hours), allowed=f"1 to {MOST_HOURS}")
    mill = current_mill(record)
    air = _hours_of(record, mill, other_air, first=at, last=at + hours * HOUR)
    if not air:
        raise BadInput(
            "No weather of these hours is on record.",
            seen=f"{hours} hours from {at.astimezone(mill.settings.zone):%Y-%m-%d %H:%M}",
            allowed="rows of weather.csv, or a typical-year file",
            do="add hours to weather.csv and run bedstone load",
        )
    factors = {row.line: line_factors(record, row.line) for row in mill.coolers}
    named = _with_coolers(mill) if products is None else _named(mill, products)
    limits = _limits(mill, named, air, factors, with_interval=with_interval)
    notes = [factors[line].said for line in sorted({row.line for row in limits})]
    if len(air) < hours:
        notes.append(f"Weather is on record for {len(air)} of {hours} hours.")
    return CoolerHours(limits=limits, air=air, factors=factors, notes=tuple(notes))


def _hours_of(
    record: Record,
    mill: Mill,
    other: Iterable[Weather] | None,
    *,
    first: dt.datetime,
    last: dt.datetime,
) -> tuple[HourAir, ...]:
    """The record's air of some hours, or the other that is given."""
    if other is None:
        return hours_known(record, mill, first, last)
    return tuple(
        HourAir(starts_at=row.hour_at, air=air_of(mill, row))
        for row in other
        if first - HOUR < row.hour_at < last
    )


def _with_coolers(mill: Mill) -> tuple[str, ...]:
    cooled = {row.line for row in mill.coolers} & {row.line for row in mill.pellet_lines}
    return tuple(
        row.product
        for row in mill.pellets
        if row.product in mill.product_by_code and cooled & set(lines_of_product(mill, row.product))
    )


def _named(mill: Mill, products: Sequence[str]) -> tuple[str, ...]:
    """Products as they were named, each with pellets and a cooler."""
    known = _with_coolers(mill)
    for product in products:
        mill.product(product)
        if product not in known:
            raise Unknown(
                f"{mill.name_of(product)} goes over no cooler of the tables.",
                seen=product,
                allowed=", ".join(known) or "no product: pellets.csv and coolers.csv say nothing",
            )
    return tuple(products)


def products_on(mill: Mill, line: str) -> tuple[str, ...]:
    """Products with pellets in the tables that go over a line with a cooler."""
    return tuple(one for one in _with_coolers(mill) if line in lines_of_product(mill, one))


def _limits(
    mill: Mill,
    products: tuple[str, ...],
    air: tuple[HourAir, ...],
    factors: Mapping[str, Calibrated],
    *,
    with_interval: bool,
) -> tuple[HourLimit, ...]:
    found: list[HourLimit] = []
    for product in products:
        for line in lines_of_product(mill, product):
            if line not in factors:
                continue
            one, share = _to_cool(mill, product, line, air, factors[line])
            limits = limits_of_product(mill, product)
            found += [
                replace(
                    row,
                    rate_kg_s=row.rate_kg_s / share,
                    rate_lo_kg_s=row.rate_lo_kg_s / share,
                    rate_hi_kg_s=row.rate_hi_kg_s / share,
                )
                for row in _kept((one,), air, limits, with_interval)
            ]
    return tuple(found)


@lru_cache(maxsize=256)
def _kept(
    products: tuple[ToCool, ...],
    air: tuple[HourAir, ...],
    limits: Limits,
    with_interval: bool,  # noqa: FBT001 - a key of the cache
) -> tuple[HourLimit, ...]:
    return hourly_limits(products, air, limits, with_interval=with_interval)


def _to_cool(
    mill: Mill, product: str, line: str, air: tuple[HourAir, ...], known: Calibrated
) -> tuple[ToCool, float]:
    """The product at the most its line makes, and hot pellets for each kilogram of mash."""
    rate = best_rate_kg_s(mill, product, line)
    mean_c = sum(hour.air.temperature_c for hour in air) / len(air)
    mash_c = mash_before_steam_c(mill, line, mean_c)
    made = conditioned(
        mill,
        product,
        line,
        rate_kg_s=rate,
        mash_c=mash_c,
        wanted_c=setting_c(mill, product, line, mash_c=mash_c),
    )
    pellet, hot = pellet_kind(mill, product), hot_pellets(mill, product, made)
    coolers = [cooler_of(mill, line, pellet, hour.air, hot, factors=known.factors) for hour in air]
    return (
        ToCool(
            product=product,
            line=line,
            cooler=coolers[0],
            pellet=pellet,
            pellets=hot,
            factors=known.factors,
            air_kg_s=tuple(one.air_kg_s for one in coolers),
        ),
        made.rate_kg_s / rate,
    )


def mill_for_day(record: Record, mill: Mill, day: dt.date) -> Mill:
    """The mill with the rates that the day's air leaves its pellet lines.

    The same value if no hour of the day binds, no weather of it is on record, or no cooler of the
    tables is calibrated. In a night in which an hour comes twice the slower one counts.
    """
    if not (mill.coolers and mill.pellets and mill.pellet_lines):
        return mill
    limits = _of_day(record, mill, day)
    slower: dict[tuple[str, str], dict[int, float]] = {}
    for row in limits:
        hour = row.starts_at.astimezone(mill.settings.zone).hour
        usual = rate_at_hour_kg_s(mill, row.product, row.line, hour)
        if row.rate_kg_s < SLOWEST_FRAC * usual:
            by_hour = slower.setdefault((row.product, row.line), {})
            by_hour[hour] = min(row.rate_kg_s, by_hour.get(hour, usual))
    if not slower:
        return mill
    kept = [row for row in mill.rates if (row.product, row.machine) not in slower]
    made = [
        Rate(
            product=product,
            machine=line,
            start_hour=hour,
            end_hour=hour + 1,
            rate_kg_s=by_hour.get(hour, rate_at_hour_kg_s(mill, product, line, hour)),
        )
        for (product, line), by_hour in slower.items()
        for hour in range(24)
    ]
    return replace(mill, rates=(*kept, *made))


def _of_day(record: Record, mill: Mill, day: dt.date) -> tuple[HourLimit, ...]:
    zone = mill.settings.zone
    first = dt.datetime.combine(day, dt.time(0), zone).astimezone(dt.UTC)
    last = dt.datetime.combine(day + dt.timedelta(days=1), dt.time(0), zone).astimezone(dt.UTC)
    air = tuple(row for row in hours_known(record, mill, first, last) if row.starts_at >= first)
    if not air:
        return ()
    factors = _calibrated(record, mill)
    return _limits(mill, _with_coolers(mill), air, factors, with_interval=False) if factors else ()


def _calibrated(record: Record, mill: Mill) -> dict[str, Calibrated]:
    """Lines of which the readings are trusted: only they slow a plan, the default range is wide."""
    found = {row.line: line_factors(record, row.line) for row in mill.coolers}
    return {line: row for line, row in found.items() if row.is_trusted}


def rate_notes(record: Record, day: dt.date, products: Iterable[str]) -> tuple[Finding, ...]:
    """A word for each product that the day's air slows down, with the hours that are best."""
    mill = current_mill(record)
    slowed = mill_for_day(record, mill, day)
    if slowed is mill:
        return ()
    notes = []
    changed = {(row.product, row.machine) for row in set(slowed.rates) - set(mill.rates)}
    for product, line in sorted(changed):
        if product in set(products):
            notes.append(_note(slowed, product, line, factors=line_factors(record, line)))
    return tuple(notes)


def _note(mill: Mill, product: str, line: str, *, factors: Calibrated) -> Finding:
    by_hour = [rate_at_hour_kg_s(mill, product, line, hour) for hour in range(24)]
    slow, quick = min(by_hour), max(by_hour)
    return Finding(
        code="cooler.rate",
        verdict=Verdict.NOTE,
        about=product,
        text=_note_words(mill, product, line, by_hour),
        value=slow,
        limit=quick,
        unit="kg/s",
        source=f"cooler of {line}; {factors.factors.source}",
        do="the plan keeps to it; a large order that can wait runs quicker in the better hours"
        if quick > 0
        else "make it on another day, or send drier pellets: less steam or liquid, drier grain",
    )


def _note_words(mill: Mill, product: str, line: str, by_hour: Sequence[float]) -> str:
    """The slowest hour and the best, or that there is none."""
    slow, quick = min(by_hour), max(by_hour)
    name, units = mill.name_of(product), mill.settings.units
    if quick <= 0:
        return (
            f"In no hour of this day's air may {line} run {name}: it does not leave it dry enough."
        )
    at = by_hour.index(slow)
    after = next((hour for hour in range(at, 24) if by_hour[hour] >= SLOWEST_FRAC * quick), None)
    slowest = f"at {rate_words(slow, units)}" if slow > 0 else "not at all"
    later = (
        f"from {after:02d}:00 it may run at its best"
        if after is not None
        else "the hours before are better"
    )
    return (
        f"In this day's air {line} may run {name} {slowest} at {at:02d}:00 and at "
        f"{rate_words(quick, units)} at best; {later}."
    )
