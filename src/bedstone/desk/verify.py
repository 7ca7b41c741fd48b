"""The record verified: the chain, what is drawn from it, the balances, and a printed head."""

import re
from collections.abc import Iterable, Iterator
from itertools import groupby, takewhile
from operator import attrgetter
from typing import Final, Generic, TypeVar

from bedstone.desk.record import Record, StoredFact, StoredLot, StoredMovement
from bedstone.desk.revisions import current_mill
from bedstone.errors import BadInput, BedstoneError, RecordDamaged, Unknown
from bedstone.ledger.chain import ChainRow, WhatBroke, chain_breaks
from bedstone.ledger.model import Fact, Lot
from bedstone.ledger.reversal import reversed_position
from bedstone.ledger.stock import add_stock, total_mg
from bedstone.ledger.text import fact_from_text
from bedstone.mill.plan import Finding, Verdict
from bedstone.quantities.masses import shown_mass

__all__ = ["verify"]

RowT = TypeVar("RowT", StoredMovement, StoredLot)

_SHOWN: Final = 100  # findings of one kind; what follows is counted
_PRINTED: Final = re.compile(r"(?:([0-9]{1,18}):)?([0-9a-f]{12,64})")
_DO_HEAD: Final = (
    "compare what was typed with the sheet; if it is right, stop recording, keep the file"
)
_DO: Final = "stop recording, keep the file as it is, and compare with the last copy"


def verify(record: Record, *, printed_head: str | None = None) -> tuple[Finding, ...]:
    """What is wrong with the record; findings to note only if it is whole.

    Asks
    ----
    Every row as it is stored, and the form of the file: tables, indexes, triggers, and stock that
    was added up at marks. The chain is recomputed from the texts; movements, lots and
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
    findings = _Findings()
    last = 0
    try:
        last = record.head().position  # what is recorded from now on is not looked at
        findings.add(_store(record))
        findings.add(_chain(record, last))
        findings.add(_drawn(record, last))
        if printed is not None:
            findings.add(_head(record, printed, last))
    except RecordDamaged as error:
        findings.add([_stop("record.unreadable", "file", f"{error.what} Found: {error.seen}.")])
    return findings.all(last)


class _Findings:
    """Findings, the first of each kind in full, the rest counted."""

    def __init__(self) -> None:
        self._shown: dict[str, list[Finding]] = {}
        self._more: dict[str, int] = {}

    def add(self, found: Iterable[Finding]) -> None:
        """Take what a check says as it says it: what was found before it broke off counts."""
        for finding in found:
            shown = self._shown.setdefault(finding.code, [])
            if len(shown) < _SHOWN:
                shown.append(finding)
            else:
                self._more[finding.code] = self._more.get(finding.code, 0) + 1

    def all(self, last: int) -> tuple[Finding, ...]:
        """Return all findings; that the record is whole if there are none against it."""
        out: list[Finding] = []
        for code, shown in self._shown.items():
            out += shown
            if code in self._more:
                text = f"{self._more[code]} more findings of this kind follow."
                out.append(_stop(code, "record", text))
        if all(finding.verdict is Verdict.GOOD for finding in out):
            out.insert(0, _whole(last))
        return tuple(out)


def _stop(code: str, about: str, text: str, *, do: str = _DO) -> Finding:
    return Finding(code=code, verdict=Verdict.STOP, about=about, text=text, do=do)


def _whole(last: int) -> Finding:
    return Finding(
        code="record.whole",
        verdict=Verdict.GOOD,
        about="record",
        text=f"All {last} facts are as they were written; chain, ledger and balances agree.",
    )


def _store(record: Record) -> Iterator[Finding]:
    for fault in record.store_faults():
        yield _stop("record.file", "file", f"The file is not as it should be: {fault}.")


def _rows(record: Record, last: int) -> Iterator[StoredFact]:
    return takewhile(lambda row: row.position <= last, record.stored_facts())


def _chain(record: Record, last: int) -> Iterator[Finding]:
    rows = (
        ChainRow(position=row.position, text=row.text, head=row.head) for row in _rows(record, last)
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


def _drawn(record: Record, last: int) -> Iterator[Finding]:
    """Draw everything from the texts again and hold it against what is stored beside them."""
    checks = (_Ledger(record), _LotBook(record), _Reversals(), _Balances(record, last))
    for stored in _rows(record, last):
        try:
            _, recorded_at, fact = fact_from_text(stored.text)
        except BadInput:  # the chain's check names it
            fact = None
        else:
            if stored.recorded_at != recorded_at:
                yield _differs("journal", stored.position, "the time of recording beside the text")
        for check in checks:
            yield from check.see(stored, fact)
    for check in checks:
        yield from check.end()


class _Ledger:
    """Holds each fact's kind, time and movements against those stored beside it."""

    def __init__(self, record: Record) -> None:
        self._rows = _Beside(record.stored_movements(), record, book="ledger")

    def see(self, stored: StoredFact, fact: Fact | None) -> Iterator[Finding]:
        yield from self._rows.before(stored.position)
        found = self._rows.take(stored.position)
        if fact is None:
            return
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

    def end(self) -> Iterator[Finding]:
        return self._rows.before(None)


def _which(found: list[StoredMovement], should: list[StoredMovement]) -> str:
    """Return in words which movements differ."""
    there = {row.line: row for row in found}
    lines = [row.line for row in should if there.pop(row.line, None) != row]
    return "movements " + ", ".join(map(str, [*lines, *there]))


class _LotBook:
    """Holds each fact's lots against those stored beside it."""

    def __init__(self, record: Record) -> None:
        self._rows = _Beside(record.stored_lots(), record, book="lot book")

    def see(self, stored: StoredFact, fact: Fact | None) -> Iterator[Finding]:
        yield from self._rows.before(stored.position)
        found = self._rows.take(stored.position)
        there: dict[str, Lot | None] = {row.code: row.lot for row in found}
        if fact is not None and there != {lot.lot: lot for lot in fact.lots}:
            names = ", ".join(sorted(there.keys() | {lot.lot for lot in fact.lots}))
            yield _differs("lot book", stored.position, f"lots {names}")

    def end(self) -> Iterator[Finding]:
        return self._rows.before(None)


class _Beside(Generic[RowT]):
    """Rows in order of position, read alongside the facts that they belong to."""

    def __init__(self, rows: Iterable[RowT], record: Record, *, book: str) -> None:
        self._groups: Iterator[tuple[int, Iterator[RowT]]] = groupby(
            rows, key=attrgetter("position")
        )
        self._record = record
        self._book = book
        self._next: tuple[int, list[RowT]] | None = None
        self._step()

    def _step(self) -> None:
        group = next(self._groups, None)
        self._next = None if group is None else (group[0], list(group[1]))

    def before(self, position: int | None) -> Iterator[Finding]:
        """Name positions that have rows, but no fact, up to a fact; up to the end for None."""
        while self._next is not None and (position is None or self._next[0] < position):
            if position is not None or not self._is_new(self._next[0]):
                yield _stray(self._book, self._next[0])
            self._step()

    def _is_new(self, position: int) -> bool:
        """True when the fact was recorded since the verification began."""
        try:
            self._record.fact(position)
        except Unknown:
            return False
        return True

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


class _Reversals:
    """Holds what took back what against the texts."""

    def __init__(self) -> None:
        self._taken_back: set[int] = set()

    def see(self, stored: StoredFact, fact: Fact | None) -> Iterator[Finding]:
        if fact is None:
            return
        try:
            position = reversed_position(fact)
        except BadInput as error:
            yield _stop("chain.reversal", f"fact {stored.position}", error.what)
            return
        if position != stored.reverses:
            yield _differs("journal", stored.position, "what it takes back")
        if position is None:
            return
        if position in self._taken_back or position >= stored.position:
            text = f"Fact {stored.position} takes back fact {position}, which it may not."
            yield _stop("chain.reversal", f"fact {stored.position}", text)
        self._taken_back.add(position)

    def end(self) -> Iterator[Finding]:
        return iter(())


class _Balances:
    """Holds stock added up from the texts against the stock that the record gives."""

    def __init__(self, record: Record, last: int) -> None:
        self._record = record
        self._last = last
        self._stock_mg: dict[tuple[str, str], int] = {}

    def see(self, stored: StoredFact, fact: Fact | None) -> Iterator[Finding]:
        del stored
        if fact is not None:
            add_stock(self._stock_mg, fact.movements)
        return iter(())

    def end(self) -> Iterator[Finding]:
        given = self._given()
        for place, material in sorted(self._stock_mg.keys() | given.keys()):
            is_mg = given.get((place, material), 0)
            be_mg = self._stock_mg.get((place, material), 0)
            if is_mg != be_mg:
                yield _stop(
                    "balance.place",
                    place,
                    f"Stock of {material} in {place} is given as {self._shown(is_mg)}; the facts "
                    f"add up to {self._shown(be_mg)}, {abs(is_mg - be_mg):,} mg apart.",
                )
        if total_mg(given):
            text = (
                f"All places together hold {self._shown(total_mg(given))} "
                f"({total_mg(given):,} mg); they must hold nothing."
            )
            yield _stop("balance.total", "all places", text)

    def _shown(self, mass_mg: int) -> str:
        """A mass in the mill's units; in kilograms where its tables cannot be read."""
        try:
            units = current_mill(self._record).settings.units
        except BedstoneError:
            units = "SI"
        return shown_mass(mass_mg, units=units)

    def _given(self) -> dict[tuple[str, str], int]:
        """Return the stock that the record gives, and add up what was recorded in the meantime."""
        while True:
            given = {(line.place, line.material): line.mass_mg for line in self._record.stock()}
            new = list(self._record.facts(after=self._last, reversed_too=True))
            for item in new:
                add_stock(self._stock_mg, item.fact.movements)
            if not new:
                return given
            self._last = new[-1].position


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


def _head(record: Record, printed: tuple[int | None, str], last: int) -> Iterator[Finding]:
    """Look for a printed head in the chain."""
    position, start = printed
    at: StoredFact | None = None
    for row in _rows(record, last):
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
        yield _stop("head.missing", name, text, do=_DO_HEAD)
    elif position is not None:
        text = f"Fact {position} has another hash than was printed: it, or one before, was changed."
        yield _stop("head.altered", name, text, do=_DO_HEAD)
    else:
        text = "No fact has the printed head: facts were changed, or are missing at the end."
        yield _stop("head.missing", name, text, do=_DO_HEAD)
