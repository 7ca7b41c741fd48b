"""The command that looks values of ingredients up: library."""

from typing import TYPE_CHECKING

import click

from bedstone.cli.answer import print_json, print_table, table
from bedstone.cli.reach import json_option

if TYPE_CHECKING:
    from collections.abc import Sequence

    from bedstone.materials.composition import LibraryIngredient, LibraryLevel, PublishedValue
    from bedstone.materials.library import Library

__all__ = ["library"]


@click.command(
    epilog="Example: bedstone library corn --nutrient lysine",
)
@click.argument("name", metavar="[NAME]", default="")
@click.option("--nutrient", help="Every published value of this nutrient, used or not.")
@click.option(
    "--dry-matter",
    type=click.FloatRange(1, 100),
    metavar="PERCENT",
    help="Dry matter of your own lot, for values that are printed in dry matter.",
)
@json_option
def library(name: str, nutrient: str | None, dry_matter: float | None, *, as_json: bool) -> None:
    """Look up what published tables say of an ingredient, with sources.

    Without NAME: all ingredients of the library. The mill's own assays and tables always come
    first; what no source gives stays unknown.
    """
    from bedstone.materials.library import library as packaged

    books = packaged()
    if not name:
        _list(books, tuple(books.ingredients.values()), as_json=as_json)
        return
    found = books.find(name)
    if len(found) > 1:
        _list(books, found, as_json=as_json)
        return
    part = None if dry_matter is None else dry_matter / 100
    if nutrient:
        level = books.level(found[0].code, nutrient, dry_matter_frac=part)
        values = level.all_values if level else books.values_of(found[0].code, nutrient)
        _show_values(found[0], nutrient, level, values, as_json=as_json)
        return
    _show_levels(books, found[0], part, as_json=as_json)


def _list(books: "Library", found: "Sequence[LibraryIngredient]", *, as_json: bool) -> None:
    if as_json:
        print_json(tuple(found))
        return
    made = table(
        f"{len(found)} ingredients of the library",
        *("Code", "Name", "Kind", "Levels known", "Also called"),
        right=("Levels known",),
    )
    for row in found:
        known = str(len(books.levels_of(row.code)))
        made.add_row(row.code, row.name, row.kind, known, ", ".join(row.other_names))
    print_table(made)


def _show_levels(
    books: "Library", row: "LibraryIngredient", dry_matter_frac: float | None, *, as_json: bool
) -> None:
    levels = books.levels_of(row.code, dry_matter_frac=dry_matter_frac)
    dry = [
        nutrient
        for nutrient in books.nutrients
        if books.values_of(row.code, nutrient)
        and not any(level.nutrient == nutrient for level in levels)
    ]
    if as_json:
        print_json(
            {
                "ingredient": row,
                "levels": levels,
                "not_as_fed": tuple(dry),
                "physical": books.densities_of(row.code),
            }
        )
        return
    _print_levels(row, levels)
    for density in books.densities_of(row.code):
        high = "" if density.high in {None, density.low} else f" to {density.high:g}"
        click.echo(
            f"{density.what} ({density.printed_as}): {density.low:g}{high} {density.unit}; "
            f"{density.source.words}"
        )
    if dry:
        click.echo(
            f"Known in dry matter alone (say --dry-matter) or only as a limit: {', '.join(dry)}."
        )
    if row.note:
        click.echo(f"Note: {row.note}.")
    click.echo("What is not listed is unknown. Your own assays come first.")


def _print_levels(row: "LibraryIngredient", levels: "Sequence[LibraryLevel]") -> None:
    made = table(
        f"{row.name}, as fed, by published tables",
        *("Nutrient", "Mean", "Sd", "Unit", "Sd is", "Source"),
        right=("Mean", "Sd"),
    )
    for level in levels:
        made.add_row(
            level.nutrient,
            f"{level.mean:.4g}",
            "" if level.sd is None else f"{level.sd:.2g}",
            level.unit,
            level.sd_is,
            level.source.removeprefix("library: "),
        )
    print_table(made)


def _show_values(
    row: "LibraryIngredient",
    nutrient: str,
    level: "LibraryLevel | None",
    values: "Sequence[PublishedValue]",
    *,
    as_json: bool,
) -> None:
    if as_json:
        print_json({"ingredient": row, "level": level, "values": tuple(values)})
        return
    made = table(
        f"{nutrient} of {row.name}: every published value",
        *("Value", "Unit", "Basis", "Is", "Used", "Printed for", "Source", "Note"),
        right=("Value",),
    )
    used = level.used if level else ()
    for value in values:
        made.add_row(
            f"{value.value:.4g}",
            value.unit,
            value.basis,
            value.what.value,
            "yes" if value in used else "no",
            value.printed_as,
            ", ".join(part for part in (value.source.words, value.reference) if part),
            ", ".join(part for part in (value.derived, value.note) if part),
        )
    print_table(made)
    if level is None:
        click.echo("By these the level as fed is unknown.")
        return
    spread = "" if level.sd is None else f", sd {level.sd:.2g} {level.sd_is}"
    click.echo(f"Level as fed: {level.mean:.4g} {level.unit}{spread}; {level.rule}.")
