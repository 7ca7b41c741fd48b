"""The command for formulas: formulate."""

from dataclasses import replace
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bedstone.cli.answer import print_json, progress
from bedstone.cli.parts import Parts
from bedstone.cli.reach import (
    by_option,
    directory_argument,
    json_option,
    note,
    open_mill,
    read_day,
    signer,
)
from bedstone.errors import BadInput, NoAnswer

if TYPE_CHECKING:
    import datetime as dt

    from bedstone.desk.formula_answer import Formulated
    from bedstone.desk.formulate import Choices
    from bedstone.desk.record import Record
    from bedstone.mill.model import Mill

__all__ = ["formulate"]

PCT = 100.0


@click.command(epilog="Example: bedstone formulate demo-mill SHEEP-GR --from bins")
@directory_argument
@click.argument("products", metavar="[PRODUCT]...", nargs=-1)
@click.option("--joint", is_flag=True, help="All at once, on the stock and contracts they share: "
              "a week like the last, and no less than is on order.")  # fmt: skip
@click.option("--from", "source", type=click.Choice(["tables", "assays", "bins"]),
              default="tables", show_default=True,
              help="Compositions: by the tables, by the last assays, or by what lies in the bins.")  # fmt: skip
@click.option("--last", type=click.IntRange(1, 1000), default=10, show_default=True,
              help="How many assayed lots count.")  # fmt: skip
@click.option("--odds", type=click.FloatRange(50, 99.99), metavar="PERCENT",
              help="Odds with which guarantees are met. Default: as the mill's rules say.")  # fmt: skip
@click.option("--by-mean", is_flag=True, help="No odds: every limit by its expected value.")
@click.option("--on", metavar="DATE", help="Prices of this day, YYYY-MM-DD. Default: today.")
@click.option("--price", "prices", multiple=True, metavar="CODE=PRICE",
              help="Another price of an ingredient, in the mill's own unit. May be repeated.")  # fmt: skip
@click.option("--assume-none", is_flag=True,
              help="Count what no table says of a nutrient as none; each is named.")  # fmt: skip
@click.option("--assume-cv", type=click.FloatRange(0, 100), metavar="PERCENT",
              help="Spread to assume where none is known, as a part of the mean; each is named.")  # fmt: skip
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE",
              help="Write the answer as FILE.xlsx, or as FILE.csv with its limits beside it.")  # fmt: skip
@click.option("--keep", metavar="WHY",
              help="Keep the formula, rounded to the scales, as a draft, for this reason.")  # fmt: skip
@by_option
@json_option
@click.pass_obj
def formulate(
    parts: Parts,
    directory: Path,
    *,
    products: tuple[str, ...],
    joint: bool,
    source: str,
    last: int,
    odds: float | None,
    by_mean: bool,
    on: str | None,
    prices: tuple[str, ...],
    assume_none: bool,
    assume_cv: float | None,
    out: Path | None,
    keep: str | None,
    by: str | None,
    as_json: bool,
) -> int:
    """Find the cheapest formula that keeps every limit, for one product or all.

    Without a PRODUCT every product of the mill is formulated. The answer says what binds, what one
    more unit of a limit costs, at which price an ingredient would come in, and the odds of the tag.
    When nothing fits it says which limits contradict each other and what giving in would cost, and
    ends with exit code 6. Nothing is recorded unless --keep asks for a draft; a draft runs only
    when it was approved and put in use.
    """
    from bedstone.desk.formula_levels import Composed
    from bedstone.desk.formulate import Choices, can_be_formulated
    from bedstone.desk.tables import current_mill

    record = open_mill(parts, directory)
    mill = current_mill(record)
    now = parts.clock()
    choices = Choices(
        on=read_day(on) if on else now.astimezone(mill.settings.zone).date(),
        composed=Composed(source),
        last_assays=last,
        odds_frac=None if odds is None else odds / PCT,
        by_mean=by_mean,
        assume_none=assume_none,
        assume_cv_frac=None if assume_cv is None else assume_cv / PCT,
        prices_usd_t=_prices(mill, prices),
    )
    if joint:
        _week(record, mill, products, choices, at=now, out=out, as_json=as_json)
        return 0
    wanted = products or can_be_formulated(mill)
    signs = None if keep is None else signer(by, mill, act="formula draft")
    found = _each(record, wanted, choices)
    kept = {} if signs is None or keep is None else _kept(record, found, keep, by=signs, at=now)
    _say(mill, found, kept, out=out, as_json=as_json)
    return NoAnswer.exit_code if any(one.answer is None for one in found) else 0


def _prices(mill: "Mill", typed: tuple[str, ...]) -> dict[str, float]:
    """Prices as they were typed, in USD/t."""
    from bedstone.quantities.units import DIMENSIONS, to_si

    unit = DIMENSIONS["usd_t"].written(mill.settings.units)
    found = {}
    for text in typed:
        code, _, price = text.partition("=")
        try:
            value = Decimal(price)
        except InvalidOperation:
            value = Decimal(-1)
        if code not in mill.ingredient_by_code or not (value.is_finite() and value >= 0):
            raise BadInput(
                "A price cannot be understood.",
                seen=repr(text),
                allowed=f"an ingredient, an equals sign and its price in {unit.label}, as CORN-G=170",
            )
        found[code] = float(to_si(value, unit))
    return found


def _each(
    record: "Record", products: tuple[str, ...], choices: "Choices"
) -> tuple["Formulated", ...]:
    from bedstone.desk.formula_answer import formulate as solve
    from bedstone.formulation.odds_ranges import with_ranges

    found = []
    with progress() as say:
        for done, product in enumerate(products):
            say(f"Formulating {product}", done, len(products))
            one = solve(record, product, choices)
            if len(products) == 1 and one.answer is not None:
                say(f"Price ranges of {product}", done, len(products))
                one = replace(one, answer=with_ranges(one.asked.problem, one.answer))
            found.append(one)
    return tuple(found)


def _kept(
    record: "Record", found: tuple["Formulated", ...], why: str, *, by: str, at: "dt.datetime"
) -> dict[str, int]:
    """The versions that were kept as drafts, by product."""
    from bedstone.desk.formula_answer import parts_of
    from bedstone.desk.formula_versions import draft_formula

    return {
        one.asked.product: draft_formula(
            record,
            one.asked.product,
            parts_of(one.weighed.shares if one.weighed is not None else one.answer.shares),
            why=why,
            by=by,
            at=at,
        )
        for one in found
        if one.answer is not None
    }


def _say(
    mill: "Mill",
    found: tuple["Formulated", ...],
    kept: dict[str, int],
    *,
    out: Path | None,
    as_json: bool,
) -> None:
    from bedstone.cli.formula_files import write_tables
    from bedstone.cli.formula_words import print_formula, print_formulas
    from bedstone.desk.formula_plain import formula_tables, formulated_plain

    written = [] if out is None else write_tables(out, formula_tables(found))
    if as_json:
        print_json(
            [
                {**formulated_plain(one), "draft_version": kept.get(one.asked.product)}
                for one in found
            ]
        )
        return
    if len(found) == 1:
        print_formula(mill, found[0])
    else:
        print_formulas(mill, found)
    for product, version in kept.items():
        click.echo(f"{mill.name_of(product)}: kept as draft, version {version}.")
    for path in written:
        note(f"written: {path}")


def _week(
    record: "Record",
    mill: "Mill",
    products: tuple[str, ...],
    choices: "Choices",
    *,
    at: "dt.datetime",
    out: Path | None,
    as_json: bool,
) -> None:
    from bedstone.cli.formula_files import write_tables
    from bedstone.cli.formula_words import print_week
    from bedstone.desk.formula_plain import week_plain, week_tables
    from bedstone.desk.formula_week import formulate_week, week_tonnes

    for product in products:
        mill.product(product)
    tonnes = {
        product: mass_t
        for product, mass_t in week_tonnes(record, at).items()
        if not products or product in products
    }
    with progress() as say:
        say(f"Formulating {len(tonnes)} products together", 0, 0)
        week = formulate_week(record, tonnes, choices)
    written = [] if out is None else write_tables(out, week_tables(week))
    if as_json:
        print_json(week_plain(week))
        return
    print_week(mill, week)
    for path in written:
        note(f"written: {path}")
