"""The command for lists of orders as customers send them."""

from pathlib import Path

import click

from bedstone.cli.answer import print_json, print_table, table
from bedstone.cli.parts import Parts
from bedstone.cli.reach import by_option, directory_argument, json_option, open_mill, signer
from bedstone.cli.words import MG_IN_KG, clock_text, counted, mass_text

__all__ = ["import_orders"]


@click.command(
    "import-orders",
    epilog="Example: bedstone import-orders demo-mill demo-mill/lists/depot.csv --mapping depot "
    "--dry-run",
)
@directory_argument
@click.argument("file", metavar="FILE", type=click.Path(path_type=Path, dir_okay=False))
@click.option(
    "--mapping",
    metavar="NAME",
    required=True,
    help="Section of order_mappings.toml in DIR that says how the list is read.",
)
@click.option("--dry-run", is_flag=True, help="Only show what was understood; record nothing.")
@by_option
@json_option
@click.pass_obj
def import_orders(
    parts: Parts,
    directory: Path,
    file: Path,
    *,
    mapping: str,
    dry_run: bool,
    by: str | None,
    as_json: bool,
) -> None:
    """Record the orders of a customer's own list, a CSV or an .xlsx file.

    A mapping says which of their columns stands for which of ours. What was understood is shown row
    by row; every fault is named before anything is recorded. Orders merge by number: the same list
    again changes nothing, an order that is missing from it stays.
    """
    from bedstone.desk.import_orders import keep_orders, read_orders
    from bedstone.desk.tables import current_mill

    record = open_mill(parts, directory)
    mill = current_mill(record)
    person = "" if dry_run else signer(by, mill, act="order")
    at = parts.clock()
    read = read_orders(record, *parts.read_orders(directory, file, mapping), at=at)
    kept = 0 if dry_run else keep_orders(record, read, by=person, at=at)
    if as_json:
        print_json({"read": read, "recorded": kept, "dry_run": dry_run})
        return
    shown = table(
        f"{read.file} as understood by the mapping {read.mapping}",
        *("Row", "Order", "Customer", "Product", "Mass", "Pack", "Due", "In the record"),
        right=("Row", "Mass"),
    )
    for row in read.rows:
        order = row.order
        shown.add_row(
            str(row.row),
            order.order,
            order.customer,
            order.product,
            mass_text(round(order.mass_kg * MG_IN_KG), mill.settings),
            order.pack,
            clock_text(order.due_at, mill.settings),
            row.standing + (f": {row.change}" if row.change else ""),
        )
    print_table(shown)
    new = counted(len(read.to_keep), "order")
    if dry_run:
        click.echo(f"{new} would be recorded; nothing was (--dry-run).")
    else:
        click.echo(f"{counted(kept, 'order')} recorded, signed by {person}.")
