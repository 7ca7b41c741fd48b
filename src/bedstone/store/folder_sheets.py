"""``mill.xlsx``: a workbook with a sheet for each table, read with every fault and its cell."""

import io
import warnings
import zipfile
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from bedstone.errors import Fault
from bedstone.mill.cells import near_words
from bedstone.mill.columns import columns_of
from bedstone.mill.model import TABLES
from bedstone.store.folder_text import CsvRecord, CsvText

if TYPE_CHECKING:
    from openpyxl.workbook import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

__all__ = ["WORKBOOK", "SheetsRead", "open_workbook", "read_sheet", "read_sheets", "said_of_sheets"]

WORKBOOK = "mill.xlsx"
MOST_CELLS = 1_000_000
"""More than this are empty rows and columns that were given a format to the end of the sheet."""
_NOT_A_WORKBOOK = "a workbook saved as .xlsx, without a password"


@dataclass(slots=True, kw_only=True)
class SheetsRead:
    """The sheets of a workbook by table, and what is wrong with the workbook."""

    sheets: dict[str, CsvText] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)


def read_sheets(data: bytes) -> SheetsRead:
    """Return the tables in a workbook; a sheet whose name begins with "#" is a note."""
    read = SheetsRead()
    book = open_workbook(data, file=WORKBOOK)
    if isinstance(book, Fault):
        read.faults.append(book)
        return read
    formulas, values = book
    for sheet in formulas.worksheets:
        name = sheet.title
        if name.startswith("#"):
            continue
        fault = _wrong_sheet(sheet)
        if fault is not None:
            read.faults.append(fault)
            if name in TABLES:  # it is there, so that nobody is told that it lacks
                read.sheets[name] = CsvText(header=None, records=(), faults=())
            continue
        kinds = {
            header: column.kind for column in columns_of(TABLES[name]) for header in column.headers
        }
        read.sheets[name] = read_sheet(sheet, values[name], file=f"{name}.csv", kinds=kinds)
    return read


def open_workbook(data: bytes, *, file: str) -> "tuple[Workbook, Workbook] | Fault":
    """Return a workbook with its formulas, and once more with what they last showed."""
    import openpyxl  # slow, and needed for workbooks alone

    if not zipfile.is_zipfile(io.BytesIO(data)):
        return Fault(file=file, found="a file that is no workbook", allowed=_NOT_A_WORKBOOK)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of what it leaves out: pictures, rules of entry
            formulas = openpyxl.load_workbook(io.BytesIO(data))
            has_formulas = any(
                cell.data_type == "f"
                for sheet in formulas.worksheets
                if sheet.max_row * sheet.max_column <= MOST_CELLS
                for row in sheet.iter_rows()
                for cell in row
            )
            if not has_formulas:
                return formulas, formulas
            values = openpyxl.load_workbook(io.BytesIO(data), data_only=True)
    except Exception as error:  # noqa: BLE001 - whatever a broken file brings about
        return Fault(
            file=file,
            found=f"a workbook that cannot be read ({type(error).__name__})",
            allowed=_NOT_A_WORKBOOK,
            do="open it in a spreadsheet program and save it again",
        )
    return formulas, values


def _wrong_sheet(sheet: "Worksheet") -> Fault | None:
    """Return what is wrong with a sheet as a whole."""
    name = sheet.title
    file = f"{WORKBOOK}, sheet {name}"
    if name not in TABLES:
        return Fault(
            file=file,
            found="a sheet of an unknown name",
            allowed=", ".join(TABLES),
            do=near_words(name, TABLES)
            or "rename it, or begin its name with # to keep it as a note",
        )
    if sheet.sheet_state != "visible":
        return Fault(
            file=file,
            found="a hidden sheet",
            allowed="a sheet that can be seen",
            do="show it, or begin its name with # to keep it as a note",
        )
    return None


def read_sheet(
    sheet: "Worksheet",
    shown: "Worksheet",
    *,
    file: str,
    kinds: Mapping[str, type],
    whole: bool = False,
) -> CsvText:
    """Return header and records of a sheet, its cells as text; comment and blank rows are left out.

    Parameters
    ----------
    sheet, shown : Worksheet
        With formulas, and with what they last showed.
    kinds : mapping of str to type
        What the cells below a header are; text below any other.
    whole : bool
        Whether every row is a record, also the first, and rows that begin with "#".
    """
    if sheet.max_row * sheet.max_column > MOST_CELLS:
        fault = Fault(
            file=file,
            found=f"{sheet.max_row} rows of {sheet.max_column} columns, mostly empty",
            allowed=f"a table of at most {MOST_CELLS} cells",
            do="delete the rows and columns beyond the table, so that nothing is left of them",
        )
        return CsvText(header=None, records=(), faults=(fault,))
    faults = [_merged(str(area), file=file, row=area.min_row) for area in sheet.merged_cells.ranges]
    rows = zip(sheet.iter_rows(), shown.iter_rows(values_only=True), strict=True)
    header: CsvRecord | None = None
    records: list[CsvRecord] = []
    names: list[type] = []
    for line, (cells, values) in enumerate(rows, start=1):
        record, bad = _record(cells, values, line=line, kinds=names)
        if not any(text.strip() for text in record.cells) and not bad:
            continue
        if not whole and record.cells[0].startswith("#") and cells[0].data_type != "e":
            continue
        faults += [replace(fault, file=file, row=line) for fault in bad]
        if header is None and not whole:
            header = record
            names = [kinds.get(name.strip(), str) for name in record.cells]
            continue
        records.append(record)
    if header is None and not whole and not faults:
        faults.append(Fault(file=file, found="no header row", allowed="a header row and rows"))
    return CsvText(header=header, records=tuple(records), faults=tuple(faults))


def _record(
    cells: Iterable[Any], values: Iterable[Any], *, line: int, kinds: list[type]
) -> tuple[CsvRecord, list[Fault]]:
    from bedstone.store.sheet_cells import cell_text

    texts: list[str] = []
    faults: list[Fault] = []
    bad: set[int] = set()
    for at, (cell, value) in enumerate(zip(cells, values, strict=True)):
        found = cell_text(cell, value, kind=kinds[at] if at < len(kinds) else str)
        if isinstance(found, Fault):
            faults.append(replace(found, column=letter_of(at)))
            bad.add(at)
            found = ""
        texts.append(found)
    return CsvRecord(line=line, cells=tuple(texts), bad=frozenset(bad)), faults


def _merged(area: str, *, file: str, row: int) -> Fault:
    return Fault(
        file=file,
        row=row,
        found=f"the merged cells {area}",
        allowed="a value in each cell of its own",
        do="take the merge off and fill in each cell",
    )


def letter_of(at: int) -> str:
    """Return the letters of a column of a spreadsheet, counted from 0."""
    letters = ""
    at += 1
    while at:
        at, rest = divmod(at - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def said_of_sheets(faults: Iterable[Fault], headers: Mapping[str, CsvRecord | None]) -> list[Fault]:
    """Return faults of tables that stand in sheets in the words of sheets: name and column letter.

    Parameters
    ----------
    headers : mapping of str to CsvRecord
        Header of each table that stands in a sheet.
    """
    said = []
    for fault in faults:
        name = fault.file.removesuffix(".csv")
        changed = fault
        if fault.file == f"{name}.csv" and name in headers:
            changed = replace(
                fault,
                file=f"{WORKBOOK}, sheet {name}",
                column=_by_letter(fault.column, headers[name]),
            )
        for table in headers:
            changed = replace(
                changed,
                found=changed.found.replace(f"{table}.csv", f"sheet {table}"),
                allowed=changed.allowed.replace(f"{table}.csv", f"sheet {table}"),
                do=changed.do.replace(f"{table}.csv", f"sheet {table}"),
            )
        said.append(changed)
    return said


def _by_letter(column: str, header: CsvRecord | None) -> str:
    """Return "D (capacity_lb)" for the name of a column, or for its letter."""
    for at, cell in enumerate(header.cells if header is not None else ()):
        if cell.strip() and column in {cell.strip(), letter_of(at)}:
            return f"{letter_of(at)} ({cell.strip()})"
    return column
