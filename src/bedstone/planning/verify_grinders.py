"""What may reach a feed before the mixer, where nothing is reckoned: said of each run it concerns."""

from bedstone.errors import NoAnswer, Unknown
from bedstone.mill.before_mixer import Meeting, flush_meetings, meetings_of
from bedstone.mill.contents import limits_of
from bedstone.mill.model import Limit, Mill
from bedstone.mill.plan import BatchKind, Finding, Plan, Run, Verdict
from bedstone.planning.words import amount_text, mass_text

__all__ = ["grinder_findings"]


def grinder_findings(mill: Mill, plan: Plan) -> list[Finding]:
    """A finding for each limit that a shared grinder or hand-add station may break.

    ACT where somebody must see to it; STOP for a limit that says never.
    """
    flushed = {batch.run for batch in plan.batches if batch.kind is BatchKind.FLUSH}
    present = {batch.run for batch in plan.batches}
    return [
        _finding(mill, run, meeting)
        for run in plan.runs
        if run.run in present
        for meeting in _meetings(mill, run, is_flushed=run.run in flushed)
    ]


def _meetings(mill: Mill, run: Run, *, is_flushed: bool) -> tuple[Meeting, ...]:
    try:
        limits = limits_of(mill, run.product)
        found = meetings_of(mill, run.product, version=run.formula_version, limits=limits)
    except (NoAnswer, Unknown):
        return ()  # said elsewhere: the plan names what the mill does not have
    if not is_flushed:
        return found
    more = flush_meetings(mill, limits=limits)
    return (*found, *(meeting for meeting in more if meeting not in found))


def _finding(mill: Mill, run: Run, meeting: Meeting) -> Finding:
    limit = meeting.limit
    is_never = limit.kind == "never"
    substance = mill.substance_by_code[limit.substance].name.lower()
    machine, feed = mill.name_of(meeting.machine), mill.name_of(run.product)
    named = f"{meeting.machine} ({machine})" if machine != meeting.machine else machine
    others = ", ".join(mill.name_of(code) for code in meeting.others)
    ingredient = mill.name_of(meeting.ingredient)
    is_grinder = mill.machine_by_code[meeting.machine].kind == "grinder"
    passes = "is ground on" if is_grinder else "is weighed by hand at"
    return Finding(
        code="residue.grinder" if is_grinder else "residue.hand_add",
        verdict=Verdict.STOP if is_never else Verdict.ACT,
        about=run.run,
        text=(
            f"{ingredient} for {run.run} {passes} {named}, as {others} is: it may bring "
            f"{substance} into {feed}, and how much is not reckoned; {_rule(mill, limit)} "
            f"({limit.source})."
        ),
        source=limit.source,
        do=(
            "keep them on machines of their own"
            if is_never
            else f"grind {ingredient} after a clean-out of {meeting.machine} and keep it apart, or "
            "on a machine of its own"
        ),
    )


def _rule(mill: Mill, limit: Limit) -> str:
    if limit.kind == "level":
        return f"at most {amount_text(mill, limit.substance, limit.level_mg_kg or 0.0)} is allowed"
    if limit.kind == "procedure":
        return f"{mass_text(mill, limit.flush_kg or 0.0)} free of it must pass in between"
    if limit.kind == "clean-out":
        return "the machines must be cleaned by hand in between"
    return "it must never meet it"
