"""The command of the conditioner: by a product's tables, or by plain numbers without a mill."""

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bedstone.cli.answer import print_json, print_table, table
from bedstone.cli.parts import Parts
from bedstone.cli.reach import json_option, open_mill, read_moment
from bedstone.cli.typed_options import (
    given,
    number_options,
    option_of,
    units_option,
    usual_of,
)
from bedstone.errors import BadInput
from bedstone.mill.columns import Column, columns_of
from bedstone.mill.conditioner_asked import AskedOfConditioner
from bedstone.mill.equipment import Settings

if TYPE_CHECKING:
    from bedstone.desk.line_conditioner import ConditionerAnswer
    from bedstone.desk.line_settings import LineSettings
    from bedstone.mill.model import Mill

__all__ = ["conditioner"]

NAMES = {
    "mash_rate_kg_s": "rate",
    "wanted_c": "to",
    "inside_s": "time",
    "fuel_usd": "fuel-price",
}
"""Options that are not called as their field is."""
HELP = {
    "mash_rate_kg_s": "Mash through it, such as 6ton/h or 5.5t/h",
    "wanted_c": "Temperature wanted of the mash that leaves, such as 150F or 65C",
    "steam_kg_s": "Steam into it instead, such as 700lb/h or 320kg/h; 0 for none",
    "steam_gauge_pa": "Steam pressure on the gauge, such as 30psi or 200kPa",
    "steam_at_c": "Temperature of superheated steam, such as 320F; without it steam is saturated",
    "molasses_kg_s": "Molasses into it, such as 500lb/h",
    "water_kg_s": "Water put in, such as 100lb/h",
    "inside_s": "Time inside that is wanted, such as 30s; the answer says how full",
    "altitude_m": "Height above the sea, such as 3000ft",
    "fuel": "Fuel; its price is for a kWh of heat, a therm, or a gallon",
    "fuel_usd": "Its price in USD",
}
NEEDED = ("mash_rate_kg_s", "mash_c", "mash_moisture_wb")
TOLD = {"US": "59 °F, 25 psi, 6 ton/h", "SI": "15 °C, 170 kPa, 5.5 t/h"}


@click.command(epilog="Example: bedstone conditioner demo-mill RABBIT-16 --to 150F")
@click.argument(
    "directory", metavar="[DIR]", required=False, type=click.Path(path_type=Path, file_okay=False)
)
@click.argument("product", metavar="[PRODUCT]", required=False)
@click.option("--line", default="", metavar="CODE", help="Where the product has several lines.")
@click.option("--at", "moment", metavar="TIME", help="Time of the run, YYYY-MM-DD HH:MM. Now.")
@units_option
@number_options(AskedOfConditioner, NAMES, HELP, needed=NEEDED)
@json_option
@click.pass_obj
def conditioner(
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
    """Show steam, temperature and moisture of a conditioner, its boiler, and what the die takes.

    With DIR and PRODUCT by the mill's tables and formula in the air of the hour, with cooler and
    additives; what is typed goes before the tables. Without them by the numbers typed. Give the
    temperature wanted (--to) or the steam (--steam); molasses and water go in beside it, or alone
    with --steam 0.

    By numbers alone, with any unit: bedstone conditioner --rate 6ton/h --mash 60F --mash-moisture 12
    --to 175F --molasses 500lb/h
    """
    if directory is None:
        settings = Settings(format=1, name="no mill", time_zone="UTC", units=units)
        _plain(given(AskedOfConditioner, NAMES, typed, settings), settings, as_json=as_json)
        return
    _of_product(parts, directory, product, typed, line=line, moment=moment, as_json=as_json)


def _of_product(
    parts: Parts,
    directory: Path,
    product: str | None,
    typed: Mapping[str, str | None],
    *,
    line: str,
    moment: str | None,
    as_json: bool,
) -> None:
    from bedstone.desk.line_settings import settings_for
    from bedstone.desk.tables import current_mill

    record = open_mill(parts, directory)
    mill = current_mill(record)
    if product is None:
        raise BadInput(
            "Whose conditioner?",
            seen="a mill without a product",
            allowed=", ".join(row.product for row in mill.pellets) or "no product has pellets yet",
            do="name a product, or leave the folder out and type the numbers",
        )
    numbers = given(AskedOfConditioner, NAMES, typed, mill.settings)
    rate = numbers.pop("mash_rate_kg_s", None)
    at = parts.clock() if moment is None else read_moment(moment, mill)
    found = settings_for(record, product, line, at=at, rate_kg_s=rate, given=numbers)
    if as_json:
        print_json(found)
        return
    _show_settings(mill, found)


@cache
def _columns() -> Mapping[str, Column]:
    return {one.field: one for one in columns_of(AskedOfConditioner)}


def _plain(numbers: dict[str, Any], settings: Settings, *, as_json: bool) -> None:
    from bedstone.desk.line_conditioner import reckon

    missing = [option_of(_columns()[name], NAMES) for name in NEEDED if name not in numbers]
    if not {"wanted_c", "steam_kg_s"} & numbers.keys():
        missing.append("--to or --steam")
    if numbers.get("fuel", "heat") != "heat" and "fuel_usd" not in numbers:
        missing.append("--fuel-price")
    if missing:
        raise BadInput(
            "Without a mill a conditioner needs more numbers.",
            seen=f"no {', no '.join(missing)}",
            allowed=f"numbers with their unit, such as {TOLD[settings.units]}",
            do="see bedstone conditioner --help, or name a mill's folder and a product",
        )
    found = reckon(AskedOfConditioner(**numbers), settings.units)
    if as_json:
        print_json(found)
        return
    _show_answer(found, settings.units)
    usual = [
        f"{option_of(column, NAMES)} {words}"
        for column in _columns().values()
        if column.field not in numbers and (words := usual_of(column, settings.units))
    ]
    click.echo(f"Not typed, so taken as usual: {', '.join(usual)}.")


def _show_answer(found: "ConditionerAnswer", units: str) -> None:
    from bedstone.quantities.line_figures import (
        moisture_words,
        rate_words,
        steam_words,
        temperature_words,
    )

    made, most = found.made, found.most
    rows = [
        ("Mash leaving", (f"{temperature_words(made.temperature_c, units)}, "
         f"{rate_words(made.rate_kg_s, units)}")),
        ("Mash and liquids before steam", temperature_words(found.unsteamed_c, units)),
        ("Steam", (f"{steam_words(made.steam_kg_s, units)}, {100 * made.steam_share:.1f} % of mash "
         f"and liquids, at {temperature_words(found.steam.temperature_c, units)}")),
        ("Moisture to the die", (f"{moisture_words(made.moisture_wb)}, {made.points:+.1f} points; "
         f"most {moisture_words(found.asked.die_moisture_wb)}")),
        ("Too wet for the die from", "before any steam" if most is None else _from_c(
            most.temperature_c, units, always=most.moisture_wb < found.asked.die_moisture_wb - 1e-6)),
        ("Time in the conditioner", f"{found.inside_s:.0f} s, {100 * found.fill_frac:.0f} % full"),
        ("Specific heat of the mash", (f"{found.specific_heat_j_kg_k / 1000:.2f} kJ/(kg K) = "
         f"{found.specific_heat_j_kg_k / 4186.8:.2f} Btu/(lb °F)")),
        *_boiler_rows(found.boiler, units),
        ("Water boils here at", temperature_words(found.steam.boils_c, units)),
    ]  # fmt: skip
    shown = table("Conditioner", "What", "How much", right=())
    for row in rows:
        shown.add_row(*row)
    print_table(shown)
    for caution in found.cautions:
        click.echo(caution)
    click.echo(
        "Reckoned, not measured. Steam and hot surfaces burn: open nothing that is not shut off, "
        "cold and locked out. With live additives about 65 °C (150 °F) and not much hotter (common "
        "practice, no source)."
    )


def _from_c(most_c: float, units: str, *, always: bool) -> str:
    from bedstone.quantities.line_figures import temperature_words

    return "at no temperature up to boiling" if always else temperature_words(most_c, units)


def _boiler_rows(boiler: Any, units: str) -> list[tuple[str, str]]:
    from bedstone.quantities.line_figures import cost_words

    return [
        ("Boiler", f"{boiler.horsepower:.0f} boiler hp, {boiler.heat_kw:.0f} kW into the steam"),
        ("Fuel", (f"{boiler.fuel_kw:.0f} kW; {boiler.usd_per_h:.2f} USD an hour, "
         f"{cost_words(boiler.usd_per_t, units)} of mash")),
    ]  # fmt: skip


def _show_settings(mill: "Mill", found: "LineSettings") -> None:
    made = table(f"{mill.name_of(found.product)} on {found.line}", "What", "How much", right=())
    units = mill.settings.units
    for name, value in (
        *_set_rows(found, units),
        *_steam_rows(found, units),
        *_after_rows(mill, found),
    ):
        made.add_row(name, value)
    print_table(made)
    if found.usual:
        click.echo(f"Not analysed: {', '.join(found.usual)}; a usual feed's was taken there.")
    for caution in found.cautions:
        click.echo(caution)


def _set_rows(found: "LineSettings", units: str) -> list[tuple[str, str]]:
    from bedstone.quantities.line_figures import rate_words, temperature_words

    setting = found.setting
    use = temperature_words(setting.use_c, units) if setting.runs else "do not run"
    rows = [("Conditioner", use)]
    if setting.binds and setting.wanted_c is not None:
        wanted = temperature_words(setting.wanted_c, units)
        rows.append(
            (
                "Why not hotter" if setting.runs else "Why",
                f"{setting.binds}; the tables want {wanted}",
            )
        )
    return [*rows, ("Rate", rate_words(found.rate_kg_s, units))]


def _steam_rows(found: "LineSettings", units: str) -> list[tuple[str, str]]:
    from bedstone.quantities import line_figures as figures

    hot = found.conditioned
    mash = figures.temperature_words(found.mash_c, units)
    steam = figures.steam_words(hot.steam_kg_s, units)
    gauge = figures.pressure_words(found.steam.gauge_pa, units)
    water = figures.moisture_words(hot.moisture_wb)
    most = figures.moisture_words(found.die_moisture_max_wb)
    wet_from = (
        "before any steam"
        if found.most_c_for_die is None
        else _from_c(found.most_c_for_die, units, always=found.die_always)
    )
    return [
        ("Mash before steam", f"{mash}, {figures.moisture_words(found.mash_moisture_wb)} of water"),
        ("Steam", f"{steam}, {100 * hot.steam_share:.1f} % of the mash; {gauge} on the gauge"),
        ("Moisture to the die", f"{water}, most {most}"),
        ("Too wet for the die from", wet_from),
        ("Time in the conditioner", f"{found.residence_s:.0f} s"),
        *_boiler_rows(found.boiler, units),
    ]


def _after_rows(mill: "Mill", found: "LineSettings") -> list[tuple[str, str]]:
    from bedstone.desk.line_cooler import leaving_words
    from bedstone.desk.line_heat import left_words, most_words
    from bedstone.quantities.line_figures import temperature_words

    units = mill.settings.units
    rows = [("Pellets below the die", temperature_words(found.die_c, units))]
    if found.leaving is not None:
        leaves = temperature_words(found.leaving.pellet_c, units)
        rows.append(("Leaving the cooler", f"{leaves}, {leaving_words(mill, found)}"))
    else:
        rows.append(("Leaving the cooler", "no weather of that hour on record, or no cooler"))
    return rows + [
        (f"Left of {row.what}", f"{left_words(row)}; {most_words(row, units)}")
        for row in found.additives
    ]
