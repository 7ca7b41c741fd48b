"""Commands for the plan of a day: plan, check, release."""

import datetime as dt
import json
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bedstone.cli.answer import print_json, progress
from bedstone.cli.parts import Parts
from bedstone.cli.reach import (
    by_option,
    directory_argument,
    find_above,
    json_option,
    open_mill,
    read_day,
    signer,
)
from bedstone.cli.words import counted
from bedstone.errors import BadInput, Refused

if TYPE_CHECKING:
    from bedstone.mill.model import Mill
    from bedstone.mill.plan import Plan

__all__ = ["check", "plan", "release"]

DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
TRIES_WITHOUT_END = 10**9
PLANNER = "bedstone"  # who signs a proposal that nobody has put their name to


@click.command(epilog="Example: bedstone plan demo-mill --by dell")
@directory_argument
@click.option(
    "--day",
    metavar="DATE",
    help="Day to plan, YYYY-MM-DD. Default: today, or the next day with a shift once today's "
    "are over.",
)
@click.option("--seed", type=int, default=0, show_default=True, help="Seed of the search.")
@click.option(
    "--seconds",
    type=click.FloatRange(min=0),
    help="Look for a cheaper plan for so long; the plan then depends on how fast the machine is. "
    "Default: about a second, by a fixed number of tries, so that it does not.",
)
@click.option("--papers/--no-papers", default=True, help="Write the PDF papers too. Default: yes.")
@click.option("--by", metavar="PERSON", help="Who proposes it. Default: bedstone itself.")
@json_option
@click.pass_obj
def plan(
    parts: Parts,
    directory: Path,
    *,
    day: str | None,
    seed: int,
    seconds: float | None,
    papers: bool,
    by: str | None,
    as_json: bool,
) -> int:
    """Plan a day: batches, order of running, flushes, times, costs.

    The plan is recorded as a proposal and written to DIR/plans; batch sheets and day sheet are
    written to DIR/papers as PDF. A manager releases it with bedstone release. Orders that cannot
    be made are named with the reason. A plan that the verifier rejects prints no papers and ends
    with exit code 3.
    """
    from bedstone.desk.plan_acts import refuse_no_shift
    from bedstone.desk.plan_day import make_plan, propose
    from bedstone.desk.tables import current_mill

    record = open_mill(parts, directory)
    mill = current_mill(record)
    now = parts.clock()
    wanted = _day_wanted(day, mill, now)
    signs = signer(by, mill, act="plan") if by else PLANNER
    refuse_no_shift(mill, wanted)
    with progress() as say:
        say(f"Planning {wanted.isoformat()}", 0, 0)
        if seconds is None:
            made = make_plan(record, day=wanted, at=now, seed=seed)
        else:
            made = make_plan(
                record,
                day=wanted,
                at=now,
                seed=seed,
                tries_an_order=TRIES_WITHOUT_END,
                keep_going=_for_seconds(seconds),
            )
    refused = made.status == "refused"
    if not refused:
        propose(record, made, by=signs, at=now)
    written = [_write_plan(directory, made)]
    if papers and not refused:
        with progress() as say:
            say("Printing the papers", 0, 0)
            from bedstone.papers.plan_folder import write_papers

            written += write_papers(directory / "papers", record, made)
    _print(made, mill, written, as_json=as_json)
    return Refused.exit_code if refused else 0


def _for_seconds(seconds: float) -> Callable[[float], bool]:
    """True to whoever asks, for so long."""
    until_s = time.monotonic() + seconds
    return lambda _: time.monotonic() < until_s


def _day_wanted(day: str | None, mill: "Mill", now: dt.datetime) -> dt.date:
    """The day that was typed, if it is not over; else the day ahead."""
    if not day:
        return _day_ahead(mill, now)
    wanted = read_day(day)
    today = now.astimezone(mill.settings.zone).date()
    if wanted < today:
        raise BadInput(
            "That day is over, nothing can be planned for it.",
            seen=wanted.isoformat(),
            allowed=f"{today.isoformat()} or later",
        )
    return wanted


def _day_ahead(mill: "Mill", now: dt.datetime) -> dt.date:
    """Today if a shift runs or is still to come, else the next day that has one."""
    local = now.astimezone(mill.settings.zone)
    last: dict[str, dt.time] = {}
    for shift in mill.shifts:
        last[shift.weekday] = max(shift.end_time, last.get(shift.weekday, shift.end_time))
    for ahead in range(8):
        day = local.date() + dt.timedelta(days=ahead)
        ends = last.get(DAYS[day.weekday()])
        if ends is not None and (ahead or local.time() < ends):
            return day
    return local.date()


def _print(made: "Plan", mill: "Mill", written: list[Path], *, as_json: bool) -> None:
    if as_json:
        from bedstone.desk.plan_json import plan_to_json

        print_json(plan_to_json(made))
        return
    from bedstone.cli.plan_words import print_plan

    print_plan(made, mill)
    if made.status == "refused":
        click.echo("The verifier rejects this plan: no batch sheets, nothing recorded.", err=True)
    click.echo("Written:")
    for path in written:
        click.echo(f"  {path}")


def _write_plan(directory: Path, made: "Plan") -> Path:
    from bedstone.desk.plan_json import plan_to_json

    path = directory / "plans" / f"{made.plan}.json"
    path.parent.mkdir(exist_ok=True)
    text = json.dumps(plan_to_json(made), ensure_ascii=False, indent=1)
    path.write_text(text + "\n", encoding="utf-8")
    return path


def _read_plan(path: Path) -> "Plan":
    from bedstone.desk.plan_json import plan_from_json

    if not path.is_file():
        raise BadInput(f"There is no file {str(path)!r}.", do="give a plan as plan/1 JSON")
    try:
        content = json.loads(path.read_bytes())
    except (ValueError, RecursionError) as error:
        raise BadInput(
            f"{str(path)!r} is not JSON.", seen=str(error), allowed="a plan as plan/1 JSON"
        ) from error
    return plan_from_json(content)


@click.command(epilog="Example: bedstone check demo-mill/plans/P-2026-11-25-3f9a1c.json")
@click.argument("file", metavar="PLAN.json", type=click.Path(path_type=Path, dir_okay=False))
@click.option(
    "--mill",
    "directory",
    metavar="DIR",
    type=click.Path(path_type=Path, file_okay=False),
    help="The mill's folder. Default: looked for upwards from the file.",
)
@json_option
@click.pass_obj
def check(parts: Parts, file: Path, *, directory: Path | None, as_json: bool) -> int:
    """Replay a plan file and name the batches that break a limit.

    A plain verifier, not the planner, runs the plan, also one edited by hand, on what the record
    says the machines and bins hold. It names the batch, by how much, and where the limit comes from. Exit code 3 when the
    plan is rejected.
    """
    from bedstone.cli.plan_words import print_findings
    from bedstone.desk.plan_day import check_plan
    from bedstone.desk.tables import current_mill
    from bedstone.mill.plan import Verdict

    made = _read_plan(file)
    record = open_mill(parts, directory or find_above(file), compare=False)
    findings = list(check_plan(record, made, at=parts.clock()))
    stops = [item for item in findings if item.verdict is Verdict.STOP]
    if as_json:
        answer = {"plan": made.plan, "rejected": bool(stops), "findings": findings}
        print_json(answer)
    else:
        print_findings(
            findings,
            title=f"Findings on plan {made.plan}",
            settings=current_mill(record).settings,
        )
        reasons = counted(len(stops), "reason")
        word = f"rejected for {reasons}" if stops else "safe to run"
        click.echo(f"Plan {made.plan} is {word}.")
    return Refused.exit_code if stops else 0


@click.command(epilog="Example: bedstone release demo-mill P-2026-11-25-3f9a1c --by dell")
@directory_argument
@click.argument("plan_id", metavar="PLAN")
@by_option
@json_option
@click.pass_obj
def release(parts: Parts, directory: Path, plan_id: str, *, by: str | None, as_json: bool) -> None:
    """Release a proposed plan so that its batches may be started.

    The verifier runs again on what the record says now; a plan that is no longer safe is refused
    and stays a proposal. Its papers in DIR/papers, if there are any, are printed anew as released.
    """
    from bedstone.desk.plan_day import release as release_plan
    from bedstone.desk.plans import find_plan
    from bedstone.desk.tables import current_mill
    from bedstone.papers.plan_folder import papers_anew

    record = open_mill(parts, directory)
    person = signer(by, current_mill(record), act="release")
    at: dt.datetime = parts.clock()
    recorded = release_plan(record, plan_id, by=person, at=at)
    plan = find_plan(record, plan_id).plan
    written = papers_anew(directory / "papers", record, plan)
    if as_json:
        print_json({"plan": plan_id, "by": person, "at": at, "position": recorded.position})
        return
    click.echo(f"Plan {plan_id} is released by {person} (fact {recorded.position}).")
    for path in written:
        click.echo(f"  printed anew: {path}")
