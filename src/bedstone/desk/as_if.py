"""A record as it would be with one more fact, to ask what that would change; nothing is written."""

import datetime as dt
import json
from collections.abc import Iterable, Iterator, Sequence
from typing import NoReturn

from bedstone.desk.folding import share_readings
from bedstone.desk.plain_values import plain
from bedstone.desk.record import (
    Head,
    MovementRecorded,
    Record,
    StockLine,
    StoredFact,
    StoredLot,
    StoredMovement,
)
from bedstone.errors import Refused
from bedstone.ledger.chain import next_head
from bedstone.ledger.model import Fact, Lot, Recorded

__all__ = ["AsIf"]


class AsIf:
    """A record with one more fact at its end, which moves no mass. It can only be read.

    Parameters
    ----------
    record : Record
        The record as it is.
    fact : Fact
        What is asked about; without movements and lots.
    at : datetime
        When it would be recorded.
    """

    def __init__(self, record: Record, fact: Fact, *, at: dt.datetime) -> None:
        if fact.movements or fact.lots:
            raise Refused("Only a fact that moves nothing can be asked about.")
        self._record = record
        before = record.head()
        content = json.dumps(plain(fact.content), sort_keys=True)
        text = f"as if {fact.kind} by {fact.by} at {at.isoformat()}: {content}"
        self._more = Recorded(
            position=before.position + 1,
            recorded_at=at,
            fact=fact,
            text=text,
            head=next_head(before.head, text),
        )
        share_readings(record, self)

    def append(self, fact: Fact, *, recorded_at: dt.datetime, after: int | None = None) -> Recorded:
        """Refuse: nothing is written here."""
        del fact, recorded_at, after
        self._refuse()

    def append_all(
        self, facts: Iterable[Fact], *, recorded_at: dt.datetime, after: int | None = None
    ) -> int:
        """Refuse: nothing is written here."""
        del facts, recorded_at, after
        self._refuse()

    def reverse(self, position: int, *, by: str, why: str, recorded_at: dt.datetime) -> Recorded:
        """Refuse: nothing is written here."""
        del position, by, why, recorded_at
        self._refuse()

    def _refuse(self) -> NoReturn:
        raise Refused("This is only what the record would be; nothing is written to it.")

    def head(self) -> Head:
        """The end of the chain with the fact that is asked about."""
        return Head(position=self._more.position, head=self._more.head)

    def facts(
        self,
        *,
        kinds: Sequence[str] = (),
        after: int = 0,
        until: dt.datetime | None = None,
        newest_first: bool = False,
        reversed_too: bool = False,
    ) -> Iterator[Recorded]:
        """The facts of the record, and the one that is asked about at their end."""
        more = self._more
        asked = (not kinds or more.fact.kind in kinds) and more.position > after
        asked = asked and (until is None or more.fact.happened_at <= until)
        if asked and newest_first:
            yield more
        for item in self._record.facts(
            kinds=kinds,
            after=after,
            until=until,
            newest_first=newest_first,
            reversed_too=reversed_too,
        ):
            if item.position < more.position:
                yield item
        if asked and not newest_first:
            yield more

    def fact(self, position: int) -> Recorded:
        """One fact, or the one that is asked about."""
        return self._more if position == self._more.position else self._record.fact(position)

    def movements(
        self,
        *,
        place: str | None = None,
        lot: str | None = None,
        position: int | None = None,
        until: dt.datetime | None = None,
        reversed_too: bool = False,
        newest_first: bool = False,
    ) -> Iterator[MovementRecorded]:
        """The movements of the record; the fact that is asked about has none."""
        return self._record.movements(
            place=place,
            lot=lot,
            position=position,
            until=until,
            reversed_too=reversed_too,
            newest_first=newest_first,
        )

    def stock(self, at: dt.datetime | None = None) -> tuple[StockLine, ...]:
        """The stock of the record."""
        return self._record.stock(at)

    def lot(self, code: str) -> tuple[Lot, int]:
        """A lot of the record."""
        return self._record.lot(code)

    def lots(self) -> tuple[tuple[Lot, int], ...]:
        """The lots of the record."""
        return self._record.lots()

    def stored_facts(self) -> Iterator[StoredFact]:
        """The rows of the journal as they are stored, without the fact that is asked about."""
        return self._record.stored_facts()

    def stored_movements(self) -> Iterator[StoredMovement]:
        """The rows of the ledger as they are stored."""
        return self._record.stored_movements()

    def stored_lots(self) -> Iterator[StoredLot]:
        """The rows of the lots as they are stored."""
        return self._record.stored_lots()

    def store_faults(self) -> tuple[str, ...]:
        """What is wrong with the file of the record."""
        return self._record.store_faults()
