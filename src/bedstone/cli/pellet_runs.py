"""The command for logged runs of the pellet lines: findings and water."""

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bedstone.cli.answer import print_json, print_table, table
from bedstone.cli.parts import Parts
from bedstone.cli.reach import directory_argument, json_option, open_mill
from bedstone.cli.words import clock_text, counted, mass_text

if TYPE_CHECKING:
    from bedstone.desk.run_logged import RunLogged, RunWater
    from bedstone.mill.model import Mill

__all__ = ["pellet_runs"]


@click.command("pellet-runs", epilog="Example: bedstone pellet-runs demo-mill --days 3 --line PL1")
@directory_argument
@click.option("--run", default="", metavar="CODE", help="Only this run, however old.")
@click.option("--line", default="", metavar="CODE", help="Only this pellet line.")
@click.option(
    "--days",
    type=click.IntRange(1, 3660),
    default=2,
    show_default=True,
    help="Runs of so many days back.",
)
@json_option
@click.pass_obj
def pellet_runs(
    parts: Parts, directory: Path, *, run: str, line: str, days: int, as_json: bool
) -> None:
    """Show what the readings of runs on the pellet lines say: findings, and weight gained or lost.

    Heat, steam, motor, die, durability and what left the cooler are held against settings, tables
    and earlier runs. Water in with steam and out with the air is as the ledger has it.
    """
    from bedstone.desk.log_run import find_run, known_runs
    from bedstone.desk.run_logged import logged_runs
    from bedstone.desk.tables import current_mill
    from bedstone.errors import Unknown

    record = open_mill(parts, directory)
    mill = current_mill(record)
    now = parts.clock()
    if line and all(row.line != line for row in mill.pellet_lines):
        allowed = ", ".join(row.line for row in mill.pellet_lines) or "none is in the tables"
        raise Unknown(f"There is no pellet line {line!r}.", allowed=allowed)
    since = None if run else now - dt.timedelta(days=days)
    found = logged_runs(record, line=line, run=run, since=since)
    if run and not found:
        find_run(known_runs(record, now), run)
    if as_json:
        print_json([_plain(one, readings=bool(run)) for one in found])
        return
    _show(mill, found, run=run, days=days)


def _plain(one: "RunLogged", *, readings: bool) -> dict[str, object]:
    """A run as JSON has it; its readings one by one only where it was asked for by name."""
    read = one.read
    return {
        "run": one.run,
        "product": one.product,
        "line": one.line,
        "at": one.at,
        "means": {name: read.mean(name) for name in sorted(read.rows)},
        "findings": one.findings,
        "water": one.water,
        "gained_mg": one.water.gained_mg if one.water else None,
        "gained_usd": one.water.gained_usd if one.water else None,
        "left_out": read.left_out,
        "sent": one.sent,
        "now": one.now,
        "readings": dict(sorted(read.rows.items())) if readings else None,
    }


def _show(mill: "Mill", found: tuple["RunLogged", ...], *, run: str, days: int) -> None:
    if not found:
        since = f"of run {run}" if run else f"in the last {counted(days, 'day')}"
        click.echo(f"Nothing was read {since}.")
        return
    made = table(
        "Runs of the pellet lines: mash, water in with steam, out with the air, and what came out",
        *("Run", "Feed", "Line", "When", "Mash", "+ steam", "- water", "- dust", "= pellets"),
        "Findings",
        right=("Mash", "+ steam", "- water", "- dust", "= pellets", "Findings"),
    )
    for one in found:
        made.add_row(
            one.run,
            mill.name_of(one.product) if one.product else "unknown feed",
            one.line,
            clock_text(one.at, mill.settings),
            *_masses(mill, one.water),
            str(len(one.findings)) if one.findings else "none",
        )
    print_table(made)
    for one in found:
        for finding in one.findings:
            click.echo(
                f"{finding.verdict.value}: {one.run}: {finding.text} What to do: {finding.do}."
            )


def _masses(mill: "Mill", water: "RunWater | None") -> list[str]:
    """Mash, steam, water to the air, dust and pellets; blanks until it is pelleted."""
    if water is None:
        return [""] * 5
    masses = (water.mash_mg, water.steam_mg, water.air_mg, water.dust_mg, water.pellets_mg)
    return [mass_text(mass_mg, mill.settings) for mass_mg in masses]
