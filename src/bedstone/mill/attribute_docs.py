"""What every column means, as comment lines for the starter folder and as a page of the docs.

The page is written with the other generated pages by ``tools/write_docs.py``; a test holds the two
equal.
"""

import inspect

from bedstone.mill.cells import CODE_RULE
from bedstone.mill.columns import NEEDED_TABLES, Column, columns_of, key_fields
from bedstone.mill.equipment import Settings
from bedstone.mill.folder import RecordPlace
from bedstone.mill.model import TABLES
from bedstone.quantities.units import Unit, from_si

__all__ = ["allowed_words", "mill_folder_page", "table_comment"]

KINDS = {
    "str": "text",
    "float": "number",
    "int": "whole number",
    "bool": "yes or no",
    "date": "day, YYYY-MM-DD",
    "datetime": "moment, YYYY-MM-DD HH:MM",
    "time": "time of day, HH:MM",
}
COMMENT_WIDTH = 98

PAGE_TOP = """\
# The mill folder

What a mill is, as files that a person can edit, compare and mail: `mill.toml` and one CSV file a
table. `bedstone new DIR` writes a starter folder with all of them, each with comments;
`bedstone load DIR` reads the folder and records it; `bedstone export DIR OUT` writes it back.

This page is made from the attribute dictionary in the program, the same that checks the files.

## How the files are read

- **All or nothing.** Every fault of every file is said at once: file, row (the line as an editor
  numbers it), column, what was found, what is allowed, what to do. Nothing is loaded until all
  is right.
- **CSV UTF-8, comma-separated**, with or without a byte-order mark. Semicolons, tabs and other
  encodings are refused with the byte and the line, never guessed. Rows that begin with `#` are
  comments; empty rows are skipped. A text that holds a comma or a quotation mark stands in
  quotation marks, with `""` for one inside.
- **Units stand in the name of the column.** `mass_max_kg` may also stand as `mass_max_lb`,
  `mass_max_t` (1000 kg), `mass_max_ton` (2000 lb) or `mass_max_g`. Conversions are exact: what
  was typed comes back as typed.
- **Numbers** in plain decimal notation with a point: `1250.5`. No thousands marks, no exponent,
  no unit in the cell.
- **Days** as `2026-11-25`, **times of day** as `06:30`, **moments** as `2026-11-25 14:30` in the
  mill's own time or with an offset, `2026-11-01 01:30-06:00`. A time that the clock shows twice
  or never, in a night in which it is put back or forward, must have its offset.
- **Codes** are letters, figures, `-` and `_`, at most 40, beginning with a letter or a figure.
  A code names one thing: a bin and a machine, a scale and a meter, an ingredient and a product
  may not share one.
- A column that may be empty may be left out. A table that is not needed may be left out; these
  must be there and have a row: {needed}.
- Tables of the mill are replaced as a whole and make a new numbered revision. `orders`,
  `weather` and `assays` are merged by key, and a missing row deletes nothing. `opening_stock`
  enters only an empty record. An assay names a lot that the record knows, or a bin.

## Rules across the tables

- The parts of a version of a formula add up to 100 % (within 0.0001 %). A formula that is
  approved or running names who approved it and when. One version of a product runs at a time.
- Neither recipes, nor ways, nor grinding may lead back to where they began.
- A product's route begins at a mixer, uses ways of `routes.csv` from each alternative to each of
  the next step, passes a finished bin, and ends at one, at a sacking line, a load-out or a
  warehouse. Bins on it are kept for nothing else. A pellet passes a pellet line and has a die; a mash passes none. A bag needs a
  sacking line on the route, an order in bulk a load-out.
- A mixer has a largest and smallest batch and a volume; grinders, pellet lines, sacking lines
  and load-outs have a throughput. A scale's smallest draw lies between its division and its
  capacity.
- Every ingredient of a running formula is held by a bin that feeds a scale of the product's
  mixer, of a hand-add station with a way to that mixer if it is always added by hand, or a meter
  if it is a liquid. So is the flush material, for every mixer.
- A limit belongs to a product or to a species, not both. A level needs its level above nothing
  (a zero level is never reckoned: use procedure, clean-out or never), a procedure its flush, the
  other kinds neither. Every limit names its source.
- A product whose running formula holds a drug says that it is medicated.
- A requirement, an inclusion and a group have limits of which the least is not above the most;
  a ratio says the units of both nutrients; every nutrient that a requirement names stands in
  `composition.csv` of some ingredient; the inclusions of a product leave room for parts that add
  up to 100 %; a drug may go only into a product that says it is medicated.
- Shifts of a machine and hours of a rate do not overlap; a guarantee's minimum is not above its
  maximum; an order is due after it came in; a lot is of one material; opening stock fits its bin.
"""


def table_comment(name: str, row_type: type) -> str:
    """Return the comment lines that stand above the header of a table's starter file."""
    lines = [f"# {name}: {_meaning(row_type)}"]
    if name not in NEEDED_TABLES:
        lines.append("# A mill that has no use for it may leave this file out.")
    lines.append("#")
    for column in columns_of(row_type):
        text = f"{next(iter(column.headers))}: {column.attribute.meaning}. {_allowed(column)}"
        lines.extend(_wrapped(text))
    return "\n".join(lines) + "\n"


def _wrapped(text: str) -> list[str]:
    lines, line = [], "#  "
    for word in text.split():
        if len(line) + 1 + len(word) > COMMENT_WIDTH:
            lines.append(line)
            line = "#     "
        line += f" {word}"
    return [*lines, line]


def _meaning(row_type: type) -> str:
    text = inspect.getdoc(row_type) or ""
    return " ".join(text.replace("``", "").split())


def _allowed(column: Column) -> str:
    """Return type, bounds, choices, references and whether it may stay empty, in one line."""
    unit = _first_unit(column)
    parts = [_kind(column), *_bounds(column, unit)]
    if len(column.headers) > 1:
        parts.append("other units: " + ", ".join(list(column.headers)[1:]))
    if not column.needed:
        default = _default(column, unit)
        parts.append("may be empty" + (f" (then {default})" if default else ""))
    if column.attribute.example:
        parts.append(f"such as {column.attribute.example}")
    if column.attribute.source:
        parts.append(f"source: {column.attribute.source}")
    text = "; ".join(parts)
    return f"{text[0].upper()}{text[1:]}."


def _kind(column: Column) -> str:
    attribute = column.attribute
    if attribute.choices:
        words = (f"{k} ({v})" if k != v else k for k, v in attribute.choices.items())
        return "one of " + ", ".join(words)
    if attribute.refers:
        return f"code of {' or '.join(attribute.refers)}"
    return "code" if attribute.code else KINDS[column.kind.__name__]


def allowed_words(column: Column, system: str) -> str:
    """Return what a cell may be, for the field of a form, in the units of a mill that shows "SI" or
    "US".

    Parameters
    ----------
    column : Column
        The column.
    system : str
        "SI" or "US".

    Returns
    -------
    words : str
        Bounds, and what an empty cell means, as a sentence.
    """
    unit = column.written(system)[1]
    kind = "" if column.attribute.choices or column.kind is bool else _kind(column)
    parts = [part for part in (kind, *_bounds(column, unit)) if part]
    if column.attribute.code and column.attribute.key:
        parts[:1] = [CODE_RULE]
    if not column.needed:
        default = _default(column, unit)
        parts.append("may be empty" + (f" (then {default})" if default else ""))
    if column.attribute.example:
        parts.append(f"such as {column.attribute.example}")
    text = "; ".join(parts)
    return f"{text[0].upper()}{text[1:]}." if text else ""


def _bounds(column: Column, unit: Unit | None) -> list[str]:
    attribute = column.attribute
    parts = []
    if attribute.low is not None:
        more = "above" if attribute.low_open else "at least"
        parts.append(f"{more} {_in_unit(column, attribute.low, unit)}")
    if attribute.high is not None:
        parts.append(f"at most {_in_unit(column, attribute.high, unit)}")
    return [" and ".join(parts)] if parts else []


def _first_unit(column: Column) -> Unit | None:
    """The unit that the column's first name says, which is not the SI unit that it has inside."""
    return next(iter(column.headers.values()))


def _in_unit(column: Column, value: float, unit: Unit | None) -> str:
    if unit is None:
        return f"{value:.10g} {column.attribute.unit}".rstrip()
    return f"{float(from_si(value, unit)):.10g} {unit.label}".rstrip()


def _default(column: Column, unit: Unit | None) -> str:
    default = column.default
    if default is None or default == "":
        return ""
    if isinstance(default, bool):
        return "yes" if default else "no"
    if isinstance(default, float):
        return _in_unit(column, default, unit)
    return f"{default} {column.attribute.unit}".rstrip()


def mill_folder_page() -> str:
    """Return the page docs/mill-folder.md."""
    needed = ", ".join(f"`{name}`" for name in TABLES if name in NEEDED_TABLES)
    parts = [PAGE_TOP.format(needed=needed), "## mill.toml\n", _table_lines(Settings, "key")]
    parts += ["\nIn the section `[record]`:\n", _table_lines(RecordPlace, "key")]
    for name, row_type in TABLES.items():
        keys = " and ".join(f"`{field}`" for field in key_fields(row_type))
        must = "needed" if name in NEEDED_TABLES else "may be left out"
        parts.append(f"\n## {name}.csv\n\n{_meaning(row_type)} ({must}; one row for each {keys})\n")
        parts.append(_table_lines(row_type))
    return "\n".join(parts)


def _table_lines(row_type: type, what: str = "column") -> str:
    rows = [f"| {what} | meaning | allowed |", "|---|---|---|"]
    for column in columns_of(row_type):
        meaning, allowed = (
            text.replace("|", "\\|") for text in (column.attribute.meaning, _allowed(column))
        )
        rows.append(f"| `{next(iter(column.headers))}` | {meaning} | {allowed} |")
    return "\n".join(rows) + "\n"
