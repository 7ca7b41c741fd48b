"""One table: the records of a CSV file to rows of the table's class, or faults."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any
from zoneinfo import ZoneInfo

from bedstone.errors import BadInput, Fault
from bedstone.mill.cells import near_words, quoted, read_cell
from bedstone.mill.columns import Column, columns_of, key_fields
from bedstone.mill.damage import DAMAGED
from bedstone.quantities.units import Unit
from bedstone.store.folder_text import CsvRecord, CsvText, read_csv_text, text_of

__all__ = ["Slot", "TableRead", "match_headers", "read_records", "read_table"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """A column of the file that has been understood: where it stands, what it fills, its unit."""

    at: int
    header: str
    column: Column
    unit: Unit | None


@dataclass(slots=True, kw_only=True)
class TableRead:
    """What was read of one file. Cells that cannot be understood are marked in the rows; rows
    whose key cannot be understood are left out (``dropped``).
    """

    file: str
    rows: list[Any] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    header: CsvRecord | None = None
    headers: dict[str, str] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    dropped: bool = False
    readable: bool = True


def read_table(data: bytes, *, file: str, row_type: type, zone: ZoneInfo) -> TableRead:
    """Return the rows of a table file with every fault that a cell or the header has."""
    text = text_of(data, file=file)
    if isinstance(text, Fault):
        return TableRead(file=file, faults=[text], readable=False)
    return read_records(read_csv_text(text, file=file), file=file, row_type=row_type, zone=zone)


def read_records(parsed: CsvText, *, file: str, row_type: type, zone: ZoneInfo) -> TableRead:
    """Return the rows of a table whose cells are text, with every fault."""
    read = TableRead(file=file, faults=list(parsed.faults), header=parsed.header)
    if parsed.header is None:
        read.readable = False
        return read
    slots, faults = match_headers(parsed.header, file=file, row_type=row_type)
    read.faults.extend(faults)
    read.headers = {slot.column.field: slot.header for slot in slots}
    read.dropped = bool(parsed.faults)
    absent = _absent_values(slots, row_type=row_type)
    for record in parsed.records:
        _read_row(record, read=read, slots=slots, absent=absent, row_type=row_type, zone=zone)
    if any(name in key_fields(row_type) and value is DAMAGED for name, value in absent.items()):
        read.readable = False
    return read


def _absent_values(slots: list[Slot], *, row_type: type) -> dict[str, Any]:
    there = {slot.column.field for slot in slots}
    return {
        column.field: DAMAGED if column.needed else column.default
        for column in columns_of(row_type)
        if column.field not in there
    }


def _read_row(
    record: CsvRecord,
    *,
    read: TableRead,
    slots: list[Slot],
    absent: Mapping[str, Any],
    row_type: type,
    zone: ZoneInfo,
) -> None:
    width = max((slot.at for slot in slots), default=0) + 1
    extra = [cell for cell in record.cells[width:] if cell.strip()]
    if extra and len(record.cells) > width:
        read.faults.append(_too_many(record, read, width, last=extra[-1]))
        read.dropped = True
        return
    values, faults = _cells_read(record, read=read, slots=slots, absent=absent, zone=zone)
    if faults and len(record.cells) > width:  # a comma has moved the cells: say that alone
        faults = [_too_many(record, read, width, last=record.cells[width - 1])]
        values = dict.fromkeys(values, DAMAGED)
    read.faults.extend(faults)
    if any(values[name] is DAMAGED for name in key_fields(row_type)):
        read.dropped = True
        return
    read.rows.append(row_type(**values))
    read.lines.append(record.line)


def _too_many(record: CsvRecord, read: TableRead, width: int, *, last: str) -> Fault:
    return Fault(
        file=read.file,
        row=record.line,
        found=f"{len(record.cells)} cells, the last {quoted(last)}",
        allowed=f"{width} cells, as many as the header has",
        do="put a text that holds a comma into quotes; write a number with a point",
    )


def _cells_read(
    record: CsvRecord,
    *,
    read: TableRead,
    slots: list[Slot],
    absent: Mapping[str, Any],
    zone: ZoneInfo,
) -> tuple[dict[str, Any], list[Fault]]:
    """The values of a row, and a fault for each cell that cannot be understood."""
    values = dict(absent)
    faults: list[Fault] = []
    for slot in slots:
        if slot.at in record.bad:
            values[slot.column.field] = DAMAGED
            continue
        text = record.cells[slot.at] if slot.at < len(record.cells) else ""
        try:
            values[slot.column.field] = read_cell(
                text, column=slot.column, unit=slot.unit, zone=zone
            )
        except BadInput as bad:
            values[slot.column.field] = DAMAGED
            faults.extend(
                replace(fault, file=read.file, row=record.line, column=slot.header)
                for fault in bad.faults
            )
    return values, faults


def match_headers(
    header: CsvRecord, *, file: str, row_type: type
) -> tuple[list[Slot], list[Fault]]:
    """Return the columns that were understood, and what is wrong with the others."""
    columns = columns_of(row_type)
    allowed = {name: (column, unit) for column in columns for name, unit in column.headers.items()}
    slots: list[Slot] = []
    faults: list[Fault] = []
    named: dict[str, str] = {}

    def bad(name: str, found: str, may: str, do: str = "") -> None:
        faults.append(
            Fault(file=file, row=header.line, column=name, found=found, allowed=may, do=do)
        )

    for at, cell in enumerate(header.cells):
        name = cell.strip()
        if not name:
            continue
        if name not in allowed:
            bad(name, *_unknown_header(name, columns, allowed))
            wrong = _meant_by(name, columns)
            if wrong is not None:
                named.setdefault(wrong.field, name)
            continue
        column, unit = allowed[name]
        if column.field in named:
            bad(
                name,
                f"the same column again (first as {named[column.field]})",
                "each column once",
                "delete one of the two",
            )
            continue
        named[column.field] = name
        slots.append(Slot(at=at, header=name, column=column, unit=unit))
    for column in columns:
        if column.needed and column.field not in named:
            may = " or ".join(column.headers)
            bad(next(iter(column.headers)), "no such column", f"a column {may}", "add the column")
    return slots, faults


def _meant_by(name: str, columns: tuple[Column, ...]) -> Column | None:
    fitting = [
        column
        for column in columns
        if column.dimension is not None
        and (name.startswith(column.stem) or f"{name}_" == column.stem)
    ]
    return max(fitting, key=lambda column: len(column.stem), default=None)


def _unknown_header(
    name: str, columns: tuple[Column, ...], allowed: Mapping[str, object]
) -> tuple[str, str, str]:
    meant = _meant_by(name, columns)
    if meant is not None:
        unit = name[len(meant.stem) :]
        found = f'the unit "{unit}"' if unit else "a column without its unit"
        return found, " or ".join(meant.headers), "convert the numbers and rename the column"
    near = near_words(name, allowed)
    may = "one of " + ", ".join(next(iter(column.headers)) for column in columns)
    return f"an unknown column {quoted(name)}", may, near or "rename or delete the column"
