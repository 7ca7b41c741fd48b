"""Which lots of an ingredient lie where it is drawn from, by the layers of the ledger."""

from collections.abc import Iterable
from dataclasses import dataclass

from bedstone.desk.lots_lying import read_lying
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.ledger.layers import Layer
from bedstone.ledger.model import FlowPattern
from bedstone.mill.model import Bin, Mill

__all__ = ["LyingLot", "lots_in", "lying_lots"]

DRAWN_FROM = ("ingredient", "ground", "tank", "floor", "finished")


@dataclass(frozen=True, slots=True, kw_only=True)
class LyingLot:
    """A lot in a bin by its nominal mass; None is something that nobody booked.

    ``certain`` says that some of it is there whatever the errors of the weighings; ``mixes`` that
    the bin gives a blend of all that lies in it.
    """

    place: str
    lot: str | None
    mass_mg: int
    certain: bool
    mixes: bool


def lying_lots(record: Record, materials: Iterable[str]) -> dict[str, tuple[LyingLot, ...]]:
    """The lots of each material that lie in bins from which it is drawn, next to come out first.

    Layers of one lot in one bin count as one.
    """
    mill = current_mill(record)
    wanted = tuple(materials)
    material_of = {lot.lot: lot.material for lot, _ in record.lots()}
    places = [row for row in mill.bins if row.kind in DRAWN_FROM and row.feeds]
    lying = read_lying(
        record,
        lambda layers: {row.bin: layers.layers(row.bin) for row in places},
    )
    return {
        code: tuple(
            lot for row in places for lot in _of_bin(mill, row, lying[row.bin], code, material_of)
        )
        for code in wanted
    }


def lots_in(record: Record, place: str, material: str) -> tuple[LyingLot, ...]:
    """The lots of a material in one bin, drawn from for feed or not, next to come out first."""
    mill = current_mill(record)
    material_of = {lot.lot: lot.material for lot, _ in record.lots()}
    layers = read_lying(record, lambda found: found.layers(place))
    return tuple(_of_bin(mill, mill.bin_by_code[place], layers, material, material_of))


def _of_bin(
    mill: Mill, row: Bin, layers: tuple[Layer, ...], material: str, material_of: dict[str, str]
) -> list[LyingLot]:
    bought = mill.ingredient_by_code.get(material)
    same = {material, bought.ground_from} if bought is not None else {material}
    found: dict[str | None, tuple[int, bool]] = {}
    for layer in layers:
        of = material_of.get(layer.lot, row.holds) if layer.lot is not None else row.holds
        if of in same and row.holds in {material, ""} and layer.mass_mg > 0:
            mass_mg, certain = found.get(layer.lot, (0, False))
            found[layer.lot] = (mass_mg + layer.mass_mg, certain or layer.certain)
    return [
        LyingLot(
            place=row.bin,
            lot=lot,
            mass_mg=mass_mg,
            certain=certain,
            mixes=row.flow == FlowPattern.MIXED.value,
        )
        for lot, (mass_mg, certain) in found.items()
    ]
