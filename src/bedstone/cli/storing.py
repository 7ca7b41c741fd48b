"""Commands of bins and buying: bins, buying."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from bedstone.cli.answer import print_json, print_table, table
from bedstone.cli.parts import Parts
from bedstone.cli.reach import directory_argument, json_option, open_mill, read_moment
from bedstone.cli.words import clock_text, counted, mass_text
from bedstone.errors import BadInput
from bedstone.quantities.units import LB_KG

if TYPE_CHECKING:
    from bedstone.desk.buying import Coming
    from bedstone.desk.record import Record
    from bedstone.mill.model import Mill, Settings

__all__ = ["bins", "buying"]

MG_KG = 1e6
USD_T_OF_SHORT_TON = 0.90718474


@click.command(epilog="Example: bedstone bins demo-mill --for CORN --load 50000")
@directory_argument
@click.option("--for", "ingredient", metavar="CODE", help="Rank bins for a load of this.")
@click.option("--load", type=click.FloatRange(min=0, min_open=True), metavar="MASS",
              help="The load, in the mill's own unit (lb or kg).")  # fmt: skip
@click.option("--at", metavar="TIME", help="When it comes, in the mill's time. Default: now.")
@json_option
@click.pass_obj
def bins(
    parts: Parts,
    directory: Path,
    *,
    ingredient: str | None,
    load: float | None,
    at: str | None,
    as_json: bool,
) -> None:
    """Hold levels that were read against the books, or rank bins for a load with --for.

    Without --for: the last tape, gauge or weighing of each bin as mass, with its error, and what
    the books say. Nothing is recorded.
    """
    from bedstone.desk.tables import current_mill

    record = open_mill(parts, directory)
    mill = current_mill(record)
    if ingredient is None:
        if load is not None or at is not None:
            raise BadInput("Say what is loaded.", seen="no --for", allowed="--for CODE --load MASS")
        _levels(record, mill, as_json=as_json)
        return
    if load is None:
        raise BadInput("How much is on the truck?", seen="no --load", allowed="--load MASS")
    from bedstone.desk.bin_choice import rank_bins

    kg = load * (0.45359237 if mill.settings.units == "US" else 1.0)
    when = read_moment(at, mill) if at else parts.clock()
    choices = rank_bins(record, ingredient=ingredient, mass_mg=round(kg * MG_KG), at=when)
    if as_json:
        print_json(choices)
        return
    made = table(f"Bins for {mill.name_of(ingredient)}", "", "Bin", "Name", "Why")
    others = [choice for choice in choices if choice.is_kept_for_other]
    for choice in choices:
        if choice not in others:
            made.add_row(
                "may" if choice.possible else "no", choice.bin, choice.name, " ".join(choice.why)
            )
    print_table(made)
    if others:
        click.echo(f"Kept for other ingredients: {', '.join(choice.bin for choice in others)}.")


def _levels(record: "Record", mill: "Mill", *, as_json: bool) -> None:
    from bedstone.desk.level_masses import latest_levels, level_words

    rows = latest_levels(record)
    if as_json:
        print_json(rows)
        return
    made = table(
        f"Levels last read at {mill.settings.name}",
        *("Bin", "Read", "Reading", "Mass", "Give or take", "Books", "Finding"),
        right=("Mass", "Give or take", "Books"),
    )
    for row in rows:
        seen = row.seen
        made.add_row(
            row.level.place,
            clock_text(row.level.read_at, mill.settings),
            level_words(row.level, mill.settings.units),
            "" if seen is None else mass_text(round(seen.mass_kg * MG_KG), mill.settings),
            "" if seen is None else mass_text(round(seen.sd_kg * MG_KG), mill.settings),
            mass_text(row.book_mg, mill.settings),
            row.words if row.found is None or row.found.is_finding else "",
        )
    print_table(made)


@click.command(epilog="Example: bedstone buying demo-mill --suppliers")
@directory_argument
@click.option("--days", type=click.IntRange(1, 366), default=28, show_default=True,
              help="Days to look ahead.")  # fmt: skip
@click.option("--suppliers", is_flag=True, help="Supplier cards instead of the list.")
@json_option
@click.pass_obj
def buying(parts: Parts, directory: Path, *, days: int, suppliers: bool, as_json: bool) -> None:
    """Show what to order by when, in full trucks, or what each supplier's loads were like.

    Use counts by open orders, by the released plan and by the last four weeks, whichever is more.
    """
    from bedstone.desk.tables import current_mill

    record = open_mill(parts, directory)
    mill = current_mill(record)
    if suppliers:
        _cards(record, mill, parts, as_json=as_json)
        return
    from bedstone.desk.buying import buying_list

    rows = buying_list(record, at=parts.clock(), days=days)
    if as_json:
        print_json(rows)
        return
    made = table(
        f"What to buy for {mill.settings.name}",
        *("Order on", "Ingredient", "Trucks", "There on", "In stock", "A day", "Lasts", "Note"),
        right=("Trucks", "In stock", "A day", "Lasts"),
    )
    for row in rows:
        made.add_row(
            "" if row.order_on is None else row.order_on.isoformat(),
            row.name,
            str(row.comes[0].trucks) if row.comes else "",
            row.comes[0].on.isoformat() if row.comes else "",
            mass_text(round(row.stock_kg * MG_KG), mill.settings),
            mass_text(round(row.use_kg_day * MG_KG), mill.settings),
            f"over {days} d" if row.cover_days is None else f"{row.cover_days:.1f} d",
            " ".join(part for part in (row.note, _then(row.comes)) if part),
        )
    print_table(made)


def _then(comes: tuple["Coming", ...]) -> str:
    """The trucks after the first ones, as there is room for them."""
    later = [f"{one.trucks} on {one.on:%m-%d}" for one in comes[1:4]]
    if comes[4:]:
        later.append(f"{sum(one.trucks for one in comes[4:])} more by {comes[-1].on:%m-%d}")
    return f"Then {', '.join(later)}." if later else ""


def _cards(record: "Record", mill: "Mill", parts: Parts, *, as_json: bool) -> None:
    from bedstone.desk.supplier_cards import PRICED, supplier_cards

    cards = supplier_cards(record, at=parts.clock())
    if as_json:
        print_json(cards)
        return
    is_us = mill.settings.units == "US"
    unit, unit_kg = ("lb", float(LB_KG)) if is_us else ("kg", 1.0)
    figures = ("Loads", "Refused", "Price", "Short", "Shrink", "Protein", "Spread, %",
               f"USD/{unit} of it", "9 in 10")  # fmt: skip
    made = table(
        f"Suppliers of {mill.settings.name}", "Ingredient", "Supplier", *figures, right=figures
    )
    for card in cards:
        seen = next((row for row in card.nutrients if row.nutrient == PRICED), None)
        made.add_row(
            mill.name_of(card.ingredient),
            mill.name_of(card.supplier),
            str(card.loads),
            str(card.refused or ""),
            _price(card.price_usd_t, mill.settings),
            "" if card.short is None else f"{card.short.mean:.2f} %",
            "" if card.shrunk is None else f"{card.shrunk.mean:.2f} %",
            "" if seen is None else f"{seen.spread.mean:.2f} %",
            "" if seen is None or seen.spread.sd is None else f"{seen.spread.sd:.2f}",
            _usd(card.protein_usd_kg, unit_kg),
            _usd(card.protein_assured_usd_kg, unit_kg),
        )
    print_table(made)
    click.echo(
        f"{counted(len(cards), 'card')}. Short: what our scale found less than the seller's ticket; "
        f"shrink: what of our net was not paid. 9 in 10: cost of a {'pound' if is_us else 'kilogram'} "
        "of protein by the level that nine loads in ten reach."
    )


def _usd(usd_kg: float | None, unit_kg: float) -> str:
    return "" if usd_kg is None else f"${usd_kg * unit_kg:.3f}"


def _price(price_usd_t: float | None, settings: "Settings") -> str:
    if price_usd_t is None:
        return ""
    if settings.units == "US":
        return f"${price_usd_t * USD_T_OF_SHORT_TON:,.0f}/ton"
    return f"${price_usd_t:,.0f}/t"
