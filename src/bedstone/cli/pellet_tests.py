"""The command of tests of pellets and grain: what they and the logged runs say."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from bedstone.cli.answer import print_json, print_table, table
from bedstone.cli.dies import lines_named
from bedstone.cli.parts import Parts
from bedstone.cli.reach import json_option, open_mill
from bedstone.errors import BadInput

if TYPE_CHECKING:
    import datetime as dt

    from bedstone.desk.line_regression import Says
    from bedstone.desk.record import Record
    from bedstone.mill.model import Mill

__all__ = ["pellet_tests"]


SHORT_STACK = 2.0
"""Finest opening over that below it, from which the pan moves the mean."""


@click.command(
    "pellet-tests",
    epilog="Example: bedstone pellet-tests demo-mill --line PL1",
)
@click.argument(
    "directory", metavar="[DIR]", required=False, type=click.Path(path_type=Path, file_okay=False)
)
@click.option("--line", default="", metavar="CODE", help="With DIR: only this pellet line.")
@click.option(
    "--tumbled",
    type=float,
    multiple=True,
    metavar="GRAMS",
    help="Without a mill: left on the sieve after a tumbling, once for each.",
)
@click.option(
    "--test-g",
    type=float,
    default=500.0,
    show_default=True,
    metavar="GRAMS",
    help="Put into the box each time.",
)
@click.option(
    "--sieve",
    "sieves",
    type=(float, float),
    multiple=True,
    metavar="UM GRAMS",
    help="Without a mill: opening of a sieve and what lay on it, from coarse to fine.",
)
@click.option("--pan", type=float, metavar="GRAMS", help="With --sieve: in the pan.")
@json_option
@click.pass_obj
def pellet_tests(
    parts: Parts,
    directory: Path | None,
    *,
    line: str,
    tumbled: tuple[float, ...],
    test_g: float,
    sieves: tuple[tuple[float, float], ...],
    pan: float | None,
    as_json: bool,
) -> None:
    """Show what tests and logged runs say of durability, motor load and particle size.

    With DIR the mill's own regressions, line by line: what each setting does, with the interval
    that holds nine of ten, and the range in which it was run. Without DIR the durability index of
    tumblings (--tumbled 452.5 --tumbled 449) or the geometric mean of a stack of sieves (--sieve
    840 30 --sieve 590 40 --pan 30), as typed.
    """
    if directory is None:
        _typed_tests(tumbled, test_g, sieves, pan, as_json=as_json)
        return
    from bedstone.desk.line_foretold import line_foretold
    from bedstone.desk.tables import current_mill

    if tumbled or sieves:
        raise BadInput(
            "Tests of a mill are those on record.",
            seen="a folder and typed masses",
            allowed="either DIR, or masses without it",
            do="record tests on the page Tests, or with bedstone import-tests",
        )
    record = open_mill(parts, directory)
    mill = current_mill(record)
    lines, at = lines_named(mill, line), parts.clock()
    if as_json:
        print_json([line_foretold(record, code, at=at) for code in lines])
        return
    for code in lines:
        _show_says(record, mill, code, at=at)


def _typed_tests(
    tumbled: tuple[float, ...],
    test_g: float,
    sieves: tuple[tuple[float, float], ...],
    pan: float | None,
    *,
    as_json: bool,
) -> None:
    from bedstone.pelleting.durability import durability
    from bedstone.pelleting.particle_size import particle_size

    if bool(tumbled) == bool(sieves) or (sieves and pan is None):
        raise BadInput(
            "Nothing was typed to reckon, or not all of it.",
            seen=f"{len(tumbled)} tumblings, {len(sieves)} sieves, "
            + ("no pan" if pan is None else "a pan"),
            allowed="DIR, or --tumbled once or more, or --sieve once or more with --pan",
        )
    if tumbled:
        index = durability(tumbled, test_g=test_g)
        if as_json:
            print_json(index)
            return
        sd = (
            "" if index.sd is None else f"; standard deviation of its repeats {index.sd:.1f} points"
        )
        click.echo(
            f"Durability {index.index:.1f} %, between {index.index_lo:.1f} and "
            f"{index.index_hi:.1f} % (95 % interval of the sample){sd}."
        )
        if not index.repeats.measured:
            click.echo("Spread of repeats taken as 1 point (common practice, no source).")
        return
    size = particle_size([one for one, _ in sieves], [*(mass for _, mass in sieves), pan or 0.0])
    if as_json:
        print_json(size)
        return
    click.echo(
        f"Geometric mean {size.mean_um:.0f} µm, geometric standard deviation {size.spread:.2f}, "
        f"surface {size.surface_cm2_g:.0f} cm²/g."
    )
    finest = sieves[-1][0]
    if finest > SHORT_STACK * size.pan_um:
        click.echo(
            f"What is in the pan counts as between {finest:g} and {size.pan_um:.0f} µm: with so short a "
            "stack that moves the mean. Compare it only with samples of the same sieves."
        )


def _show_says(record: "Record", mill: "Mill", line: str, *, at: "dt.datetime") -> None:
    from bedstone.desk.line_foretold import feeds_ahead
    from bedstone.desk.line_regression import line_says
    from bedstone.desk.regression_words import durability_words, load_words, throughput_words

    units, says = mill.settings.units, line_says(record, line)
    for part in (says.durability, says.load):
        _show_part(part, line, units)
    for one in feeds_ahead(record, says, at=at):
        click.echo(f"{mill.name_of(one.product)}, at its settings:")
        if one.durability is not None:
            index = (
                ""
                if not one.durability.forecast.seen
                else f"{one.durability.forecast.value:.0f} %, "
            )
            click.echo(f"  durability: {index}{durability_words(one.durability, units)}")
        if one.load is not None:
            amps = "" if not one.load.forecast.seen else f"{one.load.forecast.value:.0f} A, "
            click.echo(f"  motor: {amps}{load_words(one.load, units)}")
            allowed = throughput_words(one.load, units)
            if allowed and one.load.forecast.seen:
                click.echo(f"  rate: {allowed}")


def _show_part(part: "Says", line: str, units: str) -> None:
    from bedstone.desk.regression_words import effect_rows, left_out_words

    if part.fitted is None:
        click.echo(f"{line}: the runs do not tell of {part.what} yet: {part.why_not}")
        return
    made = table(
        f"{line}: {part.what} by {part.runs} runs of {part.feeds} feeds",
        *("Setting", "Was run", "Step", "Changes by", "Nine times in ten between"),
        right=("Changes by", "Nine times in ten between"),
    )
    for row in effect_rows(part, units):
        made.add_row(row.setting, row.run, row.step, row.change, row.between)
    print_table(made)
    for words in left_out_words(part.left_out):
        click.echo(f"Not told apart: {words}.")
