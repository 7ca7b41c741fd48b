"""Tables as CSV and xlsx, in memory."""

import csv
import io
from collections.abc import Mapping, Sequence

__all__ = ["Cell", "csv_file", "workbook"]

Cell = str | float | None


def csv_file(columns: Sequence[str], rows: Sequence[Sequence[Cell]]) -> bytes:
    """A table as CSV: UTF-8, commas, a header."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([_text(cell) for cell in row] for row in rows)
    return text.getvalue().encode("utf-8")


def _text(cell: Cell) -> str:
    return "" if cell is None else cell if isinstance(cell, str) else f"{cell:.10g}"


def workbook(tables: Mapping[str, tuple[Sequence[str], Sequence[Sequence[Cell]]]]) -> bytes:
    """Tables as sheets of one workbook, each with its header."""
    import openpyxl  # slow, and needed for workbooks alone
    from openpyxl.styles import Font

    book = openpyxl.Workbook()
    for name, (columns, rows) in tables.items():
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
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()
