"""A record in memory, for tests: same behaviour as the store's, plain lists inside."""

# ruff: noqa: D102 - the methods are those of the protocol and are described there

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from difflib import get_close_matches

from bedstone.desk.record import (
    Head,
    MovementRecorded,
    StockLine,
    StoredFact,
    StoredLot,
    StoredMovement,
)
from bedstone.errors import Conflict, Refused, Unknown
from bedstone.ledger.chain import NO_HEAD, next_head
from bedstone.ledger.model import Fact, Lot, Recorded
from bedstone.ledger.reversal import check_reversal, reversal_of, reversed_position
from bedstone.ledger.stock import fold_stock
from bedstone.ledger.text import fact_from_text, fact_text

__all__ = ["MemoryRecord"]


class MemoryRecord:
    """Record that forgets everything when the test ends."""

    def __init__(self) -> None:
        self._rows: list[Recorded] = []
        self._reversed_by: dict[int, int] = {}
        self._reverses: dict[int, int] = {}
        self._made: dict[str, int] = {}

    def append(self, fact: Fact, *, recorded_at: dt.datetime, after: int | None = None) -> Recorded:
        if after is not None and after != len(self._rows):
            raise Conflict("Somebody else recorded first.", do="read again")
        return self._add(fact, recorded_at)

    def append_all(
        self, facts: Iterable[Fact], *, recorded_at: dt.datetime, after: int | None = None
    ) -> int:
        if after is not None and after != len(self._rows):
            raise Conflict("Somebody else recorded first.", do="read again")
        kept = (
            list(self._rows),
            dict(self._reversed_by),
            dict(self._reverses),
            dict(self._made),
        )
        try:
            for fact in facts:
                self._add(fact, recorded_at)
        except BaseException:
            self._rows, self._reversed_by, self._reverses, self._made = kept
            raise
        return len(self._rows)

    def reverse(self, position: int, *, by: str, why: str, recorded_at: dt.datetime) -> Recorded:
        return self._add(reversal_of(self.fact(position), by=by, why=why), recorded_at)

    def _add(self, fact: Fact, recorded_at: dt.datetime) -> Recorded:
        position = len(self._rows) + 1
        text = fact_text(fact, position=position, recorded_at=recorded_at)
        _, at, kept = fact_from_text(text)
        takes_back = reversed_position(kept)
        if takes_back is not None:
            if takes_back in self._reversed_by:
                raise Refused(f"Fact {takes_back} has been taken back already.")
            check_reversal(kept, self.fact(takes_back))
        for lot in kept.lots:
            if lot.lot in self._made:
                raise Refused(f"Lot {lot.lot} is recorded already, by fact {self._made[lot.lot]}.")
        head = next_head(self.head().head, text)
        row = Recorded(position=position, recorded_at=at, fact=kept, text=text, head=head)
        self._rows.append(row)
        self._made.update({lot.lot: position for lot in kept.lots})
        if takes_back is not None:
            self._made = {lot: made for lot, made in self._made.items() if made != takes_back}
            self._reversed_by[takes_back] = position
            self._reverses[position] = takes_back
        return row

    def head(self) -> Head:
        if not self._rows:
            return Head(position=0, head=NO_HEAD)
        return Head(position=self._rows[-1].position, head=self._rows[-1].head)

    def facts(
        self,
        *,
        kinds: Sequence[str] = (),
        after: int = 0,
        until: dt.datetime | None = None,
        newest_first: bool = False,
        reversed_too: bool = False,
    ) -> Iterator[Recorded]:
        rows = list(self._rows)
        void = self._reversed_by.keys() | self._reverses.keys()
        for row in reversed(rows) if newest_first else rows:
            if row.position <= after or (kinds and row.fact.kind not in kinds):
                continue
            if until is not None and row.fact.happened_at > until:
                continue
            if not reversed_too and row.position in void:
                continue
            yield row

    def _is_void(self, position: int) -> bool:
        return position in self._reversed_by or position in self._reverses

    def fact(self, position: int) -> Recorded:
        if not 1 <= position <= len(self._rows):
            raise Unknown(f"There is no fact {position}.", allowed=f"1 to {len(self._rows)}")
        return self._rows[position - 1]

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
        found = [
            MovementRecorded(
                position=row.position,
                line=line,
                kind=row.fact.kind,
                happened_at=row.fact.happened_at,
                movement=movement,
                reversed_by=self._reversed_by.get(row.position),
                reverses=self._reverses.get(row.position),
            )
            for row in self._rows
            if reversed_too or not self._is_void(row.position)
            for line, movement in enumerate(row.fact.movements, start=1)
            if (place is None or place in (movement.from_place, movement.to_place))
            and (lot is None or lot == movement.lot)
            and (position is None or position == row.position)
            and (until is None or row.fact.happened_at <= until)
        ]
        yield from sorted(
            found,
            key=lambda item: (item.happened_at, item.position, item.line),
            reverse=newest_first,
        )

    def stock(self, at: dt.datetime | None = None) -> tuple[StockLine, ...]:
        stock_mg = fold_stock(item.movement for item in self.movements(until=at, reversed_too=True))
        return tuple(
            StockLine(place=place, material=material, mass_mg=mass_mg)
            for (place, material), mass_mg in sorted(stock_mg.items())
        )

    def lot(self, code: str) -> tuple[Lot, int]:
        for row, position in self.lots():
            if row.lot == code:
                return row, position
        near = get_close_matches(code, [row.lot for row, _ in self.lots()], n=3)
        raise Unknown(f"There is no lot {code!r}.", do=f"near: {', '.join(near)}" if near else "")

    def lots(self) -> tuple[tuple[Lot, int], ...]:
        return tuple(
            (lot, row.position)
            for row in self._rows
            if not self._is_void(row.position)
            for lot in row.fact.lots
        )

    def stored_facts(self) -> Iterator[StoredFact]:
        for row in self._rows:
            yield StoredFact(
                position=row.position,
                text=row.text,
                head=row.head,
                kind=row.fact.kind,
                happened_at=row.fact.happened_at,
                recorded_at=row.recorded_at,
                reverses=self._reverses.get(row.position),
            )

    def stored_movements(self) -> Iterator[StoredMovement]:
        for row in self._rows:
            for line, movement in enumerate(row.fact.movements, start=1):
                yield StoredMovement(
                    position=row.position,
                    line=line,
                    happened_at=row.fact.happened_at,
                    movement=movement,
                )

    def stored_lots(self) -> Iterator[StoredLot]:
        for row in self._rows:
            for lot in sorted(row.fact.lots, key=lambda lot: lot.lot):
                yield StoredLot(position=row.position, code=lot.lot, lot=lot)

    def store_faults(self) -> tuple[str, ...]:
        return ()
