"""The tables as they stood at a time, for what was made under them."""

import datetime as dt
from bisect import bisect_right
from itertools import accumulate

from bedstone.desk.record import Record
from bedstone.desk.revisions import revision_mill, revisions_loaded
from bedstone.errors import Refused
from bedstone.mill.model import Mill

__all__ = ["TablesThen"]


class TablesThen:
    """Which revision of the tables was in force when; before the first one, the first.

    Raises
    ------
    Refused
        If no tables were ever loaded.
    """

    def __init__(self, record: Record) -> None:
        loaded = revisions_loaded(record)
        if not loaded:
            raise Refused("The record holds no tables of a mill yet.", do="run: bedstone load DIR")
        self._record = record
        times = [record.fact(position).fact.happened_at for position, _ in loaded]
        self._times = list(accumulate(times, max))
        self._revisions = [revision for _, revision in loaded]
        self._known: dict[int, Mill] = {}

    def at(self, moment: dt.datetime) -> Mill:
        """The mill as its tables had it at a moment."""
        revision = self._revisions[max(bisect_right(self._times, moment) - 1, 0)]
        if revision not in self._known:
            self._known[revision] = revision_mill(self._record, revision)
        return self._known[revision]
