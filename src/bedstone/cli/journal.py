"""Commands for the record: what was weighed, whether the chain holds, who may sign in."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bedstone.cli.answer import print_json
from bedstone.cli.parts import Parts
from bedstone.cli.reach import by_option, directory_argument, json_option, open_mill, signer
from bedstone.cli.words import counted
from bedstone.errors import BadInput, RecordDamaged, Unknown

if TYPE_CHECKING:
    from bedstone.desk.record import Record

__all__ = ["pin", "read_text", "record", "verify"]

MOST_BYTES = 20_000_000


@click.command(epilog="Example: bedstone record demo-mill weighed.csv --by mara")
@directory_argument
@click.argument("file", metavar="CSV", type=click.Path(path_type=Path, dir_okay=False))
@click.option(
    "--plan", "plan_id", metavar="PLAN", help="Plan they belong to. Default: the last released."
)
@by_option
@json_option
@click.pass_obj
def record(
    parts: Parts,
    directory: Path,
    file: Path,
    *,
    plan_id: str | None,
    by: str | None,
    as_json: bool,
) -> None:
    """Record batches from the CSV of the batching controls.

    mill.toml names its columns (controls_batch, controls_ingredient, controls_actual ...). Every
    fault of the file is named before anything is recorded; then each batch is one fact, with a
    finding for each draw that is out of tolerance.
    """
    from bedstone.cli.plan_words import print_findings
    from bedstone.desk.import_batches import import_batches
    from bedstone.desk.tables import current_mill

    book = open_mill(parts, directory)
    person = signer(by, current_mill(book), act="batch")
    plan = plan_id or _last_released(book)
    text = read_text(file)
    done = import_batches(book, plan, text, by=person, at=parts.clock(), file=file.name)
    if as_json:
        print_json(
            {
                "plan": plan,
                "batches": [
                    {
                        "batch": item.recorded.fact.content["batch"],
                        "position": item.recorded.position,
                        "findings": item.findings,
                    }
                    for item in done
                ],
            }
        )
        return
    for item in done:
        click.echo(f"{item.recorded.fact.content['batch']}: fact {item.recorded.position}")
        print_findings(
            list(item.findings), title="  Findings", settings=current_mill(book).settings
        )
    click.echo(
        f"{counted(len(done), 'batch', 'batches')} of plan {plan} recorded, signed by {person}."
    )


def _last_released(book: "Record") -> str:
    for fact in book.facts(kinds=("planning.plan_released/1",), newest_first=True):
        return str(fact.fact.content["plan"])
    raise Unknown("No plan has been released.", do="release one: bedstone release DIR PLAN")


def read_text(file: Path) -> str:
    """The text of a file that was given: of the controls, of readings, of a load."""
    if not file.is_file():
        raise BadInput(f"There is no file {str(file)!r}.", do="see that name and folder are right")
    if file.stat().st_size > MOST_BYTES:
        raise BadInput(f"{str(file)!r} is too large.", allowed=f"{MOST_BYTES // 10**6} MB at most")
    try:
        return file.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadInput(
            f"{str(file)!r} is not text in UTF-8.",
            seen=f"byte {error.object[error.start]:#04x} at {error.start}",
            allowed="UTF-8",
            do="export it again as CSV UTF-8",
        ) from error


@click.command(epilog="Example: bedstone verify demo-mill")
@directory_argument
@click.option("--head", metavar="HEAD", help="Head printed on a day sheet, to compare with.")
@json_option
@click.pass_obj
def verify(parts: Parts, directory: Path, *, head: str | None, as_json: bool) -> int:
    """Recompute chain and balances, and name what does not agree.

    An altered, missing or moved fact is named by its position. Exit code 8 when something does
    not agree.
    """
    from bedstone.cli.plan_words import print_findings
    from bedstone.desk.verify import verify as verify_record
    from bedstone.mill.plan import Verdict

    book = open_mill(parts, directory, compare=False)
    findings = list(verify_record(book, printed_head=head))
    damaged = any(item.verdict in (Verdict.STOP, Verdict.ACT) for item in findings)
    end = book.head()
    if as_json:
        answer = {"facts": end.position, "head": end.head, "damaged": damaged}
        print_json(answer | {"findings": findings})
    else:
        print_findings(findings, title="Findings on the record")
        word = "DAMAGED" if damaged else "whole"
        click.echo(f"The record is {word}: {end.position} facts, head {end.head}")
    return RecordDamaged.exit_code if damaged else 0


@click.command(epilog="Example: bedstone pin demo-mill mara --by dell")
@directory_argument
@click.argument("person", metavar="PERSON")
@by_option
@json_option
@click.pass_obj
def pin(parts: Parts, directory: Path, person: str, *, by: str | None, as_json: bool) -> None:
    """Set a person's PIN for signing in on the pages.

    It is asked for twice, hidden; or read from the first line of the standard input when that is
    no terminal. Only its hash is kept; the journal says that it was set, when and by whom.
    """
    from bedstone.desk.people import record_pin_set
    from bedstone.desk.roles import person_who
    from bedstone.desk.tables import current_mill

    book = open_mill(parts, directory, compare=False)
    mill = current_mill(book)
    person_who(mill, person)
    signs = signer(by, mill, act="pins")
    if sys.stdin.isatty():
        typed = click.prompt("PIN", hide_input=True, confirmation_prompt="The same again", err=True)
    else:
        typed = sys.stdin.readline().rstrip("\r\n")
    parts.open_door(directory).set_pin(person, typed)
    record_pin_set(book, person, by=signs, at=parts.clock())
    if as_json:
        print_json({"person": person, "pin": "set", "by": signs})
        return
    click.echo(f"The PIN of {person} is set, signed by {signs}.")
