"""How masses, times and money are written on paper, in the mill's units and time."""

import datetime as dt
from decimal import ROUND_HALF_UP, Decimal

from bedstone.mill.model import Mill

__all__ = [
    "clock_words",
    "day_words",
    "money_words",
]

DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


def clock_words(moment: dt.datetime, mill: Mill, *, day: dt.date | None = None) -> str:
    """Time of day in the mill's own time; with the date when it is another day than ``day``."""
    local = moment.astimezone(mill.settings.zone)
    if day is not None and local.date() != day:
        return f"{local.day} {MONTHS[local.month - 1][:3]} {local:%H:%M}"
    return f"{local:%H:%M}"


def day_words(day: dt.date) -> str:
    """A date as people say it, the month in letters so that nobody mixes it up."""
    return f"{DAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]} {day.year}"


def money_words(cents100: int) -> str:
    """Money in dollars and cents."""
    value = (Decimal(cents100) / 10_000).quantize(Decimal("0.01"), rounding=ROUND_HALF_UP)
    return f"${value:,f}" if value >= 0 else f"-${-value:,f}"
