"""Commands for the mill folder: new, demo, load, export."""

import os
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bedstone.cli.answer import print_json, progress
from bedstone.cli.parts import Parts
from bedstone.cli.reach import (
    by_option,
    directory_argument,
    json_option,
    must_be_mill,
    note,
    open_mill,
    read_day,
    signer,
)
from bedstone.cli.words import counted
from bedstone.desk.roles import may
from bedstone.errors import Refused, SetupError

if TYPE_CHECKING:
    from bedstone.desk.record import Record
    from bedstone.mill.folder import LoadedFolder
    from bedstone.mill.model import Mill

__all__ = ["demo", "export", "load", "new"]

LOADING = "tables"


def _must_be_free(directory: Path) -> None:
    if directory.exists() and any(directory.iterdir()):
        raise Refused(
            f"{str(directory)!r} already has files in it; nothing was written.",
            allowed="a folder that is empty or not there yet",
            do="name another folder",
        )


@click.command(epilog="Example: bedstone new mymill")
@directory_argument
@json_option
@click.pass_obj
def new(parts: Parts, directory: Path, *, as_json: bool) -> None:
    """Write a commented starter folder for a mill into DIR.

    The tables have their headings with units and a row or two to go by. Fill them in, then run
    bedstone load DIR, which names every cell it cannot use.
    """
    _must_be_free(directory)
    written = parts.new_folder(directory)
    if as_json:
        print_json({"directory": str(directory), "files": [str(path) for path in written]})
        return
    click.echo(f"{directory} is a new mill folder with {len(written)} files.")
    click.echo(f"Fill in the tables, then: bedstone load {directory}")


@click.command(epilog="Example: bedstone demo demo-mill")
@directory_argument
@click.option("--day", metavar="DATE", help="Day with orders to plan. Default: the next whole day.")
@click.option("--seed", type=int, default=1, show_default=True, help="Seed of the invented past.")
@click.option(
    "--no-faults", is_flag=True, help="Let nothing go wrong unnoticed in the invented past."
)
@json_option
@click.pass_obj
def demo(
    parts: Parts,
    directory: Path,
    *,
    day: str | None,
    seed: int,
    no_faults: bool,
    as_json: bool,
) -> None:
    """Write Quillback Mill, an invented demo mill, into DIR.

    It has weeks of past and orders for a day. Every name, number and person in it is made up. The same seed and day give the same mill. What truly happened, hidden faults and all, stands in truth.json beside the record; nothing reads it.
    """
    _must_be_free(directory)
    wanted = read_day(day) if day else None
    with progress() as say:
        made = parts.demo_folder(directory, wanted, seed, say, hidden_faults=not no_faults)
    if as_json:
        print_json(
            {
                "directory": str(made.directory),
                "day": made.day,
                "facts": made.facts,
                "pins": made.pins,
            }
        )
        return
    click.echo(f"{directory} is Quillback Mill (invented): {made.facts} facts recorded.")
    click.echo(f"Orders to plan are for {made.day:%A} {made.day.isoformat()}:")
    click.echo(f"  bedstone plan {directory} --day {made.day.isoformat()}")
    click.echo(f"  bedstone serve {directory}")
    if made.pins:
        pins = ", ".join(f"{person} {pin}" for person, pin in made.pins.items())
        click.echo(f"To sign in on the pages (invented people and PINs): {pins}")


@click.command(epilog="Example: bedstone load demo-mill --by dell")
@directory_argument
@by_option
@json_option
@click.pass_obj
def load(parts: Parts, directory: Path, *, by: str | None, as_json: bool) -> None:
    """Check the tables in DIR and record them as a revision.

    Tables are CSV files or sheets of one mill.xlsx. Every fault is named at once with file, row
    and column; nothing is recorded until all are right. Orders, weather and assays merge by key, opening stock enters an empty record only. Assays of
    lots from before the record began that it does not have are left out and counted. Loading
    what the record already has changes nothing. The first load begins the record; without --by
    the first manager of people.csv signs it.
    """
    from bedstone.desk.tables import load_tables

    must_be_mill(directory)
    folder = parts.read_folder(directory)
    record, person = _record_to_load(parts, directory, folder, by=by)
    report = load_tables(record, folder, by=person, at=parts.clock())
    if as_json:
        print_json(report)
        return
    if report.is_older:
        note(
            f"the tables in {directory} are as they were loaded last; the record's were changed since "
            f"on the pages or by a formula, and stand. bedstone export {directory} OUT writes them."
        )
    if report.assays_left_out:
        click.echo(
            f"{counted(report.assays_left_out, 'result')} of assays.csv left out: sampled before "
            "this record began, from lots that it does not have."
        )
    if report.nothing_new:
        click.echo(f"Nothing new: the record has all of {directory} as revision {report.revision}.")
        return
    click.echo(f"Recorded, signed by {person}. The mill's tables are revision {report.revision}.")
    for change in report.changed:
        click.echo(f"  {change}")
    for said in report.fell:
        click.echo(f"  {said}")
    click.echo(
        f"  {counted(report.orders_set, 'order')} new or changed, "
        f"{counted(report.weather_set, 'hour')} of weather, "
        f"{counted(report.assays_set, 'assay')}, "
        f"{counted(report.opening, 'lot')} of opening stock"
    )


def _record_to_load(
    parts: Parts, directory: Path, folder: "LoadedFolder", *, by: str | None
) -> tuple["Record", str]:
    """The record that a folder is loaded into, and who signs; begun once it is clear who does."""
    from bedstone.desk.tables import current_mill, difference

    try:
        record = open_mill(parts, directory, compare=False)
    except SetupError:  # none yet; whatever else is wrong is said when it is begun
        person = _first_signer(folder.mill, by)
        note(f"a new record is begun in {directory}")
        return open_mill(parts, directory, compare=False, create=True), person
    if record.head().position == 0:
        return record, _first_signer(folder.mill, by)
    mill = current_mill(record)
    if not by and not difference(record, folder):
        return record, ""
    able = any(may(row.role, LOADING) for row in mill.people)
    return record, signer(by, mill if able else folder.mill, act=LOADING)


def _first_signer(mill: "Mill", by: str | None) -> str:
    """Who signs the first load: whoever is named, else the first manager of the people table."""
    managers = [row.person for row in mill.people if row.role == "manager"]
    named = by or os.environ.get("BEDSTONE_BY", "")
    return signer(named or (managers[0] if managers else ""), mill, act=LOADING)


@click.command(epilog="Example: bedstone export demo-mill copy-of-demo-mill")
@directory_argument
@click.argument("out", metavar="OUT", type=click.Path(path_type=Path, file_okay=False))
@click.option("--xlsx", is_flag=True, help="Write the tables as sheets of one mill.xlsx.")
@json_option
@click.pass_obj
def export(parts: Parts, directory: Path, out: Path, *, xlsx: bool, as_json: bool) -> None:
    """Write what the record holds as a mill folder into OUT.

    Tables are CSV files, or sheets of one workbook. Loading an export into the same record changes
    nothing.
    """
    from bedstone.desk.tables import recorded_folder

    record = open_mill(parts, directory, compare=False)
    _must_be_free(out)
    folder = recorded_folder(record)
    written = parts.write_folder(folder, out, workbook=xlsx)
    if as_json:
        revision = folder.mill.revision
        print_json({"directory": str(out), "revision": revision, "files": list(map(str, written))})
        return
    click.echo(
        f"{out} holds revision {folder.mill.revision} of the tables, "
        f"{counted(len(folder.orders), 'order')}, "
        f"{counted(len(folder.opening_stock), 'lot')} of opening stock, "
        f"{counted(len(folder.weather), 'hour')} of weather, "
        f"{counted(len(folder.assays), 'assay')}."
    )
