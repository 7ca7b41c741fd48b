"""What people type into forms, understood in the mill's units or refused with what is allowed."""

import datetime as dt
from decimal import Decimal

from babel.numbers import NumberFormatError, parse_decimal

from bedstone.errors import BadInput
from bedstone.ledger.model import Reading
from bedstone.quantities.masses import UnderstoodMass, mass_typed
from bedstone.quantities.units import plain_text
from bedstone.web.show import Show

__all__ = ["reading_of", "sane_day", "sane_moment", "typed_count", "typed_mass", "typed_moment"]

LARGEST_COUNT = 10**9
DIGITS = frozenset("0123456789,")
NONE = Decimal(-1)
FIRST_YEAR, LAST_YEAR = 1990, 2190


def typed_mass(text: str, show: Show) -> UnderstoodMass:
    """The mass that a person means; without a unit it is in the mill's own.

    Raises
    ------
    BadInput
        If it cannot be understood without doubt, or is below nothing.
    """
    return mass_typed(text, units=show.units)


def reading_of(typed: UnderstoodMass, division: str = "") -> Reading:
    """A typed mass as a reading of an instrument, as the record keeps it."""
    return Reading(number=plain_text(typed.number), unit=typed.unit.suffix, division=division)


def typed_count(text: str, *, what: str) -> int:
    """The whole number that a person means.

    Raises
    ------
    BadInput
        If it is no whole number of nought or more.
    """
    try:
        plain = bool(text.strip()) and set(text.strip()) <= DIGITS
        number = parse_decimal(text.strip(), locale="en_US", strict=True) if plain else NONE
    except NumberFormatError:
        number = NONE
    if not 0 <= number <= LARGEST_COUNT:
        raise BadInput(
            f"The {what} is no whole number.", seen=repr(text[:40]), allowed="0, 1, 2 ..."
        )
    return int(number)


def typed_moment(text: str, show: Show, *, what: str) -> dt.datetime:
    """The moment that a form's field means, in the mill's time, as UTC.

    Raises
    ------
    BadInput
        If it is no date with a time, or lies outside the years a mill can mean.
    """
    try:
        found = dt.datetime.fromisoformat(text.strip())
    except ValueError:
        raise BadInput(
            f"The {what} is no date with a time.",
            seen=repr(text[:40]),
            allowed="2026-11-25T16:00",
        ) from None
    return sane_moment(found, show, what=what)


def sane_moment(moment_at: dt.datetime, show: Show, *, what: str) -> dt.datetime:
    """A moment as UTC; without an offset it is in the mill's time.

    Raises
    ------
    BadInput
        If it lies outside the years a mill can mean.
    """
    sane_day(moment_at.date(), what=what)
    if moment_at.tzinfo is None:
        moment_at = moment_at.replace(tzinfo=show.zone)
    return moment_at.astimezone(dt.UTC)


def sane_day(day: dt.date, *, what: str) -> dt.date:
    """A day, if it lies in the years a mill can mean.

    Raises
    ------
    BadInput
        If it does not.
    """
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise BadInput(
            f"The {what} lies too far away.",
            seen=day.isoformat(),
            allowed=f"the years {FIRST_YEAR} to {LAST_YEAR}",
        )
    return day
