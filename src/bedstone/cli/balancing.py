"""The command that balances the mill: balance."""

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bedstone.cli.answer import print_json, print_table, table
from bedstone.cli.parts import Parts
from bedstone.cli.reach import directory_argument, json_option, open_mill, read_day
from bedstone.cli.words import mass_text

if TYPE_CHECKING:
    from collections.abc import Mapping

    from bedstone.desk.balance import Balance
    from bedstone.mill.model import Mill

__all__ = ["balance"]

PCT = 100.0
RARE = 0.001
MG_KG = 1e6


@click.command(epilog="Example: bedstone balance demo-mill --from 2026-11-16 --to 2026-11-24")
@directory_argument
@click.option("--from", "first", metavar="DATE",
              help="First day, YYYY-MM-DD. Default: six days before the last.")  # fmt: skip
@click.option("--to", "last", metavar="DATE", help="Last day. Default: yesterday.")
@click.option(
    "--all", "every", is_flag=True, help="Every flow, not only those that were checked or reckoned."
)
@json_option
@click.pass_obj
def balance(
    parts: Parts,
    directory: Path,
    *,
    first: str | None,
    last: str | None,
    every: bool,
    as_json: bool,
) -> None:
    """Balance what came in, went through and left, by the errors of the instruments.

    Measured flows are moved as little as their errors allow until every place gives out what it
    took in. What is wrong beyond chance is named, and what nothing measures is reckoned where the
    balance reaches it.
    """
    from bedstone.desk.balance import balance as balanced
    from bedstone.desk.balance import said_of
    from bedstone.desk.revisions import current_mill

    record = open_mill(parts, directory)
    mill = current_mill(record)
    today = parts.clock().astimezone(mill.settings.zone).date()
    end = read_day(last) if last else today - dt.timedelta(days=1)
    start = read_day(first) if first else end - dt.timedelta(days=6)
    found = balanced(record, first=start, last=end)
    if as_json:
        print_json(found)
        return
    said = said_of(mill, found)
    _say(mill, found, said)
    _print_flows(mill, found, said, every=every)
    _print_shrink(mill, found)


def _say(mill: "Mill", found: "Balance", said: "Mapping[str, str]") -> None:
    from bedstone.desk.balance import place_words

    done = found.reconciled
    click.echo(
        f"{len(found.flows)} flows, {done.checks} independent balances; misfit {done.misfit:.1f}, "
        + (
            f"as large by chance in {PCT * done.probability:.1f} of 100."
            if done.probability >= RARE
            else "as large by chance in less than 1 of 1000."
        )
    )
    for row in done.gross:
        size = mass_text(round(abs(row.size_kg) * MG_KG), mill.settings)
        sd = mass_text(round(2 * row.size_sd_kg * MG_KG), mill.settings)
        if row.is_place:
            what = "loses" if row.size_kg > 0 else "gains"
            about = place_words(mill, row.about)
            click.echo(f"WRONG: {about} {what} {size} (plus or minus {sd}) nobody booked.")
        else:
            what = "too much" if row.size_kg > 0 else "too little"
            click.echo(f"WRONG: {said[row.about]} says {size} {what} (plus or minus {sd}).")
        if row.not_told_from:
            others = [said.get(name) or place_words(mill, name) for name in row.not_told_from]
            click.echo(f"  It may as well be: {'; '.join(others)}.")
    if not done.gross:
        click.echo("Nothing is wrong beyond what the instruments can err.")
    if found.unread:
        click.echo(f"Nobody read the stock of: {', '.join(found.unread)}.")


def _print_flows(mill: "Mill", found: "Balance", said: "Mapping[str, str]", *, every: bool) -> None:
    made = table(
        "Flows",
        *("Flow", "Measured", "Agreed", "Plus or minus", "Moved by", "How it is known"),
        right=("Measured", "Agreed", "Plus or minus", "Moved by"),
    )
    for row in found.reconciled.flows:
        if not every and row.says not in ("measured and checked", "reckoned"):
            continue
        made.add_row(
            said[row.flow],
            _mass(mill, row.measured_kg),
            _mass(mill, row.agreed_kg),
            _mass(mill, None if row.sd_kg is None else 2 * row.sd_kg),
            "" if row.moved_sds is None else f"{row.moved_sds:+.1f} sd",
            row.says,
        )
    print_table(made)
    unknown = [row.flow for row in found.reconciled.flows if row.says == "cannot be known"]
    if unknown and not every:
        click.echo(
            f"Measured by nothing and reached by no balance: {len(unknown)} flows (--all names them)."
        )


def _mass(mill: "Mill", kg: float | None) -> str:
    return "" if kg is None else mass_text(round(kg * MG_KG), mill.settings)


def _print_shrink(mill: "Mill", found: "Balance") -> None:
    made = table(
        "Shrink by station, as booked",
        *("Station", "In", "To air", "To scrap", "Lost"),
        right=("In", "To air", "To scrap", "Lost"),
    )
    for row in found.shrink:
        made.add_row(
            f"{row.station} {row.name}",
            _mass(mill, row.in_kg),
            _mass(mill, row.air_kg),
            _mass(mill, row.scrap_kg),
            f"{PCT * row.lost_frac:.2f} %",
        )
    print_table(made)
