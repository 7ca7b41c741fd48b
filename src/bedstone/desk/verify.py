"""The record verified: the chain, what is drawn from it, the balances, and a printed head."""

import re
from collections.abc import Callable, Iterable, Iterator
from itertools import groupby
from operator import attrgetter
from typing import Final, Generic, TypeVar

from bedstone.desk.record import Record, StoredFact, StoredLot, StoredMovement
from bedstone.errors import BadInput, RecordDamaged
from bedstone.ledger.chain import ChainRow, WhatBroke, chain_breaks
from bedstone.ledger.model import Fact, Lot
from bedstone.ledger.reversal import reversed_position
from bedstone.ledger.stock import fold_stock, total_mg
from bedstone.ledger.text import fact_from_text
from bedstone.mill.plan import Finding, Verdict

__all__ = ["verify"]

RowT = TypeVar("RowT", StoredMovement, StoredLot)

_SHOWN: Final = 100  # findings of one kind; what follows is counted
_PRINTED: Final = re.compile(r"(?:([0-9]{1,18}):)?([0-9a-f]{12,64})")
_DO: Final = "stop recording, keep the file as it is, and compare with the last copy"


def verify(record: Record, *, printed_head: str | None = None) -> tuple[Finding, ...]:
    """What is wrong with the record; findings to note only if it is whole.

    Asks
    ----
    Every row as it is stored. The chain is recomputed from the texts; movements, lots and
    reversals are drawn from the texts again and held against those stored; stock is added up from
    the texts and held against the stock that the record gives.

    Refuses when
    ------------
    ``printed_head`` is neither "position:hash" nor the first 12 or more signs of a hash (BadInput).

    Records
    -------
    Nothing.
    """
    printed = None if printed_head is None else _printed(printed_head)
    out: list[Finding] = []
    checks: tuple[Callable[[Record], Iterator[Finding]], ...] = (
        _store,
        _chain,
        _movements,
        _lots,
        _reversals,
        _balances,
    )
    for check in checks:
        out += _at_most(check, record)
    if printed is not None:
        out += _at_most(lambda source: _head(source, *printed), record)
    if not out or all(finding.verdict is Verdict.GOOD for finding in out):
        out.insert(0, _whole(record))
    return tuple(out)


def _at_most(check: Callable[[Record], Iterator[Finding]], record: Record) -> list[Finding]:
    """Return the findings of one check, the first ones in full, the rest counted."""
    out: list[Finding] = []
    more = 0
    try:
        for finding in check(record):
            if len(out) < _SHOWN:
                out.append(finding)
            else:
                more += 1
    except RecordDamaged as error:
        out.append(_stop("record.unreadable", "file", f"{error.what} Found: {error.seen}."))
    if more:
        out.append(_stop(out[-1].code, "record", f"{more} more findings of this kind follow."))
    return out


def _stop(code: str, about: str, text: str) -> Finding:
    return Finding(code=code, verdict=Verdict.STOP, about=about, text=text, do=_DO)


def _whole(record: Record) -> Finding:
    end = record.head()
    return Finding(
        code="record.whole",
        verdict=Verdict.GOOD,
        about="record",
        text=f"All {end.position} facts are as they were written; chain, ledger and balances agree.",
    )


def _store(record: Record) -> Iterator[Finding]:
    for fault in record.store_faults():
        yield _stop("record.file", "file", f"The database finds a fault in its file: {fault}.")


def _chain(record: Record) -> Iterator[Finding]:
    rows = (
        ChainRow(position=row.position, text=row.text, head=row.head)
        for row in record.stored_facts()
    )
    for broken in chain_breaks(rows):
        code = {
            WhatBroke.MISSING: "chain.missing",
            WhatBroke.MOVED: "chain.reordered",
            WhatBroke.INSERTED: "chain.inserted",
        }.get(broken.what, "chain.altered")
        about = f"fact {broken.first}"
        if broken.last != broken.first:
            about = f"facts {broken.first} to {broken.last}"
        yield _stop(code, about, broken.text)


def _read(record: Record) -> Iterator[tuple[StoredFact, Fact | None]]:
    """Yield each row with the fact that its text holds, None if it cannot be read."""
    for row in record.stored_facts():
        try:
            yield row, fact_from_text(row.text)[2]
        except BadInput:  # the chain's check names it
            yield row, None


def _movements(record: Record) -> Iterator[Finding]:
    """Hold each fact's kind, time and movements against those stored beside it."""
    rows = _Beside(record.stored_movements())
    for stored, fact in _read(record):
        for position in rows.before(stored.position):
            yield _stray("ledger", position)
        found = rows.take(stored.position)
        if fact is None:
            continue
        if (stored.kind, stored.happened_at) != (fact.kind, fact.happened_at):
            yield _differs("journal", stored.position, "kind or time beside the text")
        should = [
            StoredMovement(
                position=stored.position, line=line, happened_at=fact.happened_at, movement=movement
            )
            for line, movement in enumerate(fact.movements, start=1)
        ]
        if found != should:
            yield _differs("ledger", stored.position, _which(found, should))
    for position in rows.before(None):
        yield _stray("ledger", position)


def _which(found: list[StoredMovement], should: list[StoredMovement]) -> str:
    """Return in words which movements differ."""
    there = {row.line: row for row in found}
    lines = [row.line for row in should if there.pop(row.line, None) != row]
    return "movements " + ", ".join(map(str, [*lines, *there]))


def _lots(record: Record) -> Iterator[Finding]:
    """Hold each fact's lots against those stored beside it."""
    rows = _Beside(record.stored_lots())
    for stored, fact in _read(record):
        for position in rows.before(stored.position):
            yield _stray("lot book", position)
        found: list[StoredLot] = rows.take(stored.position)
        if fact is None:
            continue
        there: dict[str, Lot | None] = {row.code: row.lot for row in found}
        if there != {lot.lot: lot for lot in fact.lots}:
            names = ", ".join(sorted(there.keys() | {lot.lot for lot in fact.lots}))
            yield _differs("lot book", stored.position, f"lots {names}")
    for position in rows.before(None):
        yield _stray("lot book", position)


class _Beside(Generic[RowT]):
    """Rows in order of position, read alongside the facts that they belong to."""

    def __init__(self, rows: Iterable[RowT]) -> None:
        self._groups: Iterator[tuple[int, Iterator[RowT]]] = groupby(
            rows, key=attrgetter("position")
        )
        self._next: tuple[int, list[RowT]] | None = None
        self._step()

    def _step(self) -> None:
        group = next(self._groups, None)
        self._next = None if group is None else (group[0], list(group[1]))

    def before(self, position: int | None) -> Iterator[int]:
        """Yield positions that have rows, but no fact, up to a fact; up to the end for None."""
        while self._next is not None and (position is None or self._next[0] < position):
            yield self._next[0]
            self._step()

    def take(self, position: int) -> list[RowT]:
        """Return the rows of a fact."""
        if self._next is None or self._next[0] != position:
            return []
        rows = self._next[1]
        self._step()
        return rows


def _stray(book: str, position: int) -> Finding:
    return _stop(
        f"{book.split(maxsplit=1)[0]}.stray",
        f"fact {position}",
        f"The {book} holds rows of fact {position}, which is gone.",
    )


def _differs(book: str, position: int, what: str) -> Finding:
    return _stop(
        f"{book.split(maxsplit=1)[0]}.altered",
        f"fact {position}",
        f"In the {book}, {what} of fact {position} differ from the text of the fact.",
    )


def _reversals(record: Record) -> Iterator[Finding]:
    """Hold what took back what against the texts."""
    taken_back: dict[int, int] = {}
    for stored, fact in _read(record):
        if fact is None:
            continue
        try:
            position = reversed_position(fact)
        except BadInput as error:
            yield _stop("chain.reversal", f"fact {stored.position}", error.what)
            continue
        if position != stored.reverses:
            yield _differs("journal", stored.position, "what it takes back")
        if position is None:
            continue
        if position in taken_back or position >= stored.position:
            text = f"Fact {stored.position} takes back fact {position}, which it may not."
            yield _stop("chain.reversal", f"fact {stored.position}", text)
        taken_back[position] = stored.position


def _balances(record: Record) -> Iterator[Finding]:
    """Hold stock added up from the texts against the stock that the record gives."""
    movements = (
        movement for _, fact in _read(record) if fact is not None for movement in fact.movements
    )
    should = fold_stock(movements)
    found = {(line.place, line.material): line.mass_mg for line in record.stock()}
    for place, material in sorted(should.keys() | found.keys()):
        is_mg, be_mg = found.get((place, material), 0), should.get((place, material), 0)
        if is_mg != be_mg:
            yield _stop(
                "balance.place",
                place,
                f"Stock of {material} in {place} is given as {is_mg} mg; the facts add up to "
                f"{be_mg} mg.",
            )
    if total_mg(found):
        text = f"All places together hold {total_mg(found)} mg; they must hold nothing."
        yield _stop("balance.total", "all places", text)


def _printed(text: str) -> tuple[int | None, str]:
    """Return position, if given, and hash or its beginning, of a head as it was printed."""
    found = _PRINTED.fullmatch("".join(text.split()).lower())
    if found is None:
        raise BadInput(
            "The printed head cannot be read.",
            seen=repr(text[:80]),
            allowed="position:hash, or 12 to 64 signs of the hash (0 to 9, a to f)",
            do="type it as it stands on the day sheet",
        )
    return (None if found[1] is None else int(found[1])), found[2]


def _head(record: Record, position: int | None, start: str) -> Iterator[Finding]:
    """Look for a printed head in the chain."""
    last = 0
    at: StoredFact | None = None
    for row in record.stored_facts():
        last = row.position
        if row.position == position or (position is None and row.head.startswith(start)):
            at = row
    name = f"{position}:{start}" if position is not None else start
    if at is not None and at.head.startswith(start):
        text = f"The printed head is that of fact {at.position}; {last - at.position} facts follow."
        yield Finding(
            code="head.found", verdict=Verdict.GOOD, about=f"fact {at.position}", text=text
        )
    elif position is not None and position > last:
        text = (
            f"Facts {last + 1} to {position} are missing at the end: the sheet was printed when "
            f"the record had {position} facts."
        )
        yield _stop("head.missing", name, text)
    elif position is not None:
        text = f"Fact {position} has another hash than was printed: it, or one before, was changed."
        yield _stop("head.altered", name, text)
    else:
        text = "No fact has the printed head: facts were changed, or are missing at the end."
        yield _stop("head.missing", name, text)
