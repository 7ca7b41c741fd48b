"""The command for lists of tests: tumbled pellets, stacks of sieves."""

from pathlib import Path

import click

from bedstone.cli.answer import print_json
from bedstone.cli.parts import Parts
from bedstone.cli.reach import by_option, directory_argument, json_option, open_mill, signer
from bedstone.cli.words import counted

__all__ = ["import_tests"]

PLURAL = {"tumbling test": "tumbling tests", "stack of sieves": "stacks of sieves"}


@click.command(
    "import-tests",
    epilog="Example: bedstone import-tests demo-mill demo-mill/lists/sieves.csv --by rosa",
)
@directory_argument
@click.argument("file", metavar="FILE", type=click.Path(path_type=Path, dir_okay=False))
@by_option
@json_option
@click.pass_obj
def import_tests(
    parts: Parts, directory: Path, file: Path, *, by: str | None, as_json: bool
) -> None:
    """Record tumbling tests or stacks of sieves from a list, a CSV or an .xlsx file.

    Tumblings have the columns run, line, tested_at, retained_g and, if need be, test_g and note, a
    row for each; rows of one run and time are one test. Stacks of sieves have of, tested_at, pan,
    a column for each sieve named by its opening in micrometres, and, if need be, sample_g, machine
    and note. Every fault of the list is named before anything is recorded; what is on record
    already is left out.
    """
    from bedstone.desk.import_tests import import_tests as take
    from bedstone.desk.tables import current_mill
    from bedstone.mill.lab_lists import LIST_KINDS

    record = open_mill(parts, directory)
    person = signer(by, current_mill(record), act="readings")
    done = take(record, parts.read_list(file, LIST_KINDS), by=person, at=parts.clock())
    if as_json:
        print_json(done)
        return
    click.echo(
        f"{counted(done.new, done.kind, PLURAL[done.kind])} recorded, signed by {person}; "
        f"{done.old} on record before."
    )
