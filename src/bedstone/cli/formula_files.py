"""Answers about formulas as CSV and xlsx files."""

from collections.abc import Mapping, Sequence
from pathlib import Path

from bedstone.errors import BadInput
from bedstone.papers.table_files import Cell, csv_file, workbook

__all__ = ["write_tables"]

Tables = Mapping[str, tuple[tuple[str, ...], Sequence[Sequence[Cell]]]]


def write_tables(path: Path, tables: Tables) -> list[Path]:
    """Write tables as sheets of a workbook, or as CSV with the others beside the first.

    Raises
    ------
    BadInput
        If the file is neither .csv nor .xlsx, or cannot be written.
    """
    kind = path.suffix.lower()
    if kind not in {".csv", ".xlsx"}:
        raise BadInput(
            "The answer cannot be written to such a file.",
            seen=path.name,
            allowed="a name that ends in .csv or .xlsx",
        )
    files = {path: workbook(tables)} if kind == ".xlsx" else _csv_files(path, tables)
    try:
        for one, content in files.items():
            one.write_bytes(content)
    except OSError as error:
        raise BadInput(
            f"{path} cannot be written.",
            seen=error.strerror or str(error),
            do="name another place with --out",
        ) from error
    return list(files)


def _csv_files(path: Path, tables: Tables) -> dict[Path, bytes]:
    """The first table in the file itself, each further one beside it."""
    return {
        path if number == 0 else path.with_name(f"{path.stem}-{name}{path.suffix}"): csv_file(
            *table
        )
        for number, (name, table) in enumerate(tables.items())
    }
