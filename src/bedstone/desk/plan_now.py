"""Whether a plan in the record may still be worked by: judged again when what it stands on moved."""

from dataclasses import dataclass
from weakref import WeakKeyDictionary

from bedstone.desk.check_plan import check_plan
from bedstone.desk.folding import REVERSED
from bedstone.desk.made import BATCH_MADE, BATCH_STARTED, CLEANED_OUT
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import Refused
from bedstone.mill.plan import Finding, Plan, Verdict

__all__ = ["refuse_unsafe", "stops_now"]

MOVED_BY = (BATCH_MADE, BATCH_STARTED, CLEANED_OUT, REVERSED)
LIMITS = ("residue.", "formula.", "plan.unknown")
"""Findings with these codes are about what may be in a feed. Others (times, stock, bins) ask about
a day as a whole and say nothing of one that is half made.
"""
MOST_KEPT = 16


@dataclass(frozen=True, slots=True)
class _Judged:
    revision: int
    moved_at: int
    stops: tuple[Finding, ...]


_KEPT: WeakKeyDictionary[Record, dict[str, _Judged]] = WeakKeyDictionary()


def stops_now(record: Record, plan: Plan) -> tuple[Finding, ...]:
    """What the rest of a plan would break of what may be in a feed, as tables and floor are now.

    A plan is judged again only when the tables have a later revision than it was made with, or
    batches or clean-outs were recorded, or taken back, since it was made.
    """
    revision = current_mill(record).revision
    moved_at = max(
        (item.position for item in record.facts(kinds=MOVED_BY, after=plan.position)), default=0
    )
    if revision <= plan.revision and not moved_at:
        return ()
    kept = _KEPT.setdefault(record, {})
    before = kept.get(plan.plan)
    if before is not None and (before.revision, before.moved_at) == (revision, moved_at):
        return before.stops
    stops = tuple(
        row
        for row in check_plan(record, plan)
        if row.verdict is Verdict.STOP and row.code.startswith(LIMITS)
    )
    if len(kept) >= MOST_KEPT:
        kept.clear()
    kept[plan.plan] = _Judged(revision, moved_at, stops)
    return stops


def refuse_unsafe(record: Record, plan: Plan) -> None:
    """Refuse to print a plan of which a batch would now break what a feed may hold."""
    stops = stops_now(record, plan)
    if stops:
        raise Refused(
            f"Plan {plan.plan} is no longer safe as the mill stands now, so nothing is printed "
            "of it.",
            seen=stops[0].text.rstrip("."),
            source=stops[0].source,
            do="plan the day again",
        )
