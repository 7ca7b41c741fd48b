"""Rules across the tables of a mill: keys, references, recipes, ways, limits. Pure, on values."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from bedstone.errors import Fault
from bedstone.mill.equipment import Settings

__all__ = ["Places", "check_folder"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """Where the rows stand in the files, for the faults; empty when there are no files."""

    lines: Mapping[str, Sequence[int]] = field(default_factory=dict)
    headers: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    unreadable: frozenset[str] = frozenset()
    dropped: frozenset[str] = frozenset()
    settings_lines: Mapping[str, int] = field(default_factory=dict)


def check_folder(
    rows: Mapping[str, tuple[Any, ...]], settings: Settings | None, *, places: Places
) -> tuple[Fault, ...]:
    """Return every fault that only shows when tables are held against each other."""
    return ()
