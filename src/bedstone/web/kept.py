"""Answers kept while the record stands as it did, the latest of them."""

import threading
from collections import OrderedDict
from collections.abc import Callable
from typing import Generic, TypeVar
from weakref import WeakKeyDictionary

from bedstone.desk.record import Record

__all__ = ["Kept"]

MOST_KEPT = 24

Key = tuple[object, ...]
V = TypeVar("V")


class Kept(Generic[V]):
    """Answers by what was asked, for each record and place of its journal."""

    def __init__(self) -> None:
        self._of: WeakKeyDictionary[Record, OrderedDict[Key, V]] = WeakKeyDictionary()
        self._lock = threading.Lock()

    def find(self, record: Record, asked: Key) -> V | None:
        """The answer to what was asked; None if it is not kept."""
        key = (record.head().head, *asked)
        with self._lock:
            kept = self._of.setdefault(record, OrderedDict())
            if key in kept:
                kept.move_to_end(key)
            return kept.get(key)

    def get(self, record: Record, asked: Key, find: Callable[[], V]) -> V:
        """The answer to what was asked, found if it is not kept."""
        found = self.find(record, asked)
        if found is not None:
            return found
        key = (record.head().head, *asked)
        found = find()
        with self._lock:
            kept = self._of.setdefault(record, OrderedDict())
            kept[key] = found
            while len(kept) > MOST_KEPT:
                kept.popitem(last=False)
        return found
