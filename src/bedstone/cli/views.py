"""Commands that only look: orders, stock, trace."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from bedstone.cli.answer import print_json, print_table, table
from bedstone.cli.parts import Parts
from bedstone.cli.reach import directory_argument, json_option, open_mill, read_moment
from bedstone.cli.words import clock_text, mass_text, ratio_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from bedstone.mill.model import Mill
    from bedstone.tracing.model import TraceLink

__all__ = ["orders", "stock", "trace"]

OPEN = ("open",)


@click.command(epilog="Example: bedstone orders demo-mill")
@directory_argument
@click.option(
    "--all", "every", is_flag=True, help="Orders that are made, shipped or cancelled too."
)
@json_option
@click.pass_obj
def orders(parts: Parts, directory: Path, *, every: bool, as_json: bool) -> None:
    """Show the open orders with what is made of them."""
    from bedstone.desk.orders import all_orders
    from bedstone.desk.tables import current_mill

    record = open_mill(parts, directory)
    mill = current_mill(record)
    standings = tuple(item for item in all_orders(record) if every or item.status in OPEN)
    if as_json:
        print_json(standings)
        return
    made = table(
        f"{'Orders' if every else 'Open orders'} of {mill.settings.name}",
        *("Order", "Customer", "Product", "Mass", "Made", "Pack", "Due", "Status"),
        right=("Mass", "Made"),
    )
    for item in standings:
        order = item.order
        made.add_row(
            order.order,
            mill.name_of(order.customer),
            mill.name_of(order.product),
            mass_text(round(order.mass_kg * 1e6), mill.settings),
            mass_text(item.made_mg, mill.settings),
            order.pack,
            clock_text(order.due_at, mill.settings),
            item.status,
        )
    print_table(made)


@click.command(epilog="Example: bedstone stock demo-mill --at 2026-11-20T06:00")
@directory_argument
@click.option("--at", metavar="TIME", help="A past moment, in the mill's time. Default: now.")
@json_option
@click.pass_obj
def stock(parts: Parts, directory: Path, *, at: str | None, as_json: bool) -> None:
    """Show what lies in each bin, now or at a past moment."""
    from bedstone.desk.stock import must_have_been, stock_table
    from bedstone.desk.tables import current_mill

    record = open_mill(parts, directory)
    mill = current_mill(record)
    moment = read_moment(at, mill) if at else None
    if moment is not None:
        must_have_been(moment, parts.clock(), mill)
    rows = stock_table(record, moment)
    if as_json:
        print_json(rows)
        return
    when = clock_text(moment, mill.settings) if moment else "now"
    made = table(
        f"Stock of {mill.settings.name}, {when}",
        *("Place", "Name", "Kind", "Material", "Mass", "Full", "Finding"),
        right=("Mass", "Full"),
    )
    for row in rows:
        made.add_row(
            row.place,
            row.place_name,
            row.kind,
            row.material_name,
            mass_text(row.mass_mg, mill.settings),
            ratio_text(row.mass_mg / row.capacity_mg) if row.capacity_mg else "",
            row.finding,
        )
    print_table(made)


@click.command(epilog="Example: bedstone trace demo-mill R-4099")
@directory_argument
@click.argument("lot", metavar="LOT")
@json_option
@click.pass_obj
def trace(parts: Parts, directory: Path, lot: str, *, as_json: bool) -> None:
    """Trace a lot: what went into it, and where it went.

    Each link says whether it is certain, possible, or carry-over left in a machine.
    """
    from bedstone.desk.tables import current_mill
    from bedstone.desk.trace import trace as trace_lot

    record = open_mill(parts, directory, compare=False)
    mill = current_mill(record)
    found = trace_lot(record, lot)
    if as_json:
        print_json(found)
        return
    click.echo(f"{found.lot}: {found.kind} of {mill.name_of(found.material)}")
    _print_links("What went into it", found.back, mill)
    _print_links("Where it went", found.forward, mill)


def _print_links(title: str, links: "Sequence[TraceLink]", mill: "Mill") -> None:
    if not links:
        click.echo(f"{title}: nothing recorded.")
        return
    made = table(
        title, "Lot", "Material", "How sure", "Mass", "Through", "When", "Firm", right=("Mass",)
    )
    for link in links:
        made.add_row(
            "  " * max(link.depth - 1, 0) + link.lot,
            mill.name_of(link.material),
            str(link.degree),
            mass_text(link.mass_mg, mill.settings) if link.mass_mg is not None else "",
            link.through,
            clock_text(link.happened_at, mill.settings),
            mill.name_of(link.firm) if link.firm else "",
        )
    print_table(made)
