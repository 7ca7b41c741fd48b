"""A cell of a mill's table as a person types it: understood in the mill's way of writing numbers.

What is kept is plain text in the column's own unit, as a file of the mill folder would have it. A
number may have the marks between thousands that people there write, and another unit of the same
kind behind it. What cannot be understood is kept as typed, so that its fault is said at its cell.
"""

from dataclasses import dataclass
from decimal import Decimal

from babel.numbers import format_decimal

from bedstone.mill.columns import Column
from bedstone.mill.equipment import Settings
from bedstone.mill.typed_number import number_and_word, unit_named
from bedstone.quantities.units import plain_text, shortest_text, to_si

__all__ = ["UnderstoodCell", "cell_exact", "cell_glance", "cell_shown", "cell_typed"]

NUMBERS = (int, float)
LONGEST = 60
MOST_PLACES = 6
FIGURES = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class UnderstoodCell:
    """The text that is kept, and what was understood in words; no words where there is no doubt."""

    text: str
    words: str = ""


def cell_typed(text: str, column: Column, settings: Settings) -> UnderstoodCell:
    """What was understood of a typed cell; the text itself where it is no number that is known."""
    stripped = text.strip()
    unit = column.written(settings.units)[1]
    if column.kind not in NUMBERS or not stripped or len(stripped) > LONGEST:
        return UnderstoodCell(text=text.replace("\r\n", "\n").strip())
    number, word = number_and_word(stripped, settings.locale)
    given = unit_named(word, column) if word else unit
    if number is None or (word and given is None):
        return UnderstoodCell(text=stripped)
    said = f"understood as {_written(number, settings.locale)}"
    if given is None or unit is None:
        return UnderstoodCell(text=plain_text(number), words=said)
    if given is unit:
        return UnderstoodCell(text=plain_text(number), words=f"{said} {unit.label}")
    own = shortest_text(float(to_si(number, given)), unit)
    shown = _written(round(Decimal(own), 6), settings.locale)
    return UnderstoodCell(text=own, words=f"{said} {given.label} = {shown} {unit.label}")


def _written(number: Decimal, locale: str) -> str:
    places = max(0, -int(Decimal(plain_text(number)).as_tuple().exponent))
    pattern = "#,##0" + ("." + "0" * places if places else "")
    return format_decimal(number, format=pattern, locale=locale)


def cell_shown(text: str, column: Column, settings: Settings) -> str:
    """A kept cell as people read it: a number with its marks, and no more decimals than help."""
    number = _number_in(text, column)
    return text if number is None else _written(round(number, MOST_PLACES), settings.locale)


def cell_glance(text: str, column: Column, settings: Settings) -> str:
    """A kept cell in a list: five figures say enough, the form of the row has them all."""
    number = _number_in(text, column)
    if number is None:
        return text
    places = min(MOST_PLACES, max(0, FIGURES - 1 - number.adjusted()))
    return _written(round(number, places), settings.locale)


def cell_exact(text: str, column: Column, settings: Settings) -> str:
    """A kept number with its marks and every figure, as a field of a form must hold it."""
    number = _number_in(text, column)
    return text if number is None else _written(number, settings.locale)


def _number_in(text: str, column: Column) -> Decimal | None:
    if column.kind not in NUMBERS or not text:
        return None
    try:
        number = Decimal(text)
    except ArithmeticError:
        return None
    return number if number.is_finite() else None
