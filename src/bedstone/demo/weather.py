"""Made-up weather of a place with hot summers and cold winters, hour by hour."""

import datetime as dt
import math
import random
from dataclasses import dataclass, field

from bedstone.mill.model import Weather

__all__ = ["OutsideAir", "weather_hours"]


def weather_hours(first: dt.date, *, days: int, zone: dt.tzinfo, seed: int) -> tuple[Weather, ...]:
    """Outside air of each hour of some days in the mill's own time, the same for the same seed."""
    return tuple(
        hour
        for number in range(days)
        for hour in _day(first + dt.timedelta(days=number), zone=zone, seed=seed)
    )


@dataclass
class OutsideAir:
    """The made-up air of any moment, by its hour."""

    zone: dt.tzinfo
    seed: int
    _hours: dict[dt.datetime, Weather] = field(default_factory=dict)

    def at(self, moment: dt.datetime) -> Weather:
        """Outside air of the hour that holds a moment."""
        hour = moment.astimezone(dt.UTC).replace(minute=0, second=0, microsecond=0)
        if hour not in self._hours:
            day = moment.astimezone(self.zone).date()
            rows = weather_hours(day, days=1, zone=self.zone, seed=self.seed)
            self._hours |= {row.hour_at: row for row in rows}
        return self._hours[hour]


def _day(day: dt.date, *, zone: dt.tzinfo, seed: int) -> list[Weather]:
    dice = random.Random(f"weather {seed} {day.isoformat()}")  # noqa: S311  made-up weather
    season = math.cos(2 * math.pi * (day.timetuple().tm_yday - 20) / 365.25)
    mean_c = 11.0 - 13.5 * season + dice.gauss(0, 3.0)
    swing_c = max(2.0, dice.gauss(6.0, 1.5))
    dew_c = mean_c - swing_c + dice.gauss(-0.5, 1.5)
    pressure_pa = 98_900 + dice.gauss(0, 550)
    start = dt.datetime.combine(day, dt.time(0), zone).astimezone(dt.UTC)
    end = dt.datetime.combine(day + dt.timedelta(days=1), dt.time(0), zone).astimezone(dt.UTC)
    hours = []
    at = start
    while at < end:
        hour = at.astimezone(zone).hour
        temperature_c = mean_c - swing_c * math.cos(2 * math.pi * (hour - 4) / 24)
        hours.append(
            Weather(
                hour_at=at,
                temperature_c=round(temperature_c, 1),
                humidity_frac=_humidity(temperature_c, dew_c),
                pressure_pa=float(round(pressure_pa, -1)),
            )
        )
        at += dt.timedelta(hours=1)
    return hours


def _humidity(temperature_c: float, dew_c: float) -> float:
    def vapour(t_c: float) -> float:
        # shape of the Magnus formula, from memory; good enough for made-up weather
        return math.exp(17.6 * t_c / (243.0 + t_c))

    return round(min(1.0, max(0.12, vapour(dew_c) / vapour(temperature_c))), 2)
