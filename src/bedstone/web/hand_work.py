"""Orders of running that people change by hand: each step kept, to be undone and done again.

They live in the server until they are proposed or forgotten; the record knows nothing of them.
"""

import datetime as dt
import secrets
import threading
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, field

from markupsafe import Markup

from bedstone.desk.hand_plan import HandDay, HandMade, hand_day
from bedstone.desk.record import Record
from bedstone.errors import BadInput, Unknown
from bedstone.mill.plan import Plan
from bedstone.web.day_axis import Axis

__all__ = ["HandWork", "HandWorks", "Order", "known_runs", "moved", "stepped"]

Order = tuple[tuple[str, str], ...]
"""Runs with their mixers, of all mixers together, in order of running."""
MOST_KEPT = 40
MOST_STEPS = 200


def moved(order: Order, run: str, mixer: str, before: str) -> Order:
    """The order with a run on a mixer before another run; at the end if none is named."""
    rest = [row for row in order if row[0] != run]
    at = next((n for n, row in enumerate(rest) if row[0] == before), len(rest))
    return (*rest[:at], (run, mixer), *rest[at:])


def stepped(order: Order, run: str, step: str) -> Order:
    """The order with a run one place earlier or later on its mixer, or out of the day.

    Raises
    ------
    BadInput
        If the step is none of these.
    """
    mixer = dict(order).get(run, "")
    if step == "out":
        return tuple(row for row in order if row[0] != run)
    if step == "in":
        return moved(order, run, mixer, "")
    same = [row[0] for row in order if row[1] == mixer]
    at = same.index(run) if run in same else 0
    if step == "earlier":
        return moved(order, run, mixer, same[at - 1]) if at > 0 else order
    if step == "later":
        if at + 1 >= len(same):
            return order
        after = next((row for row in same[at + 2 :]), "")
        return moved(order, run, mixer, after)
    raise BadInput(
        "There is no such step.", seen=repr(step[:40]), allowed="earlier, later, out, in"
    )


@dataclass(kw_only=True)
class HandWork:
    """One order of running being changed: the plan it began with, and every step so far."""

    key: str
    person: str
    plan: Plan
    position: int  # of the journal when the day was read
    hand: HandDay
    base: Order
    began: HandMade  # the base, walked
    steps: list[Order]
    at: int = 0
    lock: threading.RLock = field(default_factory=threading.RLock)
    drawn: dict[Axis, Markup] = field(default_factory=dict)  # the plan it began with, by axis

    @property
    def order(self) -> Order:
        """The order as it stands."""
        return self.steps[self.at]

    def put(self, order: Order) -> None:
        """Take a new order; what had been undone is forgotten."""
        if order == self.order:
            return
        self.steps = [*self.steps[: self.at + 1], order][-MOST_STEPS:]
        self.at = len(self.steps) - 1

    def undo(self) -> None:
        """Go one step back, if there is one."""
        self.at = max(0, self.at - 1)

    def redo(self) -> None:
        """Take back an undo, if there is one."""
        self.at = min(len(self.steps) - 1, self.at + 1)

    def reopen(self, record: Record, at: dt.datetime) -> int:
        """Read the day again as the record has it now; steps keep the runs that are still to be made.

        Returns
        -------
        since : int
            The place in the journal up to which the day was known before.
        """
        since = self.position
        self.position = record.head().position
        self.hand = hand_day(record, day=self.plan.day, at=at)
        there = {job.run for job in self.hand.opened.work.jobs}
        self.base = self.hand.order_of(self.plan)
        self.began = self.hand.tried(self.base)
        self.steps = [tuple(row for row in one if row[0] in there) for one in self.steps]
        self.drawn.clear()
        return since


class HandWorks:
    """The orders that people are changing; the oldest is forgotten when there are too many."""

    def __init__(self) -> None:
        self._kept: OrderedDict[str, HandWork] = OrderedDict()
        self._lock = threading.Lock()

    def begin(self, record: Record, plan: Plan, *, person: str, at: dt.datetime) -> HandWork:
        """Begin with the order of a plan, of the runs that are still to be made."""
        position = record.head().position
        hand = hand_day(record, day=plan.day, at=at)
        base = hand.order_of(plan)
        work = HandWork(
            key=secrets.token_urlsafe(9),
            person=person,
            plan=plan,
            position=position,
            hand=hand,
            base=base,
            began=hand.tried(base),
            steps=[base],
        )
        with self._lock:
            self._kept[work.key] = work
            while len(self._kept) > MOST_KEPT:
                self._kept.popitem(last=False)
        return work

    def find(self, key: str, person: str) -> HandWork:
        """The work of a key, for whoever began it.

        Raises
        ------
        Unknown
            If there is none any more, or it is somebody else's.
        """
        with self._lock:
            found = self._kept.get(key)
        if found is None or found.person != person:
            raise Unknown(
                "This order of running is no longer kept, or is somebody else's.",
                do="open the plan on Today and move its runs again",
            )
        return found


def known_runs(hand: HandDay) -> Sequence[str]:
    """The runs of a day that are still to be made."""
    return [job.run for job in hand.opened.work.jobs]
