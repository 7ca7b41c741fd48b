"""``mill.toml``: read with every fault and its line, and written with its comments."""

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

from bedstone.errors import BadInput, Fault
from bedstone.mill.cells import near_words, quoted, read_cell
from bedstone.mill.columns import Column, columns_of
from bedstone.mill.equipment import Settings
from bedstone.mill.folder import RecordPlace
from bedstone.quantities.units import Unit, shortest_text
from bedstone.store.folder_text import text_of

__all__ = [
    "SECTIONS",
    "SETTINGS_FILE",
    "SettingsRead",
    "lines_of",
    "not_toml",
    "read_settings",
    "record_address",
    "section_values",
    "settings_text",
]

SETTINGS_FILE = "mill.toml"
SECTIONS: dict[str, type] = {"record": RecordPlace}
ANY_ZONE = ZoneInfo("UTC")
LINES = 'lines such as name = "Our Mill"'
UNKNOWN_KEY = "an unknown key"


@dataclass(slots=True, kw_only=True)
class SettingsRead:
    """What ``mill.toml`` says; ``settings`` is None when something in it is wrong."""

    settings: Settings | None = None
    record_place: RecordPlace = field(default_factory=RecordPlace)
    zone: ZoneInfo = ANY_ZONE
    lines: dict[str, int] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)


def read_settings(data: bytes) -> SettingsRead:
    """Return what ``mill.toml`` says, with every fault."""
    read = SettingsRead()
    text = text_of(data, file=SETTINGS_FILE, holds=LINES, do="save it as UTF-8 text")
    if isinstance(text, Fault):
        read.faults.append(text)
        return read
    try:
        content = tomllib.loads(text, parse_float=Decimal)
    except (ValueError, RecursionError) as error:
        read.faults.append(not_toml(text, error))
        return read
    lines = lines_of(text)
    read.lines = {key.removeprefix("."): line for key, line in lines.items()}
    top = {key: value for key, value in content.items() if key not in SECTIONS}
    values = section_values(top, section="", row_type=Settings, lines=lines, faults=read.faults)
    read.zone = _zone(values, lines=lines, faults=read.faults)
    _check_locale(values, lines=lines, faults=read.faults)
    parts = {name: _named_section(name, content, lines, read.faults) for name in SECTIONS}
    if not read.faults:
        read.settings = Settings(**values)
    read.record_place = RecordPlace(**(parts["record"] or {}))
    return read


def record_address(data: bytes) -> str:
    """Return where ``mill.toml`` says that the record lies; nothing for the folder itself.

    Raises
    ------
    BadInput
        If that cannot be known for certain: the file cannot be read, the section ``[record]`` has
        a fault, or a key is unknown and may be a misspelt one. Other faults do not matter here.
    """
    read = read_settings(data)
    doubts = tuple(
        fault
        for fault in read.faults
        if not fault.column
        or fault.column.split(".")[0] == "record"
        or fault.found.startswith(UNKNOWN_KEY)
    )
    if doubts:
        raise BadInput(
            f"{SETTINGS_FILE} does not say clearly where the record lies; nothing was opened.",
            do="mend the file",
            faults=doubts,
        )
    return read.record_place.address


def not_toml(text: str, error: Exception, *, file: str = SETTINGS_FILE) -> Fault:
    """Return the fault of a text that is no TOML."""
    line = re.search(r"at line (\d+)", str(error))
    return Fault(
        file=file,
        row=int(line[1]) if line else len(text.splitlines()),
        found=f"text that is not TOML ({error})",
        allowed=LINES,
        do="put quotation marks about texts",
    )


def lines_of(text: str) -> dict[str, int]:
    """Return the line of each key ("section.key") and of each section."""
    lines: dict[str, int] = {}
    section = ""
    for number, line in enumerate(text.splitlines(), start=1):
        if head := re.match(r"\s*\[+\s*([A-Za-z0-9_-]+)", line):
            section = head[1]
            lines.setdefault(section, number)
        elif key := re.match(r"""\s*["']?([A-Za-z0-9_-]+)["']?\s*=""", line):
            lines.setdefault(f"{section}.{key[1]}", number)
    return lines


def _named_section(
    name: str, content: Mapping[str, Any], lines: Mapping[str, int], faults: list[Fault]
) -> dict[str, Any] | None:
    part = content.get(name)
    if part is None:
        return None
    if not isinstance(part, dict):
        faults.append(
            Fault(
                file=SETTINGS_FILE,
                row=lines.get(f".{name}"),
                column=name,
                found=_shown(part),
                allowed=f"a section headed [{name}]",
            )
        )
        return None
    return section_values(part, section=name, row_type=SECTIONS[name], lines=lines, faults=faults)


def section_values(
    content: Mapping[str, Any],
    *,
    section: str,
    row_type: type,
    lines: Mapping[str, int],
    faults: list[Fault],
    file: str = SETTINGS_FILE,
) -> dict[str, Any]:
    """Return the values of a section of a TOML file, with a fault for each that is wrong."""
    columns = columns_of(row_type)
    allowed = {name: (column, unit) for column in columns for name, unit in column.headers.items()}
    values: dict[str, Any] = {}

    def bad(key: str, fault: Fault) -> None:
        where = f"{section}.{key}" if section else key
        row = lines.get(f"{section}.{key}", lines.get(section or key))
        faults.append(
            Fault(
                file=file,
                row=row,
                column=where,
                found=fault.found,
                allowed=fault.allowed,
                do=fault.do,
            )
        )

    for key, value in content.items():
        if key not in allowed:
            names = [*allowed, *SECTIONS] if not section else list(allowed)
            do = near_words(key, names) or "rename or delete it"
            bad(key, Fault(found=f"{UNKNOWN_KEY} {quoted(key)}", allowed=", ".join(names), do=do))
            continue
        column, unit = allowed[key]
        if column.field in values:
            bad(key, Fault(found="the same setting in two units", allowed="each setting once"))
            continue
        values[column.field] = column.default
        try:
            values[column.field] = _value(value, column=column, unit=unit)
        except BadInput as error:
            bad(key, error.faults[0])
    for column in columns:
        if column.field not in values:
            if column.needed:
                name = next(iter(column.headers))
                bad(name, Fault(found="no such key", allowed=f"{name} = {_example(column)}"))
            values[column.field] = column.default
    return values


def _value(value: object, *, column: Column, unit: Unit | None) -> object:
    wanted = "a number" if column.kind in (int, float) else "a text in quotation marks"
    fits = isinstance(value, str) if column.kind is str else _is_number(value, column.kind)
    if not fits:
        fault = Fault(found=_shown(value), allowed=wanted)
        raise BadInput("A setting cannot be understood.", faults=(fault,))
    text = value if isinstance(value, str) else format(Decimal(str(value)), "f")
    if (
        column.kind is str
        and not text.strip()
        and not column.needed
        and not column.attribute.choices
    ):
        return ""
    return read_cell(text, column=column, unit=unit, zone=ANY_ZONE)


def _is_number(value: object, kind: type) -> bool:
    if isinstance(value, bool):
        return False
    return isinstance(value, int) or (kind is float and isinstance(value, Decimal))


def _shown(value: object) -> str:
    return (
        quoted(value)
        if isinstance(value, str)
        else f"{KIND_NAMES.get(type(value), type(value).__name__)} {str(value)[:60]}"
    )


def _example(column: Column) -> str:
    example = column.attribute.example
    return f'"{example}"' if column.kind is str else example or "1"


def _zone(values: Mapping[str, Any], *, lines: Mapping[str, int], faults: list[Fault]) -> ZoneInfo:
    name = values.get("time_zone")
    if not isinstance(name, str):
        return ANY_ZONE
    try:
        return ZoneInfo(name)
    except (LookupError, ValueError, OSError):
        faults.append(
            Fault(
                file=SETTINGS_FILE,
                row=lines.get(".time_zone"),
                column="time_zone",
                found=quoted(name),
                allowed="a time zone by its usual name, such as America/Chicago",
                do=near_words(name, available_timezones()),
            )
        )
        return ANY_ZONE


def _check_locale(
    values: Mapping[str, Any], *, lines: Mapping[str, int], faults: list[Fault]
) -> None:
    from babel import Locale, UnknownLocaleError  # slow, needed here alone

    name = values.get("locale")
    if not isinstance(name, str):
        return
    try:
        Locale.parse(name)
    except (UnknownLocaleError, ValueError):
        faults.append(
            Fault(
                file=SETTINGS_FILE,
                row=lines.get(".locale"),
                column="locale",
                found=quoted(name),
                allowed="language_COUNTRY, such as en_US",
            )
        )


def settings_text(settings: Settings, *, record_place: RecordPlace | None = None) -> str:
    """Return ``mill.toml`` with a comment above each setting."""
    lines = ["# The mill and its settings. What each means stands above it.", ""]
    lines += _section_lines(settings, system=settings.units)
    if record_place is not None and record_place != RecordPlace():
        lines += ["", "[record]", *_section_lines(record_place, system=settings.units)]
    return "\n".join(lines) + "\n"


def _section_lines(part: Settings | RecordPlace, *, system: str) -> list[str]:
    lines = []
    row_type: type = type(part)
    for column in columns_of(row_type):
        value = getattr(part, column.field)
        name, unit = column.written(system)
        meaning = column.attribute.meaning
        if column.attribute.choices:
            meaning += ": " + "; ".join(f"{k} ({v})" for k, v in column.attribute.choices.items())
        lines.append(f"# {meaning}")
        # TOML has no empty value: what is not set stands there as a comment to fill in
        lines.append(f"# {name} =" if value is None else f"{name} = {_toml_value(value, unit)}")
    return lines


def _toml_value(value: object, unit: Unit | None) -> str:
    if isinstance(value, float):
        return shortest_text(value, unit) if unit else shortest_text(value, BARE)
    if isinstance(value, int):
        return str(value)
    escaped = "".join(ESCAPES.get(c, c) for c in str(value))
    return f'"{escaped}"'


BARE = Unit(suffix="", label="")
KIND_NAMES = {Decimal: "the number", int: "the number", bool: "the truth value", list: "the list"}
ESCAPES = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\t": "\\t", "\r": "\\r"}
