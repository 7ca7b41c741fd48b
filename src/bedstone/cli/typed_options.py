"""Options for numbers that are typed with their unit, one for each column of what is asked."""

from collections.abc import Callable, Collection, Mapping
from typing import Any, TypeVar

import click

from bedstone.errors import BadInput, Fault
from bedstone.mill.cells import read_cell
from bedstone.mill.columns import Column, columns_of
from bedstone.mill.equipment import Settings
from bedstone.mill.typed_fields import unit_shown
from bedstone.mill.typed_number import quantity_typed
from bedstone.quantities.units import from_si

__all__ = ["given", "number_options", "option_of", "units_option", "usual_of"]

Command = TypeVar("Command", bound=Callable[..., Any])
SHORT = {
    "pct": "%",
    "pct_wb": "%",
    "f": "F",
    "c": "C",
    "kpa": "kPa",
    "df": "F",
    "dk": "C",
}


def option_of(column: Column, names: Mapping[str, str]) -> str:
    """The option of a column, by its field without the unit unless ``names`` has another."""
    return f"--{names.get(column.field) or column.stem.rstrip('_').replace('_', '-')}"


def units_option(command: Command) -> Command:
    """Give a command its ``--units``."""
    return click.option(
        "--units",
        type=click.Choice(["US", "SI"]),
        default="US",
        show_default=True,
        help="Without a mill: units of bare numbers and of the answer.",
    )(command)


def number_options(
    row_type: type,
    names: Mapping[str, str],
    words: Mapping[str, str] | None = None,
    *,
    needed: Collection[str] = (),
) -> Callable[[Command], Command]:
    """Give a command an option for every column of a row; ``words`` of help by field.

    What is ``needed`` has no usual value, whatever its column begins with.
    """

    def add(command: Command) -> Command:
        for column in reversed(columns_of(row_type)):
            suffix = "" if column.dimension is None else column.dimension.si_suffix
            kind: Any = str
            metavar: str | None = {"": "NUMBER", "frac": "PER_CENT", "wb": "PER_CENT"}.get(
                suffix, "AMOUNT"
            )
            if column.attribute.choices is not None:
                kind, metavar = click.Choice(list(column.attribute.choices)), None
            usual = "" if column.field in needed else usual_of(column, "US")
            meant = (words or {}).get(column.field, column.attribute.meaning)
            command = click.option(
                option_of(column, names),
                column.field,
                type=kind,
                metavar=metavar,
                help=f"{meant[:1].upper()}{meant[1:]}.{f' Usual: {usual}.' if usual else ''}",
            )(command)
        return command

    return add


def usual_of(column: Column, units: str) -> str:
    """What is taken where nothing is typed, as it would be typed; empty where nothing is."""
    if column.needed or not column.default:
        return ""
    if not isinstance(column.default, float):
        return str(column.default)
    settings = Settings(format=1, name="no mill", time_zone="UTC", units=units)
    unit = unit_shown(column, settings)
    number = column.default if unit is None else float(from_si(column.default, unit))
    word = "" if unit is None else SHORT.get(unit.suffix, unit.suffix.replace("_", "/"))
    return f"{number:.3g}{word}"


def given(
    asked: type, names: Mapping[str, str], typed: Mapping[str, str | None], settings: Settings
) -> dict[str, Any]:
    """What was typed, in SI; every fault at once, by its option.

    Raises
    ------
    BadInput
        If something cannot be understood, or cannot be.
    """
    found: dict[str, Any] = {}
    faults: list[Fault] = []
    for column in columns_of(asked):
        text = typed.get(column.field)
        if text is None:
            continue
        try:
            found[column.field] = (
                quantity_typed(text, column, settings, unit_shown(column, settings)).value
                if column.kind is float
                else read_cell(text, column=column, unit=None, zone=settings.zone)
            )
        except BadInput as fault:
            faults += [
                Fault(
                    column=option_of(column, names), found=one.found, allowed=one.allowed, do=one.do
                )
                for one in fault.faults
            ]
    if faults:
        raise BadInput("Some numbers cannot be.", faults=tuple(faults))
    return found
