"""The command that says whether the mixers mix."""

from pathlib import Path

import click

from bedstone.cli.answer import print_json, print_table, table
from bedstone.cli.parts import Parts
from bedstone.cli.reach import directory_argument, json_option, open_mill
from bedstone.cli.words import clock_text

__all__ = ["mixers"]


@click.command(epilog="Example: bedstone mixers demo-mill")
@directory_argument
@json_option
@click.pass_obj
def mixers(parts: Parts, directory: Path, *, as_json: bool) -> None:
    """Show whether each mixer mixes, by its tests, and when the next is due."""
    from bedstone.desk.mixer_view import mixer_standings
    from bedstone.desk.revisions import current_mill

    record = open_mill(parts, directory)
    settings = current_mill(record).settings
    standings = mixer_standings(record, at=parts.clock())
    if as_json:
        print_json(standings)
        return
    made = table(
        f"Mixers of {settings.name}",
        *("Mixer", "Tested", "Samples", "Spread", "90 % interval", "On 10 %", "Next test"),
        right=("Samples", "Spread"),
    )
    for one in standings:
        due = "due now" if one.is_due else f"{one.due_on}"
        for at, row in enumerate(one.tests):
            found = row.found
            made.add_row(
                one.mixer.machine if at == 0 else "",
                clock_text(row.test.tested_at, settings),
                str(found.samples),
                f"{100 * found.cv_frac:.1f} %",
                f"{100 * found.cv_lo_frac:.1f} to {100 * found.cv_hi_frac:.1f} %",
                found.verdict,
                due if at == 0 else "",
            )
        if not one.tests:
            made.add_row(one.mixer.machine, "never", "", "", "", "", due)
    print_table(made)
