"""What every column means, as comment lines for the starter folder and as a page of the docs."""

import inspect

from bedstone.mill.columns import NEEDED_TABLES, Column, columns_of
from bedstone.mill.equipment import Settings
from bedstone.mill.folder import RecordPlace
from bedstone.mill.model import TABLES

__all__ = ["mill_folder_page", "table_comment"]

KINDS = {
    "str": "text",
    "float": "number",
    "int": "whole number",
    "bool": "yes or no",
    "date": "YYYY-MM-DD",
    "datetime": "YYYY-MM-DD HH:MM",
    "time": "HH:MM",
}


def table_comment(name: str, row_type: type) -> str:
    """Return the comment lines that stand above the header of a table's starter file."""
    lines = [f"# {name}: {_meaning(row_type)}"]
    if name not in NEEDED_TABLES:
        lines.append("# A mill that has no use for it may leave this file out.")
    for column in columns_of(row_type):
        header = next(iter(column.headers))
        lines.append(f"#   {header}: {column.attribute.meaning}. {_allowed(column)}")
    return "\n".join(lines) + "\n"


def _meaning(row_type: type) -> str:
    text = inspect.getdoc(row_type) or ""
    return " ".join(text.split("\n\n")[0].split())


def _allowed(column: Column) -> str:
    """Return type, bounds, choices, references and whether it may stay empty, in one line."""
    attribute = column.attribute
    parts = [f"Code of {' or '.join(attribute.refers)}" if attribute.refers else _kind(column)]
    if attribute.choices:
        parts = [
            "One of " + "; ".join(_choice(word, text) for word, text in attribute.choices.items())
        ]
    if len(column.headers) > 1:
        others = list(column.headers)[1:]
        parts.append("may be " + ", ".join(others) + " instead")
    if not column.needed:
        default = column.default
        shown = "" if default in (None, "") else f" (then {_default(column)})"
        parts.append(f"may be empty{shown}")
    if attribute.example:
        parts.append(f"such as {attribute.example}")
    if attribute.source:
        parts.append(f"source {attribute.source}")
    return "; ".join(parts) + "."


def _choice(word: str, meaning: str) -> str:
    return word if word == meaning else f"{word} ({meaning})"


def _default(column: Column) -> str:
    if isinstance(column.default, bool):
        return "yes" if column.default else "no"
    return f"{column.default:g}" if isinstance(column.default, float) else str(column.default)


def _kind(column: Column) -> str:
    if column.attribute.code:
        return "Code"
    return KINDS[column.kind.__name__].capitalize() if column.kind is not None else ""


def mill_folder_page() -> str:
    """Return the page docs/mill-folder.md."""
    return ""
