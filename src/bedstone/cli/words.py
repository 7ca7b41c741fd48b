"""Numbers as the terminal shows them: masses in the mill's units, money, times in its zone."""

import datetime as dt

from bedstone.mill.equipment import Settings
from bedstone.quantities.masses import shown_mass

__all__ = ["clock_text", "counted", "mass_text", "money_text", "ratio_text"]

MG_IN_KG = 1_000_000
CENTS100_IN_USD = 10_000


def mass_text(mass_mg: int, settings: Settings) -> str:
    """A mass in the mill's own unit, with as many figures as a person can use."""
    return shown_mass(mass_mg, units=settings.units)


def money_text(amount_cents100: int) -> str:
    """Money kept as whole hundredths of a cent, in dollars and cents."""
    sign = "-" if amount_cents100 < 0 else ""
    return f"{sign}${abs(amount_cents100) / CENTS100_IN_USD:,.2f}"


def clock_text(moment_at: dt.datetime, settings: Settings, *, day: dt.date | None = None) -> str:
    """A moment in the mill's own time, HH:MM; with the date if it is not on the day meant."""
    local = moment_at.astimezone(settings.zone)
    if day is not None and local.date() == day:
        return f"{local:%H:%M}"
    return f"{local:%Y-%m-%d %H:%M}"


def counted(number: int, word: str, words: str = "") -> str:
    """How many of something: "1 order", "2 orders", "no orders"."""
    return f"{number or 'no'} {word if number == 1 else words or word + 's'}"


def ratio_text(part_frac: float) -> str:
    """A part as per cent, whole."""
    return f"{100 * part_frac:.0f} %"
