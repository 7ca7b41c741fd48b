"""The commands for files of readings and of failures of power."""

from pathlib import Path

import click

from bedstone.cli.answer import print_json
from bedstone.cli.journal import read_text
from bedstone.cli.parts import Parts
from bedstone.cli.reach import by_option, directory_argument, json_option, open_mill, signer
from bedstone.cli.words import counted

__all__ = ["import_power", "import_readings"]


@click.command(
    "import-readings",
    epilog="Example: bedstone import-readings demo-mill demo-mill/lists/t01-logger.csv --by mara",
)
@directory_argument
@click.argument("file", metavar="FILE", type=click.Path(path_type=Path, dir_okay=False))
@by_option
@json_option
@click.pass_obj
def import_readings(
    parts: Parts, directory: Path, file: Path, *, by: str | None, as_json: bool
) -> None:
    """Record readings of machines from a list, a CSV or an .xlsx file.

    Its columns are machine, quantity, read_at, value, unit and, if need be, run. Every fault of
    the list is named before anything is recorded. What is on record already is left out, so that
    a list that has grown can be given again. Where everything that is read fell silent at once, a
    power event is recorded, and every meter counts as unproved until it is proved again. Water
    that was reckoned for a run is booked anew by its readings.
    """
    from bedstone.desk.import_readings import LIST_KINDS
    from bedstone.desk.import_readings import import_readings as take
    from bedstone.desk.tables import current_mill

    record = open_mill(parts, directory)
    person = signer(by, current_mill(record), act="readings")
    done = take(record, parts.read_list(file, LIST_KINDS), by=person, at=parts.clock())
    if as_json:
        print_json(done)
        return
    click.echo(
        f"{counted(done.new, 'reading')} recorded in {counted(done.facts, 'fact')}, signed by "
        f"{person}; {done.old} on record before."
    )
    if done.power_events:
        click.echo(
            f"{counted(done.power_events, 'power event')} seen as a gap and recorded: every meter "
            "counts as unproved until it is proved again. See: bedstone watch"
        )
    if done.water_again:
        click.echo(f"Water booked anew by these readings: {', '.join(done.water_again)}.")


@click.command(
    "import-power",
    epilog="Example: bedstone import-power demo-mill demo-mill/lists/power.csv --by mara",
)
@directory_argument
@click.argument("file", metavar="CSV", type=click.Path(path_type=Path, dir_okay=False))
@by_option
@json_option
@click.pass_obj
def import_power(
    parts: Parts, directory: Path, file: Path, *, by: str | None, as_json: bool
) -> None:
    """Record failures and surges of power from a CSV file.

    Its columns are from, to and, if need be, note. Every fault of the file is named before
    anything is recorded; what is on record already is left out. Every meter then counts as
    unproved until it is proved again.
    """
    from bedstone.desk.import_power import import_power as take
    from bedstone.desk.tables import current_mill

    record = open_mill(parts, directory)
    person = signer(by, current_mill(record), act="power")
    done = take(record, read_text(file), by=person, at=parts.clock(), file=file.name)
    if as_json:
        print_json(done)
        return
    click.echo(
        f"{counted(done.new, 'power event')} recorded, signed by {person}; {done.old} on record "
        "before."
    )
