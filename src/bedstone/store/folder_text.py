"""Bytes of a file to text lines and CSV records, each with its line as an editor numbers it."""

import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass

from bedstone.errors import Fault
from bedstone.mill.cells import SHEET_ERRORS

__all__ = ["CsvRecord", "CsvText", "read_csv_text", "text_of"]

LINE_END = re.compile(r"\r\n|\n|\r")
MOST_LINES_IN_CELL = 40
OTHER_MARKS = ((b"\xff\xfe", "UTF-16"), (b"\xfe\xff", "UTF-16"))
SAVE_AS = "save the file again as CSV UTF-8, comma-separated"


@dataclass(frozen=True, slots=True, kw_only=True)
class CsvRecord:
    """The cells of one record and the line on which it begins.

    ``bad`` names cells whose fault has been said, counted from 0.
    """

    line: int
    cells: tuple[str, ...]
    bad: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class CsvText:
    """What a CSV file or a sheet holds: its header (None if it has none), its records, its faults."""

    header: CsvRecord | None
    records: tuple[CsvRecord, ...]
    faults: tuple[Fault, ...]


def text_of(
    data: bytes, *, file: str, holds: str = "a header line and rows", do: str = SAVE_AS
) -> str | Fault:
    """Return the text of a file in UTF-8, with or without a mark, or what is wrong with it."""
    if not data:
        return Fault(file=file, found="an empty file", allowed=holds, do=do)
    for mark, name in OTHER_MARKS:
        if data.startswith(mark):
            return Fault(file=file, row=1, found=f"{name} text", allowed="UTF-8 text", do=do)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = data[: error.start]
        line = before.count(b"\n") + 1
        place = error.start - (before.rfind(b"\n") + 1) + 1
        return Fault(
            file=file,
            row=line,
            found=f"the byte 0x{data[error.start]:02X} at place {place} of the line,"
            " which is not UTF-8",
            allowed="UTF-8 text",
            do=do,
        )


def read_csv_text(text: str, *, file: str) -> CsvText:
    """Return header and records; comment lines and blank rows are left out."""
    faults: list[Fault] = []
    records = list(_records(LINE_END.split(text), file=file, faults=faults))
    if not records:
        if not faults:
            faults.append(
                Fault(file=file, found="no header line", allowed="a header line and rows")
            )
        return CsvText(header=None, records=(), faults=tuple(faults))
    header, *rows = records
    other = _other_separator(header)
    if other:
        faults.append(
            Fault(
                file=file,
                row=header.line,
                found=f"columns separated by {other}",
                allowed="columns separated by commas",
                do=SAVE_AS,
            )
        )
        return CsvText(header=None, records=(), faults=tuple(faults))
    return CsvText(header=header, records=tuple(rows), faults=tuple(faults))


def _other_separator(header: CsvRecord) -> str:
    if len([cell for cell in header.cells if cell.strip()]) == 1:
        for sign, name in ((";", "semicolons"), ("\t", "tabs"), ("|", "bars")):
            if sign in header.cells[0]:
                return name
    return ""


def _records(lines: list[str], *, file: str, faults: list[Fault]) -> Iterator[CsvRecord]:
    at = 0
    while at < len(lines):
        start = at
        at += 1
        if lines[start].startswith("#") and not _is_error_cell(lines[start]):
            continue
        cells, used = _cells(lines, start)
        if cells is None:
            faults.append(
                Fault(
                    file=file,
                    row=start + 1,
                    found="a quotation mark that is not closed, text after a closed one, or an endless cell",
                    allowed='a cell in quotes like "so", with "" for a quotation mark inside',
                )
            )
            continue
        at = start + used
        if not any(cell.strip() for cell in cells):
            continue
        if lines[start].startswith('"#') and not _is_error_cell(cells[0]):
            continue  # a comment that a spreadsheet has put into quotes
        yield CsvRecord(line=start + 1, cells=tuple(cells))


def _is_error_cell(line: str) -> bool:
    return line.split(",", 1)[0].strip() in SHEET_ERRORS


def _cells(lines: list[str], start: int) -> tuple[list[str] | None, int]:
    for used in range(1, min(MOST_LINES_IN_CELL, len(lines) - start) + 1):
        text = [f"{line}\n" for line in lines[start : start + used]]
        try:
            parsed = list(csv.reader(text, strict=True))
        except csv.Error as error:
            if str(error).startswith("unexpected end"):
                continue  # the cell goes on in the next line
            return None, 1
        return (parsed[0] if parsed else []), used
    return None, 1
