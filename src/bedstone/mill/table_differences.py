"""What differs between two revisions of a mill's tables: rows new, gone, and changed cell by cell."""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

from bedstone.mill.columns import key_fields
from bedstone.mill.model import TABLES, Mill

__all__ = ["SETTINGS", "WHOLE", "RowChange", "TableChange", "differences", "row_key"]

WHOLE = tuple(name for name in TABLES if name in {item.name for item in fields(Mill)})
"""Tables that are replaced as a whole and make a new revision, in the order in which one fills
them; the others are merged by key into the record.
"""
SETTINGS = "settings"
"""Name under which the settings are compared and edited like a table of one row."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RowChange:
    """One row that differs; ``before`` is None for a new row, ``after`` for one that is gone.

    ``changed`` names the fields that differ, of a row that both have.
    """

    key: tuple[str, ...]
    before: Any
    after: Any
    changed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TableChange:
    """One table that differs; without rows it has the same rows in another order."""

    table: str
    rows: tuple[RowChange, ...]

    def count(self, *, before: bool, after: bool) -> int:
        """How many rows are there before and after: both for changed, one alone for gone or new."""
        return sum(
            (row.before is not None) is before and (row.after is not None) is after
            for row in self.rows
        )


def row_key(row: Any) -> tuple[str, ...]:
    """The words that name a row within its table, empty parts left out.

    Parameters
    ----------
    row : object
        A row of a table.

    Returns
    -------
    key : tuple of str
        Its key, as text.
    """
    row_type: type = type(row)
    values = (getattr(row, name) for name in key_fields(row_type))
    return tuple(str(value) for value in values if value != "")


def differences(before: Mill, after: Mill) -> tuple[TableChange, ...]:
    """What one revision's settings and whole tables have that another's have not.

    Parameters
    ----------
    before : Mill
        The older tables.
    after : Mill
        The newer ones.

    Returns
    -------
    changes : tuple of TableChange
        Tables that differ; nothing if none does.
    """
    changes = []
    names = _changed_fields(before.settings, after.settings)
    if names:
        row = RowChange(key=(), before=before.settings, after=after.settings, changed=names)
        changes.append(TableChange(table=SETTINGS, rows=(row,)))
    for table in WHOLE:
        old, new = getattr(before, table), getattr(after, table)
        if old != new:
            changes.append(TableChange(table=table, rows=_row_changes(_keyed(old), _keyed(new))))
    return tuple(changes)


def _keyed(rows: tuple[Any, ...]) -> dict[tuple[str, ...], Any]:
    return {row_key(row): row for row in rows}


def _row_changes(
    old: Mapping[tuple[str, ...], Any], new: Mapping[tuple[str, ...], Any]
) -> tuple[RowChange, ...]:
    gone = [RowChange(key=key, before=old[key], after=None) for key in old if key not in new]
    fresh = [RowChange(key=key, before=None, after=new[key]) for key in new if key not in old]
    both = [
        RowChange(key=key, before=old[key], after=row, changed=_changed_fields(old[key], row))
        for key, row in new.items()
        if key in old and old[key] != row
    ]
    return (*gone, *fresh, *both)


def _changed_fields(before: Any, after: Any) -> tuple[str, ...]:
    return tuple(
        item.name
        for item in fields(after)
        if getattr(before, item.name) != getattr(after, item.name)
    )
