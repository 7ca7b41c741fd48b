"""Lots on hold: put there by a finding or a person, let go by a person."""

import datetime as dt
from collections.abc import Iterable, Mapping

from bedstone.desk.appending import appended
from bedstone.desk.folding import folded
from bedstone.desk.made import BATCH_MADE, started_batches
from bedstone.desk.record import Record
from bedstone.errors import BadInput, Refused
from bedstone.ledger.model import Fact, Json, Recorded
from bedstone.mill.plan import Verdict

__all__ = ["HELD", "RELEASED", "held_lots", "hold_lots", "refuse_held", "release_lots"]

HELD = "quality.held/1"
RELEASED = "quality.released/1"


def _note(before: Mapping[str, str], facts: Iterable[Recorded]) -> Mapping[str, str]:
    found = dict(before)
    for item in facts:
        content = item.fact.content
        if item.fact.kind == BATCH_MADE:
            why = _stopped(content["findings"])
            if why:
                found[str(content["batch"])] = why
            continue
        listed = content["lots"]
        for lot in listed if isinstance(listed, list) else ():
            if item.fact.kind == HELD:
                found[str(lot)] = str(content["why"])
            else:
                found.pop(str(lot), None)
    return found


def _stopped(findings: object) -> str:
    """Say why findings of a batch hold it; nothing if they do not."""
    rows = findings if isinstance(findings, list) else []
    return " ".join(
        str(row["text"])
        for row in rows
        if isinstance(row, Mapping) and row.get("verdict") == Verdict.STOP.value
    )


def held_lots(record: Record) -> Mapping[str, str]:
    """Lots on hold now, each with why.

    A batch whose own findings say STOP is on hold from the moment it is recorded, even if the
    writer is stopped before the hold itself is written.
    """
    kinds = (BATCH_MADE, HELD, RELEASED)
    return folded(record, "held", kinds=kinds, start={}, fold=_note)


def refuse_held(record: Record, lots: Iterable[str], *, act: str) -> None:
    """Refuse an act on lots of which one is on hold."""
    held = held_lots(record)
    for lot in lots:
        if lot in held:
            raise Refused(
                f"Lot {lot} is on hold and must not be {act}.",
                seen=held[lot].rstrip("."),
                do="ask the laboratory; a named person releases it or it stays",
            )


def hold_lots(
    record: Record, lots: tuple[str, ...], *, why: str, by: str, at: dt.datetime
) -> Recorded:
    """Put lots on hold.

    Asks: lots that the record knows or batches that have begun, and why. A batch held while it is
    weighed up is a held lot once it is made. Records: ``quality.held/1``.
    """
    begun = started_batches(record)
    for lot in lots:
        if lot not in begun:
            record.lot(lot)
    _must_say(lots, why)
    content: dict[str, Json] = {"lots": list(lots), "why": why.strip()}
    fact = Fact(kind=HELD, happened_at=at, by=by, content=content)
    return record.append(fact, recorded_at=at)


def release_lots(
    record: Record, lots: tuple[str, ...], *, why: str, by: str, at: dt.datetime
) -> Recorded:
    """Let lots on hold go.

    Asks: lots on hold, and why. Refused when: one of them is not on hold. Records:
    ``quality.released/1``.
    """
    _must_say(lots, why)

    def act() -> Fact:
        held = held_lots(record)
        loose = [lot for lot in lots if lot not in held]
        if loose:
            raise Refused(f"Not on hold: {', '.join(loose)}.", do="see what is on hold")
        content: dict[str, Json] = {"lots": list(lots), "why": why.strip()}
        return Fact(kind=RELEASED, happened_at=at, by=by, content=content)

    return appended(record, act, at=at)


def _must_say(lots: tuple[str, ...], why: str) -> None:
    if not lots:
        raise BadInput("No lot is named.", allowed="one lot or more")
    if not why.strip():
        raise BadInput("Say why.", seen="nothing", allowed="a few words")
