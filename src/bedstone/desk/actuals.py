"""What the mill's own batching controls say they weighed: their CSV read against a plan.

The columns' names stand in ``mill.toml`` (the settings ``controls_...``). Whoever gives the text
has already decoded it; nothing is opened here.
"""

import csv
import io
import re
from collections.abc import Mapping
from fractions import Fraction
from typing import NamedTuple

from bedstone.desk.batches import ActualDraw
from bedstone.errors import BadInput, Fault
from bedstone.ledger.model import Reading
from bedstone.mill.equipment import Settings
from bedstone.mill.plan import Batch, Draw, Plan

__all__ = ["read_actuals"]

# The pound is exactly 0.45359237 kg: NIST Special Publication 811, 2008, appendix B.8.
UNIT_MG = {
    "kg": Fraction(1_000_000),
    "g": Fraction(1_000),
    "lb": Fraction(45_359_237, 100),
}
NUMBER = re.compile(r"\d{1,9}(\.\d{1,6})?")
MOST_ROWS = 20_000


class _Line(NamedTuple):
    """A row of the CSV: its number as a person counts, and its cells by heading."""

    row: int
    cells: Mapping[str, str]


def read_actuals(
    text: str, *, settings: Settings, plan: Plan, file: str = "the controls' CSV"
) -> dict[str, tuple[ActualDraw, ...]]:
    """Draws as weighed, by batch in the order in which the text names them.

    Parameters
    ----------
    text : str
        CSV with a heading row; comma, semicolon or tab between cells.
    settings : Settings
        Names of the columns and unit of the numbers (``controls_...``).
    plan : Plan
        Plan whose batches were made.
    file : str
        What to call the text in messages.

    Returns
    -------
    actuals : dict of str to tuple of ActualDraw
        For each batch one actual for each draw of its plan, in weighing order.

    Raises
    ------
    BadInput
        With every fault: a column missing, a batch or draw that the plan has not, a draw twice or
        not at all, a number that is none.
    """
    lines = _lines(text, settings, file)
    batches = {batch.batch: batch for batch in plan.batches}
    by_batch: dict[str, list[_Line]] = {}
    faults: list[Fault] = []
    for line in lines:
        code = line.cells[settings.controls_batch]
        if code in batches:
            by_batch.setdefault(code, []).append(line)
        else:
            faults.append(
                Fault(
                    file=file,
                    row=line.row,
                    column=settings.controls_batch,
                    found=repr(code),
                    allowed=f"a batch of plan {plan.plan}",
                    do="name the plan with --plan if it is another",
                )
            )
    found = {
        code: _draws_of(batches[code], rows, settings, file, faults)
        for code, rows in by_batch.items()
    }
    if faults:
        raise BadInput(f"{file} cannot be used; nothing was recorded.", faults=tuple(faults[:200]))
    return found


def _lines(text: str, settings: Settings, file: str) -> list[_Line]:
    first = text.lstrip("\ufeff").split("\n", 1)[0]
    delimiter = max(",;\t", key=first.count)
    reader = csv.reader(io.StringIO(text.lstrip("\ufeff")), delimiter=delimiter, strict=True)
    try:
        rows = [row for row, _ in zip(reader, range(MOST_ROWS + 2), strict=False)]
    except csv.Error as error:
        raise BadInput(f"{file} is no CSV.", seen=str(error), allowed="rows of cells") from error
    if not 1 <= len(rows) - 1 <= MOST_ROWS:
        raise BadInput(
            f"{file} has {'too many' if len(rows) > MOST_ROWS else 'no'} rows below its headings.",
            allowed=f"1 to {MOST_ROWS} rows",
        )
    headings = [name.strip() for name in rows[0]]
    needed = (settings.controls_batch, settings.controls_ingredient, settings.controls_actual)
    missing = [name for name in needed if headings.count(name) != 1]
    if missing:
        raise BadInput(
            f"{file} does not have the columns that mill.toml names, once each.",
            seen=", ".join(headings) or "no headings",
            allowed=", ".join(needed),
            do="set controls_batch, controls_ingredient and controls_actual in mill.toml, "
            "then bedstone load",
        )
    return [
        _Line(number, dict(zip(headings, (cell.strip() for cell in row), strict=False)))
        for number, row in enumerate(rows[1:], start=2)
        if any(cell.strip() for cell in row)
    ]


def _draws_of(
    batch: Batch, lines: list[_Line], settings: Settings, file: str, faults: list[Fault]
) -> tuple[ActualDraw, ...]:
    found: dict[int, ActualDraw] = {}
    for line in lines:
        cells = {name: line.cells.get(name, "") for name in line.cells}
        draw = _draw_meant(batch, cells, settings)
        number = cells.get(settings.controls_actual, "")
        if draw is None or draw.sequence in found:
            said = "a draw that the plan has not" if draw is None else "a draw for the second time"
            name = cells.get(settings.controls_ingredient, "")
            faults.append(
                _fault(file, line, settings.controls_ingredient, f"{said}: {name!r}", batch)
            )
        elif NUMBER.fullmatch(number) is None:
            faults.append(_number_fault(file, line, settings, number))
        else:
            found[draw.sequence] = ActualDraw(
                sequence=draw.sequence,
                actual_mg=round(Fraction(number) * UNIT_MG[settings.controls_unit]),
                seen=Reading(number=number, unit=settings.controls_unit),
                lot=cells.get(settings.controls_lot, "") or None,
            )
    for draw in batch.draws:
        named = any(_draw_meant(batch, line.cells, settings) == draw for line in lines)
        if not named:
            said = f"no row for draw {draw.sequence}, {draw.ingredient}"
            faults.append(_fault(file, lines[-1], settings.controls_ingredient, said, batch))
    return tuple(found[sequence] for sequence in sorted(found))


def _draw_meant(batch: Batch, cells: Mapping[str, str], settings: Settings) -> Draw | None:
    """Return the draw that a row means: by its number if there is one, else by ingredient."""
    name = cells.get(settings.controls_ingredient, "")
    sequence = cells.get(settings.controls_sequence, "")
    fitting = [draw for draw in batch.draws if draw.ingredient == name]
    if sequence:
        fitting = [draw for draw in fitting if str(draw.sequence) == sequence.lstrip("0")]
    return fitting[0] if len(fitting) == 1 else None


def _fault(file: str, line: _Line, column: str, said: str, batch: Batch) -> Fault:
    draws = ", ".join(f"{draw.sequence} {draw.ingredient}" for draw in batch.draws)
    return Fault(
        file=file,
        row=line.row,
        column=column,
        found=said,
        allowed=f"each draw of batch {batch.batch} once: {draws}",
    )


def _number_fault(file: str, line: _Line, settings: Settings, number: str) -> Fault:
    return Fault(
        file=file,
        row=line.row,
        column=settings.controls_actual,
        found=repr(number),
        allowed=f"{settings.controls_unit} as digits with a point, such as 412.5; at most six "
        "figures after it",
    )
