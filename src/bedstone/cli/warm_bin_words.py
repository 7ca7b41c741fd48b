"""A night in a bin of warm pellets, printed."""

import datetime as dt

import click

from bedstone.cli.answer import print_table, table
from bedstone.cli.words import clock_text
from bedstone.cooling.after_cooler import mould_words
from bedstone.desk.warm_night import WarmBinNight
from bedstone.mill.equipment import Settings
from bedstone.quantities.bounds import between_words, bound_words
from bedstone.quantities.line_figures import moisture_words, temperature_words
from bedstone.quantities.masses import shown_mass

__all__ = ["print_night"]

EVERY = 3
FT2_M2 = 0.3048**2
HOUR = dt.timedelta(hours=1)
NAMES = {
    "pellet_c": "pellets",
    "moisture_wb": "water in them",
    "mass_kg": "mass",
    "top_m2": "surface",
    "roof_m2": "roof and bare wall over them",
    "wall_m2": "wall and hopper that they touch",
    "coldest_c": "coldest hour to come",
}


def print_night(answer: WarmBinNight, settings: Settings) -> None:
    """Print figures with where they are from, the night, the curve, and what to do."""
    night, units = answer.night, settings.units
    if answer.heating is not None:
        click.echo(f"{answer.heating.text} {answer.heating.do}")
    for finding in answer.findings:
        click.echo(finding.text)
    click.echo(_head(answer, settings))
    for name, said in answer.said.items():
        click.echo(f"  {NAMES[name]}: {_figure(answer, name, units)} ({said})")
    made = table("What the night can do", "What", "From", "To", right=("From", "To"))
    for what, ends in (
        ("Water under roof and bare wall", night.roof_kg),
        ("Water at the wall behind the pellets", night.wall_kg),
        ("Wanders from within to the cold", night.wandered_kg),
    ):
        made.add_row(what, *(bound_words((kg, kg), units) for kg in ends))
    print_table(made)
    for crust in night.crusts:
        click.echo(
            f"Crust {crust.where}, at its wettest: {moisture_words(crust.moisture_wb)}, water "
            f"activity {crust.activity_frac:.2f}, maybe {crust.high_frac:.2f}; mould: "
            f"{mould_words(crust.mould_days, crust.high_frac)}."
        )
    click.echo()
    _print_hours(answer, settings)
    _print_cools(answer, units)
    click.echo(
        "Days to visible mould are from memory, cautious, good to a factor of three at best, and "
        f"never a shelf life. Isotherm: {answer.cools.isotherm}; from and to are among those of corn, "
        "wheat, barley and soybeans, and the days go by the dampest of them."
    )
    if answer.heating is None and answer.unread:
        click.echo(
            f"Nobody knows {answer.unread} they lie: read it, or type it. If it is as above:"
        )
    if answer.heating is None:
        click.echo(f"{night.advice[:1].upper()}{night.advice[1:]}")
    click.echo("Never enter a bin to look. Local codes and the bin-entry permit go before this.")


def _head(answer: WarmBinNight, settings: Settings) -> str:
    what = f"{answer.bin}, {answer.material}" if answer.bin else "Pellets in a bin"
    runs = f", {', '.join(answer.runs)}" if answer.runs else ""
    since = "" if answer.first_at is None else f" from {clock_text(answer.first_at, settings)}"
    return f"{what}{runs}: {len(answer.night.hours) - 1} hours{since}, going by"


def _figure(answer: WarmBinNight, name: str, units: str) -> str:
    value = getattr(answer.asked, name)
    if name.endswith("_c"):
        return temperature_words(value, units)
    if name.endswith("_wb"):
        return moisture_words(value)
    if name.endswith("_kg"):
        return shown_mass(round(value * 1e6), units=units)
    return f"{value / FT2_M2:.0f} ft2" if units == "US" else f"{value:.1f} m2"


def _print_hours(answer: WarmBinNight, settings: Settings) -> None:
    """Every third hour, each figure from its least to its most."""
    made = table(
        "The night",
        *("When", "Outside", "Heap", "Surface", "Dew point", "Roof", "Runs down"),
        right=("Outside", "Heap", "Surface", "Dew point", "Roof", "Runs down"),
    )
    hours = answer.night.hours
    for hour, row in enumerate(hours):
        if hour % EVERY:
            continue
        when = (
            f"{hour} h"
            if answer.first_at is None
            else clock_text(answer.first_at + hour * HOUR, settings)
        )
        since = hours[max(0, hour - EVERY + 1) : hour + 1]
        ran = [sum(one.roof_kg[end] + one.wall_kg[end] for one in since) for end in (0, 1)]
        made.add_row(
            when,
            temperature_words(row.outside_c, settings.units),
            *(
                between_words(ends, settings.units)
                for ends in (row.core_c, row.top_c, row.dew_point_c, row.roof_c)
            ),
            bound_words((ran[0], ran[1]), settings.units),
        )
    print_table(made)


def _print_cools(answer: WarmBinNight, units: str) -> None:
    made = table(
        f"As it cools in a closed bag or bin, with {moisture_words(answer.asked.moisture_wb)} of "
        "water",
        *("Feed at", "Water activity", "From", "To", "Mould"),
        right=("Water activity", "From", "To"),
    )
    for row in answer.cools.rows:
        at_bag = ", at the bag" if row.temperature_c == answer.cools.bag_c else ""
        made.add_row(
            f"{temperature_words(row.temperature_c, units)}{at_bag}",
            f"{row.activity_frac:.2f}",
            f"{row.low_frac:.2f}",
            f"{row.high_frac:.2f}",
            mould_words(row.mould_days, row.high_frac, row.temperature_c),
        )
    print_table(made)
