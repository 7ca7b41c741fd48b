"""Feed stays on the ways of its product, and off what must never handle what is in it."""

from collections.abc import Iterable

from bedstone.desk.drawn import Contents, worse
from bedstone.desk.made import made_batches
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import Refused
from bedstone.mill.model import Limit, Mill
from bedstone.mill.residue_places import way_of

__all__ = ["refuse_off_way"]


def refuse_off_way(
    record: Record, batches: Iterable[str], *, product: str, places: tuple[str, ...], act: str
) -> None:
    """Refuse a machine or bin that is on none of a product's ways, or, where the batches were
    planned another way, one that must never handle what is in them.

    ``places`` are named in the order in which the feed comes to them.
    """
    mill = current_mill(record)
    made = [row for batch in batches if (row := made_batches(record).get(batch)) is not None]
    planned = {row.made.route for row in made}
    if planned and all(_goes([(code,) for code in route], places) for route in planned):
        return
    known = mill.product_by_code.get(product)
    route = known.route if known is not None else ""
    if not _goes(way_of(route), places):
        raise Refused(
            f"{mill.name_of(product)} cannot have been {act} over {_named(mill, places)}: no way "
            "of it goes there.",
            seen=" > ".join(places),
            allowed=route or "no way is known",
            do="say over which machine it really went; if it did go there, hold it and what came "
            "after it, and put the way into the tables",
        )
    contents = Contents(record)
    own = worse(*(contents.of_made(item) for item in made) if made else (contents.of(product),))
    for place in places:
        if any(place in route for route in planned):
            continue
        limit = _never(mill, place, {code for code, value in own.items() if value > 0})
        if limit is not None:
            substance = mill.substance_by_code[limit.substance].name.lower()
            raise Refused(
                f"{mill.name_of(place)} must never handle {substance}, which is in "
                f"{mill.name_of(product)}.",
                source=limit.source,
                do="run it the way that is planned",
            )


def _goes(steps: Iterable[tuple[str, ...]], places: tuple[str, ...]) -> bool:
    """True when a way, each step with its alternatives, leads over places in their order."""
    left = iter(steps)
    return all(any(place in step for step in left) for place in places)


def _named(mill: Mill, places: tuple[str, ...]) -> str:
    return ", ".join(mill.name_of(place) for place in places)


def _never(mill: Mill, place: str, substances: set[str]) -> Limit | None:
    """The limit by which a place must never handle one of these substances."""
    for limit in mill.limits:
        if limit.kind != "never" or limit.substance not in substances:
            continue
        for product in mill.products:
            concerned = limit.product == product.product or (
                limit.species and limit.species == product.species
            )
            if concerned and any(place in step for step in way_of(product.route)):
                return limit
    return None
