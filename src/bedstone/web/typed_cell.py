"""A cell of a mill's table as a person types it: understood in the mill's way of writing numbers.

What is kept is plain text in the column's own unit, as a file of the mill folder would have it. A
number may have the marks between thousands that people there write, and another unit of the same
kind behind it. What cannot be understood is kept as typed, so that its fault is said at its cell.
"""

import re
from dataclasses import dataclass
from decimal import Decimal

from babel.numbers import NumberFormatError, format_decimal, parse_decimal

from bedstone.mill.columns import Column
from bedstone.mill.equipment import Settings
from bedstone.quantities.masses import UNIT_WORDS
from bedstone.quantities.units import Unit, plain_text, shortest_text, to_si

__all__ = ["UnderstoodCell", "cell_exact", "cell_shown", "cell_typed"]

TYPED = re.compile(r"\s*([+-]?[0-9][0-9.,'\u2019\u00a0\u202f ]*|[+-]?[.,][0-9]+)(.*)", re.DOTALL)
NUMBERS = (int, float)
LONGEST = 60
MOST_PLACES = 6


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
    number, word = _number_and_word(stripped, settings.locale)
    given = _unit_named(word, column) if word else unit
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


def _number_and_word(text: str, locale: str) -> tuple[Decimal | None, str]:
    match = TYPED.fullmatch(text)
    if match is None:
        return None, ""
    try:
        number = parse_decimal(match[1].strip(), locale=locale, strict=True)
    except NumberFormatError:
        return None, ""
    return number, " ".join(match[2].split()).rstrip(".")


def _unit_named(word: str, column: Column) -> Unit | None:
    """The unit of the column's kind that a word names, by its short name or its label."""
    if column.dimension is None:
        return None
    units = column.dimension.units
    folded = word.casefold()
    if column.dimension.si_suffix == "kg" and folded in UNIT_WORDS:
        return units[UNIT_WORDS[folded]]
    for suffix, unit in units.items():
        if folded in (
            suffix.casefold(),
            suffix.replace("_", "/").casefold(),
            unit.label.casefold(),
        ):
            return unit
    return None


def _written(number: Decimal, locale: str) -> str:
    places = max(0, -int(Decimal(plain_text(number)).as_tuple().exponent))
    pattern = "#,##0" + ("." + "0" * places if places else "")
    return format_decimal(number, format=pattern, locale=locale)


def cell_shown(text: str, column: Column, settings: Settings) -> str:
    """A kept cell as people read it: a number with its marks, and no more decimals than help."""
    number = _number_in(text, column)
    return text if number is None else _written(round(number, MOST_PLACES), settings.locale)


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
