"""Drafts of the mill's tables that people are editing: one for each person, until kept or thrown
away. They live in the server, not in the record: nothing that is only a draft can be worked by.
"""

import hashlib
import json
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from bedstone.mill.model import Mill
from bedstone.mill.table_carry import Clash, carried_over
from bedstone.mill.table_draft import TableDraft, begun

__all__ = ["HeldDraft", "TableDrafts", "seen_mark"]


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldDraft:
    """A draft, and where it met changes of others when it was carried over to their tables."""

    draft: TableDraft
    clashes: tuple[Clash, ...] = ()

    @property
    def revision(self) -> int:
        """The revision that the draft began with."""
        return self.draft.base.revision


class TableDrafts:
    """The drafts of everybody, each changed by one request at a time."""

    def __init__(self) -> None:
        self._held: dict[str, HeldDraft] = {}
        self._lock = threading.Lock()

    def of(self, person: str) -> HeldDraft | None:
        """A person's draft; None if nothing in it differs from the tables it began with."""
        with self._lock:
            found = self._held.get(person)
        return found if found is not None and found.draft.tables else None

    def edit(
        self, person: str, base: Callable[[], Mill], act: Callable[[TableDraft], TableDraft]
    ) -> None:
        """Change a person's draft; it begins with ``base`` if there is none."""
        with self._lock:
            held = self._held.get(person)
            if held is None or not held.draft.tables:
                held = HeldDraft(draft=begun(base()))
            self._held[person] = replace(held, draft=act(held.draft))

    def carry(self, person: str, onto: Mill) -> HeldDraft | None:
        """Carry a person's draft over to newer tables."""
        with self._lock:
            held = self._held.get(person)
            if held is None:
                return None
            draft, clashes = carried_over(held.draft, onto)
            self._held[person] = HeldDraft(draft=draft, clashes=clashes)
            return self._held[person]

    def drop(self, person: str) -> None:
        """Throw a person's draft away."""
        with self._lock:
            self._held.pop(person, None)


def seen_mark(cells: Mapping[str, str]) -> str:
    """A short mark of a row's cells, by which a form knows that they are still those it showed."""
    text = json.dumps(dict(cells), sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:16]
