"""What people type into forms, understood in the mill's units or refused with what is allowed."""

import datetime as dt
from decimal import Decimal

from babel.numbers import NumberFormatError, parse_decimal

from bedstone.errors import BadInput
from bedstone.ledger.model import Reading
from bedstone.quantities.masses import UnderstoodMass, mass_typed
from bedstone.quantities.units import plain_text
from bedstone.web.show import Show

__all__ = ["reading_of", "typed_count", "typed_mass", "typed_moment"]

LARGEST_COUNT = 10**9


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
        number = parse_decimal(text.strip(), locale="en_US", strict=True)
    except NumberFormatError:
        number = Decimal(-1)
    if number < 0 or number != number.to_integral_value() or number > LARGEST_COUNT:
        raise BadInput(f"The {what} is no whole number.", seen=repr(text), allowed="0, 1, 2 ...")
    return int(number)


def typed_moment(text: str, show: Show, *, what: str) -> dt.datetime:
    """The moment that a form's field means, in the mill's time, as UTC.

    Raises
    ------
    BadInput
        If it is no date with a time.
    """
    try:
        found = dt.datetime.fromisoformat(text.strip())
    except ValueError:
        raise BadInput(
            f"The {what} is no date with a time.", seen=repr(text), allowed="2026-11-25T16:00"
        ) from None
    if found.tzinfo is None:
        found = found.replace(tzinfo=show.zone)
    return found.astimezone(dt.UTC)
