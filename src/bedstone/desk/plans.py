"""Plans in the record: proposed, released, found again."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from typing import Literal

from bedstone.desk.folding import folded
from bedstone.desk.plan_json import plan_from_json
from bedstone.desk.record import Record
from bedstone.desk.revisions import whole_number
from bedstone.errors import Unknown
from bedstone.ledger.model import Json, Recorded
from bedstone.mill.plan import Batch, Plan

__all__ = [
    "PLAN_PROPOSED",
    "PLAN_RELEASED",
    "ByHand",
    "PlanStanding",
    "batch_of",
    "find_plan",
    "latest_plan",
    "order_of_running",
    "proposed_at",
    "released_plan",
]

PLAN_PROPOSED = "planning.plan_proposed/1"
PLAN_RELEASED = "planning.plan_released/1"
KEPT_PLANS = 32


@dataclass(frozen=True, slots=True, kw_only=True)
class ByHand:
    """That a person made a plan's order of running: beside which plan, and what it costs more."""

    instead_of: str
    dearer_cents100: int  # below nothing if it is cheaper
    by: str = ""

    def as_content(self) -> dict[str, Json]:
        """The same as content of a fact; who it was stands in the fact."""
        return {"instead_of": self.instead_of, "dearer_cents100": self.dearer_cents100}


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanStanding:
    """A plan and where it stands; who released it and when, if anybody did."""

    plan: Plan
    status: Literal["proposed", "released", "refused"]
    released_by: str = ""
    released_at: dt.datetime | None = None
    by_hand: ByHand | None = None


@dataclass(frozen=True, slots=True)
class _Line:
    position: int
    head: str
    day: str
    released_by: str = ""
    released_at: dt.datetime | None = None
    released_position: int = 0
    by_hand: ByHand | None = None


@dataclass(frozen=True, slots=True)
class _Plans:
    by_id: Mapping[str, _Line] = field(default_factory=dict)


_PLANS: dict[tuple[str, str], Plan] = {}


def _note(before: _Plans, facts: Iterable[Recorded]) -> _Plans:
    found = dict(before.by_id)
    for item in facts:
        content = item.fact.content["plan"]
        if item.fact.kind == PLAN_PROPOSED and isinstance(content, Mapping):
            code = str(content["plan"])
            fresh = _Line(item.position, item.head, str(content["day"]))
            known = found.get(code, fresh)
            found[code] = replace(
                known, position=item.position, head=item.head, by_hand=_by_hand(item)
            )
        elif isinstance(content, str) and content in found:
            found[content] = replace(
                found[content],
                released_by=item.fact.by,
                released_at=item.fact.happened_at,
                released_position=item.position,
            )
    return _Plans(found)


def _by_hand(item: Recorded) -> ByHand | None:
    content = item.fact.content.get("by_hand")
    if not isinstance(content, Mapping):
        return None
    return ByHand(
        instead_of=str(content["instead_of"]),
        dearer_cents100=whole_number(content["dearer_cents100"]),
        by=item.fact.by,
    )


def _lines(record: Record) -> Mapping[str, _Line]:
    kinds = (PLAN_PROPOSED, PLAN_RELEASED)
    return folded(record, "plans", kinds=kinds, start=_Plans(), fold=_note).by_id


def _standing(record: Record, plan_id: str, line: _Line) -> PlanStanding:
    plan = _PLANS.get((plan_id, line.head))
    if plan is None:
        plan = plan_from_json(record.fact(line.position).fact.content["plan"])
        if len(_PLANS) >= KEPT_PLANS:
            _PLANS.clear()
        _PLANS[(plan_id, line.head)] = plan
    if line.released_at is not None:
        return PlanStanding(
            plan=plan,
            status="released",
            released_by=line.released_by,
            released_at=line.released_at,
            by_hand=line.by_hand,
        )
    status: Literal["proposed", "refused"] = "refused" if plan.status == "refused" else "proposed"
    return PlanStanding(plan=plan, status=status, by_hand=line.by_hand)


def latest_plan(record: Record, day: dt.date) -> PlanStanding | None:
    """The plan of a day that was proposed last, whatever its standing; None if there is none."""
    lines = [(line.position, key) for key, line in _lines(record).items() if line.day == str(day)]
    if not lines:
        return None
    key = max(lines)[1]
    return _standing(record, key, _lines(record)[key])


def released_plan(record: Record, day: dt.date) -> PlanStanding | None:
    """The plan of a day that was released last, which is in force; None if none was released."""
    lines = [
        (line.released_position, key)
        for key, line in _lines(record).items()
        if line.day == str(day) and line.released_position
    ]
    if not lines:
        return None
    key = max(lines)[1]
    return _standing(record, key, _lines(record)[key])


def find_plan(record: Record, plan_id: str) -> PlanStanding:
    """The plan of an id with where it stands.

    Raises
    ------
    Unknown
        If there is no such plan; near ids are offered.
    """
    lines = _lines(record)
    if plan_id not in lines:
        near = get_close_matches(plan_id, lines, n=3)
        raise Unknown(
            f"There is no plan {plan_id!r} in the record.",
            do=f"did you mean {', '.join(near)}?" if near else "plan the day first",
        )
    return _standing(record, plan_id, lines[plan_id])


def proposed_at(record: Record, plan_id: str) -> Recorded | None:
    """The fact that proposed a plan; None if it never was."""
    line = _lines(record).get(plan_id)
    return None if line is None else record.fact(line.position)


def batch_of(plan: Plan, batch_id: str) -> Batch:
    """The batch of an id in a plan.

    Raises
    ------
    Unknown
        If the plan has no such batch; near ids are offered.
    """
    batches = {batch.batch: batch for batch in plan.batches}
    if batch_id not in batches:
        near = get_close_matches(batch_id, batches, n=3)
        raise Unknown(
            f"Plan {plan.plan} has no batch {batch_id!r}.",
            do=f"did you mean {', '.join(near)}?" if near else "see the plan of the day",
        )
    return batches[batch_id]


def order_of_running(plan: Plan) -> tuple[tuple[str, str], ...]:
    """Runs of a plan, each with its mixer, in order of their first batch or flush."""
    first: dict[str, str] = {}
    for batch in sorted(plan.batches, key=lambda row: (row.start_at, row.batch)):
        first.setdefault(batch.run, batch.mixer)
    return tuple(first.items())
