"""The mill folder: ``mill.toml`` and tables, read whole or not at all, and written back.

A table is a CSV file, or a sheet of the same name in ``mill.xlsx``; never both.
"""

import os
from collections.abc import Mapping, Sequence
from dataclasses import fields
from pathlib import Path
from typing import Any

from bedstone.errors import BadInput, Fault, Refused
from bedstone.mill.cells import near_words
from bedstone.mill.columns import NEEDED_TABLES
from bedstone.mill.folder import LoadedFolder
from bedstone.mill.model import TABLES, Mill
from bedstone.mill.validate import Places, check_folder
from bedstone.store.folder_rows import table_text
from bedstone.store.folder_settings import (
    SETTINGS_FILE,
    SettingsRead,
    read_settings,
    settings_text,
)
from bedstone.store.folder_sheets import WORKBOOK, SheetsRead, read_sheets, said_of_sheets
from bedstone.store.folder_table import TableRead, read_records, read_table
from bedstone.store.folder_text import CsvRecord
from bedstone.store.folder_workbook import workbook_bytes

__all__ = ["read_folder", "write_folder"]

MERGED = ("orders", "opening_stock", "weather", "assays")
WORKBOOK_STEM = WORKBOOK.removesuffix(".xlsx")
SHEET_ENDINGS = (".xlsx", ".xls", ".xlsm", ".ods")
LARGEST_FILE = 64 * 1024 * 1024


def read_folder(folder: Path) -> LoadedFolder:
    """Return what a mill folder says, if all of it is right.

    Raises
    ------
    BadInput
        With every fault of every file: file, row, column, what was found, what is allowed, what
        to do. Nothing is returned unless all is right.
    """
    faults: list[Fault] = []
    files = _files(folder)
    settings = _read_settings(folder, files)
    faults.extend(settings.faults)
    faults.extend(_stray_files(files))
    sheets = _read_sheets(files)
    faults.extend(sheets.faults)
    tables = {
        name: _read_table(folder, files, name=name, settings=settings, sheets=sheets)
        for name in TABLES
    }
    for table in tables.values():
        faults.extend(table.faults)
    places = Places(
        lines={name: table.lines for name, table in tables.items()},
        headers={name: table.headers for name, table in tables.items()},
        unreadable=frozenset(name for name, table in tables.items() if not table.readable),
        dropped=frozenset(name for name, table in tables.items() if table.dropped),
        settings_lines=settings.lines,
    )
    rows = {name: tuple(table.rows) for name, table in tables.items()}
    faults.extend(check_folder(rows, settings.settings, places=places))
    if faults or settings.settings is None:
        read = [name for name in sheets.sheets if f"{name}.csv" not in files]
        raise _faulty(folder, faults, {name: tables[name].header for name in read})
    mill: dict[str, Any] = {name: part for name, part in rows.items() if name not in MERGED}
    return LoadedFolder(
        mill=Mill(settings=settings.settings, **mill),
        orders=rows["orders"],
        opening_stock=rows["opening_stock"],
        weather=rows["weather"],
        assays=rows["assays"],
        record_place=settings.record_place,
    )


def _faulty(folder: Path, faults: list[Fault], sheets: Mapping[str, CsvRecord | None]) -> BadInput:
    """Say every fault in the order of the tables; ``sheets`` has the header of each in a sheet."""
    order = {f"{name}.csv": at for at, name in enumerate(TABLES, start=1)}
    faults = sorted(faults, key=lambda fault: (order.get(fault.file, 0), fault.row or 0))
    count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
    return BadInput(
        f"The mill folder {folder.name} has {count}; nothing was loaded.",
        do="mend them in the files and load again",
        faults=tuple(said_of_sheets(faults, sheets)),
    )


def _files(folder: Path) -> dict[str, Path]:
    try:
        return {path.name: path for path in sorted(folder.iterdir()) if path.is_file()}
    except OSError as error:
        raise BadInput(
            f"The mill folder {folder} cannot be read.",
            seen=error.strerror or str(error),
            do="name a folder that holds mill.toml, or make one with bedstone new",
        ) from error


def _bytes_of(path: Path) -> bytes | Fault:
    try:
        if path.stat().st_size > LARGEST_FILE:
            return Fault(file=path.name, found="over 64 MB", allowed="a table of less than 64 MB")
        return path.read_bytes()
    except OSError as error:
        found = f"a file that cannot be read ({error.strerror})"
        return Fault(file=path.name, found=found, allowed="a file that may be read")


def _read_sheets(files: Mapping[str, Path]) -> SheetsRead:
    """Return the tables in the folder's workbook; none where there is no workbook."""
    if WORKBOOK not in files:
        return SheetsRead()
    data = _bytes_of(files[WORKBOOK])
    return SheetsRead(faults=[data]) if isinstance(data, Fault) else read_sheets(data)


def _read_settings(folder: Path, files: Mapping[str, Path]) -> SettingsRead:
    if SETTINGS_FILE not in files:
        fault = Fault(
            file=SETTINGS_FILE,
            found="no such file",
            allowed=f"a file {SETTINGS_FILE} in {folder.name}",
            do=near_words(SETTINGS_FILE, files) or "see what bedstone new writes",
        )
        return SettingsRead(faults=[fault])
    data = _bytes_of(files[SETTINGS_FILE])
    return SettingsRead(faults=[data]) if isinstance(data, Fault) else read_settings(data)


def _stray_files(files: Mapping[str, Path]) -> list[Fault]:
    faults = []
    for name in files:
        stem, ending = os.path.splitext(name)  # noqa: PTH122  both parts at once
        if name.startswith((".", "~")):
            continue
        if ending.lower() == ".csv" and (stem not in TABLES or ending != ".csv"):
            faults.append(
                Fault(
                    file=name,
                    found="a table of an unknown name",
                    allowed=", ".join(f"{table}.csv" for table in TABLES),
                    do=near_words(name, [f"{table}.csv" for table in TABLES])
                    or "rename it or take it out of the folder",
                )
            )
        elif (
            ending.lower() in SHEET_ENDINGS
            and stem.lower() in {*TABLES, WORKBOOK_STEM}
            and name != WORKBOOK
        ):
            faults.append(
                Fault(
                    file=name,
                    found="a spreadsheet",
                    allowed=f"tables as CSV files, or as sheets of one {WORKBOOK}",
                    do="save the sheet as CSV UTF-8, comma-separated, and take this file away"
                    if stem.lower() in TABLES
                    else f"save it as {WORKBOOK} and take this file away",
                )
            )
    return faults


def _read_table(
    folder: Path,
    files: Mapping[str, Path],
    *,
    name: str,
    settings: SettingsRead,
    sheets: SheetsRead,
) -> TableRead:
    """Return a table from its CSV file or its sheet, with what is wrong with it."""
    file = f"{name}.csv"
    if file not in files and name not in sheets.sheets:
        return _absent(folder, name=name, sheets=sheets)
    if file not in files:
        table = read_records(
            sheets.sheets[name], file=file, row_type=TABLES[name], zone=settings.zone
        )
    else:
        data = _bytes_of(files[file])
        if isinstance(data, Fault):
            return TableRead(file=file, readable=False, faults=[data])
        table = read_table(data, file=file, row_type=TABLES[name], zone=settings.zone)
        if name in sheets.sheets:
            table.faults.append(_twice(name))
    if name in NEEDED_TABLES and table.readable and not table.rows and not table.dropped:
        table.faults.append(Fault(file=file, found="no rows", allowed="at least one row"))
        table.readable = False
    return table


def _absent(folder: Path, *, name: str, sheets: SheetsRead) -> TableRead:
    missing = TableRead(file=f"{name}.csv", readable=name not in NEEDED_TABLES)
    if any(fault.file == WORKBOOK for fault in sheets.faults):
        missing.readable = False  # it may stand in the workbook that could not be read
    elif name in NEEDED_TABLES:
        found = Fault(
            file=missing.file,
            found="no such file",
            allowed=f"a file {name}.csv in {folder.name}, or a sheet {name} in its {WORKBOOK}, "
            "with at least one row",
        )
        missing.faults.append(found)
    return missing


def _twice(name: str) -> Fault:
    return Fault(
        file=WORKBOOK,
        found=f"a sheet {name} beside the file {name}.csv",
        allowed="each table once, as a file or as a sheet",
        do="take one of the two away, the one that is older",
    )


def write_folder(loaded: LoadedFolder, out: Path, *, workbook: bool = False) -> tuple[Path, ...]:
    """Write every table into a folder, new or empty, so that reading it gives the same again.

    Parameters
    ----------
    workbook : bool
        Whether tables are sheets of one ``mill.xlsx`` rather than CSV files.

    Returns
    -------
    files : tuple of Path
        What was written.

    Raises
    ------
    Refused
        If the folder already holds a file; nothing is written then.
    """
    refuse_if_filled(out)
    settings = loaded.mill.settings
    rows = {name: rows_of(loaded, name) for name in TABLES}
    texts: dict[str, str | bytes] = {
        SETTINGS_FILE: settings_text(settings, record_place=loaded.record_place)
    }
    if workbook:
        texts[WORKBOOK] = workbook_bytes(rows, system=settings.units, zone=settings.zone)
    else:
        for name, row_type in TABLES.items():
            texts[f"{name}.csv"] = table_text(
                rows[name], row_type=row_type, system=settings.units, zone=settings.zone
            )
    return write_texts(texts, out)


def rows_of(loaded: LoadedFolder, name: str) -> Sequence[Any]:
    """Return the rows of a table by its name."""
    holder: Any = loaded if name in {item.name for item in fields(loaded)} else loaded.mill
    rows: Sequence[Any] = getattr(holder, name)
    return rows


def refuse_if_filled(out: Path) -> None:
    """Raise Refused when something already lies in a folder that is to be written."""
    if out.exists() and (not out.is_dir() or any(out.iterdir())):
        raise Refused(
            f"{out} is not empty; nothing was written.",
            allowed="a folder that does not exist yet, or an empty one",
            do="name another folder",
        )


def write_texts(texts: Mapping[str, str | bytes], out: Path) -> tuple[Path, ...]:
    """Write files into a folder, making it if need be; ``mill.toml`` comes last."""
    try:
        out.mkdir(parents=True, exist_ok=True)
        paths = []
        for name in sorted(texts, key=lambda name: name == SETTINGS_FILE):
            path = out / name
            text = texts[name]
            path.write_bytes(text if isinstance(text, bytes) else text.encode())
            paths.append(path)
    except OSError as error:
        raise Refused(
            f"{out} cannot be written.", seen=error.strerror or str(error), do="name another folder"
        ) from error
    return tuple(paths)
