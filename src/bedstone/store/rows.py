"""Rows of the database from a fact and back. Movements and lots are drawn from the fact's text."""

import datetime as dt
from typing import Any, Final

from sqlalchemy import Row

from bedstone.desk.record import MovementRecorded
from bedstone.errors import BadInput, RecordDamaged
from bedstone.ledger.model import Fact, How, Lot, LotKind, Movement, Reading, Recorded
from bedstone.ledger.text import fact_from_text

__all__ = [
    "instant",
    "lot_from_row",
    "lot_rows",
    "moment",
    "movement_from_row",
    "movement_in_row",
    "movement_rows",
    "recorded_from_row",
]

_EPOCH: Final = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
_MICROSECOND: Final = dt.timedelta(microseconds=1)
_HOW: Final = {how.value: how for how in How}


def instant(at: dt.datetime) -> int:
    """Return whole microseconds since 1970 in UTC."""
    return (at - _EPOCH) // _MICROSECOND


def moment(microseconds: int) -> dt.datetime:
    """Return the aware UTC time of whole microseconds since 1970."""
    return _EPOCH + dt.timedelta(microseconds=microseconds)


def movement_rows(position: int, fact: Fact) -> list[dict[str, Any]]:
    """Return the rows of a fact's movements."""
    happened_at = instant(fact.happened_at)
    return [
        {
            "position": position,
            "line": line,
            "happened_at": happened_at,
            "from_place": movement.from_place,
            "to_place": movement.to_place,
            "mass_mg": movement.mass_mg,
            "material": movement.material,
            "how": str(movement.how),
            "instrument": movement.instrument,
            "seen_number": movement.seen.number if movement.seen else None,
            "seen_unit": movement.seen.unit if movement.seen else None,
            "seen_division": movement.seen.division if movement.seen else None,
            "target_mg": movement.target_mg,
            "mass_sd_mg": movement.mass_sd_mg,
            "lot": movement.lot,
        }
        for line, movement in enumerate(fact.movements, start=1)
    ]


def lot_rows(position: int, fact: Fact) -> list[dict[str, Any]]:
    """Return the rows of the lots that a fact makes."""
    return [
        {"lot": row.lot, "position": position, "kind": row.kind.value, "material": row.material}
        for row in fact.lots
    ]


def recorded_from_row(position: int, text: str, head: str) -> Recorded:
    """Return a fact from its stored text and head.

    Raises
    ------
    RecordDamaged
        If the text is no fact, or that of another position.
    """
    try:
        written_at, recorded_at, fact = fact_from_text(text)
    except BadInput as error:
        raise _damaged(position, "cannot be read") from error
    if written_at != position:
        raise _damaged(position, f"was written as fact {written_at}")
    return Recorded(position=position, recorded_at=recorded_at, fact=fact, text=text, head=head)


def _damaged(position: int, what: str) -> RecordDamaged:
    return RecordDamaged(
        "The record is damaged.",
        seen=f"fact {position} {what}",
        do="stop recording, keep the file, and run bedstone verify",
    )


def movement_in_row(row: Row[Any]) -> Movement:
    """Return the movement that a row holds.

    Raises
    ------
    KeyError
        If the row does not say how its mass is known in a word that there is.
    """
    return Movement(
        from_place=row.from_place,
        to_place=row.to_place,
        mass_mg=row.mass_mg,
        material=row.material,
        how=_HOW[row.how],
        instrument=row.instrument,
        seen=None
        if row.seen_number is None
        else Reading(number=row.seen_number, unit=row.seen_unit, division=row.seen_division),
        target_mg=row.target_mg,
        mass_sd_mg=row.mass_sd_mg,
        lot=row.lot,
    )


def movement_from_row(row: Row[Any]) -> MovementRecorded:
    """Return a movement from its row, which has kind, reversed_by and reverses beside it.

    Raises
    ------
    RecordDamaged
        If the row cannot be read as a movement.
    """
    try:
        happened_at, movement = moment(row.happened_at), movement_in_row(row)
    except (KeyError, OverflowError) as error:
        raise _damaged(row.position, f"has a movement {row.line} that cannot be read") from error
    return MovementRecorded(
        position=row.position,
        line=row.line,
        kind=row.kind,
        happened_at=happened_at,
        movement=movement,
        reversed_by=row.reversed_by,
        reverses=row.reverses,
    )


def lot_from_row(row: Row[Any]) -> tuple[Lot, int]:
    """Return a lot and the position of the fact that made it."""
    return Lot(lot=row.lot, kind=LotKind(row.kind), material=row.material), row.position
