"""What the desk asks of a record. The store implements it; tests have one in memory."""

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

from bedstone.ledger.model import Fact, Lot, Movement, Recorded

__all__ = [
    "Clock",
    "Head",
    "MovementRecorded",
    "Record",
    "StockLine",
    "StoredFact",
    "StoredLot",
    "StoredMovement",
]


class Clock(Protocol):
    """Where the desk gets the time from; tests hand in a fixed one."""

    def __call__(self) -> dt.datetime:
        """Return the time now, aware, UTC."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """End of the chain: number of facts and the hash of the last (64 zeros when there is none)."""

    position: int
    head: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MovementRecorded:
    """A movement with the fact it belongs to. ``reversed_by`` is the position of the fact that
    took it back; ``reverses`` that of the fact it takes back.
    """

    position: int
    line: int
    kind: str
    happened_at: dt.datetime
    movement: Movement
    reversed_by: int | None = None
    reverses: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StockLine:
    """Book stock of one material in one place. May be below nothing: that is a finding."""

    place: str
    material: str
    mass_mg: int


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredFact:
    """A row of the journal as it is stored, whatever it holds."""

    position: int
    text: str
    head: str
    kind: str
    happened_at: dt.datetime | None
    recorded_at: dt.datetime | None
    reverses: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredMovement:
    """A row of the ledger as it is stored; no movement where the row cannot be read as one."""

    position: int
    line: int
    happened_at: dt.datetime | None
    movement: Movement | None


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredLot:
    """A row of the lots as it is stored; no lot where the row cannot be read as one."""

    position: int
    code: str
    lot: Lot | None


class Record(Protocol):
    """The append-only journal of facts, and readings of the ledger in it."""

    def append(self, fact: Fact, *, recorded_at: dt.datetime, after: int | None = None) -> Recorded:
        """Append one fact in one transaction, confirmed when this returns.

        ``after``: if given, the position at which the caller last read; if somebody else has
        recorded since, Conflict is raised and nothing is written.
        """
        ...

    def append_all(
        self, facts: Iterable[Fact], *, recorded_at: dt.datetime, after: int | None = None
    ) -> int:
        """Append many facts in one transaction, all or nothing; return the last position.

        ``after``: as in ``append``.
        """
        ...

    def reverse(self, position: int, *, by: str, why: str, recorded_at: dt.datetime) -> Recorded:
        """Take back a fact by a new one (``journal.reversed/1``) with mirrored movements."""
        ...

    def head(self) -> Head:
        """Return the end of the chain."""
        ...

    def facts(
        self,
        *,
        kinds: Sequence[str] = (),
        after: int = 0,
        until: dt.datetime | None = None,
        newest_first: bool = False,
        reversed_too: bool = False,
    ) -> Iterator[Recorded]:
        """Yield facts in order of position; all kinds when none is named. Facts taken back, and
        the facts that took them back, are left out unless asked for.
        """
        ...

    def fact(self, position: int) -> Recorded:
        """Return one fact.

        Raises Unknown if there is none.
        """
        ...

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
        """Yield movements ordered by happened_at, position and line, or the newest first; out of
        or into ``place`` if it is given; of ``lot``; of the fact at ``position``.
        """
        ...

    def stock(self, at: dt.datetime | None = None) -> tuple[StockLine, ...]:
        """Return book stock of every place and material (outside places too) at a moment, now
        if none is given; lines of nothing are left out.
        """
        ...

    def lot(self, code: str) -> tuple[Lot, int]:
        """Return a lot and the position of the fact that made it.

        Raises Unknown with near names if there is none.
        """
        ...

    def lots(self) -> tuple[tuple[Lot, int], ...]:
        """Return every lot with the position of the fact that made it."""
        ...

    def stored_facts(self) -> Iterator[StoredFact]:
        """Yield the rows of the journal as they are stored, in order of position."""
        ...

    def stored_movements(self) -> Iterator[StoredMovement]:
        """Yield the rows of the ledger as they are stored, in order of position and line."""
        ...

    def stored_lots(self) -> Iterator[StoredLot]:
        """Yield the rows of the lots as they are stored, in order of position and code."""
        ...

    def store_faults(self) -> tuple[str, ...]:
        """Return what is wrong with the file itself, whatever the facts say; nothing if all is well."""
        ...
