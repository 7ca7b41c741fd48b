"""Stock as the day's plan needs it: what is on the books, less what batches under way will take."""

import datetime as dt

from bedstone.batching.model import Layer, Stock
from bedstone.desk.lots_lying import layers_now
from bedstone.desk.made import made_batches, started_batches
from bedstone.desk.plans import batch_of, find_plan
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.ledger.layers import Layers
from bedstone.ledger.model import is_outside
from bedstone.mill.model import Mill
from bedstone.mill.plan import Batch

__all__ = ["lying_lots", "stock_to_plan", "under_way"]

Lines = dict[tuple[str, str], int]


def under_way(record: Record) -> tuple[Batch, ...]:
    """Batches that have begun and are not on record as made, as their plans have them."""
    made = made_batches(record)
    return tuple(
        batch_of(find_plan(record, begun.plan).plan, begun.batch)
        for begun in started_batches(record).values()
        if begun.batch not in made
    )


def stock_to_plan(record: Record, *, but: str = "") -> Lines:
    """Mass of each material in each bin, as if the batches under way were made as planned, all
    but one that may be named. [mg]
    """
    bins = current_mill(record).bin_by_code
    lines: Lines = {
        (line.place, line.material): line.mass_mg
        for line in record.stock()
        if line.place in bins and not is_outside(line.place)
    }
    for batch in under_way(record):
        if batch.batch == but:
            continue
        for draw in batch.draws:
            key = (draw.from_place, draw.ingredient)
            lines[key] = lines.get(key, 0) - draw.target_mg
        end = (batch.destination, batch.material)
        lines[end] = lines.get(end, 0) + batch.mass_mg
    return lines


def lying_lots(record: Record, stock_mg: Lines) -> Stock:
    """Lots of each line of stock, oldest first, adding up to it."""
    mill = current_mill(record)
    layers = layers_now(record)
    materials: dict[str, list[str]] = {}
    for (place, material), mass_mg in stock_mg.items():
        if mass_mg > 0:
            materials.setdefault(place, []).append(material)
    material_of = {lot.lot: lot.material for lot, _ in record.lots()}
    found: dict[tuple[str, str], tuple[Layer, ...]] = {}
    for place, listed in materials.items():
        for material in listed:
            mine = _layers_of(mill, layers, place, material=material, alone=len(listed) == 1,
                              material_of=material_of)  # fmt: skip
            found[place, material] = _adding_up(mine, stock_mg[place, material])
    return found


def _layers_of(
    mill: Mill,
    layers: Layers,
    place: str,
    *,
    material: str,
    alone: bool,
    material_of: dict[str, str],
) -> list[Layer]:
    """Layers of one material in a place, oldest first."""
    ingredient = mill.ingredient_by_code.get(material)
    names = {material, ingredient.ground_from if ingredient else material}
    rows = [
        Layer(lot=layer.lot or "", mass_mg=layer.mass_mg, since_at=layer.happened_at)
        for layer in layers.layers(place)
        if alone or material_of.get(layer.lot or "") in names
    ]
    rows.sort(key=lambda row: row.since_at)
    return rows


def _adding_up(rows: list[Layer], mass_mg: int) -> tuple[Layer, ...]:
    """Layers cut from the oldest, or with one of unknown lot, so that they add up to the stock."""
    too_much = sum(row.mass_mg for row in rows) - mass_mg
    if too_much < 0:
        since = rows[-1].since_at if rows else dt.datetime.min.replace(tzinfo=dt.UTC)
        return (*rows, Layer(lot="", mass_mg=-too_much, since_at=since))
    kept: list[Layer] = []
    for row in rows:
        cut = min(too_much, row.mass_mg)
        too_much -= cut
        if row.mass_mg > cut:
            kept.append(Layer(lot=row.lot, mass_mg=row.mass_mg - cut, since_at=row.since_at))
    return tuple(kept)
