"""The command of warm bins: warm-bin."""

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bedstone.cli.answer import print_json, print_table, table
from bedstone.cli.parts import Parts
from bedstone.cli.reach import json_option, open_mill, read_moment
from bedstone.cli.typed_options import given, number_options, units_option
from bedstone.cli.words import clock_text, mass_text
from bedstone.errors import BadInput
from bedstone.mill.bin_asked import AskedOfBin

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterable, Mapping

    from bedstone.desk.record import Record
    from bedstone.desk.warm_night import WarmBinNight
    from bedstone.mill.equipment import Settings
    from bedstone.mill.model import Mill

__all__ = ["warm_bin"]

NAMES = {
    "pellet_c": "pellets",
    "moisture_wb": "moisture",
    "mass_kg": "mass",
    "top_m2": "top",
    "roof_m2": "roof",
    "wall_m2": "wall",
    "coldest_c": "coldest",
}
WORDS = {
    "pellet_c": "Pellets, as warm as they lie, such as 105F or 40C",
    "moisture_wb": "Water in them, wet basis",
    "mass_kg": "Pellets in the bin, such as 12000lb or 5t",
    "top_m2": "Surface of the pellets, such as 45ft2 or 4m2",
}
NEEDED = ("pellet_c", "moisture_wb", "mass_kg")


@click.command(
    "warm-bin",
    epilog="Example: bedstone warm-bin demo-mill",
)
@click.argument(
    "directory", metavar="[DIR]", required=False, type=click.Path(path_type=Path, file_okay=False)
)
@click.option("--bin", "code", default="", metavar="CODE", help="A bin that holds pellets.")
@number_options(AskedOfBin, NAMES, WORDS, needed=tuple(NAMES))
@click.option(
    "--hours", type=click.IntRange(1, 72), default=24, show_default=True, help="So many hours on."
)
@click.option("--at", "moment", metavar="TIME", help="From this hour, YYYY-MM-DD HH:MM. Now.")
@units_option
@json_option
@click.pass_obj
def warm_bin(
    parts: Parts,
    /,
    directory: Path | None,
    *,
    code: str,
    hours: int,
    moment: str | None,
    units: str,
    as_json: bool,
    **typed: str | None,
) -> None:
    """Show what the coming night can do to pellets that lie warm in a bin.

    Water that may run down under the roof and along the wall between two bounds, the crust at its
    wettest, water activity as the feed cools in a closed bag, and cautious days to visible mould.
    With DIR alone: every bin that holds pellets, and which was filled warm or reads hot. With
    --bin its figures come from the record; each may be typed over. Without DIR all of them are
    typed. Nothing is recorded.
    """
    if directory is None:
        if code:
            raise BadInput(
                "A bin is one of a mill.", seen=f"--bin {code}", allowed="DIR --bin CODE"
            )
        _alone(typed, units, hours, as_json=as_json)
        return
    from bedstone.desk.tables import current_mill

    record = open_mill(parts, directory)
    mill = current_mill(record)
    at = parts.clock() if moment is None else read_moment(moment, mill)
    if not code and not any(typed.values()):
        _every_bin(record, mill, at, as_json=as_json)
        return
    _of_mill(record, mill, code, typed, at=at, hours=hours, as_json=as_json)


def _alone(typed: "Mapping[str, str | None]", units: str, hours: int, *, as_json: bool) -> None:
    """The night by typed figures alone."""
    from bedstone.desk.warm_bin import plain
    from bedstone.desk.warm_night import night_ahead
    from bedstone.mill.equipment import Settings

    settings = Settings(format=1, name="no mill", time_zone="UTC", units=units)
    _must_have((*NEEDED, "coldest_c"), typed)
    values = given(AskedOfBin, NAMES, typed, settings)
    found = plain(hours, mass_kg=values["mass_kg"])
    answer = night_ahead(found, replace(found.asked, **values), units=units)
    _show(answer, settings, as_json=as_json)


def _of_mill(
    record: "Record",
    mill: "Mill",
    code: str,
    typed: "Mapping[str, str | None]",
    *,
    at: "dt.datetime",
    hours: int,
    as_json: bool,
) -> None:
    """The night of a bin of the mill, or by typed figures in the mill's weather."""
    from bedstone.desk.warm_bin import filled_in
    from bedstone.desk.warm_night import night_ahead

    if not code:
        _must_have(NEEDED, typed)
    values = given(AskedOfBin, NAMES, typed, mill.settings)
    found = filled_in(record, code, at=at, hours=hours, mass_kg=values.get("mass_kg"))
    asked = replace(found.asked, **values)
    answer = night_ahead(found, asked, mill=mill, units=mill.settings.units)
    _show(answer, mill.settings, as_json=as_json)


def _must_have(needed: "Iterable[str]", typed: "Mapping[str, str | None]") -> None:
    missing = [f"--{NAMES[name]}" for name in needed if typed.get(name) is None]
    if missing:
        raise BadInput(
            "Not all figures are there.",
            seen=f"no {', no '.join(missing)}",
            allowed="all of them, each with its unit where it is not the usual one",
            do="or name a bin of a mill: bedstone warm-bin DIR --bin CODE",
        )


def _every_bin(record: "Record", mill: "Mill", at: "dt.datetime", *, as_json: bool) -> None:
    from bedstone.desk.bin_findings import bins_with_pellets
    from bedstone.quantities.line_figures import temperature_words

    every = bins_with_pellets(record, at=at)
    if as_json:
        print_json(every)
        return
    if not every:
        click.echo("By the books no bin holds pellets now.")
        return
    made = table("Bins of pellets", "Bin", "What", "Mass", "Last came", "Reads", right=("Mass",))
    for one in every:
        made.add_row(
            one.bin.bin,
            mill.name_of(one.material),
            mass_text(one.mass_mg, mill.settings),
            "" if one.filled_at is None else clock_text(one.filled_at, mill.settings),
            ""
            if one.temperature is None
            else temperature_words(one.temperature.value, mill.settings.units),
        )
    print_table(made)
    for one in every:
        for finding in one.findings:
            click.echo(f"{finding.text} {finding.do}")


def _show(answer: "WarmBinNight", settings: "Settings", *, as_json: bool) -> None:
    if as_json:
        print_json(answer)
        return
    from bedstone.cli.warm_bin_words import print_night

    print_night(answer, settings)
