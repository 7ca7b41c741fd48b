"""Answers about formulas as CSV and xlsx files."""

import csv
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from bedstone.desk.formula_plain import LIMIT_COLUMNS, PART_COLUMNS, limit_rows, part_rows
from bedstone.errors import BadInput

if TYPE_CHECKING:
    from bedstone.desk.formula_answer import Formulated
    from bedstone.desk.formula_week import FormulatedWeek

__all__ = ["write_formulas", "write_week"]

Cell = str | float | None
Sheets = dict[str, tuple[tuple[str, ...], Sequence[Sequence[Cell]]]]
WEEK_COLUMNS = ("product", "mass_t", "ingredient", "parts_pct", "cost_usd_t", "next_ton_usd_t")
SHARED_COLUMNS = ("ingredient", "used_t", "left_t", "worth_at_most_usd_t", "scarce")
PCT = 100.0


def write_formulas(path: Path, found: "Sequence[Formulated]") -> list[Path]:
    """Write parts and limits; return the files.

    Raises
    ------
    BadInput
        If the file is neither .csv nor .xlsx, or cannot be written.
    """
    return _written(
        path,
        {"parts": (PART_COLUMNS, part_rows(found)), "limits": (LIMIT_COLUMNS, limit_rows(found))},
    )


def write_week(path: Path, week: "FormulatedWeek") -> list[Path]:
    """Write the formulas of a week and what they share; return the files.

    Raises
    ------
    BadInput
        If the file is neither .csv nor .xlsx, or cannot be written.
    """
    parts: list[Sequence[Cell]] = [
        (one.product, one.mass_t, code, share * PCT, one.cost_usd_t, one.worth_usd_t)
        for one in week.answer.products
        for code, share in one.shares.items()
        if share > 0
    ]
    shared: list[Sequence[Cell]] = [
        (row.code, row.used_t, row.left_t, row.pay_at_most_usd_t, "yes" if row.scarce else "no")
        for row in week.answer.materials
    ]
    return _written(path, {"parts": (WEEK_COLUMNS, parts), "shared": (SHARED_COLUMNS, shared)})


def _written(path: Path, sheets: Sheets) -> list[Path]:
    kind = path.suffix.lower()
    if kind not in {".csv", ".xlsx"}:
        raise BadInput(
            "The answer cannot be written to such a file.",
            seen=path.name,
            allowed="a name that ends in .csv or .xlsx",
        )
    try:
        return _workbook(path, sheets) if kind == ".xlsx" else _csv(path, sheets)
    except OSError as error:
        raise BadInput(
            f"{path} cannot be written.",
            seen=error.strerror or str(error),
            do="name another place with --out",
        ) from error


def _csv(path: Path, sheets: Sheets) -> list[Path]:
    """The first table in the file itself, each further one beside it."""
    paths = []
    for number, (name, (columns, rows)) in enumerate(sheets.items()):
        one = path if number == 0 else path.with_name(f"{path.stem}-{name}{path.suffix}")
        with one.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow(columns)
            writer.writerows([_text(cell) for cell in row] for row in rows)
        paths.append(one)
    return paths


def _text(cell: Cell) -> str:
    return "" if cell is None else cell if isinstance(cell, str) else f"{cell:.10g}"


def _workbook(path: Path, sheets: Sheets) -> list[Path]:
    import openpyxl  # slow, and needed for workbooks alone
    from openpyxl.styles import Font

    book = openpyxl.Workbook()
    for name, (columns, rows) in sheets.items():
        sheet = book.create_sheet(name)
        sheet.append(columns)
        for at, row in enumerate(rows, start=2):
            for place, value in enumerate(row, start=1):
                cell = sheet.cell(row=at, column=place, value=value)
                if isinstance(value, str):
                    cell.data_type = "s"  # a name is text, whatever sign it begins with
        for cell in sheet[1]:
            cell.font = Font(bold=True)
        sheet.freeze_panes = "A2"
    del book[book.sheetnames[0]]
    book.save(path)
    return [path]
