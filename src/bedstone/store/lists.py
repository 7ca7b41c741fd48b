"""A list that somebody kept in a CSV file or a workbook, read as text with its lines."""

from collections.abc import Iterator, Mapping
from pathlib import Path

from bedstone.errors import BadInput, Fault
from bedstone.mill.order_mapping import TheirFile, TheirRow
from bedstone.store.folder_sheets import open_workbook, read_sheet
from bedstone.store.folder_text import CsvRecord, CsvText, read_csv_text, text_of

__all__ = ["read_list"]

LARGEST_MB = 20
HOLDS = "a row of names of columns, and rows"


def read_list(path: Path, kinds: Mapping[str, type]) -> TheirFile:
    """Return a list's columns and rows; comment lines and blank rows are left out.

    Parameters
    ----------
    path : Path
        A CSV in UTF-8, or an .xlsx workbook, of which the first sheet is read.
    kinds : mapping of str to type
        What cells below a column's name are, so that days and times of a workbook come as text.

    Raises
    ------
    BadInput
        With every fault, if the file cannot be read.
    """
    faults: list[Fault] = []
    read = _read(path, kinds, faults)
    if read is not None and read.header is not None and not faults:
        names = [cell.strip() for cell in read.header.cells]
        while names and not names[-1]:
            names.pop()
        faults += [
            Fault(file=path.name, row=read.header.line, column=name, found=found, allowed=allowed)
            for name, found, allowed in _wrong_names(names)
        ]
        rows = tuple(_rows(path.name, names, read.records, faults))
        if not faults:
            return TheirFile(name=path.name, columns=tuple(names), rows=rows)
    raise BadInput(
        f"{path.name} cannot be read; nothing was recorded.",
        faults=tuple(faults) or (Fault(file=path.name, found="no rows", allowed=HOLDS),),
    )


def _read(path: Path, kinds: Mapping[str, type], faults: list[Fault]) -> CsvText | None:
    try:
        if path.stat().st_size > LARGEST_MB * 10**6:
            raise BadInput(f"{path.name} is too large.", allowed=f"{LARGEST_MB} MB at most")
        data = path.read_bytes()
    except OSError as error:
        raise BadInput(
            f"{path.name} cannot be read.",
            seen=error.strerror or str(error),
            do="see that name and folder are right",
        ) from error
    if path.suffix.lower() != ".xlsx":
        text = text_of(data, file=path.name, holds=HOLDS)
        if isinstance(text, Fault):
            faults.append(text)
            return None
        read = read_csv_text(text, file=path.name)
    else:
        book = open_workbook(data, file=path.name)
        if isinstance(book, Fault):
            faults.append(book)
            return None
        formulas, values = book
        first = formulas.worksheets[0]
        read = read_sheet(first, values[first.title], file=path.name, kinds=kinds)
    faults += read.faults
    return read


def _wrong_names(names: list[str]) -> Iterator[tuple[str, str, str]]:
    for at, name in enumerate(names, 1):
        if not name:
            yield f"column {at}", "no name", "a name for each column"
        elif name in names[: at - 1]:
            yield name, "twice", "once"


def _rows(
    file: str, names: list[str], records: tuple[CsvRecord, ...], faults: list[Fault]
) -> Iterator[TheirRow]:
    for record in records:
        cells = [cell.strip() for cell in record.cells]
        if any(cells[len(names) :]):
            allowed = f"{len(names)} cells, as many as there are names of columns"
            faults.append(
                Fault(file=file, row=record.line, found=f"{len(cells)} cells", allowed=allowed)
            )
        cells += [""] * (len(names) - len(cells))
        yield TheirRow(line=record.line, cells=dict(zip(names, cells, strict=False)))
