"""Write the generated pages of docs/: command line, errors, mill folder, picture of the rooms.

Run by ``make docs``; a test holds the pages against what this would write.
"""

import sys
from pathlib import Path

import click

from bedstone import errors
from bedstone.cli.main import cli
from bedstone.mill.attribute_docs import import_orders_page, mill_folder_page
from library_page import library_page
from rooms_picture import picture

__all__ = ["command_page", "commands", "error_page", "pages"]

ROOT = Path(__file__).parents[1]
WIDTH = 88


def commands() -> dict[str, click.Command]:
    """Every command by its name, in order of the alphabet."""
    return dict(sorted(cli.commands.items()))


def help_text(command: click.Command, *, path: str) -> str:
    """What ``--help`` prints for a command, at a fixed width."""
    parent = click.Context(cli, info_name="bedstone", **cli.context_settings)
    context = (
        click.Context(command, info_name=path, parent=parent, terminal_width=WIDTH)
        if path != "bedstone"
        else click.Context(
            cli, info_name=path, terminal_width=WIDTH, help_option_names=["-h", "--help"]
        )
    )
    context.max_content_width = WIDTH
    return command.get_help(context)


def command_page() -> str:
    """The reference of the command line, from the commands themselves."""
    lines = [
        "# The command line",
        "",
        "Made from the commands themselves by `make docs`; do not edit by hand.",
        "",
        "Answers go to the standard output, notes and errors to the error output. With `--json` the",
        "answer is one JSON value, and so is an error (see [errors](errors.md)). Exit codes are in",
        "the [table of errors](errors.md).",
        "",
        "```text",
        help_text(cli, path="bedstone"),
        "```",
    ]
    for name, command in commands().items():
        lines += ["", f"## {name}", "", "```text", help_text(command, path=name), "```"]
    return "\n".join(lines) + "\n"


def error_page() -> str:
    """The table of errors, from the tree itself."""
    lines = [
        "# Errors",
        "",
        "Made from `errors.py` by `make docs`; do not edit by hand.",
        "",
        "A message says what was found, what is allowed, and what to do. No command ends with a",
        "traceback; when the fault is Bedstone's own it says so, ends with exit code 1, and",
        "`BEDSTONE_DEBUG=1` shows where it happened.",
        "",
        "| error | what it says | pages and API answer with | exit code |",
        "|---|---|---|---|",
    ]
    for name in errors.__all__:
        kind = getattr(errors, name)
        if isinstance(kind, type) and issubclass(kind, errors.BedstoneError):
            first = (kind.__doc__ or "").strip().splitlines()[0]
            lines.append(f"| `{name}` | {first} | {kind.http_status} | {kind.exit_code} |")
    lines += [
        "",
        "With `--json`, and from the API, every error has this one shape:",
        "",
        "```json",
        "{",
        *(
            f'  "{key}": {shape}{"," if place < 6 else ""}'  # noqa: PLR2004 - the last of seven
            for place, (key, shape) in enumerate(
                {
                    "error": '"Refused"',
                    "what": '"what happened, a sentence"',
                    "seen": '"what was found"',
                    "allowed": '"what is allowed"',
                    "source": '"the rule it comes from"',
                    "do": '"what to do"',
                    "faults": '[{"file": "", "row": null, "column": "", "found": "", '
                    '"allowed": "", "do": ""}]',
                }.items()
            )
        ),
        "}",
        "```",
        "",
        "`faults` names every fault of a folder or a file at once; `row` counts as a person does,",
        "the headings being row 1.",
    ]
    return "\n".join(lines) + "\n"


def pages() -> dict[Path, str]:
    """Every generated file with its text."""
    docs = ROOT / "docs"
    return {
        docs / "cli.md": command_page(),
        docs / "errors.md": error_page(),
        docs / "import-orders.md": import_orders_page(),
        docs / "materials.md": library_page(),
        docs / "mill-folder.md": mill_folder_page(),
        docs / "pictures" / "rooms.svg": picture(),
    }


def main() -> int:
    """Write the pages that differ; say which."""
    for path, text in pages().items():
        path.parent.mkdir(parents=True, exist_ok=True)
        if not path.is_file() or path.read_text(encoding="utf-8") != text:
            path.write_text(text, encoding="utf-8")
            print(f"wrote {path.relative_to(ROOT)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
