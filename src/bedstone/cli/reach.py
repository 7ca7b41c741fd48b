"""How a command reaches the mill: the folder, the record, who signs, what time is meant."""

import datetime as dt
import getpass
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from bedstone.cli.parts import Parts
from bedstone.cli.words import counted
from bedstone.desk.record import Record
from bedstone.errors import BadInput, BedstoneError
from bedstone.mill.model import Mill

__all__ = [
    "by_option",
    "directory_argument",
    "find_above",
    "json_option",
    "must_be_mill",
    "note",
    "note_difference",
    "open_mill",
    "read_day",
    "read_moment",
    "signer",
]

Command = TypeVar("Command", bound=Callable[..., Any])


def directory_argument(command: Command) -> Command:
    """Give a command its DIR."""
    return click.argument(
        "directory", metavar="DIR", type=click.Path(path_type=Path, file_okay=False)
    )(command)


def json_option(command: Command) -> Command:
    """Give a command its ``--json``."""
    return click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")(command)


def by_option(command: Command) -> Command:
    """Give a command its ``--by``."""
    return click.option(
        "--by",
        metavar="PERSON",
        default=None,
        help="Who signs this: a code of the people table, whose role may do it. Default: the "
        "variable BEDSTONE_BY, else the name of your account if the table has it.",
    )(command)


def note(words: str) -> None:
    """Say something beside the answer, on the error output, so that it never mixes with it."""
    click.echo(f"note: {words}", err=True)


def open_mill(
    parts: Parts, directory: Path, *, compare: bool = True, create: bool = False
) -> Record:
    """The record of a mill folder, after a word about tables that have not been loaded.

    Raises
    ------
    BadInput
        If the folder is not there or is not a mill folder.
    SetupError
        If it has no record and ``create`` does not allow one to be begun.
    """
    must_be_mill(directory)
    record = parts.open_record(directory, create=create)
    if compare:
        note_difference(parts, record, directory)
    return record


def must_be_mill(directory: Path) -> None:
    """Pass if a folder is a mill folder.

    Raises
    ------
    BadInput
        If the folder is not there or is not a mill folder.
    """
    if not directory.is_dir():
        raise BadInput(
            f"There is no folder {str(directory)!r}.",
            do="give the mill's folder; bedstone new DIR makes one, bedstone demo DIR a demo mill",
        )
    if not (directory / "mill.toml").is_file():
        raise BadInput(
            f"{str(directory)!r} is not a mill folder: it has no mill.toml.",
            do="give the mill's folder; bedstone new DIR makes one, bedstone demo DIR a demo mill",
        )


def note_difference(parts: Parts, record: Record, directory: Path) -> None:
    """Say what the folder's tables have that the record has not, and ask for a load."""
    from bedstone.desk.tables import current_mill, difference

    try:
        current_mill(record)
    except BedstoneError:
        return  # nothing loaded at all: the command itself will say so
    try:
        folder = parts.read_folder(directory)
    except BedstoneError as error:
        found = counted(len(error.faults), "fault") if error.faults else error.what
        note(
            f"the tables in {directory} cannot be loaded ({found}); the record's own are used. "
            f"bedstone load {directory} names every fault."
        )
        return
    changes = difference(record, folder)
    if changes:
        note(f"the tables in {directory} differ from the record:")
        for change in changes:
            click.echo(f"  - {change}", err=True)
        click.echo(f"  To record them: bedstone load {directory}", err=True)


def find_above(path: Path) -> Path:
    """The mill folder that a file lies in, looked for upwards.

    Raises
    ------
    BadInput
        If no folder above the file has a mill.toml.
    """
    for parent in path.resolve().parents:
        if (parent / "mill.toml").is_file():
            return parent
    raise BadInput(
        f"No folder above {str(path)!r} is a mill folder (none has a mill.toml).",
        do="name it with --mill DIR",
    )


def signer(by: str | None, mill: Mill, *, act: str) -> str:
    """Who signs: the person named, else BEDSTONE_BY, else the account if the mill has it.

    Raises
    ------
    Unknown
        If a person was named whom the mill's people table does not have.
    Refused
        If the person's role may not do it.
    BadInput
        If nobody was named and the account is nobody of the mill.
    """
    from bedstone.desk.roles import ACTS, check

    named = by or os.environ.get("BEDSTONE_BY", "") or _account(mill)
    if not named:
        able = sorted(row.person for row in mill.people if row.role in ACTS[act])
        raise BadInput(
            "Nobody signs this: your account is nobody of the people table.",
            allowed=", ".join(able) or "nobody of the people table may do this",
            do="say who signs with --by PERSON, or set BEDSTONE_BY",
        )
    check(mill, named, act)
    return named


def _account(mill: Mill) -> str:
    """The name of the account, if it is one of the mill's people; else nothing."""
    try:
        name = getpass.getuser()
    except (KeyError, OSError):
        return ""
    return name if name in mill.person_by_code else ""


def read_day(text: str) -> dt.date:
    """The day that was typed as YYYY-MM-DD."""
    try:
        return dt.date.fromisoformat(text)
    except ValueError as error:
        raise BadInput(
            "The day cannot be understood.", seen=repr(text), allowed="YYYY-MM-DD, as 2026-11-25"
        ) from error


def read_moment(text: str, mill: Mill) -> dt.datetime:
    """The moment that was typed, in the mill's own time unless it has an offset, as UTC."""
    try:
        moment = dt.datetime.fromisoformat(text)
        if moment.tzinfo is None:
            moment = moment.replace(tzinfo=mill.settings.zone)
        return moment.astimezone(dt.UTC)
    except (ValueError, OverflowError) as error:
        raise BadInput(
            "The time cannot be understood.",
            seen=repr(text),
            allowed="YYYY-MM-DDTHH:MM in the mill's time, or with an offset as 2026-11-25T06:00Z",
        ) from error
