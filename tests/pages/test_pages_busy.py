"""A form carries the place at which its page began to read."""

import datetime as dt

from bedstone.desk.record import StockLine
from bedstone.ledger.model import Fact
from bedstone.store.record import SqlRecord
from fakes.page_server import PageMill, serving


def position(mill: PageMill) -> int:
    """How many facts the record has."""
    return mill.record.head().position


class BusyRecord:
    """A record in which somebody else records whenever a page reads stock."""

    def __init__(self, record: SqlRecord, at: dt.datetime) -> None:
        self._record = record
        self._at = at

    def __getattr__(self, name: str) -> object:
        """All else is as the record has it."""
        return getattr(self._record, name)

    def stock(self, at: dt.datetime | None = None) -> tuple[StockLine, ...]:
        """Read stock, after which another fact is there."""
        found = self._record.stock(at)
        content = {"places": ["MX1"], "before_batch": "", "reason": "meanwhile"}
        fact = Fact(kind="cleaning.cleaned_out/1", happened_at=self._at, by="osk", content=content)
        self._record.append(fact, recorded_at=self._at)
        return found


def test_a_form_carries_the_place_at_which_its_page_began_to_read(mill: PageMill):
    """What somebody records while a page is being made counts as recorded since."""
    busy = BusyRecord(mill.record, mill.clock())
    with serving(busy, mill.door, mill.clock) as served:  # type: ignore[arg-type]
        visitor = served.visitor("tove")
        before = position(mill)
        assert visitor.fields("/bins/G1")["after"] == str(before)
        assert position(mill) > before
