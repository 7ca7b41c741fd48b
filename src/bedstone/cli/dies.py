"""The command of dies and rolls: by a mill's tables and runs, or by plain numbers."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bedstone.cli.answer import print_json, print_table, table
from bedstone.cli.parts import Parts
from bedstone.cli.reach import json_option, open_mill
from bedstone.cli.typed_options import given, number_options, option_of, units_option
from bedstone.errors import BadInput, Unknown
from bedstone.mill.columns import columns_of
from bedstone.mill.die_asked import AskedOfDie
from bedstone.mill.equipment import Settings

if TYPE_CHECKING:
    from bedstone.desk.die_runs import ProductOnDie
    from bedstone.desk.line_die import DieAnswer
    from bedstone.desk.record import Record
    from bedstone.desk.wear_parts import Wear
    from bedstone.mill.model import Mill

__all__ = ["die", "lines_named"]

NAMES = {
    "hole_mm": "hole",
    "effective_mm": "press",
    "inner_diameter_mm": "inside",
    "face_width_mm": "face",
    "rate_kg_s": "rate",
    "motor_a": "amps",
    "motor_v": "volts",
    "motor_full_a": "full-load",
    "idle_a": "idle",
    "turns_per_min": "turns",
    "wanted_mm": "length",
    "conditioned_c": "mash",
    "power_usd_kwh": "power-price",
    "made_kg": "made",
    "expected_kg": "lasts",
    "price_usd": "price",
}
"""Options that are not called as their field is."""
HELP = {
    "hole_mm": "Diameter of a hole, such as 0.156in or 4mm",
    "effective_mm": "Length of a hole that presses, such as 1.75in or 45mm",
    "inner_diameter_mm": "Inner diameter of the die, such as 20in",
    "face_width_mm": "Width of the face with holes, such as 6in",
    "rate_kg_s": "Mash through the die, such as 6ton/h or 5.5t/h",
    "thickness_mm": "Thickness of the ring, such as 2.5in",
    "wanted_mm": "Length of pellets that is wanted, such as 0.4in; the answer sets the knives",
    "conditioned_c": "Mash as it enters the die, such as 172F; the answer says how hot pellets leave",
    "made_kg": "Feed made on the die, such as 4000ton",
    "expected_kg": "Feed that one like it lasts for, such as 12000ton",
}
MG_IN_KG = 1e6
CAUTION = (
    "Reckoned, not measured. Dies, rolls and knives crush and cut: before a cover is opened shut down, "
    "lock and tag out steam and power, and test that it will not start."
)


@click.command(epilog="Example: bedstone die demo-mill --line PL1")
@click.argument(
    "directory", metavar="[DIR]", required=False, type=click.Path(path_type=Path, file_okay=False)
)
@click.option("--line", default="", metavar="CODE", help="With DIR: only this pellet line.")
@units_option
@number_options(AskedOfDie, NAMES, HELP)
@json_option
@click.pass_obj
def die(
    parts: Parts,
    /,
    directory: Path | None,
    *,
    line: str,
    units: str,
    as_json: bool,
    **typed: str | None,
) -> None:
    """Show a die's holes, load and energy, heat by friction, knives, and how long it lasts.

    With DIR every die and set of rolls of the mill with its wear by the ledger, and what its logged
    runs say of load and heat. Without DIR by the numbers typed, such as --hole 0.156in --press
    1.75in --holes 5200 --inside 20in --face 6in --rate 6ton/h --amps 95 --length 0.4in.
    """
    if directory is None:
        settings = Settings(format=1, name="no mill", time_zone="UTC", units=units)
        _plain(given(AskedOfDie, NAMES, typed, settings), units, as_json=as_json)
        return
    named = [option_of(one, NAMES) for one in columns_of(AskedOfDie) if typed[one.field]]
    if named:
        raise BadInput(
            "A mill's dies are those of its tables.",
            seen=f"a folder and {', '.join(named)}",
            allowed="either DIR, or numbers without it",
        )
    from bedstone.desk.tables import current_mill

    record = open_mill(parts, directory)
    _of_mill(record, current_mill(record), line, as_json=as_json)


def _plain(asked: dict[str, Any], units: str, *, as_json: bool) -> None:
    from bedstone.desk.line_die import reckon_die

    missing = [
        option_of(one, NAMES)
        for one in columns_of(AskedOfDie)
        if one.needed and one.field not in asked
    ]
    if missing:
        raise BadInput(
            "Without a mill a die needs more numbers.",
            seen=f"no {', no '.join(missing)}",
            allowed="numbers with their unit, such as 0.156in, 6 ton/h",
            do="see bedstone die --help, or name a mill's folder",
        )
    found = reckon_die(AskedOfDie(**asked), units)
    if as_json:
        print_json(found)
        return
    made = table("Die", "What", "How much")
    for row in _answer_rows(found, units):
        made.add_row(*row)
    print_table(made)
    if found.full_frac is not None and found.full_frac > 1:
        click.echo(
            "Over the plate's full load: the motor overheats and its relay will trip. Slow the feeder; a "
            "choking die draws so, too. If the ammeter may be wrong, have it looked at."
        )
    click.echo(CAUTION)


def _answer_rows(found: "DieAnswer", units: str) -> list[tuple[str, str]]:
    from bedstone.desk.die_words import (
        area_load_words,
        energy_words,
        face_speed_words,
        gap_words,
        pellet_length_words,
        tons_words,
    )
    from bedstone.quantities.line_figures import length_words, rise_words, temperature_words

    asked, work = found.asked, found.work
    rows = [
        ("Compression", f"{found.compression:.1f}, press length over hole"),
        ("Holes", f"{asked.holes:,}, {100 * found.open_frac:.0f} % of the face open"),
        ("In an even pattern", (f"{length_words(found.pitch_mm, units)} between centres, "
         f"{length_words(found.web_mm, units)} of metal between holes")),
    ]  # fmt: skip
    if found.relief_mm is not None:
        rows.append(("Relief", f"{length_words(found.relief_mm, units)} bored wider"))
    rows += [
        ("Face", face_speed_words(found.face_m_s, units)),
        ("Motor", _motor(found)),
        ("Energy", f"{energy_words(work.kwh_t, units)}, {_cost(work.usd_t, units)}"),
        ("Through the holes", (f"{area_load_words(work.kg_s_m2, units)}, "
         f"{work.in_hole_s:.1f} s in a hole")),
        ("Heat by friction", f"pellets up to {rise_words(work.rise_dk, units)} warmer"),
    ]  # fmt: skip
    if found.below_c is not None:
        rows.append(("Below the die", f"up to {temperature_words(found.below_c, units)}"))
    rows.append(("Grow between knives", pellet_length_words(found.cut_mm, units)))
    if asked.wanted_mm is not None:
        rows.append(("Knife setting", gap_words(found.gap_mm, asked.wanted_mm, units)))
    if found.life is not None:
        rows.append(("Worn", f"{100 * found.life.used_frac:.0f} %, "
                     f"{tons_words(found.life.left_t, units)} left, {_cost(found.life.usd_t, units)}"
                     + (": order the next" if found.life.due else "")))  # fmt: skip
    return rows


def _motor(found: "DieAnswer") -> str:
    power = f"{found.power_kw:.0f} kW"
    if found.full_frac is None:
        return power
    return f"{power}, {100 * found.full_frac:.0f} % of its plate's amperes"


def _cost(usd_t: float, units: str) -> str:
    from bedstone.quantities.line_figures import cost_words

    return cost_words(usd_t, units)


def _of_mill(record: "Record", mill: "Mill", line: str, *, as_json: bool) -> None:
    from bedstone.desk.die_runs import products_on_dies, runs_on_dies
    from bedstone.desk.wear_parts import wear

    lines = lines_named(mill, line)
    found = [
        {
            "line": code,
            "parts": wear(record, code),
            "products": products_on_dies(mill, runs_on_dies(record, code)),
        }
        for code in lines
    ]
    if as_json:
        print_json(found)
        return
    for code in lines:
        _show_wear(wear(record, code), mill.settings.units, f"Dies and rolls of {code}")
        _show_products(mill, products_on_dies(mill, runs_on_dies(record, code)), code)
    click.echo(CAUTION)


def lines_named(mill: "Mill", line: str) -> list[str]:
    """The pellet lines of the tables, or the one that is named."""
    lines = sorted({row.line for row in mill.dies} | {row.line for row in mill.pellet_lines})
    if line and line not in lines:
        raise Unknown(
            f"The tables have no pellet line {line[:40]!r}.", allowed=", ".join(lines) or "none yet"
        )
    if not lines:
        raise Unknown("The tables have no dies and no pellet lines.", do="fill dies.csv")
    return [line] if line else lines


def _show_wear(parts: Sequence["Wear"], units: str, title: str) -> None:
    from bedstone.desk.die_runs import die_of
    from bedstone.desk.die_words import left_words, tons_words
    from bedstone.quantities.line_figures import length_words

    made = table(
        title,
        *("Part", "Holes", "Press", "Over hole", "Open", "Made", "Used", "Left"),
        right=("Over hole", "Open", "Made", "Used"),
    )
    for one in parts:
        die_row = one.row
        holes = press = over = opened = ""
        if die_row is not None:
            found = die_of(die_row)
            holes = f"{found.holes:,} of {length_words(found.hole_mm, units)}"
            press, over = length_words(found.effective_mm, units), f"{found.compression:.1f}"
            opened = f"{100 * found.open_frac:.0f} %"
        made.add_row(
            *(one.die or "rolls", holes, press, over, opened),
            tons_words(one.made_mg / MG_IN_KG / 1000, units),
            "" if one.life is None else f"{100 * one.life.used_frac:.0f} %",
            left_words(one, units),
        )
    print_table(made)


def _show_products(mill: "Mill", rows: Sequence["ProductOnDie"], line: str) -> None:
    from bedstone.desk.die_words import energy_words, gap_words
    from bedstone.quantities.line_figures import rate_words, rise_words

    if not rows:
        click.echo(f"{line}: no run with mash flow and motor current is on record.")
        return
    units = mill.settings.units
    made = table(
        f"Logged runs of {line}",
        *("Feed", "Die", "Runs", "Rate", "Energy", "Load", "Warmer: table", "read", "by energy"),
        "Knives",
        right=("Runs", "Rate", "Energy", "Load", "Warmer: table", "read", "by energy"),
    )
    for one in rows:
        made.add_row(
            *(mill.name_of(one.product), one.die, str(one.runs)),
            rate_words(one.rate_kg_s, units),
            energy_words(one.kwh_t, units),
            "" if one.full_frac is None else f"{100 * one.full_frac:.0f} %",
            "" if one.rise_table_dk is None else rise_words(one.rise_table_dk, units),
            "" if one.rise_read_dk is None else rise_words(one.rise_read_dk, units),
            rise_words(one.rise_energy_dk, units),
            "" if one.wanted_mm is None else gap_words(one.gap_mm, one.wanted_mm, units),
        )
    print_table(made)
