"""The group of all commands, and the one place where an error becomes words and an exit code."""

import json
import os
import sys
from collections.abc import Sequence

import click

from bedstone import __version__
from bedstone.cli import (
    arrivals,
    balancing,
    conditioners,
    coolers,
    dies,
    folders,
    formulas,
    heat,
    journal,
    lab_lists,
    materials,
    mixers,
    order_lists,
    pellet_lines,
    pellet_runs,
    pellet_tests,
    plans,
    reading_lists,
    serving,
    storing,
    views,
    warm_bins,
    watching,
)
from bedstone.cli.parts import Parts
from bedstone.errors import BadInput, BedstoneError

__all__ = ["cli", "run"]

STOPPED = 130


@click.group(
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="Start with: bedstone demo DIR, then bedstone plan DIR, then bedstone serve DIR.",
)
@click.version_option(__version__, prog_name="bedstone")
def cli() -> None:
    """The day-book and the reckoning of a feed mill.

    A mill is a folder: mill.toml, tables, and the record kept beside them. Each command is
    one order or one view; it takes the folder as DIR. Exit codes: 0 done, 1 a fault of ours,
    2 input not understood, 3 refused, 4 unknown, 5 somebody recorded first, 6 no answer,
    7 not settled, 8 record damaged, 9 wrong setup.
    """


for _command in (
    folders.new,
    folders.demo,
    folders.load,
    folders.export,
    order_lists.import_orders,
    plans.plan,
    plans.check,
    plans.release,
    formulas.formulate,
    materials.library,
    pellet_lines.cooling,
    pellet_runs.pellet_runs,
    conditioners.conditioner,
    coolers.cooler,
    heat.additives,
    heat.heat_trial,
    warm_bins.warm_bin,
    arrivals.arrival,
    journal.record,
    reading_lists.import_power,
    reading_lists.import_readings,
    lab_lists.import_tests,
    dies.die,
    pellet_tests.pellet_tests,
    journal.verify,
    journal.pin,
    mixers.mixers,
    views.orders,
    views.stock,
    storing.bins,
    storing.buying,
    views.trace,
    watching.watch,
    balancing.balance,
    serving.serve,
):
    cli.add_command(_command)


def _say(error: BedstoneError, *, as_json: bool) -> int:
    if as_json:
        click.echo(json.dumps(error.as_dict(), ensure_ascii=False, indent=2))
    else:
        click.echo(f"bedstone: {error}", err=True)
    return error.exit_code


def _own_fault(error: Exception) -> BedstoneError:
    return BedstoneError(
        "This is a fault in Bedstone, not in what you typed; what was not confirmed was not kept.",
        seen=f"{type(error).__name__}: {error}",
        do="run it again with BEDSTONE_DEBUG=1 set, which shows where, and tell whoever looks "
        "after Bedstone",
    )


def run(arguments: Sequence[str], parts: Parts) -> int:
    """The exit code of one command; every error has been said in words, never as a traceback."""
    as_json = "--json" in arguments
    try:
        result = cli.main(list(arguments), prog_name="bedstone", obj=parts, standalone_mode=False)
    except BedstoneError as error:
        return _say(error, as_json=as_json)
    except click.exceptions.Abort:
        click.echo("bedstone: stopped; what was confirmed is kept.", err=True)
        return STOPPED
    except click.ClickException as error:
        return _misused(error, as_json=as_json)
    except BrokenPipeError:
        return _nobody_reads()
    except Exception as error:
        if os.environ.get("BEDSTONE_DEBUG"):
            raise
        return _say(_own_fault(error), as_json=as_json)
    return result if isinstance(result, int) else 0


def _misused(error: click.ClickException, *, as_json: bool) -> int:
    if isinstance(error, click.exceptions.NoArgsIsHelpError):
        click.echo(error.format_message())
        return BadInput.exit_code
    context = getattr(error, "ctx", None)
    path = context.command_path if context is not None else "bedstone"
    return _say(BadInput(error.format_message(), do=f"see {path} --help"), as_json=as_json)


def _nobody_reads() -> int:
    """Whoever read our output (head, less) has had enough: no complaint at the end either."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return 0
