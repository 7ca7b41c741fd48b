"""``order_mappings.toml`` and the lists of orders that it reads: CSV files and workbooks."""

import csv
import io
import tomllib
from collections.abc import Iterator, Mapping
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Final

from bedstone.errors import BadInput, Fault, Unknown
from bedstone.mill.cells import SHEET_ERRORS, near_words, quoted
from bedstone.mill.mapped_orders import MAPPINGS_FILE
from bedstone.mill.order_mapping import WORD_COLUMNS, Mapped, OrderMapping, TheirFile, TheirRow
from bedstone.store.folder_settings import lines_of, not_toml, section_values
from bedstone.store.folder_sheets import open_workbook, read_sheet
from bedstone.store.folder_text import CsvRecord

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

__all__ = ["read_mapping", "read_their_orders"]

_LARGEST: Final = 20_000_000  # bytes
_SIGNS: Final = {"comma": ",", "semicolon": ";", "tab": "\t", "bar": "|"}


def read_mapping(folder: Path, name: str) -> Mapped:
    """Return a mapping of a mill folder by its name.

    Raises
    ------
    Unknown
        If there is no such mapping; the names of those that are there are offered.
    BadInput
        With every fault of the mapping.
    """
    path = folder / MAPPINGS_FILE
    if not path.is_file():
        raise Unknown(
            f"The folder has no {MAPPINGS_FILE}.",
            do="write one; docs/import-orders.md shows how",
        )
    try:
        text = _bytes_of(path).decode("utf-8-sig")
        content = tomllib.loads(text, parse_float=Decimal)
    except (ValueError, RecursionError) as error:
        text = text if isinstance(error, tomllib.TOMLDecodeError) else ""
        fault = not_toml(text, error, file=MAPPINGS_FILE)
        raise _faulty(name, [fault]) from error
    part = content.get(name)
    if not isinstance(part, dict):
        raise Unknown(
            f"There is no mapping {name!r} in {MAPPINGS_FILE}.",
            allowed=", ".join(key for key, value in content.items() if isinstance(value, dict)),
            do=near_words(name, content) or f"add a section [{name}]",
        )
    faults: list[Fault] = []
    words = _words(name, part.pop("words", {}), faults)
    values = section_values(
        part,
        section=name,
        row_type=OrderMapping,
        lines=lines_of(text),
        faults=faults,
        file=MAPPINGS_FILE,
    )
    if faults:
        raise _faulty(name, faults)
    return Mapped(name=name, to=OrderMapping(**values), words=words)


def _faulty(name: str, faults: list[Fault]) -> BadInput:
    return BadInput(
        f"The mapping {name} cannot be used; nothing was recorded.",
        do="mend it in the file",
        faults=tuple(faults),
    )


def _words(name: str, given: object, faults: list[Fault]) -> Mapping[str, Mapping[str, str]]:
    """Return their words for ours, column by column."""
    words: dict[str, dict[str, str]] = {}
    columns = given if isinstance(given, dict) else {"": given}
    for column, pairs in columns.items():
        where = f"{name}.words" + (f".{column}" if column else "")
        if column not in WORD_COLUMNS or not isinstance(pairs, dict):
            faults.append(
                Fault(
                    file=MAPPINGS_FILE,
                    column=where,
                    found="words of an unknown column",
                    allowed=", ".join(f"[{name}.words.{column}]" for column in WORD_COLUMNS),
                )
            )
            continue
        words[column] = {str(theirs): str(ours) for theirs, ours in pairs.items()}
        faults += [
            Fault(
                file=MAPPINGS_FILE, column=where, found=str(ours), allowed='"their word" = "ours"'
            )
            for ours in pairs.values()
            if not isinstance(ours, str)
        ]
    return words


def read_their_orders(path: Path, to: OrderMapping) -> TheirFile:
    """Return a customer's list of orders as text.

    Raises
    ------
    BadInput
        If the file cannot be read as a CSV or a workbook, as the mapping says; with every fault.
    """
    faults: list[Fault] = []
    if path.suffix.lower() == ".xlsx":
        records = _of_workbook(path, to, faults)
    else:
        records = _of_csv(path, to, faults)
    if records and not faults:
        found = _with_header(path, records, to, faults)
        if found is not None and not faults:
            return found
    raise BadInput(
        f"{path.name} cannot be read as the mapping says; nothing was recorded.",
        do="look at the file, or mend the mapping",
        faults=tuple(faults)
        or (Fault(file=path.name, found="no rows", allowed="a row of names and rows of orders"),),
    )


def _bytes_of(path: Path) -> bytes:
    try:
        if path.stat().st_size > _LARGEST:
            raise BadInput(f"{path.name} is larger than a list of orders can be.", allowed="20 MB")
        return path.read_bytes()
    except OSError as error:
        raise BadInput(
            f"{path.name} cannot be read.", seen=error.strerror or str(error), do="check its name"
        ) from error


def _of_csv(path: Path, to: OrderMapping, faults: list[Fault]) -> list[CsvRecord]:
    encoding = "utf-8-sig" if to.encoding == "utf-8" else to.encoding
    try:
        text = _bytes_of(path).decode(encoding)
    except UnicodeError as error:
        faults.append(
            Fault(
                file=path.name,
                found=f"text that is not {to.encoding} ({error})"[:200],
                allowed=f"text in {to.encoding}",
                do="set encoding in the mapping, or save the file as UTF-8",
            )
        )
        return []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=_SIGNS[to.separator], strict=True)
    records: list[CsvRecord] = []
    try:
        before = 0
        for cells in reader:
            records.append(CsvRecord(line=before + 1, cells=tuple(cells)))
            before = reader.line_num
    except csv.Error as error:
        faults.append(
            Fault(
                file=path.name,
                row=reader.line_num,
                found=f"a row that cannot be read ({error})",
                allowed="cells in quotes that are closed again",
            )
        )
    return records


def _of_workbook(path: Path, to: OrderMapping, faults: list[Fault]) -> list[CsvRecord]:
    book = open_workbook(_bytes_of(path), file=path.name)
    if isinstance(book, Fault):
        faults.append(book)
        return []
    formulas, values = book
    sheets = {sheet.title: sheet for sheet in formulas.worksheets}
    name = to.sheet or next(iter(sheets), "")
    if name not in sheets:
        found = f"no sheet {quoted(name)}"
        faults.append(Fault(file=path.name, found=found, allowed=", ".join(sheets)))
        return []
    read = read_sheet(sheets[name], values[name], file=path.name, kinds={}, whole=True)
    faults.extend(read.faults)
    if to.decimal == "comma":
        return [_with_commas(record, values[name]) for record in read.records]
    return list(read.records)


def _with_commas(record: CsvRecord, shown: "Worksheet") -> CsvRecord:
    """Return a record whose numbers are written as those that people typed are understood."""
    cells = (
        text.replace(".", ",")
        if isinstance(shown.cell(row=record.line, column=at).value, float)
        else text
        for at, text in enumerate(record.cells, start=1)
    )
    return CsvRecord(line=record.line, cells=tuple(cells))


def _with_header(
    path: Path, records: list[CsvRecord], to: OrderMapping, faults: list[Fault]
) -> TheirFile | None:
    header = next((record for record in records if record.line >= to.header_row), None)
    if header is None or header.line != to.header_row:
        found = f"no names of columns in row {to.header_row}"
        faults.append(Fault(file=path.name, found=found, allowed="header_row as the mapping says"))
        return None
    names = [cell.strip() for cell in header.cells]
    twice = sorted({name for name in names if name and names.count(name) > 1})
    faults += [
        Fault(file=path.name, row=header.line, column=name, found="twice", allowed="once")
        for name in twice
    ]
    behind = [record for record in records if record.line > header.line]
    rows = tuple(_rows(path, names, behind, faults))
    return TheirFile(name=path.name, columns=tuple(name for name in names if name), rows=rows)


def _rows(
    path: Path, names: list[str], records: list[CsvRecord], faults: list[Fault]
) -> Iterator[TheirRow]:
    for record in records:
        if not any(cell.strip() for cell in record.cells):
            continue
        if any(cell.strip() for cell in record.cells[len(names) :]):
            found = f"{len(record.cells)} cells"
            allowed = f"{len(names)} cells, as many as there are names of columns"
            faults.append(Fault(file=path.name, row=record.line, found=found, allowed=allowed))
            continue
        cells = dict(zip(names, (cell.strip() for cell in record.cells), strict=False))
        faults += [
            Fault(
                file=path.name,
                row=record.line,
                column=name,
                found=f"the spreadsheet error {cell}",
                allowed="a value",
            )
            for name, cell in cells.items()
            if cell in SHEET_ERRORS
        ]
        yield TheirRow(line=record.line, cells=cells)
