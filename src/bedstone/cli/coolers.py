"""The command of one cooler: by a product's tables, or by plain numbers without a mill."""

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bedstone.cli.answer import print_json, print_table, table
from bedstone.cli.parts import Parts
from bedstone.cli.reach import json_option, open_mill, read_moment
from bedstone.cli.typed_options import given, number_options, option_of, units_option
from bedstone.errors import BadInput
from bedstone.mill.columns import columns_of
from bedstone.mill.cooler_asked import AskedOfCooler
from bedstone.mill.equipment import Settings

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Mapping

    from bedstone.desk.line_cooler import CoolerAnswer
    from bedstone.desk.record import Record
    from bedstone.mill.model import Mill

__all__ = ["cooler"]

NAMES = {
    "pellet_rate_kg_s": "rate",
    "pellet_c": "pellets",
    "pellet_moisture_wb": "moisture",
    "pellet_length_mm": "length",
    "air_c": "air",
    "air_m3_s": "air-flow",
    "above_ambient_dk": "above",
    "water_activity_frac": "activity",
}
NEEDED = (
    "pellet_rate_kg_s",
    "pellet_c",
    "pellet_moisture_wb",
    "air_c",
    "humidity_frac",
    "air_m3_s",
    "area_m2",
    "depth_m",
)


@click.command(epilog="Example: bedstone cooler demo-mill DAIRY-18 --air 85F --humidity 70")
@click.argument(
    "directory", metavar="[DIR]", required=False, type=click.Path(path_type=Path, file_okay=False)
)
@click.argument("product", metavar="[PRODUCT]", required=False)
@click.option("--line", default="", metavar="CODE", help="Where the product has several lines.")
@click.option("--at", "moment", metavar="TIME", help="Time of the run, YYYY-MM-DD HH:MM. Now.")
@units_option
@number_options(AskedOfCooler, NAMES, needed=NEEDED)
@json_option
@click.pass_obj
def cooler(
    parts: Parts,
    /,
    directory: Path | None,
    product: str | None,
    *,
    line: str,
    moment: str | None,
    units: str,
    as_json: bool,
    **typed: str | None,
) -> None:
    """Show what leaves a cooler, how fast it may run, and how a run through it begins and ends.

    With DIR and PRODUCT by the mill's tables in the air of the hour; what is typed goes before
    them. Without them by the numbers typed, such as --rate 8ton/h --pellets 180F --moisture 16
    --air 60F --humidity 65 --air-flow 5000cfm --area 20ft2 --depth 2.5ft. Each figure carries its
    low and high end: wide until a mill's own cooler is calibrated.
    """
    if directory is None:
        settings = Settings(format=1, name="no mill", time_zone="UTC", units=units)
        _plain(typed, settings, as_json=as_json)
        return
    from bedstone.desk.tables import current_mill

    record = open_mill(parts, directory)
    mill = current_mill(record)
    if product is None:
        raise BadInput(
            "Whose cooler?",
            seen="a mill without a product",
            allowed=", ".join(row.product for row in mill.pellets) or "no product has pellets yet",
            do="name a product, or leave the folder out and type the numbers",
        )
    at = parts.clock() if moment is None else read_moment(moment, mill)
    _of_product(record, mill, product, line, at, typed, as_json=as_json)


def _plain(typed: "Mapping[str, str | None]", settings: Settings, *, as_json: bool) -> None:
    from bedstone.desk.line_cooler import reckon_cooler

    numbers = given(AskedOfCooler, NAMES, typed, settings)
    columns = {one.field: one for one in columns_of(AskedOfCooler)}
    missing = [option_of(columns[name], NAMES) for name in NEEDED if name not in numbers]
    if missing:
        raise BadInput(
            "Without a mill a cooler needs more numbers.",
            seen=f"no {', no '.join(missing)}",
            allowed="numbers with their unit, such as 60F, 5000cfm, 20ft2",
            do="see bedstone cooler --help, or name a mill's folder and a product",
        )
    found = reckon_cooler(AskedOfCooler(**numbers), settings.units)
    _show(found, "Cooler", settings.units, as_json=as_json)


def _of_product(  # noqa: PLR0917 - a run and what was typed
    record: "Record",
    mill: "Mill",
    product: str,
    line: str,
    at: "dt.datetime",
    typed: "Mapping[str, str | None]",
    *,
    as_json: bool,
) -> None:
    from bedstone.desk.line_cooler import asked_of_cooler, reckon_cooler
    from bedstone.desk.line_settings import settings_for
    from bedstone.desk.line_start import of_mash

    numbers = given(AskedOfCooler, NAMES, typed, mill.settings)
    settings = settings_for(record, product, line, at=at)
    asked, fan = asked_of_cooler(mill, settings)
    if settings.air_c is None and not {"air_c", "humidity_frac"} <= numbers.keys():
        raise BadInput(
            "No weather of this hour is on record.",
            seen=f"{at.astimezone(mill.settings.zone):%Y-%m-%d %H:%M}",
            allowed="a row of weather.csv for it, or --air and --humidity",
            do="add it to weather.csv and run bedstone load, or type the air",
        )
    found = reckon_cooler(
        replace(asked, **numbers),
        mill.settings.units,
        fan=fan,
        factors=settings.factors.factors,
        mash=of_mash(mill, settings, at=at),
    )
    title = f"{mill.name_of(product)} on {settings.line}"
    _show(found, title, mill.settings.units, as_json=as_json)


def _show(found: "CoolerAnswer", title: str, units: str, *, as_json: bool) -> None:
    if as_json:
        print_json(found)
        return
    from bedstone.cli.cooler_words import cooler_rows, factor_words

    made = table(title, "What", "How much", "From", "To", right=())
    for row in cooler_rows(found, units):
        made.add_row(*row)
    print_table(made)
    click.echo(factor_words(found.factors))
    for caution in found.cautions:
        click.echo(caution)
    click.echo(found.start.advice)
    click.echo("Reckoned, not measured: read the thermometer and feel the pellets.")
