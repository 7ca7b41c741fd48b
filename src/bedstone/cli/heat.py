"""The commands of what heat does to additives: additives, heat-trial."""

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
from bedstone.cli.words import clock_text

if TYPE_CHECKING:
    from bedstone.desk.heat_assays import BagAssay
    from bedstone.desk.heat_trial import OwnHeat
    from bedstone.desk.line_heat import AdditiveHeat
    from bedstone.mill.model import Mill

__all__ = ["additives", "heat_trial"]


@click.command(epilog="Example: bedstone additives demo-mill HORSE-PEL --to 160F")
@directory_argument
@click.argument("product", metavar="PRODUCT")
@click.option("--line", default="", metavar="CODE", help="Where the product has several lines.")
@click.option("--to", "wanted", metavar="TEMPERATURE", help="Another setting, such as 150F or 65C.")
@click.option("--at", "moment", metavar="TIME", help="Time of the run, YYYY-MM-DD HH:MM. Now.")
@json_option
@click.pass_obj
def additives(
    parts: Parts,
    directory: Path,
    product: str,
    *,
    line: str,
    wanted: str | None,
    moment: str | None,
    as_json: bool,
) -> None:
    """Show what heat leaves of a product's live additives against what its tag guarantees.

    With its interval, which part of the way costs what, the hottest setting that surely keeps the
    tag, and what more it would take at this setting.
    """
    from bedstone.desk.heat_assays import bag_assays
    from bedstone.desk.line_heat import unlisted_words
    from bedstone.desk.line_settings import settings_for
    from bedstone.desk.tables import current_mill
    from bedstone.mill.typed_fields import conditioning_typed_c

    record = open_mill(parts, directory)
    mill = current_mill(record)
    at = parts.clock() if moment is None else read_moment(moment, mill)
    to_c = None if wanted is None else conditioning_typed_c(wanted, mill.settings)
    found = settings_for(record, product, line, at=at, conditioning_c=to_c)
    results = [bag_assays(record, found, row) for row in found.additives]
    unlisted = unlisted_words(mill, product)
    if as_json:
        print_json({"product": product, "conditioner_c": found.conditioned.temperature_c,
                    "additives": found.additives, "assays": results, "unlisted": unlisted})  # fmt: skip
        return
    if not found.additives:
        click.echo(
            f"Of {mill.name_of(product)} heat_sensitive.csv names no ingredient, so nothing is "
            "reckoned here. That is no all-clear."
        )
    for row, assays in zip(found.additives, results, strict=True):
        _show(mill, row, found.conditioned.temperature_c)
        _show_assays(mill, row, assays)
    if unlisted:
        click.echo(unlisted)
    click.echo("Label, maker and nutritionist decide on overage; only an assay shows what is left.")


def _show(mill: "Mill", row: "AdditiveHeat", set_c: float) -> None:
    from bedstone.desk.line_heat import (
        left_words,
        more_words,
        most_words,
        state_words,
        step_words,
    )
    from bedstone.quantities.line_figures import amount_words, rise_words, temperature_words

    units = mill.settings.units
    click.echo(f"{row.what} ({mill.name_of(row.ingredient)}): {state_words(row)}")
    click.echo(f"  At {temperature_words(set_c, units)} {left_words(row)}.")
    click.echo(f"  Of what is put in, lost on the way: {step_words(row)}.")
    most = most_words(row, units)
    click.echo(f"  {most[:1].upper()}{most[1:]}.")
    for words in (more_words(mill, row), row.note, row.left.caution):
        if words:
            click.echo(f"  {words}")
    made = table("", "Measured in", "D", "At", "Tenfold in (z)", "Left", "Counts",
                 right=("D", "At", "Tenfold in (z)", "Left"))  # fmt: skip
    for one in row.known:
        left = f"{100 * one.left.left:.0f} ({100 * one.left.left_lo:.0f} to {100 * one.left.left_hi:.0f}) %"
        made.add_row(
            one.measured,
            f"{amount_words(one.d_s)} s",
            temperature_words(one.at_c, units),
            rise_words(one.z_dk, units),
            left,
            "yes" if one.counts else "no",
        )
    print_table(made)


def _show_assays(mill: "Mill", row: "AdditiveHeat", assays: "tuple[BagAssay, ...]") -> None:
    from bedstone.quantities.line_figures import amount_words, temperature_words

    if not assays or row.tag is None:
        return
    made = table(f"Assays of the feed as bagged, {row.tag.unit}", "Run", "Sampled", "Conditioner",
                 "Found", "Reckoned", "The tag", right=("Conditioner", "Found", "Reckoned"))  # fmt: skip
    for one in assays:
        low, middle, high = (amount_words(part) for part in (one.left_lo, one.left, one.left_hi))
        made.add_row(
            one.run,
            clock_text(one.sampled_at, mill.settings),
            temperature_words(one.conditioner_c, mill.settings.units),
            amount_words(one.found),
            f"{middle} ({low} to {high})",
            "holds by it" if one.keeps else "BELOW IT",
        )
    print_table(made)


@click.command(
    "heat-trial",
    epilog="Example: bedstone heat-trial demo-mill VTM-H --trial 2.1,0.9,167F,40 "
    "--trial 2.1,1.5,150F,40",
)
@directory_argument
@click.argument("ingredient", metavar="INGREDIENT")
@click.option("--what", default="", metavar="WORDS", help="Which additive, where it holds several.")
@click.option(
    "--trial",
    "typed",
    multiple=True,
    required=True,
    metavar="BEFORE,AFTER,TEMPERATURE,SECONDS",
    help="Amounts before and after in one unit. As often as samples were taken.",
)
@click.option(
    "--z",
    "z_typed",
    metavar="RISE",
    help="z value in the mill's degrees, such as 59. As in the table.",
)
@click.option(
    "--error",
    "error_pct",
    type=click.FloatRange(0, 100, min_open=True, max_open=True),
    default=20.0,
    show_default=True,
    help="Standard deviation of one assay, in per cent.",
)
@click.option("--keep", is_flag=True, help="Put it into the tables as this mill's own row.")
@by_option
@json_option
@click.pass_obj
def heat_trial(
    parts: Parts,
    directory: Path,
    ingredient: str,
    *,
    what: str,
    typed: tuple[str, ...],
    z_typed: str | None,
    error_pct: float,
    keep: bool,
    by: str | None,
    as_json: bool,
) -> None:
    """Show the D value that this mill's own samples before and after its conditioner give."""
    from bedstone.desk.heat_trial import keep_own_heat, number_of, own_heat, trial_typed
    from bedstone.desk.tables import current_mill

    record = open_mill(parts, directory)
    mill = current_mill(record)
    now = parts.clock()
    found = own_heat(
        mill,
        ingredient=ingredient,
        what=what,
        trials=[trial_typed(one.split(","), mill.settings) for one in typed],
        z_dk=None if z_typed is None else number_of("z_dk", z_typed, mill.settings),
        assay_cv_frac=error_pct / 100,
        on=now.astimezone(mill.settings.zone).date(),
    )
    if keep:
        person = signer(by, mill, act="tables")
        revision = keep_own_heat(record, found.row, by=person, at=now)
        note(f"kept in revision {revision} of the tables, signed by {person}.")
    if as_json:
        print_json(found)
        return
    _show_own(mill, found)


def _show_own(mill: "Mill", found: "OwnHeat") -> None:
    from bedstone.quantities.line_figures import amount_words, rise_words, temperature_words

    own, units = found.found, mill.settings.units
    click.echo(f"{found.row.what} ({mill.name_of(found.row.ingredient)}):")
    click.echo(
        f"  to a tenth (D) in {amount_words(own.d_s)} s at {temperature_words(own.at_c, units)}, from "
        f"{amount_words(own.d_lo_s)} to {amount_words(own.d_hi_s)} s nine times in ten, by {own.error}"
    )
    click.echo(f"  z of {rise_words(own.z_dk, units)} was taken, not measured")
    click.echo(
        f"  what counts now: {amount_words(found.before.d_s)} s at "
        f"{temperature_words(found.before.at_c, units)}, {found.before.measured}"
    )
