"""Keys that stand twice, codes used for two things, and codes that name nothing."""

from collections.abc import Collection, Iterator
from typing import Any

from bedstone.errors import Fault
from bedstone.ledger.model import OUTSIDE
from bedstone.mill.cells import CODE, near_words
from bedstone.mill.columns import Column, columns_of, key_fields
from bedstone.mill.equipment import Bin, Machine, Meter, Scale, Settings
from bedstone.mill.goods import Ingredient, Product
from bedstone.mill.model import TABLES
from bedstone.mill.validate_places import Check

__all__ = ["key_rules"]

ONE_CODE_ONE_THING: tuple[tuple[str, tuple[tuple[type[Any], str], ...]], ...] = (
    ("a bin and a machine", ((Bin, "bin"), (Machine, "machine"))),
    ("a scale and a meter", ((Scale, "scale"), (Meter, "meter"))),
    ("an ingredient and a product", ((Ingredient, "ingredient"), (Product, "product"))),
)
MANY = {"feeds": " ", "members": " ", "route": ">|"}
"""Columns that hold several codes, and the signs between them."""


def key_rules(check: Check) -> Iterator[Iterator[Fault]]:
    """Yield the rules of keys and references."""
    for name, row_type in TABLES.items():
        yield _doubled(check, name, row_type)
        for column in columns_of(row_type):
            if column.attribute.refers and check.readable(*column.attribute.refers):
                known = frozenset(_known(check, column.attribute.refers))
                for at, row in enumerate(check.tables.get(name, ())):
                    yield _named(check, row_type, at=at, row=row, column=column, known=known)
    for what, tables in ONE_CODE_ONE_THING:
        yield _one_thing(check, what, tables)
    yield _outside_codes(check)
    if check.settings is not None:
        yield _settings_named(check, check.settings)


def _doubled(check: Check, name: str, row_type: type) -> Iterator[Fault]:
    keys = key_fields(row_type)
    seen: dict[tuple[object, ...], int] = {}
    for at, row in enumerate(check.tables.get(name, ())):
        key = tuple(getattr(row, item) for item in keys)
        if key in seen:
            shown = ", ".join(str(part) for part in key if part != "")
            yield check.fault(
                row_type,
                at,
                keys[0],
                found=f"{shown} again, as in {check.row_of(row_type, seen[key])}",
                allowed=f"each {' and '.join(keys)} once",
                do="delete one of the rows, or correct its key",
            )
        seen.setdefault(key, at)


def _codes_in(column: str, text: str) -> list[str]:
    for sign in MANY.get(column, ""):
        text = text.replace(sign, " ")
    return text.split() if column in MANY else [text] if text else []


def _known(check: Check, refers: tuple[str, ...]) -> list[str]:
    return [
        getattr(row, key_fields(TABLES[table])[0])
        for table in refers
        for row in check.tables.get(table, ())
    ]


def _named(
    check: Check, row_type: type, *, at: int, row: Any, column: Column, known: frozenset[str]
) -> Iterator[Fault]:
    for code in _codes_in(column.field, getattr(row, column.field)):
        if code not in known:
            yield check.fault(
                row_type,
                at,
                column.field,
                found=_unknown(code),
                allowed=f"a code of {' or '.join(column.attribute.refers)}",
                do=_near(code, known, column.attribute.refers),
            )


def _unknown(code: str) -> str:
    if CODE.fullmatch(code):
        return f'"{code}", which is not known'
    return f'"{code}", which is no code and not known'


def _near(code: str, known: Collection[str], refers: tuple[str, ...]) -> str:
    where = " or ".join(f"{table}.csv" for table in refers)
    return near_words(code, sorted(known)) or f"add it to {where}, or correct the code"


def _one_thing(
    check: Check, what: str, tables: tuple[tuple[type[Any], str], ...]
) -> Iterator[Fault]:
    (first, first_key), (second, second_key) = tables
    taken = {getattr(row, first_key): at for at, row in check.each(first)}
    for at, row in check.each(second):
        code = getattr(row, second_key)
        if code in taken:
            yield check.fault(
                second,
                at,
                second_key,
                found=f"{code}, which is {what} at once",
                allowed="a code that names one thing",
                do=f"give one of the two another code (the other is in {first_key}s.csv, "
                f"{check.row_of(first, taken[code])})",
            )


def _outside_codes(check: Check) -> Iterator[Fault]:
    coded: tuple[tuple[type[Any], str], ...] = ((Bin, "bin"), (Machine, "machine"))
    for row_type, key in coded:
        for at, row in check.each(row_type):
            code = getattr(row, key)
            if code.casefold() in OUTSIDE:
                yield check.fault(
                    row_type,
                    at,
                    key,
                    found=f'"{code}", which means a place outside the mill',
                    allowed=f"any code but {', '.join(sorted(OUTSIDE))}",
                )


def _settings_named(check: Check, settings: Settings) -> Iterator[Fault]:
    for column in columns_of(Settings):
        refers = column.attribute.refers
        code = getattr(settings, column.field)
        if refers and code and check.readable(*refers):
            known = _known(check, refers)
            if code not in known:
                yield check.settings_fault(
                    column.field,
                    found=_unknown(code),
                    allowed=f"a code of {' or '.join(refers)}",
                    do=_near(code, known, refers),
                )
