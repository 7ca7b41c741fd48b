"""One change of a product's formulas: the tables as they are after it."""

import datetime as dt
from dataclasses import dataclass, replace

from bedstone.mill.goods import Formula, FormulaLine
from bedstone.mill.model import Mill

__all__ = ["FormulaChange", "next_version", "with_change"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FormulaChange:
    """A version that is drafted, approved, put in use or withdrawn.

    ``lines`` are the parts of a version that is drafted; ``approved_by`` and ``approved_on`` are
    those of one that is approved.
    """

    product: str
    version: int
    status: str  # what it is from now on: draft, approved, running, withdrawn
    lines: tuple[FormulaLine, ...] = ()
    approved_by: str = ""
    approved_on: dt.date | None = None


def next_version(mill: Mill, product: str) -> int:
    """The number of the next version of a product's formula."""
    return 1 + max((row.version for row in mill.formulas if row.product == product), default=0)


def with_change(mill: Mill, change: FormulaChange) -> Mill:
    """The mill after a change; a version that goes into use withdraws the one that ran.

    A change of a version that is not there leaves the mill as it is: its draft was taken back.
    """
    key = (change.product, change.version)
    there = any((row.product, row.version) == key for row in mill.formulas)
    if change.status == "draft" and not there:
        row = Formula(product=change.product, version=change.version, status="draft")
        return replace(
            mill,
            formulas=(*mill.formulas, row),
            formula_lines=(*mill.formula_lines, *change.lines),
        )
    return replace(mill, formulas=tuple(_after(row, change) for row in mill.formulas))


def _after(row: Formula, change: FormulaChange) -> Formula:
    if row.product != change.product:
        return row
    if row.version != change.version:
        ran = change.status == "running" and row.status == "running"
        return replace(row, status="withdrawn") if ran else row
    if change.status == "approved":
        return replace(
            row,
            status="approved",
            approved_by=change.approved_by,
            approved_on=change.approved_on,
        )
    return replace(row, status=change.status)
