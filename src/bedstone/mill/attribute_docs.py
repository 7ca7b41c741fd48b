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
from bedstone.mill.order_mapping import OrderMapping
from bedstone.quantities.units import Unit, from_si

__all__ = ["allowed_words", "import_orders_page", "mill_folder_page", "table_comment"]

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

What a mill is, as files that a person can edit, compare and mail: `mill.toml` and one CSV file or one
sheet a table. `bedstone new DIR` writes a starter folder with all of them, each with comments;
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
- **Or sheets of one workbook.** Tables may also be the sheets of `mill.xlsx`, each named as its table
  (`bins`, `orders` ...), with the same columns; `bedstone export DIR OUT --xlsx` writes one. A table
  stands in a file or in a sheet, never in both. `mill.toml` stays a file. Faults name sheet, row
  and the letter of the column. Numbers, days and times are cells of that kind or text as below; a
  formula counts with what it last showed. Refused, each with its cell: errors such as `#N/A`, a
  formula that no program has worked out, merged cells, a number shown as per cent (0.05 or 5?),
  hidden sheets and sheets of other names. A sheet whose name begins with `#` is a note. Rows and
  columns that are hidden or filtered away are read like the others.
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


IMPORT_TOP = """\
# Orders from a customer's own list

Customers send orders as they keep them: a CSV file or an .xlsx workbook with their own columns, words,
units and way of writing days. A *mapping* says how such a list is read. It is a section of
`order_mappings.toml` in the mill's folder, named as you like:

```toml
[depot]
order = "FD-{Slip no.}"
customer = "depot"
product = "{Feed}"
mass = "{How many}"
unit = "{Of what}"
pack = "bags"
due = "{Wanted by}"
note = "{Remarks}"
dates = "MM/DD/YYYY"
due_time = "15:00"

[depot.words.product]
"Layer 16 % mash" = "LAYER-16"

[depot.words.unit]
"sacks" = "bags"
"pounds" = "lb"
```

Each of our columns is given by a text. What stands between `{` and `}` is the name of a column of
theirs and is filled in from each row; the rest stays as it is. So a text may be one column, a
constant, or both together. Under `words` stands what they call our customers, products, units and packs,
capitals or not.

```sh
bedstone import-orders demo-mill demo-mill/lists/depot.csv --mapping depot --dry-run
bedstone import-orders demo-mill demo-mill/lists/depot.csv --mapping depot --by cleo
```

The first shows each row as it was understood, in the mill's own unit and time, and what the record knows
of it; the second records it. Every fault is named before anything is recorded: the row and their
column, what was found, what is allowed.
Where the mapping itself does not fit the list, the rows are looked at all the same, in the columns
that can be read.

- **The same list again changes nothing.** Orders merge by their number. A row that says something new
  changes its order; an order that is missing from a list stays; a row that the record has had
  before exactly so is old news, and undoes neither a change nor a cancellation made since.
- **Numbers of orders** are codes. A blank, a stroke and the like become `-`: `PO 118/2` is
  `PO-118-2`. Put something of the customer's before it, so that two customers never meet; a number that
  is another customer's order is refused.
- **Bags** as a unit are counted, and as heavy as the product's own bag.
- **Masses** may have their unit behind them (`2 ton`); marks between thousands are understood.
- A day that could be read two ways (3/4) is read as `dates` says, and shown before it is kept.
- Older workbooks (.xls, .ods) are refused: save them as .xlsx or CSV.

## Keys of a mapping

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


def import_orders_page() -> str:
    """Return the page docs/import-orders.md."""
    return IMPORT_TOP + _table_lines(OrderMapping, "key")


def _table_lines(row_type: type, what: str = "column") -> str:
    rows = [f"| {what} | meaning | allowed |", "|---|---|---|"]
    for column in columns_of(row_type):
        meaning, allowed = (
            text.replace("|", "\\|") for text in (column.attribute.meaning, _allowed(column))
        )
        rows.append(f"| `{next(iter(column.headers))}` | {meaning} | {allowed} |")
    return "\n".join(rows) + "\n"
