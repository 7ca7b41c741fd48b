"""One cell: text as a person types it to a value, and a value back to text.

Strict on purpose. A number is plain decimal notation with a point; a day is YYYY-MM-DD; a time of
day is HH:MM; a moment is "YYYY-MM-DD HH:MM" in the mill's own time, or with an offset.
"""

import datetime as dt
import math
import re
import unicodedata
from collections.abc import Callable, Iterable
from decimal import Decimal
from difflib import SequenceMatcher, get_close_matches
from zoneinfo import ZoneInfo

from bedstone.errors import BadInput, Fault
from bedstone.mill.columns import Column
from bedstone.quantities.units import Unit, from_si, shortest_text, to_si

__all__ = [
    "CODE",
    "CODE_RULE",
    "SHEET_ERRORS",
    "near_words",
    "quoted",
    "read_cell",
    "read_moment",
    "write_cell",
]

CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,39}")
CODE_RULE = 'a code of at most 40 letters (a to z), figures, "-" and "_", beginning with a letter or a figure'
NUMBER = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)")
WHOLE = re.compile(r"[+-]?[0-9]{1,15}")
DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
CLOCK = re.compile(r"[0-9]{2}:[0-9]{2}(:[0-9]{2}(\.[0-9]{6})?)?")
MOMENT = re.compile(
    r"([0-9]{4}-[0-9]{2}-[0-9]{2})[ T]([0-9]{2}:[0-9]{2}(?::[0-9]{2}(?:\.[0-9]{6})?)?)"
    r"[ ]?(Z|[+-][0-9]{2}:[0-9]{2})?"
)
SHEET_ERRORS: frozenset[str] = frozenset(
    {
        "#REF!",
        "#N/A",
        "#VALUE!",
        "#DIV/0!",
        "#NAME?",
        "#NUM!",
        "#NULL!",
        "#SPILL!",
        "#CALC!",
        "#FIELD!",
        "#BLOCKED!",
        "#GETTING_DATA",
    }
)
"""What a spreadsheet shows in a cell whose formula failed."""
LONGEST_NUMBER = 400
LONG_BOUND, FIGURES_4 = 7, 10_000
LARGEST_NUMBER = 1e12
"""No number of a mill is larger; as kg it still fits into whole milligrams of 64 bits."""


def _bad(found: str, allowed: str, do: str = "") -> BadInput:
    return BadInput(
        "A cell cannot be understood.", faults=(Fault(found=found, allowed=allowed, do=do),)
    )


def near_words(word: str, allowed: Iterable[str]) -> str:
    """Return a question that offers the nearest allowed words, or nothing if none is near."""
    by_fold = {item.casefold(): item for item in allowed}
    folded = word.casefold()
    near = get_close_matches(folded, by_fold, n=3, cutoff=0.6)
    likeness = [SequenceMatcher(a=folded, b=item).ratio() for item in near]
    near = [item for item, like in zip(near, likeness, strict=True) if like > likeness[0] - 0.1]
    if folded in by_fold:
        near = [folded]
    return f"did you mean {' or '.join(by_fold[item] for item in near)}?" if near else ""


def quoted(text: str) -> str:
    """Return text in quotes, short enough to read, with odd characters made visible."""
    shown = text if len(text) <= 60 else text[:57] + "..."  # noqa: PLR2004  a line's worth
    return '"' + "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in shown) + '"'


def read_cell(text: str, *, column: Column, unit: Unit | None, zone: ZoneInfo) -> object:
    """Return the value of a cell, in SI.

    Raises
    ------
    BadInput
        With one fault (found, allowed, do) if the cell is not exactly what the column allows.
    """
    text = text.strip(" ")
    if text in SHEET_ERRORS:
        raise _bad(
            f"the spreadsheet error {text}",
            _allowed_text(column, unit),
            "mend the formula in the spreadsheet and save the sheet again",
        )
    if not text:
        if column.needed:
            raise _bad("an empty cell", _allowed_text(column, unit))
        return column.default
    if column.kind is float:
        return _number(text, column=column, unit=unit)
    if column.kind is dt.datetime:
        return read_moment(text, zone)
    reader = READERS[column.kind]
    return reader(text, column)


def _allowed_text(column: Column, unit: Unit | None) -> str:
    attribute = column.attribute
    if attribute.choices is not None:
        return "one of " + ", ".join(attribute.choices)
    if column.kind in (float, int):
        return _range_text(column, unit)
    words = {
        bool: "yes or no",
        dt.date: "a day as YYYY-MM-DD",
        dt.time: "a time of day as HH:MM",
        dt.datetime: "a moment as YYYY-MM-DD HH:MM",
    }
    return words.get(column.kind, attribute.meaning)


def _range_text(column: Column, unit: Unit | None) -> str:
    attribute = column.attribute
    name = f" {unit.label}" if unit else (f" {attribute.unit}" if attribute.unit else "")
    kind = "a whole number" if column.kind is int else "a number"

    def shown(bound: float) -> str:
        value = bound if unit is None else float(from_si(float(bound), unit))
        text = f"{value:.10g}"
        return f"{value:.4g}" if len(text) > LONG_BOUND and abs(value) < FIGURES_4 else text

    low, high = attribute.low, attribute.high
    more = "above" if attribute.low_open else "at least"
    if low is not None and high is not None:
        first = f"above {shown(low)}" if attribute.low_open else f"from {shown(low)}"
        return f"{kind} {first} to {shown(high)}{name}"
    if low is not None:
        return f"{kind}, {more} {shown(low)}{name}"
    if high is not None:
        return f"{kind}, at most {shown(high)}{name}"
    return f"{kind}{f' in{name}' if name else ''}"


def _number(text: str, *, column: Column, unit: Unit | None) -> float:
    allowed = _range_text(column, unit)
    if not NUMBER.fullmatch(text) or len(text) > LONGEST_NUMBER:
        do = "write the number alone, in plain decimal notation with a point, such as 1250.5"
        if re.search(r"[0-9],[0-9]", text):
            do = "write a point for the decimals and no mark between thousands, such as 1250.5"
        elif re.match(r"[+-]?[0-9.]+ *[A-Za-z%]", text) and not re.fullmatch(
            r"[+-]?[0-9.]+[eE][+-]?[0-9]+", text
        ):
            do = "write the number alone; the unit stands in the name of the column"
        raise _bad(quoted(text), allowed, do)
    exact = to_si(Decimal(text), unit) if unit else None
    try:
        value = float(text) if exact is None else float(exact)
    except OverflowError:
        value = math.inf
    if abs(value) > LARGEST_NUMBER:
        raise _bad(quoted(text), f"{allowed}, and never above 1000000000000")
    _check_range(value, text=text, column=column, allowed=allowed)
    return value


def _check_range(value: float, *, text: str, column: Column, allowed: str) -> None:
    attribute = column.attribute
    low, high = attribute.low, attribute.high
    too_low = low is not None and (value <= low if attribute.low_open else value < low)
    if too_low or (high is not None and value > high):
        raise _bad(text, allowed)


def _whole(text: str, column: Column) -> int:
    allowed = _range_text(column, None)
    if not WHOLE.fullmatch(text):
        raise _bad(quoted(text), allowed)
    value = int(text)
    _check_range(value, text=text, column=column, allowed=allowed)
    return value


def _yes(text: str, _column: Column) -> bool:
    words = {"yes": True, "no": False}
    if text.casefold() not in words:
        raise _bad(quoted(text), "yes or no", near_words(text, words))
    return words[text.casefold()]


def _day(text: str, _column: Column) -> dt.date:
    allowed = "a day as YYYY-MM-DD"
    if not DAY.fullmatch(text):
        raise _bad(quoted(text), allowed, "write the year first, such as 2026-11-25")
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise _bad(quoted(text), "a day that is in the calendar, as YYYY-MM-DD") from None


def _clock(text: str, _column: Column) -> dt.time:
    allowed = "a time of day as HH:MM, from 00:00 to 23:59"
    if not CLOCK.fullmatch(text):
        raise _bad(quoted(text), allowed, "write two figures each, such as 06:30")
    try:
        return dt.time.fromisoformat(text)
    except ValueError:
        raise _bad(quoted(text), allowed) from None


def _text(text: str, column: Column) -> str:
    attribute = column.attribute
    odd = next((c for c in text if unicodedata.category(c) == "Cc" and c != "\n"), None)
    odd = odd or next((c for c in text if unicodedata.category(c) in {"Cs", "Co", "Cn"}), None)
    if odd is not None:
        raise _bad(
            f"the control character U+{ord(odd):04X} in {quoted(text)}",
            "text without control characters",
            "type the cell again",
        )
    if len(text) > attribute.longest:
        raise _bad(f"{len(text)} characters", f"at most {attribute.longest} characters")
    if attribute.choices is not None:
        if text not in attribute.choices:
            raise _bad(
                quoted(text),
                "one of " + ", ".join(attribute.choices),
                near_words(text, attribute.choices),
            )
    elif attribute.code and not CODE.fullmatch(text):
        raise _bad(
            quoted(text),
            CODE_RULE,
        )
    return text


READERS: dict[type, Callable[[str, Column], object]] = {
    int: _whole,
    bool: _yes,
    dt.date: _day,
    dt.time: _clock,
    str: _text,
}


def read_moment(text: str, zone: ZoneInfo) -> dt.datetime:
    """Return a moment in UTC from the mill's own time, or from a time with an offset.

    Raises
    ------
    BadInput
        If the text has another form, or the clock showed that time twice or never because it was
        put forward or back that night.
    """
    allowed = "a moment as YYYY-MM-DD HH:MM in the mill's time, or with an offset such as -06:00"
    match = MOMENT.fullmatch(text.strip(" "))
    if not match:
        raise _bad(quoted(text), allowed, "write such as 2026-11-25 14:30")
    day, clock, offset = match.groups()
    try:
        if offset:
            stamp = dt.datetime.fromisoformat(
                f"{day}T{clock}{'+00:00' if offset == 'Z' else offset}"
            )
            return stamp.astimezone(dt.UTC)
        local = dt.datetime.combine(dt.date.fromisoformat(day), dt.time.fromisoformat(clock), zone)
        times = {local.replace(fold=fold).astimezone(dt.UTC) for fold in (0, 1)}
    except (ValueError, OverflowError):
        raise _bad(quoted(text), "a day and a time that are in the calendar") from None
    real = [at for at in sorted(times) if at.astimezone(zone).replace(fold=0) == local]
    if len(real) == 1:
        return real[0]
    if not real:
        raise _bad(
            quoted(text), f"a time that the clock shows in {zone.key}", "the clock skipped it"
        )
    offsets = " or ".join(_offset_text(at.astimezone(zone)) for at in real)
    raise _bad(
        f"{quoted(text)}, which the clock in {zone.key} shows twice that night",
        f"the same with its offset, {offsets}",
        f"write such as {text} {_offset_text(real[0].astimezone(zone))}",
    )


def _offset_text(local: dt.datetime) -> str:
    return local.isoformat(timespec="minutes")[len("2026-01-01T00:00") :]


def write_cell(value: object, *, unit: Unit | None, zone: ZoneInfo) -> str:
    """Return the text that :func:`read_cell` reads back as exactly this value."""
    if value is None:
        return ""
    if isinstance(value, float):
        return shortest_text(value, unit or BARE)
    if isinstance(value, dt.datetime):
        return _moment_text(value, zone)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dt.time):
        return (
            value.isoformat() if value.second or value.microsecond else value.isoformat("minutes")
        )
    return value.isoformat() if isinstance(value, dt.date) else _without_control(str(value))


def _without_control(text: str) -> str:
    """Return text whose line ends are plain and whose other control characters are spaces."""
    if text.isprintable():
        return text
    lines = text.replace("\r\n", "\n").replace("\r", "\n")
    return "".join(" " if unicodedata.category(c) == "Cc" and c != "\n" else c for c in lines)


def _moment_text(value: dt.datetime, zone: ZoneInfo) -> str:
    local = value.astimezone(zone)
    text = _without_seconds(local)
    try:
        if read_moment(text, zone) == value:
            return text
    except BadInput:
        offset = _offset_text(local)  # the clock shows it twice: the offset says which
        if len(offset) == len("-06:00"):
            return text + offset
    return _without_seconds(value.astimezone(dt.UTC)) + "Z"


def _without_seconds(stamp: dt.datetime) -> str:
    text = stamp.replace(tzinfo=None).isoformat(" ")
    return text.removesuffix(":00") if len(text) == len("2026-01-01 00:00:00") else text


BARE = Unit(suffix="", label="")
