"""Samples kept of loads: where each lies, until when, and which may be thrown away."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from bedstone.desk.appending import appended
from bedstone.desk.arrival_acts import arrivals, find_arrival
from bedstone.desk.folding import folded
from bedstone.desk.holds import held_lots
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.roles import check
from bedstone.errors import BadInput, Refused
from bedstone.ledger.model import Fact, Recorded

__all__ = ["RetainedSample", "discard_sample", "retained_samples"]

SAMPLE_DISCARDED = "receiving.sample_discarded/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class RetainedSample:
    """A sample on its shelf. ``kept_for`` says why it must stay although its day has come."""

    ticket: str
    lot: str
    firm: str
    ingredient: str
    shelf: str
    taken_at: dt.datetime
    keep_until: dt.date
    was_turned_away: bool
    is_due: bool
    kept_for: str


def discarded(record: Record) -> frozenset[str]:
    """Tickets whose samples were thrown away."""

    def note(before: frozenset[str], facts: Iterable[Recorded]) -> frozenset[str]:
        return before | {str(item.fact.content["ticket"]) for item in facts}

    start: frozenset[str] = frozenset()
    return folded(record, "samples gone", kinds=(SAMPLE_DISCARDED,), start=start, fold=note)


def retained_samples(record: Record, *, today: dt.date) -> tuple[RetainedSample, ...]:
    """Every sample that is kept, the first to go first."""
    gone, held = discarded(record), held_lots(record)
    rows = [
        RetainedSample(
            ticket=row.arrival.ticket,
            lot=row.arrival.lot,
            firm=row.arrival.firm,
            ingredient=row.arrival.ingredient,
            shelf=row.sample_shelf,
            taken_at=row.at,
            keep_until=row.keep_until,
            was_turned_away=not row.into,
            is_due=row.keep_until < today,
            kept_for=_kept_for(held, row.arrival.lot),
        )
        for row in arrivals(record)
        if row.keep_until is not None and row.arrival.ticket not in gone
    ]
    return tuple(sorted(rows, key=lambda row: (row.keep_until, row.ticket)))


def _kept_for(held: Mapping[str, str], lot: str) -> str:
    return f"its lot is on hold ({held[lot].rstrip('.')})" if lot in held else ""


def discard_sample(record: Record, ticket: str, *, why: str, by: str, at: dt.datetime) -> Recorded:
    """Record that a retained sample was thrown away.

    Asks: who may, a ticket with a sample; why, before its day has come. Refused when: it is gone
    already, or its lot is on hold. Records: ``receiving.sample_discarded/1``.
    """
    mill = current_mill(record)
    check(mill, by, "sample")
    row = find_arrival(record, ticket)
    today = at.astimezone(mill.settings.zone).date()

    def act() -> Fact:
        kept = {one.ticket: one for one in retained_samples(record, today=today)}
        sample = kept.get(ticket)
        if sample is None:
            raise Refused(f"No sample of ticket {ticket} is kept any more.", do="nothing")
        if sample.kept_for:
            raise Refused(f"The sample of ticket {ticket} must stay: {sample.kept_for}.")
        if not sample.is_due and not why.strip():
            raise BadInput(
                f"The sample of ticket {ticket} is kept until {sample.keep_until}.",
                seen="no reason",
                allowed="why it goes before its day",
            )
        content = {"ticket": ticket, "lot": row.arrival.lot, "why": why.strip()}
        return Fact(kind=SAMPLE_DISCARDED, happened_at=at, by=by, content=content)

    return appended(record, act, at=at)
