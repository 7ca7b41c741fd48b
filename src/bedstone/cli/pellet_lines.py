"""The command of the coolers: cooling."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from bedstone.cli.answer import print_json, print_table, table
from bedstone.cli.parts import Parts
from bedstone.cli.reach import (
    by_option,
    directory_argument,
    json_option,
    note,
    open_mill,
    read_moment,
    signer,
)
from bedstone.cli.words import clock_text, counted

if TYPE_CHECKING:
    import datetime as dt

    from bedstone.desk.line_air import CoolerHours
    from bedstone.desk.record import Record
    from bedstone.mill.model import Mill, Weather

__all__ = ["cooling"]


@click.command(epilog="Example: bedstone cooling demo-mill --hours 24 --product DAIRY-18")
@directory_argument
@click.option("--at", "moment", metavar="TIME", help="From this hour, YYYY-MM-DD HH:MM. Now.")
@click.option(
    "--hours",
    type=click.IntRange(1, 8784),
    default=48,
    show_default=True,
    help="So many hours on.",
)
@click.option("--product", "products", multiple=True, metavar="CODE", help="Only these products.")
@click.option(
    "--calibrate", metavar="LINE", help="First fit this line's cooler to its logged runs."
)
@click.option(
    "--air",
    "air_file",
    metavar="FILE",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Reckon with the air of a typical-year file (EPW, TMY3 CSV) instead of the record's.",
)
@click.option(
    "--keep", is_flag=True, help="With --air: record the file's hours that have no weather yet."
)
@click.option(
    "--begin", metavar="CODE", help="Show how a run of this product begins and ends instead."
)
@by_option
@json_option
@click.pass_obj
def cooling(
    parts: Parts,
    directory: Path,
    *,
    moment: str | None,
    hours: int,
    products: tuple[str, ...],
    calibrate: str | None,
    air_file: Path | None,
    keep: bool,
    begin: str | None,
    by: str | None,
    as_json: bool,
) -> None:
    """Show how fast each product may run through its cooler in the coming hours' air.

    Greatest rate by the hour, from low to high, and what binds: pellets must leave cool and dry
    enough. Until a line's cooler is calibrated the range is wide, and the plan keeps to the rates
    of the tables.
    """
    from bedstone.desk.keep_air import keep_air
    from bedstone.desk.line_air import cooler_hours
    from bedstone.desk.line_factors import calibrate_line
    from bedstone.desk.tables import current_mill

    record = open_mill(parts, directory)
    mill = current_mill(record)
    now = parts.clock()
    if calibrate:
        calibrate_line(record, calibrate, by=signer(by, mill, act="readings"), at=now)
    at = now if moment is None else read_moment(moment, mill)
    if begin:
        _begin(record, mill, begin, at=at, as_json=as_json)
        return
    other = _other_air(parts, mill, air_file, at=at)
    if keep:
        person = signer(by, mill, act="readings")
        kept = keep_air(record, other, by=person, first=at, hours=hours, at=now)
        note(f"{counted(kept, 'hour')} of typical air recorded, signed by {person}: no forecast.")
    found = cooler_hours(record, at=at, hours=hours, products=products or None, other_air=other)
    if as_json:
        print_json(found)
        return
    _show_hours(mill, found)


def _other_air(
    parts: Parts, mill: "Mill", air_file: Path | None, *, at: "dt.datetime"
) -> "list[Weather] | None":
    if air_file is None:
        return None
    year = at.astimezone(mill.settings.zone).year
    return [
        *parts.read_typical_year(air_file, year),
        *parts.read_typical_year(air_file, year + 1),
    ]


def _begin(
    record: "Record", mill: "Mill", product: str, *, at: "dt.datetime", as_json: bool
) -> None:
    from bedstone.desk.cooler_mash import mash_words
    from bedstone.desk.line_start import rate_in_air, start_of_run

    tables_kg_s, rate_kg_s = rate_in_air(record, product, at=at)
    found = start_of_run(record, product, at=at, rate_kg_s=rate_kg_s)
    if as_json:
        print_json(found)
        return
    if rate_kg_s < 0.999 * tables_kg_s:
        click.echo(
            f"Run {_rate(mill, rate_kg_s)}, not {_rate(mill, tables_kg_s)}: this air lets no more "
            "through. Reckoned at that rate."
        )
    start = found.start
    first = "none does" if start.first_good_s is None else f"{start.first_good_s / 60:.0f} min"
    run_on = "too long" if start.run_on_s is None else f"{start.run_on_s / 60:.0f} min"
    click.echo(f"{mill.name_of(product)} on {found.line}, from the first pellet on:")
    click.echo(f"  bed full, gate opens: {start.fill_s / 60:.0f} min")
    click.echo(f"  first pellet that keeps the limits: {first}")
    click.echo(f"  steady: {_temperature(mill, start.steady_c)}, {100 * start.steady_wb:.1f} %")
    click.echo(f"  fan on after the last pellet: {run_on}")
    click.echo("  (at the middle of the cooler's range)")
    if found.against is not None:
        click.echo(f"  pellets leave with {mash_words(found.against, mill.settings.units)}")
    click.echo(start.advice)


def _show_hours(mill: "Mill", found: "CoolerHours") -> None:
    pairs = dict.fromkeys((row.product, row.line) for row in found.limits)
    for product, line in pairs:
        made = table(
            f"{mill.name_of(product)} on {line}",
            *("Hour", "Air", "Humidity", "At most", "From", "To", "What binds"),
            right=("Air", "Humidity", "At most", "From", "To"),
        )
        rows = [row for row in found.limits if (row.product, row.line) == (product, line)]
        for row, hour in zip(rows, found.air, strict=True):
            made.add_row(
                clock_text(row.starts_at, mill.settings),
                _temperature(mill, hour.air.temperature_c),
                f"{100 * hour.air.relative_humidity_frac:.0f} %",
                *(
                    _rate(mill, rate)
                    for rate in (row.rate_kg_s, row.rate_lo_kg_s, row.rate_hi_kg_s)
                ),
                row.because or "the line itself",
            )
        print_table(made)
    for said in found.notes:
        click.echo(said)
    for line in dict.fromkeys(line for _, line in pairs):
        click.echo(f"{line}: {found.factors[line].what_next}")


def _rate(mill: "Mill", rate_kg_s: float) -> str:
    from bedstone.quantities.line_figures import rate_words

    return rate_words(rate_kg_s, mill.settings.units)


def _temperature(mill: "Mill", value_c: float) -> str:
    from bedstone.quantities.line_figures import temperature_words

    return temperature_words(value_c, mill.settings.units)
