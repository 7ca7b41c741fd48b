"""The fields of a form of numbers: each as it was typed, how it is understood, or its fault."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from bedstone.errors import BadInput, Fault
from bedstone.mill.cells import read_cell
from bedstone.mill.columns import Column, columns_of
from bedstone.mill.equipment import Settings
from bedstone.mill.pellet_tables import Pellets
from bedstone.mill.typed_number import quantity_typed
from bedstone.quantities.units import Unit, from_si

__all__ = ["TypedField", "conditioning_typed_c", "fault_words", "read_fields", "unit_shown"]

LONGEST = 60
FOUR_FIGURES = 10_000
LITTLE = ("steam_kg_s", "molasses_kg_s", "water_kg_s")
"""Flows that are spoken of in pounds or kilograms an hour, not in tons."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedField:
    """A field of the form: what was typed, how it is understood, or its fault."""

    name: str
    label: str
    unit: str
    value: str
    words: str
    fault: str
    choices: tuple[str, ...] = ()


def read_fields(
    start: object, settings: Settings, typed: Mapping[str, str]
) -> tuple[list[TypedField], dict[str, Any]]:
    """Each field as it was typed, or as it starts, and what it means.

    A field left empty starts as it is in ``start``; one that may be empty stays empty where the
    form was sent with it.
    """
    fields, values = [], {}
    kind: Any = type(start)
    for one in columns_of(kind):
        text = typed.get(one.field)
        value, words, fault = getattr(start, one.field), "", ""
        if text is not None and text.strip():
            value, words, fault = _understood(text, one, settings)
        elif text is not None and one.default is None:
            value = None
        unit = unit_shown(one, settings)
        values[one.field] = value
        shown = text if text and text.strip() else _starting(value, one, settings)
        fields.append(
            TypedField(
                name=one.field,
                label=one.attribute.meaning,
                unit=unit.label if unit else "",
                value=shown[:LONGEST],
                words=words,
                fault=fault,
                choices=tuple(one.attribute.choices or ()),
            )
        )
    return fields, values


def _understood(text: str, one: Column, settings: Settings) -> tuple[Any, str, str]:
    """The value of a typed field, how it is understood, and its fault."""
    try:
        if one.kind is not float:
            return read_cell(text.strip(), column=one, unit=None, zone=settings.zone), "", ""
        found = quantity_typed(
            text[: LONGEST + 1].strip(), one, settings, unit_shown(one, settings)
        )
    except BadInput as fault:
        return None, "", fault_words(fault.faults)
    words = f"understood as {_written(found.number, '#,##0.######', settings)}"
    if found.unit is not None:
        words += f" {found.unit.label}"
        own = unit_shown(one, settings)
        if own is not None and own is not found.unit:
            words += f" = {_figures(found.value, own, settings)} {own.label}"
    return found.value, words, ""


def unit_shown(one: Column, settings: Settings) -> Unit | None:
    """The unit that a field is in where no other is typed: a gauge is read in psi or kPa."""
    is_us = settings.units == "US"
    if one.dimension is not None and one.dimension.si_suffix == "pa":
        return one.dimension.units["psi" if is_us else "kpa"]
    if one.dimension is not None and one.field in LITTLE:
        return one.dimension.units["lb_h" if is_us else "kg_h"]
    return one.written(settings.units)[1]


def fault_words(faults: tuple[Fault, ...]) -> str:
    """What was found and what is allowed, of each fault."""
    return "; ".join(f"found {one.found}; allowed: {one.allowed}" for one in faults)


def _starting(value: object, one: Column, settings: Settings) -> str:
    """A starting value in the mill's unit, to four figures."""
    if value is None or isinstance(value, str):
        return value or ""
    if not isinstance(value, float):
        return str(value)
    return _figures(value, unit_shown(one, settings), settings)


def _figures(value: float, unit: Unit | None, settings: Settings) -> str:
    number = value if unit is None else float(from_si(value, unit))
    pattern = "#,##0" if abs(number) >= FOUR_FIGURES else "#,##0.######"
    rounded = float(f"{number:.4g}") if abs(number) < FOUR_FIGURES else round(number)
    return _written(rounded, pattern, settings)


def _written(number: float | Decimal, pattern: str, settings: Settings) -> str:
    from babel.numbers import format_decimal

    return str(format_decimal(number, format=pattern, locale=settings.locale))


def conditioning_typed_c(text: str, settings: Settings) -> float:
    """A temperature of the conditioner as typed, within what the pellets table takes. [degrees C]

    Raises
    ------
    BadInput
        If it is no temperature, or one at which no conditioner runs.
    """
    one = next(one for one in columns_of(Pellets) if one.field == "conditioning_c")
    try:
        return quantity_typed(text, one, settings, unit_shown(one, settings)).value
    except BadInput as fault:
        raise BadInput(
            "No conditioner runs at that.",
            seen=fault.faults[0].found,
            allowed=fault.faults[0].allowed,
        ) from fault
