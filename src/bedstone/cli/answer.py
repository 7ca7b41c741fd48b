"""How answers are printed: JSON, and tables that fit the terminal."""

import json
import math
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import click

from bedstone.cli.parts import Say

if TYPE_CHECKING:
    from rich.table import Table

__all__ = ["print_json", "print_table", "progress", "table"]

CODES = ("Lot", "Order", "Place", "What", "Through", "When", "How sure", "Mixer", "Reason")
"""Columns of codes and short words, which are kept whole."""


def print_json(value: object) -> None:
    """Print a value of the house as JSON on the standard output; null where no number is finite."""
    from bedstone.desk.plain_values import plain

    click.echo(json.dumps(_finite(plain(value)), ensure_ascii=False, indent=2, allow_nan=False))


def _finite(value: object) -> object:
    """The same, with null for infinity and the like, which JSON cannot say."""
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dict):
        return {name: _finite(part) for name, part in value.items()}
    return [_finite(part) for part in value] if isinstance(value, list | tuple) else value


def table(title: str, *columns: str, right: tuple[str, ...] = ()) -> "Table":
    """An empty table; columns named in ``right`` are set flush right. Codes never wrap."""
    from rich import box
    from rich.table import Table

    made = Table(title=title, title_justify="left", box=box.SIMPLE, pad_edge=False)
    for name in columns:
        made.add_column(
            name,
            justify="right" if name in right else "left",
            no_wrap=name in right or name in CODES,
        )
    return made


def print_table(made: "Table") -> None:
    """Print a table as wide as the terminal, or 120 columns when output goes elsewhere."""
    from rich.console import Console

    width = None if sys.stdout.isatty() else 120
    console = Console(width=width, highlight=False, markup=False, emoji=False)
    with console.capture() as caught:
        console.print(made)
    lines = [line.rstrip() for line in caught.get().splitlines()]
    click.echo("\n".join(lines).strip("\n") + "\n")


@contextmanager
def progress() -> Iterator[Say]:
    """Give something to say progress to: a line on the error output, silent without a terminal."""
    if not sys.stderr.isatty():
        yield lambda words, done, of: None  # noqa: ARG005 - the names are the protocol's
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("", total=None)

        def say(words: str, done: int, of: int) -> None:
            bar.update(task, description=words, completed=done, total=of or None)

        yield say
