"""Loads that were taken in, folded once and kept up to date."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from bedstone.desk.folding import folded
from bedstone.desk.receive import LOAD_ACCEPTED
from bedstone.desk.record import Record
from bedstone.ledger.model import Recorded

__all__ = ["LoadTaken", "loads_taken"]


@dataclass(frozen=True, slots=True)
class LoadTaken:
    """A load as far as buying asks."""

    lot: str
    firm: str
    ingredient: str
    mass_mg: int
    into: str
    at: dt.datetime


def loads_taken(record: Record) -> tuple[LoadTaken, ...]:
    """Every load on record, in order of recording."""

    def note(before: tuple[LoadTaken, ...], facts: Iterable[Recorded]) -> tuple[LoadTaken, ...]:
        return before + tuple(
            LoadTaken(
                lot=str(item.fact.content["lot"]),
                firm=str(item.fact.content["firm"]),
                ingredient=str(item.fact.content["ingredient"]),
                mass_mg=sum(
                    move.mass_mg
                    for move in item.fact.movements
                    if move.from_place.startswith("supplier/")
                ),
                into=next(
                    (
                        move.to_place
                        for move in item.fact.movements
                        if move.from_place.startswith("supplier/")
                    ),
                    "",
                ),
                at=item.fact.happened_at,
            )
            for item in facts
        )

    start: tuple[LoadTaken, ...] = ()
    return folded(record, "loads taken", kinds=(LOAD_ACCEPTED,), start=start, fold=note)
