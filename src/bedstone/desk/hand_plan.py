"""A day whose order of running a person changes by hand: tried at once, kept as a plan if wanted."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from bedstone.desk.make_plan import day_problem
from bedstone.desk.plans import order_of_running
from bedstone.desk.record import Record
from bedstone.mill.plan import Plan
from bedstone.planning.by_hand import HandMade, walk_by_hand
from bedstone.planning.day import OpenDay, open_day

__all__ = ["HandDay", "HandMade", "hand_day"]


@dataclass(frozen=True, slots=True, eq=False)
class HandDay:
    """A day read from the record once, on which any order of running is tried in no time.

    It stands as long as nothing is recorded: ``head`` is what the record's head was.
    """

    head: str
    opened: OpenDay

    def tried(self, order: Sequence[tuple[str, str]]) -> HandMade:
        """What an order of running becomes, and what it breaks; see :func:`run_by_hand`."""
        return walk_by_hand(self.opened, order)

    def order_of(self, plan: Plan) -> tuple[tuple[str, str], ...]:
        """The order of running of a plan, of the runs that are still to be made."""
        there = {job.run for job in self.opened.work.jobs}
        return tuple(row for row in order_of_running(plan) if row[0] in there)

    def dearer_cents100(self, made: HandMade, order: Sequence[tuple[str, str]]) -> int:
        """What an order made by hand costs beyond another one; below nothing if it is cheaper."""
        other = self.tried(order)
        return made.outcome.costs.running_cents100 - other.outcome.costs.running_cents100


def hand_day(record: Record, *, day: dt.date, at: dt.datetime) -> HandDay:
    """A day as the record has it now; nothing starts before ``at``."""
    return HandDay(record.head().head, open_day(day_problem(record, day=day, at=at)))
