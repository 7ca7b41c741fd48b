"""The command that serves the pages."""

from pathlib import Path

import click

from bedstone.cli.parts import Address, Parts
from bedstone.cli.reach import directory_argument, open_mill
from bedstone.errors import Refused

__all__ = ["serve"]

LOOPBACK = ("127.0.0.1", "::1", "localhost")


@click.command(epilog="Example: bedstone serve demo-mill --port 8800")
@directory_argument
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=8800,
    show_default=True,
    help="Port to listen on; 0 takes a free one.",
)
@click.option(
    "--host",
    default="127.0.0.1",
    show_default=True,
    help="Address to listen on. Another than this machine's own needs --in-the-open.",
)
@click.option(
    "--in-the-open",
    is_flag=True,
    help="Answer other machines too. Without HTTPS in front, PINs can be read on the way.",
)
@click.option(
    "--name",
    "names",
    multiple=True,
    help="Name or address by which other machines reach it; may be given again. Requests that "
    "name another are turned away.",
)
@click.pass_obj
def serve(
    parts: Parts,
    directory: Path,
    *,
    port: int,
    host: str,
    in_the_open: bool,
    names: tuple[str, ...],
) -> None:
    """Serve the pages for office and floor until stopped."""
    if host not in LOOPBACK and not in_the_open:
        raise Refused(
            "The pages are served to this machine only.",
            seen=host,
            allowed=", ".join(LOOPBACK),
            do="put a server with HTTPS in front, or say --in-the-open",
        )
    open_mill(parts, directory)
    try:
        parts.serve(directory, Address(host=host, port=port, names=names), _say_where)
    except KeyboardInterrupt:
        click.echo("Stopped.")


def _say_where(address: str) -> None:
    click.echo(f"Bedstone's pages: {address}")
    click.echo("Stop with Ctrl+C.")
