"""A plan proposed and released."""

import datetime as dt

from bedstone.desk.appending import appended, nobody_since
from bedstone.desk.check_plan import check_plan
from bedstone.desk.plan_json import plan_to_json
from bedstone.desk.plans import (
    PLAN_PROPOSED,
    PLAN_RELEASED,
    ByHand,
    find_plan,
    latest_plan,
    proposed_at,
)
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import Refused
from bedstone.ledger.model import Fact, Json, Recorded
from bedstone.mill.model import Mill
from bedstone.mill.plan import Plan, Verdict
from bedstone.planning.shifts import has_shift

__all__ = ["propose", "refuse_no_shift", "release"]


def propose(
    record: Record, plan: Plan, *, by: str, at: dt.datetime, by_hand: ByHand | None = None
) -> Recorded:
    """Put a plan into the record. The newest plan of its day is not written twice.

    Asks: a plan of the newest tables; beside which plan it was made and what it costs more, if a
    person made its order of running. Refused when: the tables have changed since it was made.
    Records: ``planning.plan_proposed/1``.
    """
    there = proposed_at(record, plan.plan)
    newest = latest_plan(record, plan.day)
    if there is not None and newest is not None and newest.plan.plan == plan.plan:
        return there

    if not plan.batches:
        refuse_no_shift(current_mill(record), plan.day)

    def act() -> Fact:
        revision = current_mill(record).revision
        if plan.revision != revision:
            raise Refused(
                f"Plan {plan.plan} was made with revision {plan.revision} of the tables.",
                allowed=f"revision {revision}, which stands now",
                do="plan the day again",
            )
        content: dict[str, Json] = {"plan": plan_to_json(plan)}
        if by_hand is not None:
            content["by_hand"] = by_hand.as_content()
        return Fact(kind=PLAN_PROPOSED, happened_at=at, by=by, content=content)

    return appended(record, act, at=at)


def refuse_no_shift(mill: Mill, day: dt.date) -> None:
    """Pass if somebody works on a day, so that there is something to plan.

    Raises
    ------
    Refused
        If no machine has a shift on it.
    """
    if not has_shift(mill, day):
        raise Refused(
            f"{mill.settings.name} has no shift on {day:%A} {day.isoformat()}; there is "
            "nothing to plan.",
            do="name a day with a shift, or add one to shifts.csv and load it",
        )


def release(
    record: Record, plan_id: str, *, by: str, at: dt.datetime, after: int | None = None
) -> Recorded:
    """Release a plan, so that its sheets can be printed and its batches started.

    Asks: a plan in the record. Refused when: it is released already, or the verifier says no: of
    the plan as it stands, on what the machines hold now. Records: ``planning.plan_released/1``,
    of an order of running made by hand with what it costs more than the plan beside it.
    """

    def act() -> Fact:
        nobody_since(record, after, kinds=(PLAN_RELEASED,), key="plan", value=plan_id)
        standing = find_plan(record, plan_id)
        if standing.status == "released":
            raise Refused(
                f"Plan {plan_id} is released already, by {standing.released_by}.", do="nothing"
            )
        stops = [
            finding
            for finding in (*standing.plan.findings, *check_plan(record, standing.plan, at=at))
            if finding.verdict is Verdict.STOP
        ]
        if stops or standing.status == "refused":
            first = stops[0] if stops else None
            raise Refused(
                f"Plan {plan_id} must not be released.",
                seen=" ".join(dict.fromkeys(item.text for item in stops)),
                source=first.source if first else "",
                do="plan the day again",
            )
        content: dict[str, Json] = {"plan": plan_id}
        if standing.by_hand is not None:
            content["by_hand"] = standing.by_hand.as_content()
        return Fact(kind=PLAN_RELEASED, happened_at=at, by=by, content=content)

    return appended(record, act, at=at)
