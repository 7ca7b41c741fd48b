"""How a fact is taken back: by a new fact with mirrored movements. Nothing is ever edited."""

from dataclasses import replace
from typing import Final

from bedstone.errors import BadInput, Refused
from bedstone.ledger.model import Fact, Movement, Recorded

__all__ = ["REVERSED", "check_reversal", "mirrored", "reversal_of", "reversed_position"]

REVERSED: Final = "journal.reversed/1"
"""Kind of the fact that takes another back."""


def mirrored(movement: Movement) -> Movement:
    """Return the movement that undoes another; readings and targets stay with the first."""
    return replace(
        movement,
        from_place=movement.to_place,
        to_place=movement.from_place,
        seen=None,
        target_mg=None,
    )


def reversal_of(recorded: Recorded, *, by: str, why: str) -> Fact:
    """Return the fact that takes another back. It happened when that one did.

    Raises
    ------
    Refused
        If the fact is itself a taking back.
    """
    if recorded.fact.kind == REVERSED:
        raise Refused(
            f"Fact {recorded.position} takes another fact back and cannot be taken back itself.",
            do="record what really happened as a new fact",
        )
    return Fact(
        kind=REVERSED,
        happened_at=recorded.fact.happened_at,
        by=by,
        content={"reverses": recorded.position, "kind": recorded.fact.kind, "why": why},
        movements=tuple(mirrored(movement) for movement in recorded.fact.movements),
    )


def reversed_position(fact: Fact) -> int | None:
    """Return the position of the fact that this one takes back; None if it takes none back.

    Raises
    ------
    BadInput
        If it should name one and does not.
    """
    if fact.kind != REVERSED:
        return None
    position = fact.content.get("reverses")
    if not isinstance(position, int) or isinstance(position, bool):
        raise BadInput(f"{REVERSED} does not say which fact it takes back.", seen=repr(position))
    return position


def check_reversal(fact: Fact, taken_back: Recorded) -> None:
    """Pass if a reversal mirrors exactly the fact that it takes back.

    Raises
    ------
    BadInput
        If time, movements or lots differ from those that :func:`reversal_of` gives.
    """
    proper = reversal_of(taken_back, by=fact.by, why="")
    if (proper.happened_at, proper.movements, proper.lots) != (
        fact.happened_at,
        fact.movements,
        fact.lots,
    ):
        raise BadInput(
            f"The reversal of fact {taken_back.position} does not mirror it.",
            do="take facts back through the record's own act",
        )
