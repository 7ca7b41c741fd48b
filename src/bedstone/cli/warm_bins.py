"""The command of warm bins: warm-bin."""

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bedstone.cli.answer import print_json, print_table, table
from bedstone.cli.parts import Parts
from bedstone.cli.reach import json_option, open_mill, read_moment
from bedstone.cli.words import clock_text, mass_text
from bedstone.errors import BadInput, Fault

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Mapping

    from bedstone.desk.record import Record
    from bedstone.desk.warm_bin import AskedOfBin, FilledIn
    from bedstone.desk.warm_night import WarmBinNight
    from bedstone.mill.equipment import Settings
    from bedstone.mill.model import Mill

__all__ = ["warm_bin"]

NEEDED = {"pellet_c": "--pellets", "moisture_wb": "--moisture", "mass_kg": "--mass"}
OPTIONS = {
    **NEEDED,
    "top_m2": "--top",
    "roof_m2": "--roof",
    "wall_m2": "--wall",
    "coldest_c": "--coldest",
}


@click.command(
    "warm-bin",
    epilog="Examples: bedstone warm-bin demo-mill --bin FB8; "
    "bedstone warm-bin --pellets 105F --moisture 13% --mass 12000lb --coldest 25F",
)
@click.argument(
    "directory", metavar="[DIR]", required=False, type=click.Path(path_type=Path, file_okay=False)
)
@click.option("--bin", "code", default="", metavar="CODE", help="A bin that holds pellets.")
@click.option("--pellets", metavar="TEMPERATURE", help="How warm they lie, such as 105F or 40C.")
@click.option("--moisture", metavar="PER_CENT", help="Water in them, wet basis.")
@click.option("--mass", metavar="MASS", help="Pellets in the bin, such as 12000lb or 5t.")
@click.option("--top", metavar="AREA", help="Surface of the pellets, such as 45ft2 or 4m2.")
@click.option("--roof", metavar="AREA", help="Roof and bare wall over them.")
@click.option("--wall", metavar="AREA", help="Wall and hopper that they touch.")
@click.option("--coldest", metavar="TEMPERATURE", help="The coldest hour to come outside.")
@click.option(
    "--hours", type=click.IntRange(1, 72), default=24, show_default=True, help="So many hours on."
)
@click.option("--at", "moment", metavar="TIME", help="From this hour, YYYY-MM-DD HH:MM. Now.")
@click.option(
    "--units",
    type=click.Choice(["US", "SI"]),
    default="US",
    show_default=True,
    help="Units of bare numbers and of the answer where there is no DIR.",
)
@json_option
@click.pass_obj
def warm_bin(
    parts: Parts,
    directory: Path | None,
    *,
    code: str,
    pellets: str | None,
    moisture: str | None,
    mass: str | None,
    top: str | None,
    roof: str | None,
    wall: str | None,
    coldest: str | None,
    hours: int,
    moment: str | None,
    units: str,
    as_json: bool,
) -> None:
    """Show what the coming night can do to pellets that lie warm in a bin.

    Water that may run down under the roof and along the wall between two bounds, the crust at its
    wettest, water activity as the feed cools in a closed bag, and cautious days to visible mould.
    With DIR alone: every bin that holds pellets, and which was filled warm or reads hot. With
    --bin its figures come from the record; each may be typed over. Without DIR all of them are
    typed. Nothing is recorded.
    """
    values = (pellets, moisture, mass, top, roof, wall, coldest)
    typed = {name: text for name, text in zip(OPTIONS, values, strict=True) if text is not None}
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
    if not code and not typed:
        _every_bin(record, mill, at, as_json=as_json)
        return
    _of_mill(record, mill, code, typed, at=at, hours=hours, as_json=as_json)


def _alone(typed: "Mapping[str, str]", units: str, hours: int, *, as_json: bool) -> None:
    """The night by typed figures alone."""
    from bedstone.desk.warm_bin import plain
    from bedstone.desk.warm_night import night_ahead
    from bedstone.mill.equipment import Settings

    settings = Settings(format=1, name="no mill", time_zone="UTC", units=units)
    _must_have({**NEEDED, "coldest_c": "--coldest"}, typed)
    found = plain(hours)
    found = plain(hours, mass_kg=_values(found, typed, settings)["mass_kg"])
    answer = night_ahead(found, _asked(found, typed, settings), units=units)
    _show(answer, settings, as_json=as_json)


def _of_mill(
    record: "Record",
    mill: "Mill",
    code: str,
    typed: "Mapping[str, str]",
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
    found = filled_in(record, code, at=at, hours=hours)
    if not code:
        mass_kg = _values(found, typed, mill.settings)["mass_kg"]
        found = filled_in(record, code, at=at, hours=hours, mass_kg=mass_kg)
    asked = _asked(found, typed, mill.settings)
    answer = night_ahead(found, asked, mill=mill, units=mill.settings.units)
    _show(answer, mill.settings, as_json=as_json)


def _must_have(needed: "Mapping[str, str]", typed: "Mapping[str, str]") -> None:
    missing = [option for name, option in needed.items() if name not in typed]
    if missing:
        raise BadInput(
            "Not all figures are there.",
            seen=f"no {', no '.join(missing)}",
            allowed=", ".join(needed.values()),
            do="or name a bin of a mill: bedstone warm-bin DIR --bin CODE",
        )


def _values(
    found: "FilledIn", typed: "Mapping[str, str]", settings: "Settings"
) -> dict[str, float]:
    """The figures as typed, in SI.

    Raises
    ------
    BadInput
        If one cannot be understood or is out of range, each with what is allowed.
    """
    from bedstone.mill.typed_fields import read_fields

    rows, values = read_fields(found.asked, settings, typed)
    faults = tuple(
        Fault(
            column=OPTIONS[row.name], found=repr(typed[row.name][:40]), allowed=_allowed(row.fault)
        )
        for row in rows
        if row.fault
    )
    if faults:
        raise BadInput("Some figures cannot be taken as typed.", faults=faults)
    return values


def _allowed(fault: str) -> str:
    return fault.partition("allowed: ")[2] or fault


def _asked(found: "FilledIn", typed: "Mapping[str, str]", settings: "Settings") -> "AskedOfBin":
    from bedstone.desk.warm_bin import AskedOfBin

    values = _values(found, typed, settings)
    return AskedOfBin(**(asdict(found.asked) | {name: values[name] for name in typed}))


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
            click.echo(f"{one.bin.bin}: {finding.text} {finding.do}")


def _show(answer: "WarmBinNight", settings: "Settings", *, as_json: bool) -> None:
    if as_json:
        print_json(answer)
        return
    from bedstone.cli.warm_bin_words import print_night

    print_night(answer, settings)
