"""The chain: each fact's hash is made of the hash before it and the fact's text.

Whoever changes, drops, inserts or moves a fact breaks it at that place. Whoever can write the file
can also recompute the whole chain; that is why its head is printed on each day sheet.
"""

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from bedstone.errors import BadInput
from bedstone.ledger.text import fact_from_text

__all__ = ["NO_HEAD", "ChainBreak", "ChainRow", "WhatBroke", "chain_breaks", "next_head"]

NO_HEAD: Final = "0" * 64
"""The head of an empty record."""


def next_head(previous: str, text: str) -> str:
    """Return the head after one more fact: SHA-256 of the head before it, a newline, its text."""
    return hashlib.sha256(f"{previous}\n{text}".encode("utf-8", "surrogatepass")).hexdigest()


class WhatBroke(StrEnum):
    """What happened to facts at a place of the chain."""

    ALTERED = "altered"  # text and hash do not agree
    HASH_ALTERED = "hash altered"  # the text is right, the stored hash is not
    MISSING = "missing"
    MOVED = "reordered"  # the fact was written at another position
    INSERTED = "inserted"  # facts behind it stand later than they were written
    UNREADABLE = "unreadable"


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainRow:
    """One row as it is stored; whatever it holds."""

    position: int
    text: str
    head: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainBreak:
    """Facts ``first`` to ``last`` (positions) are not as they were written."""

    what: WhatBroke
    first: int
    last: int
    text: str  # one sentence


def chain_breaks(rows: Iterable[ChainRow]) -> Iterator[ChainBreak]:
    """Yield what is wrong with a chain, in order of position; nothing if all is well.

    ``rows`` come in order of their stored position. Only the place itself is named: the facts
    behind a broken one are measured against the hash stored there.
    """
    walk = _Walk()
    for row in rows:
        yield from walk.step(row)
    yield from walk.finish()


class _Walk:
    """State of one walk along the chain."""

    def __init__(self) -> None:
        self.expected = 1
        self.before = NO_HEAD  # hash stored with the fact before
        self.recomputed = NO_HEAD  # hash that the fact before should have
        self.pending: int | None = None  # a fact whose text and hash disagree, cause not yet clear
        self.sure = True  # the fact before is the one that was there when this one was written
        self.run: tuple[int, int, int] | None = None  # moved facts: first, last, by how many
        self.unproven: dict[int, tuple[str, str]] = {}  # behind a moved or missing fact
        self.displaced: dict[int, str] = {}  # heads of moved facts by the position they belong to

    def step(self, row: ChainRow) -> Iterator[ChainBreak]:
        if row.position != self.expected:
            yield from self._settle_pending(None)
            yield from self._close_run()
            yield _gap(self.expected, row.position - 1)
            self.sure = False
        self.expected = row.position + 1
        try:
            written_at, _, _ = fact_from_text(row.text)
        except BadInput:
            yield from self._settle_pending(row)
            yield from self._close_run()
            yield _one(WhatBroke.UNREADABLE, row.position, "cannot be read as a fact")
            self.sure = True
            self.before = self.recomputed = row.head
            return
        if written_at == row.position:
            yield from self._in_place(row)
        else:
            yield from self._out_of_place(row, written_at)
        self.before = row.head

    def _in_place(self, row: ChainRow) -> Iterator[ChainBreak]:
        yield from self._settle_pending(row)
        yield from self._close_run()
        self.recomputed = next_head(self.before, row.text)
        if self.recomputed != row.head:
            if self.sure:
                self.pending = row.position
            else:
                self.unproven[row.position] = (row.text, row.head)
        self.sure = True

    def _out_of_place(self, row: ChainRow, written_at: int) -> Iterator[ChainBreak]:
        yield from self._settle_pending(None)
        shift = row.position - written_at
        self.displaced[written_at] = row.head
        if self.run is not None and self.run[2] == shift and self.run[1] == row.position - 1:
            self.run = (self.run[0], row.position, shift)
        else:
            yield from self._close_run()
            self.run = (row.position, row.position, shift)
        self.recomputed = row.head
        self.sure = False

    def _settle_pending(self, following: ChainRow | None) -> Iterator[ChainBreak]:
        """Say whether the text or only the hash of the fact before was changed: if the following
        fact was chained to the recomputed hash, the text is the one that was written.
        """
        if self.pending is None:
            return
        at, self.pending = self.pending, None
        if following is not None and next_head(self.recomputed, following.text) == following.head:
            yield _one(
                WhatBroke.HASH_ALTERED, at, "has another hash than was written; its text is right"
            )
            self.before = self.recomputed
        else:
            yield _one(WhatBroke.ALTERED, at, "was altered: its text does not give its hash")

    def _close_run(self) -> Iterator[ChainBreak]:
        if self.run is None:
            return
        (first, last, shift), self.run = self.run, None
        if shift > 0 and (last > first or shift == 1):
            yield ChainBreak(
                what=WhatBroke.INSERTED,
                first=first - shift,
                last=first - 1,
                text=f"Something was inserted before position {first}: facts {first} to {last} "
                f"were written as {first - shift} to {last - shift}.",
            )
        yield ChainBreak(
            what=WhatBroke.MOVED,
            first=first,
            last=last,
            text=_moved_text(first, last, shift),
        )

    def finish(self) -> Iterator[ChainBreak]:
        yield from self._settle_pending(None)
        yield from self._close_run()
        for position, (text, head) in self.unproven.items():
            previous = self.displaced.get(position - 1)
            if previous is not None and next_head(previous, text) != head:
                yield _one(
                    WhatBroke.ALTERED, position, "was altered: its text does not give its hash"
                )


def _moved_text(first: int, last: int, shift: int) -> str:
    if first == last:
        return f"At position {first} stands the fact that was written as {first - shift}."
    return (
        f"At positions {first} to {last} stand facts written as {first - shift} to {last - shift}."
    )


def _one(what: WhatBroke, position: int, says: str) -> ChainBreak:
    return ChainBreak(what=what, first=position, last=position, text=f"Fact {position} {says}.")


def _gap(first: int, last: int) -> ChainBreak:
    which = f"Fact {first} is" if first == last else f"Facts {first} to {last} are"
    return ChainBreak(what=WhatBroke.MISSING, first=first, last=last, text=f"{which} missing.")
