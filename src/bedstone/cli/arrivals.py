"""The command that judges a load at the gate: arrival."""

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bedstone.cli.answer import print_json
from bedstone.cli.journal import read_text
from bedstone.cli.parts import Parts
from bedstone.cli.reach import directory_argument, json_option, open_mill
from bedstone.errors import BadInput

if TYPE_CHECKING:
    from collections.abc import Sequence

    from bedstone.desk.arrival import Gate
    from bedstone.desk.bin_choice import BinChoice

__all__ = ["arrival"]

WORDS = {
    "TAKE": "it may unload",
    "PRICE_DOWN": "it may unload, at a lower price",
    "HOLD": "it stays at the gate",
    "REJECT": "turn it away",
}


@click.command(epilog="Example: bedstone arrival demo-mill demo-mill/lists/load.json")
@directory_argument
@click.argument("file", metavar="JSON", type=click.Path(path_type=Path, dir_okay=False))
@json_option
@click.pass_obj
def arrival(parts: Parts, directory: Path, file: Path, *, as_json: bool) -> None:
    """Say whether a load may unload, why, and into which bin.

    The file holds the load as JSON, with the names that receiving.load_inspected/1 has under
    "arrival". Nothing is written: whoever stands at the gate decides on the page of loads.
    """
    from bedstone.desk.arrival import judge_arrival
    from bedstone.desk.arrival_row import Arrival
    from bedstone.desk.bin_choice import rank_bins
    from bedstone.desk.plain_values import row_from_plain
    from bedstone.desk.tables import current_mill

    record = open_mill(parts, directory)
    text = read_text(file)
    try:
        content = json.loads(text)
    except ValueError as error:
        raise BadInput(f"{file.name} is no JSON.", seen=str(error)) from None
    row = row_from_plain(Arrival, content, where=file.name)
    gate = judge_arrival(current_mill(record), row)
    bins = (
        rank_bins(
            record,
            ingredient=row.ingredient,
            mass_mg=gate.weighed.net_mg,
            at=parts.clock(),
            barred=gate.barred_bins,
            levels=row.levels,
        )
        if gate.weighed
        else ()
    )
    if as_json:
        print_json(_plainly(gate, bins))
    else:
        _say(row.ticket, gate, bins)


def _plainly(gate: "Gate", bins: "Sequence[BinChoice]") -> dict[str, object]:
    return {
        "outcome": gate.outcome.name,
        "reasons": gate.reasons,
        "barred_products": gate.barred_products,
        "weighed": gate.weighed,
        "bins": [{"bin": one.bin, "possible": one.possible, "why": one.why} for one in bins],
    }


def _say(ticket: str, gate: "Gate", bins: "Sequence[BinChoice]") -> None:
    click.echo(f"{ticket}: {WORDS[gate.outcome.name]}")
    for why in gate.reasons:
        click.echo(f"  - {why}")
    for code, why in gate.barred_products.items():
        click.echo(f"  - not for {code}: {why}")
    for one in bins:
        if not one.is_kept_for_other:
            click.echo(f"  {one.bin}: {'possible' if one.possible else 'no'}; {' '.join(one.why)}")
    others = [one.bin for one in bins if one.is_kept_for_other]
    if others:
        click.echo(f"  kept for other ingredients: {', '.join(others)}")
