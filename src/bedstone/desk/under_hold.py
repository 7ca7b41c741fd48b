"""Loads unloaded under hold: those that still wait, and those sent back to the seller."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from bedstone.desk.appending import appended
from bedstone.desk.arrival_acts import ArrivalOnRecord, arrivals, find_arrival
from bedstone.desk.checks import must_weigh
from bedstone.desk.folding import folded
from bedstone.desk.holds import held_lots
from bedstone.desk.lots_lying import lying_now
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.roles import check
from bedstone.errors import BadInput, Refused
from bedstone.ledger.model import Fact, FlowPattern, How, Json, Movement, Recorded
from bedstone.mill.model import Mill
from bedstone.quantities.masses import shown_mass

__all__ = ["Waiting", "send_back", "sent_back", "waiting_loads"]

LOT_SENT_BACK = "receiving.lot_sent_back/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """A load in a bin on hold, and why it is."""

    row: ArrivalOnRecord
    why: str


def waiting_loads(record: Record) -> tuple[Waiting, ...]:
    """Loads whose lots are on hold, oldest first, but for those sent back."""
    held, gone = held_lots(record), sent_back(record)
    return tuple(
        Waiting(row=row, why=held[row.arrival.lot])
        for row in arrivals(record)
        if row.into and row.arrival.lot in held and row.arrival.lot not in gone
    )


def sent_back(record: Record) -> Mapping[str, str]:
    """Lots that were sent back, each with why."""

    def note(before: Mapping[str, str], facts: Iterable[Recorded]) -> Mapping[str, str]:
        return {
            **before,
            **{str(item.fact.content["lot"]): str(item.fact.content["why"]) for item in facts},
        }

    return folded(record, "sent back", kinds=(LOT_SENT_BACK,), start={}, fold=note)


def send_back(
    record: Record, ticket: str, *, mass_mg: int, why: str, by: str, at: dt.datetime
) -> Recorded:
    """Record that a load that was unloaded under hold was taken out again and sent back.

    Asks: who may, a load whose lot is on hold, the mass weighed out, and why. Refused when: it is
    not on hold, or more goes out than came in. Records: ``receiving.lot_sent_back/1`` with the
    movement; the lot stays on hold, so that what may be left of it is not drawn.
    """
    mill = current_mill(record)
    check(mill, by, "under hold")
    row = find_arrival(record, ticket)
    lot, units = row.arrival.lot, mill.settings.units
    must_weigh(mass_mg, what="what goes back", units=units)
    came_mg = row.arrival.gross_mg - row.arrival.tare_mg
    if mass_mg > came_mg:
        raise BadInput(
            "More goes back than came.",
            seen=shown_mass(mass_mg, units=units),
            allowed=f"at most {shown_mass(came_mg, units=units)}",
        )
    if not why.strip():
        raise BadInput("Say why it goes back.", seen="nothing", allowed="a few words")

    def act() -> Fact:
        if lot not in held_lots(record) or not row.into:
            raise Refused(f"Lot {lot} is not on hold in a bin.", do="hold it first, on its page")
        if lot in sent_back(record):
            raise Refused(f"Lot {lot} was sent back already.", seen=sent_back(record)[lot])
        content: dict[str, Json] = {
            "ticket": ticket,
            "lot": lot,
            "firm": row.arrival.firm,
            "ingredient": row.arrival.ingredient,
            "from": row.into,
            "why": why.strip(),
        }
        move = Movement(
            from_place=row.into,
            to_place=f"supplier/{row.arrival.firm}",
            mass_mg=mass_mg,
            material=row.arrival.ingredient,
            how=How.WEIGHED,
            instrument=row.arrival.weighbridge,
            lot=lot if _is_alone(record, mill, row.into, lot) else None,
        )
        return Fact(kind=LOT_SENT_BACK, happened_at=at, by=by, content=content, movements=(move,))

    return appended(record, act, at=at)


def _is_alone(record: Record, mill: Mill, place: str, lot: str) -> bool:
    """Whether what is taken out of a place can only be this lot."""
    if mill.bin_by_code[place].flow == FlowPattern.SEPARATE.value:
        return True
    there = {layer.lot for layer in lying_now(record).get(place, ()) if layer.mass_mg > 0}
    return there <= {lot}
