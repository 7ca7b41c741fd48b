"""Rows of a customer's list of orders to orders of ours, by a mapping, with every fault."""

import datetime as dt
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final
from zoneinfo import ZoneInfo

from bedstone.errors import BadInput, Fault
from bedstone.mill.cells import near_words, quoted, read_moment
from bedstone.mill.model import Mill, Order
from bedstone.mill.order_mapping import OUR_COLUMNS, Mapped, TheirFile, TheirRow
from bedstone.quantities.units import DIMENSIONS, to_si

__all__ = ["Given", "mapping_faults", "order_from", "their_columns", "unread_columns"]

MAPPINGS_FILE: Final = "order_mappings.toml"
PLACE: Final = re.compile(r"\{([^{}]*)\}")
UNITS: Final = DIMENSIONS["kg"].units
NUMBERS: Final = {
    "point": re.compile(r"([0-9]{1,3}(?:,[0-9]{3})+|[0-9]+)(?:\.([0-9]+))?"),
    "comma": re.compile(r"([0-9]{1,3}(?:\.[0-9]{3})+|[0-9]+)(?:,([0-9]+))?"),
}
SHOWN: Final = {"point": "a number such as 1250.5 or 1,250.5", "comma": "a number such as 1250,5"}
DATE_PARTS: Final = {
    "YYYY": r"(?P<year>\d{4})",
    "YY": r"(?P<short>\d{2})",
    "MM": r"(?P<month>\d{1,2})",
    "DD": r"(?P<day>\d{1,2})",
    "hh": r"(?P<hour>\d{1,2})",
    "mm": r"(?P<minute>\d{2})",
    "am": r"(?P<half>[AaPp])\.?[Mm]\.?",
}
ISO: Final = re.compile(
    r"(?P<year>\d{4})-(?P<month>\d{2})-(?P<day>\d{2})"
    r"([ T](?P<hour>\d{2}):(?P<minute>\d{2})(:\d{2}(\.\d+)?)?)?"
)
NOON_H: Final = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """What a row gives for one of our columns: the text, and where it stands with them."""

    text: str
    column: str


def their_columns(text: str) -> tuple[str, ...]:
    """Return the names of their columns that stand in a text of a mapping.

    >>> their_columns("LF-{Ref}/{Line}")
    ('Ref', 'Line')
    """
    return tuple(name.strip() for name in PLACE.findall(text))


def mapping_faults(file: TheirFile, by: Mapped) -> list[Fault]:
    """Return what a mapping asks of a file and the file has not, or cannot be understood."""
    faults = []
    for ours in OUR_COLUMNS:
        text = getattr(by.to, ours)
        if re.search(r"[{}]", PLACE.sub("", text)):
            faults.append(_of_mapping(by, ours, quoted(text), "{ and } in pairs about a name"))
        faults += [
            _of_mapping(
                by,
                ours,
                f"their column {quoted(name)}, which {file.name} has not",
                ", ".join(file.columns),
                near_words(name, file.columns),
            )
            for name in their_columns(text)
            if name not in file.columns
        ]
    if date_pattern(by.to.dates) is None:
        allowed = "YYYY or YY, MM and DD, and hh:mm if they give a time, once each"
        faults.append(_of_mapping(by, "dates", quoted(by.to.dates), allowed))
    if by.to.due_time and _clock(by.to.due_time) is None:
        faults.append(_of_mapping(by, "due_time", quoted(by.to.due_time), "a time as HH:MM"))
    return faults


def _of_mapping(by: Mapped, ours: str, found: str, allowed: str, do: str = "") -> Fault:
    return Fault(
        file=MAPPINGS_FILE, column=f"{by.name}.{ours}", found=found, allowed=allowed, do=do
    )


def unread_columns(faults: Iterable[Fault]) -> frozenset[str]:
    """Return our columns that cannot be read from any row, by the faults of a mapping."""
    named = {(fault.column or "").rpartition(".")[2] for fault in faults}
    because = {"dates": {"due", "entered"}, "due_time": {"due"}, "product": {"mass"}}
    return frozenset(named.union(*(because.get(name, set()) for name in named)))


def date_pattern(words: str) -> re.Pattern[str] | None:
    """Return the pattern of a way of writing days; None if it is none."""
    parts = re.split(r"(YYYY|YY|MM|DD|hh|mm|am)", words.strip())
    named = [part for part in parts if part in DATE_PARTS]
    wanted = {"MM", "DD"} | ({"YYYY"} if "YYYY" in named else {"YY"})
    if len(set(named)) != len(named) or not wanted.issubset(named):
        return None
    if {"YYYY", "YY"}.issubset(named) or ("hh" in named) != ("mm" in named):
        return None
    return re.compile("".join(DATE_PARTS.get(part, re.escape(part)) for part in parts))


def order_from(
    row: TheirRow,
    by: Mapped,
    mill: Mill,
    *,
    entered_at: Callable[[str], dt.datetime],
    unread: frozenset[str] = frozenset(),
) -> tuple[Order | None, Mapping[str, Given], list[Fault]]:
    """Return the order that a row stands for, what was given for it, and what is wrong with it.

    ``entered_at`` says when an order by its number came in, where the mapping does not. Nothing
    is said against columns that are ``unread`` because the mapping itself is at fault.
    """
    faults: list[Fault] = []
    given = {ours: _given(row, getattr(by.to, ours)) for ours in OUR_COLUMNS}

    def bad(ours: str, found: str, allowed: str, do: str = "") -> None:
        if ours in unread:
            return
        column = given[ours].column
        faults.append(Fault(row=row.line, column=column, found=found, allowed=allowed, do=do))

    texts = {ours: _our_word(by, ours, given[ours].text) for ours in OUR_COLUMNS}
    number = re.sub(r"[^\w-]+", "-", texts["order"]).strip("-")
    if not all(row.cells.get(name) for name in their_columns(by.to.order)) or not number:
        bad("order", "an empty cell", "the number of the order")
    mass_kg = _mass_kg(texts, by, mill, bad)
    due_at = _moment(texts["due"], by, mill.settings.zone, ours="due", bad=bad)
    came_at = (
        _moment(texts["entered"], by, mill.settings.zone, ours="entered", bad=bad)
        if by.to.entered
        else entered_at(number)
    )
    if faults or mass_kg is None or due_at is None or came_at is None:
        return None, given, faults
    order = Order(
        order=number,
        customer=texts["customer"],
        product=texts["product"],
        mass_kg=mass_kg,
        pack=texts["pack"],
        entered_at=came_at,
        due_at=due_at,
        note=texts["note"],
    )
    return order, given, faults


def _given(row: TheirRow, text: str) -> Given:
    names = their_columns(text)
    filled = PLACE.sub(lambda found: row.cells.get(found[1].strip(), "").strip(), text)
    return Given(text=filled.strip(), column=", ".join(names) or f"the text {quoted(text)}")


def _our_word(by: Mapped, ours: str, text: str) -> str:
    words = {theirs.casefold(): our for theirs, our in by.words.get(ours, {}).items()}
    return words.get(text.casefold(), text)


Bad = Callable[..., None]


def _mass_kg(texts: Mapping[str, str], by: Mapped, mill: Mill, bad: Bad) -> float | None:
    """Return the mass of an order from a number with its unit."""
    parts = re.fullmatch(r"([0-9][0-9.,]*)\s*(\D*)", texts["mass"])
    number = NUMBERS[by.to.decimal].fullmatch(parts[1]) if parts else None
    if parts is None or number is None:
        bad("mass", quoted(texts["mass"]), SHOWN[by.to.decimal])
        return None
    amount = Decimal(re.sub(r"[.,]", "", number[1]) + "." + (number[2] or "0"))
    behind = _our_word(by, "unit", parts[2].strip())
    name = behind or texts["unit"]
    if behind and texts["unit"] and behind != texts["unit"]:
        bad("mass", f"{quoted(behind)} behind the number", f"{texts['unit']} as the unit says")
        return None
    if name == "bags":
        product = mill.product_by_code.get(texts["product"])
        if product is None or product.pack_kg is None:
            bad("mass", f"bags of {texts['product']}", "bags of a product of the mill that has one")
            return None
        return float(amount * Decimal(repr(product.pack_kg)))
    if name not in UNITS:
        allowed = ", ".join([*UNITS, "bags"])
        bad("unit" if not behind else "mass", f"the unit {quoted(name)}", allowed,
            "give their word for it in the mapping")  # fmt: skip
        return None
    return float(to_si(amount, UNITS[name]))


def _moment(text: str, by: Mapped, zone: ZoneInfo, *, ours: str, bad: Bad) -> dt.datetime | None:
    """Return a moment as they write it, in the mill's time."""
    pattern = date_pattern(by.to.dates)
    found = ISO.fullmatch(text) or (pattern.fullmatch(text) if pattern else None)
    if found is None:
        bad(ours, quoted(text), f"a day as {by.to.dates}")
        return None
    part = found.groupdict()
    year = part.get("year") or f"20{part.get('short')}"
    try:
        day = dt.date(int(year), int(part["month"]), int(part["day"]))
    except ValueError:
        bad(ours, quoted(text), f"a day that is in the calendar, as {by.to.dates}")
        return None
    try:
        clock = _time_of_day(part, by.to.due_time if ours == "due" else "00:00")
        return read_moment(f"{day.isoformat()} {clock.isoformat('minutes')}", zone)
    except BadInput as error:
        bad(ours, quoted(text), error.faults[0].allowed)
    except ValueError as error:
        bad(ours, quoted(text), str(error))
    return None


def _time_of_day(part: Mapping[str, str | None], otherwise: str) -> dt.time:
    """Return the time of day that was written.

    Raises
    ------
    ValueError
        With what is allowed, if there is none or none such.
    """
    hour, half = part.get("hour"), part.get("half")
    if hour is None:
        clock = _clock(otherwise)
        if clock is None:
            raise ValueError("a day with its time HH:MM, or due_time in the mapping")
        return clock
    number = int(hour)
    if half and not 1 <= number <= NOON_H:
        raise ValueError("an hour HH from 1 to 12 before am or pm")
    if half:
        number = number % NOON_H + (NOON_H if half.lower() == "p" else 0)
    found = _clock(f"{number:02}:{part['minute']}")
    if found is None:
        raise ValueError("a time of day HH:MM from 00:00 to 23:59")
    return found


def _clock(text: str) -> dt.time | None:
    if not re.fullmatch(r"[0-2][0-9]:[0-5][0-9]", text):
        return None
    try:
        return dt.time.fromisoformat(text)
    except ValueError:
        return None
