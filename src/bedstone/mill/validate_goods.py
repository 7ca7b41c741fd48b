"""Ingredients, contents, limits, guarantees and rates: bounds that must agree."""

import itertools
from collections.abc import Iterator

from bedstone.errors import Fault
from bedstone.mill.cells import near_words
from bedstone.mill.goods import Guarantee, Ingredient, Limit, Rate
from bedstone.mill.residue_places import way_of
from bedstone.mill.validate_places import Check
from bedstone.mill.validate_ways import closing_edges

__all__ = ["goods_rules"]


def goods_rules(check: Check) -> Iterator[Iterator[Fault]]:
    """Yield the rules of ingredients, limits, guarantees and rates."""
    yield _ground_cycles(check)
    if check.whole("machines"):
        yield _can_be_ground(check)
    for at, limit in check.each(Limit):
        yield _whose(check, at, limit)
        yield _amounts(check, at, limit)
        if check.whole("products"):
            yield _species(check, at, limit)
    for at, guarantee in check.each(Guarantee):
        yield _guarantee(check, at, guarantee)
    for at, rate in check.each(Rate):
        yield _hours(check, at, rate)
        yield _hours_overlap(check, at, rate)
        if check.whole("products", "machines"):
            yield _on_the_route(check, at, rate)


def _ground_cycles(check: Check) -> Iterator[Fault]:
    edges = {
        row.ingredient: [(row.ground_from, at)]
        for at, row in check.each(Ingredient)
        if row.ground_from
    }
    for at, cycle in closing_edges(edges):
        yield check.fault(
            Ingredient,
            at,
            "ground_from",
            found=f"an ingredient ground from itself: {' > '.join(cycle)}",
            allowed="an ingredient that is bought",
        )


def _can_be_ground(check: Check) -> Iterator[Fault]:
    if any(row.kind == "grinder" for row in check.machines.values()):
        return
    for at, row in check.each(Ingredient):
        if row.ground_from:
            yield check.fault(
                Ingredient,
                at,
                "ground_from",
                found=f"{row.ground_from}, but the mill has no grinder",
                allowed="an empty cell where machines.csv has no grinder",
            )


def _whose(check: Check, at: int, row: Limit) -> Iterator[Fault]:
    if bool(row.product) == bool(row.species):
        yield check.fault(
            Limit,
            at,
            "product",
            found="both a product and a species" if row.product else "neither product nor species",
            allowed="exactly one of the two",
            do="empty one of the cells" if row.product else "name the product or the species",
        )


def _amounts(check: Check, at: int, row: Limit) -> Iterator[Fault]:
    wanted = {"level": "level_mg_kg", "procedure": "flush_kg"}.get(row.kind)
    for field in ("level_mg_kg", "flush_kg"):
        value = getattr(row, field)
        if field == wanted and value is None:
            yield check.fault(
                Limit,
                at,
                field,
                found="an empty cell",
                allowed=f"a number above 0: a limit of kind {row.kind} needs it",
                do="a zero level is never reckoned: use procedure, clean-out or never"
                if row.kind == "level"
                else "",
            )
        if field != wanted and value is not None:
            yield check.fault(
                Limit,
                at,
                field,
                found=f"{check.shown(Limit, field, value)} in a limit of kind {row.kind}",
                allowed="an empty cell: only a level has a level, only a procedure a flush",
            )


def _species(check: Check, at: int, row: Limit) -> Iterator[Fault]:
    species = {product.species for product in check.products.values()}
    if row.species and row.species not in species:
        yield check.fault(
            Limit,
            at,
            "species",
            found=f'"{row.species}", for which no product is made',
            allowed=f"a species of products.csv: {', '.join(sorted(species))}",
            do=near_words(row.species, species) or "correct it, or take the limit out",
        )


def _guarantee(check: Check, at: int, row: Guarantee) -> Iterator[Fault]:
    if row.minimum is None and row.maximum is None:
        yield check.fault(
            Guarantee,
            at,
            "minimum",
            found="neither minimum nor maximum",
            allowed="at least one of the two",
        )
    elif row.minimum is not None and row.maximum is not None and row.minimum > row.maximum:
        yield check.fault(
            Guarantee,
            at,
            "minimum",
            found=f"a minimum of {row.minimum:g} above the maximum of {row.maximum:g}",
            allowed="a minimum up to the maximum",
        )


def _hours(check: Check, at: int, row: Rate) -> Iterator[Fault]:
    if row.start_hour >= row.end_hour:
        yield check.fault(
            Rate,
            at,
            "end_hour",
            found=f"hours {row.start_hour} to {row.end_hour}",
            allowed="an end later than the start",
            do="write hours over midnight as two rows",
        )


def _hours_overlap(check: Check, at: int, row: Rate) -> Iterator[Fault]:
    for before, other in itertools.islice(check.each(Rate), at):
        if (other.product, other.machine) != (row.product, row.machine):
            continue
        if row.start_hour == other.start_hour:
            continue  # said as a key that stands twice
        if other.start_hour < row.end_hour and row.start_hour < other.end_hour:
            yield check.fault(
                Rate,
                at,
                "start_hour",
                found=f"hours {row.start_hour} to {row.end_hour}, which overlap "
                f"{check.row_of(Rate, before)} ({other.start_hour} to {other.end_hour})",
                allowed="hours of a product on a machine that do not overlap",
            )


def _on_the_route(check: Check, at: int, row: Rate) -> Iterator[Fault]:
    product = check.products.get(row.product)
    if product is None or row.machine not in check.machines:
        return
    codes = {code for step in way_of(product.route) for code in step}
    if row.machine not in codes:
        yield check.fault(
            Rate,
            at,
            "machine",
            found=f"{row.machine}, which is not on the route of {row.product}",
            allowed=f"a machine of {product.route}",
            do=near_words(row.machine, codes),
        )
