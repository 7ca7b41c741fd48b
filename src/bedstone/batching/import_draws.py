"""Actual draws out of the CSV that the mill's own batching controls export."""

import csv
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from fractions import Fraction

from bedstone.batching.model import DrawSeen
from bedstone.errors import BadInput, Fault
from bedstone.mill.model import Mill
from bedstone.mill.plan import Batch, Draw

__all__ = ["read_draws"]

MG_OF = {
    "kg": Fraction(1_000_000),
    "g": Fraction(1_000),
    "lb": Fraction("453592.37"),
}
"""Milligrams in a unit, exact (NIST Special Publication 811, 2008, appendix B.8)."""
MOST_MG = 10**12  # no draw is heavier than a thousand tonnes
LONGEST_NUMBER = 20
LONGEST_SEQUENCE = 5
MOST_FAULTS = 200
MOST_NAMED = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """A row of the file with its number, as written."""

    number: int
    cells: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class _File:
    """The file's name and the mill whose ``mill.toml`` names its columns."""

    name: str
    mill: Mill

    def fault(
        self, row: _Row | int | None, column: str, found: str, *, allowed: str, do: str = ""
    ) -> Fault:
        """A fault in this file."""
        number = row.number if isinstance(row, _Row) else row
        return Fault(file=self.name, row=number, column=column, found=found, allowed=allowed, do=do)

    @property
    def batch(self) -> str:
        """Column that names the batch."""
        return self.mill.settings.controls_batch

    @property
    def sequence(self) -> str:
        """Column with the number of the draw."""
        return self.mill.settings.controls_sequence

    @property
    def ingredient(self) -> str:
        """Column with the ingredient."""
        return self.mill.settings.controls_ingredient

    @property
    def actual(self) -> str:
        """Column with what was weighed."""
        return self.mill.settings.controls_actual


def read_draws(
    text: str, batches: Sequence[Batch], *, mill: Mill, file: str = "the controls' CSV"
) -> dict[str, tuple[DrawSeen, ...]]:
    """What the controls weighed, matched to the draws of their batches; every fault at once.

    The columns are those that ``mill.toml`` names (``controls_...``). Rows go by the number of
    the draw where the file has that column, else by ingredient (code or name), the rows of one
    ingredient in weighing order. Cells may be apart by comma, semicolon or tab.

    Parameters
    ----------
    text : str
        The file, decoded.
    batches : sequence of Batch
        Batches that it may name.
    mill : Mill
        The mill, for its settings and the names of ingredients.
    file : str
        Name of the file, for messages.

    Returns
    -------
    seen : dict of str to tuple of DrawSeen
        For each batch that the file names, in the file's order, one for each of its draws, in
        weighing order.

    Raises
    ------
    BadInput
        If anything cannot be understood or does not match a batch; carries every fault.
    """
    source = _File(name=file, mill=mill)
    rows, faults = _rows_of(text, source)
    seen: dict[str, tuple[DrawSeen, ...]] = {}
    if not faults:
        by_batch, faults = _by_batch(rows, batches, source)
        known = {batch.batch: batch for batch in batches}
        for code, of_it in by_batch.items():
            seen[code], wrong = _of_batch(of_it, known[code], source)
            faults.extend(wrong)
    if faults:
        raise BadInput(
            f"{file} cannot be used; nothing was recorded.",
            faults=tuple(faults[:MOST_FAULTS]),
            do="correct the file and send it again",
        )
    return seen


def _rows_of(text: str, source: _File) -> tuple[list[_Row], list[Fault]]:
    """Rows under the header; faults of the whole file."""
    lines = text.lstrip("\ufeff").splitlines()
    head = next((line for line in lines if line.strip()), "")
    if not head:
        allowed = "a header and a row for each draw"
        return [], [source.fault(None, "", "an empty file", allowed=allowed)]
    separator = max((",", ";", "\t"), key=head.count)
    try:
        table = list(csv.reader(lines, delimiter=separator, strict=True))
    except csv.Error as error:
        return [], [source.fault(None, "", f"text that is no CSV ({error})", allowed="CSV")]
    filled = [(at, cells) for at, cells in enumerate(table, start=1) if any(map(str.strip, cells))]
    header = [cell.strip() for cell in filled[0][1]]
    faults = list(_faults_of_header(header, source))
    for at, cells in filled[1:]:
        if len(cells) != len(header):
            allowed = f"{len(header)}, as in the header"
            faults.append(source.fault(at, "", f"{len(cells)} cells", allowed=allowed))
    if not filled[1:]:
        faults.append(source.fault(None, "", "no row under the header", allowed="a row a draw"))
    rows = [
        _Row(number=at, cells=dict(zip(header, map(str.strip, cells), strict=False)))
        for at, cells in filled[1:]
    ]
    return rows, faults


def _faults_of_header(header: list[str], source: _File) -> Iterator[Fault]:
    """Columns that are missing or stand twice."""
    do = "name the columns of the controls' file in mill.toml (controls_...), then bedstone load"
    there = ", ".join(header)
    for name in (source.batch, source.actual):
        if name not in header:
            yield source.fault(None, name, "no such column", allowed=there, do=do)
    if source.sequence not in header and source.ingredient not in header:
        either = f"{source.sequence} or {source.ingredient}"
        yield source.fault(None, either, "no such column", allowed=there, do=do)
    for name in sorted({name for name in header if header.count(name) > 1}):
        yield source.fault(None, name, "a column twice", allowed="each column once")


def _by_batch(
    rows: Sequence[_Row], batches: Sequence[Batch], source: _File
) -> tuple[dict[str, list[_Row]], list[Fault]]:
    """Rows by batch; a fault for each that names none of the batches."""
    codes = [batch.batch for batch in batches]
    allowed = ", ".join(codes[:MOST_NAMED]) + (" ..." if codes[MOST_NAMED:] else "")
    found: dict[str, list[_Row]] = {}
    faults: list[Fault] = []
    for row in rows:
        code = row.cells[source.batch]
        if code in codes:
            found.setdefault(code, []).append(row)
        else:
            do = "choose the file and the plan that belong together"
            faults.append(source.fault(row, source.batch, repr(code), allowed=allowed, do=do))
    return found, faults


def _of_batch(
    rows: Sequence[_Row], batch: Batch, source: _File
) -> tuple[tuple[DrawSeen, ...], list[Fault]]:
    """What was drawn for one batch, and what is wrong in its rows."""
    has_numbers = source.sequence in rows[0].cells
    found, faults = (_by_number if has_numbers else _by_ingredient)(rows, batch, source)
    if not faults:
        for draw in batch.draws:
            if draw.sequence not in found:
                name = source.mill.name_of(draw.ingredient)
                missing = f"no row for draw {draw.sequence} of {batch.batch} ({name})"
                do = "add the row; a draw that was not made is recorded as 0"
                fault = source.fault(None, "", missing, allowed="a row for each draw", do=do)
                faults.append(fault)
    seen: list[DrawSeen] = []
    for sequence, row in sorted(found.items()):
        got = _seen(sequence, row, source)
        if isinstance(got, Fault):
            faults.append(got)
        else:
            seen.append(got)
    return tuple(seen), faults


def _by_number(
    rows: Sequence[_Row], batch: Batch, source: _File
) -> tuple[dict[int, _Row], list[Fault]]:
    """Rows by the number of their draw."""
    draws = {draw.sequence: draw for draw in batch.draws}
    found: dict[int, _Row] = {}
    faults: list[Fault] = []
    for row in rows:
        cell = row.cells[source.sequence]
        named = row.cells.get(source.ingredient, "")
        is_number = cell.isascii() and cell.isdigit() and len(cell) <= LONGEST_SEQUENCE
        draw = draws.get(int(cell)) if is_number else None
        if draw is None:
            allowed = f"a draw of {batch.batch}: 1 to {len(batch.draws)}"
            faults.append(source.fault(row, source.sequence, repr(cell), allowed=allowed))
        elif draw.sequence in found:
            again = f"draw {cell} again, first in row {found[draw.sequence].number}"
            faults.append(source.fault(row, source.sequence, again, allowed="each draw once"))
        elif named and not _is_named(named, draw, source.mill):
            name = source.mill.name_of(draw.ingredient)
            allowed = f"{draw.ingredient} ({name}), as draw {cell} says"
            faults.append(source.fault(row, source.ingredient, repr(named), allowed=allowed))
        else:
            found[draw.sequence] = row
    return found, faults


def _is_named(cell: str, draw: Draw, mill: Mill) -> bool:
    """True when a cell names the ingredient of a draw by code or name."""
    names = {draw.ingredient.casefold(), mill.name_of(draw.ingredient).casefold()}
    return cell.casefold() in names


def _by_ingredient(
    rows: Sequence[_Row], batch: Batch, source: _File
) -> tuple[dict[int, _Row], list[Fault]]:
    """Rows by ingredient, those of one ingredient in weighing order."""
    found: dict[int, _Row] = {}
    faults: list[Fault] = []
    for row in rows:
        cell = row.cells[source.ingredient]
        mine = [draw for draw in batch.draws if _is_named(cell, draw, source.mill)]
        free = [draw for draw in mine if draw.sequence not in found]
        if free:
            found[free[0].sequence] = row
            continue
        codes = ", ".join(sorted({draw.ingredient for draw in batch.draws}))
        allowed = f"{len(mine)} of it in {batch.batch}" if mine else codes
        faults.append(source.fault(row, source.ingredient, repr(cell), allowed=allowed))
    return found, faults


def _seen(sequence: int, row: _Row, source: _File) -> DrawSeen | Fault:
    """What one row says, or what is wrong with its number."""
    unit = source.mill.settings.controls_unit
    cell = row.cells[source.actual]
    number = _number(cell)
    if number is None:
        allowed = f"a number of {unit}, nothing or more, with a point for decimals"
        return source.fault(row, source.actual, repr(cell[:40]), allowed=allowed)
    mass_mg = round(Fraction(number) * MG_OF[unit])
    if mass_mg >= MOST_MG:
        return source.fault(row, source.actual, f"{cell} {unit}", allowed="less than 1000 t")
    lot = row.cells.get(source.mill.settings.controls_lot) or None
    return DrawSeen(sequence=sequence, actual_mg=mass_mg, number=cell, unit=unit, lot=lot)


def _number(cell: str) -> Decimal | None:
    """A plain number that is nothing or more, None for anything else."""
    if not cell.isascii() or len(cell) > LONGEST_NUMBER or set(cell.lower()) & set("_ei"):
        return None
    try:
        number = Decimal(cell)
    except InvalidOperation:
        return None
    return number if number.is_finite() and number >= 0 else None
