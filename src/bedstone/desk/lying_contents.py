"""What lies of products that go into others contains: by how it was made, not by what is made now."""

from collections.abc import Mapping

from bedstone.desk.drawn import any_version, worse
from bedstone.desk.lots_lying import read_now
from bedstone.desk.machines import came_out_of
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.mill.model import Mill

__all__ = ["lying_contents"]


def lying_contents(record: Record) -> dict[str, Mapping[str, float]]:
    """The most of each substance in any lot that lies of a product that goes into others [mg/kg].

    A lot of which a batch is on record counts with what was weighed into it and what it carried
    along; one of which nothing is known as any version of its formula that was ever approved.
    """
    mill = current_mill(record)
    inside = {row.ingredient for row in mill.formula_lines} & mill.product_by_code.keys()
    if not inside:
        return {}
    lots = _lots(record, mill, inside)
    known = came_out_of(record, {lot for _, lot in lots if lot})
    found: dict[str, Mapping[str, float]] = {}
    for product, lot in sorted(lots):
        contents = worse(*known[lot]) if lot in known else any_version(mill, product)
        found[product] = worse(found.get(product, {}), contents)
    return found


def _lots(record: Record, mill: Mill, inside: set[str]) -> set[tuple[str, str]]:
    """Lots, nameless ones too, of these products that lie, or may lie, where they are drawn."""
    drawn_from = {row.bin for row in mill.bins if row.kind not in ("surge", "flush")}
    material_of = {lot.lot: lot.material for lot, _ in record.lots()}
    there = {
        (line.place, line.material)
        for line in record.stock()
        if line.mass_mg > 0 and line.place in drawn_from and line.material in inside
    }
    possible = read_now(
        record, lambda layers, _: {place: layers.possible_lots(place) for place, _ in there}
    )
    return {
        (product, lot or "")
        for place, product in there
        for lot in possible[place] or ("",)
        if material_of.get(lot or "", product) == product
    }
