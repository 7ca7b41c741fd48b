"""The description of a plan as JSON is whole: every key, its kind, and every finding's code."""

import dataclasses
import datetime as dt
import re
import types
import typing
from enum import StrEnum
from pathlib import Path

import pytest

from bedstone.mill import plan as plan_values
from bedstone.mill.plan import Plan

ROOT = Path(__file__).parents[3]
PAGE = (ROOT / "docs" / "plan-json.md").read_text(encoding="utf-8")
SECTIONS = re.findall(r"^## (.+?) \(`(\w+)`\)\n(.*?)(?=^## |\Z)", PAGE, re.MULTILINE | re.DOTALL)
WORDS = {name: word for word, name, _ in SECTIONS}
ROW = re.compile(r"^\| `(\w+)` \| (.+?) \| (.+) \|$", re.MULTILINE)
SCALARS = {
    str: "text",
    int: "whole number",
    float: "number",
    bool: "yes or no",
    dt.datetime: "time",
    dt.date: "day",
}


def reached(row_type: type, found: dict[str, type]) -> dict[str, type]:
    """Every row class that a plan holds, by name."""
    found[row_type.__name__] = row_type
    for hint in typing.get_type_hints(row_type).values():
        for inner in (hint, *typing.get_args(hint)):
            if dataclasses.is_dataclass(inner) and inner.__name__ not in found:
                reached(typing.cast("type", inner), found)
    return found


ROWS = reached(Plan, {})


def kind_of(hint: object) -> str:
    """The kind of a field in the page's words."""
    args = typing.get_args(hint)
    if typing.get_origin(hint) is types.UnionType:
        return f"{kind_of(next(arg for arg in args if arg is not type(None)))}, or null"
    if typing.get_origin(hint) is tuple:
        return f"list of {kind_of(args[0])}"
    if isinstance(hint, type) and issubclass(hint, StrEnum):
        return "text"
    if dataclasses.is_dataclass(hint):
        return WORDS[typing.cast("type", hint).__name__]
    return SCALARS[typing.cast("type", hint)]


def test_every_row_of_a_plan_has_its_section():
    """No row class without a section, no section without a row class."""
    assert sorted(name for _, name, _ in SECTIONS) == sorted(ROWS)
    assert set(ROWS) <= set(plan_values.__all__)


@pytest.mark.parametrize("name", sorted(ROWS))
def test_every_key_is_described(name: str):
    """The section lists each key in order, with its kind as the code has it and a meaning."""
    body = next(body for _, section, body in SECTIONS if section == name)
    hints = typing.get_type_hints(ROWS[name])
    rows = ROW.findall(body)
    assert [(key, kind) for key, kind, _ in rows] == [
        (item.name, kind_of(hints[item.name])) for item in dataclasses.fields(ROWS[name])
    ]
    assert all(len(meaning) > 3 for _, _, meaning in rows)


def test_every_code_of_the_verifier_is_described():
    """The codes that the verifier's sources name are those of the page's last table."""
    sources = "".join(
        path.read_text(encoding="utf-8")
        for path in (ROOT / "src" / "bedstone" / "planning").glob("verif*.py")
    )
    named = set(
        re.findall(
            r'"((?:residue|formula|plan|run|route|mixer|time|steps|bin|flush|clean_out|changeover|grind'
            r'|draws|stock)\.[a-z_]+)"',
            sources,
        )
    )
    named |= {"residue.procedure", "residue.clean_out"}  # put together from the limit's kind
    named |= {"plan.edited"}  # said by the desk, which gives plans their ids
    described = set(re.findall(r"^\| `([a-z_]+\.[a-z_]+)` \|", PAGE, re.MULTILINE))
    assert described == named
