"""Stock and free times as the day's plan needs them: the books, and what is on its way.

What has been mixed by the plan in force and not been packed yet still stands in surge and
finished bins on the books. For a further plan it counts as going on as the plan in force says:
feed for an order leaves its bins, feed for stock reaches its bin, lines and bins are busy so long.
Feed of earlier days that the books still have in a bin does lie there, and keeps it.
"""

import datetime as dt
from collections.abc import Mapping

from bedstone.batching.model import Layer, Stock
from bedstone.desk.lots_lying import lying_now
from bedstone.desk.made import BatchOnRecord, StartedBatch, made_batches, started_batches
from bedstone.desk.plans import batch_of, find_plan, released_plan
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.mill.model import Mill
from bedstone.mill.plan import BarKind, Batch, BatchKind, Plan

__all__ = ["free_times", "lying_lots", "stock_to_plan", "under_way"]

Lines = dict[tuple[str, str], int]


def under_way(record: Record) -> tuple[Batch, ...]:
    """Batches that have begun and are not on record as made, as their plans have them."""
    made = made_batches(record)
    return tuple(
        batch_of(find_plan(record, begun.plan).plan, begun.batch)
        for begun in started_batches(record).values()
        if begun.batch not in made
    )


def stock_to_plan(record: Record, *, day: dt.date, but: str = "") -> Lines:
    """Mass of each material in each bin once what is on its way on a day has gone on, batches
    under way included, all but one that may be named. [mg]
    """
    mill = current_mill(record)
    lines: Lines = {
        (line.place, line.material): line.mass_mg
        for line in record.stock()
        if line.place in mill.bin_by_code
    }
    going = {code: row for code, row in _in_force(record, day).items() if code != but}
    lying = lying_now(record)
    for row in mill.bins:
        if row.kind not in ("surge", "finished"):
            continue
        for layer in lying.get(row.bin, ()):
            if layer.lot in going:
                batch, is_for_stock = going[layer.lot]
                _add(lines, (row.bin, batch.material), -layer.mass_mg)
                if is_for_stock:
                    _add(lines, (batch.destination, batch.material), layer.mass_mg)
    for batch in under_way(record):
        if batch.batch == but:
            continue
        for draw in batch.draws:
            _add(lines, (draw.from_place, draw.ingredient), -draw.target_mg)
        leaves = batch.batch in going and not going[batch.batch][1]
        if batch.kind is BatchKind.FLUSH or not leaves:
            _add(lines, (batch.destination, batch.material), batch.mass_mg)
    return lines


def free_times(record: Record, *, day: dt.date) -> Mapping[str, dt.datetime]:
    """Until when machines and bins are busy with what has begun by the plan in force. A run that
    began late is late by as much on every line.
    """
    standing = released_plan(record, day)
    if standing is None:
        return {}
    plan = standing.plan
    made, started = made_batches(record), started_batches(record)
    free: dict[str, dt.datetime] = {}
    for run in plan.runs:
        rows = [
            row
            for row in plan.batches
            if row.batch in run.batches and (row.batch in made or row.batch in started)
        ]
        late = max((_late(row, made, started) for row in rows), default=dt.timedelta(0))
        busy = _busy(plan, run.run, len(rows) / len(run.batches))
        for row in rows:
            for code, until in _until(row, busy, is_made=row.batch in made).items():
                free[code] = max(free.get(code, until + late), until + late)
    return free


def _late(
    row: Batch, made: Mapping[str, BatchOnRecord], started: Mapping[str, StartedBatch]
) -> dt.timedelta:
    """How much later than planned a batch was made, or has begun."""
    if row.batch in made:
        late = made[row.batch].happened_at - row.end_at
    else:
        late = started[row.batch].happened_at - row.start_at
    return max(late, dt.timedelta(0))


def _until(row: Batch, busy: Mapping[str, dt.datetime], *, is_made: bool) -> dict[str, dt.datetime]:
    """Until when each place along the way of a batch is busy: a bin until what comes after it."""
    found: dict[str, dt.datetime] = {}
    after = row.end_at
    for code in reversed(row.route[1:]):
        after = found[code] = busy.get(code, after)
    if not is_made:
        found[row.mixer] = row.end_at
    return found


def _busy(plan: Plan, run: str, part: float) -> dict[str, dt.datetime]:
    """Lines that a run uses, until the part of it that has begun is through."""
    return {
        bar.machine: bar.start_at + (bar.end_at - bar.start_at) * part
        for bar in plan.bars
        if bar.about == run and bar.kind is BarKind.RUN
    }


def _in_force(record: Record, day: dt.date) -> dict[str, tuple[Batch, bool]]:
    """Batches of the plan in force, and of plans of the day by which any began; is it for stock."""
    standing = released_plan(record, day)
    if standing is None:
        return {}
    codes = {row.plan for row in started_batches(record).values()}
    codes |= {row.made.plan for row in made_batches(record).values()}
    prefix = f"P-{day.isoformat()}-"
    earlier = sorted(code for code in codes if code.startswith(prefix))
    found: dict[str, tuple[Batch, bool]] = {}
    for code in (*earlier, standing.plan.plan):
        plan = find_plan(record, code).plan
        stock_runs = {run.run for run in plan.runs if run.pack == "stock"}
        found |= {row.batch: (row, row.run in stock_runs) for row in plan.batches}
    return found


def _add(lines: Lines, key: tuple[str, str], mass_mg: int) -> None:
    lines[key] = lines.get(key, 0) + mass_mg


def lying_lots(record: Record, stock_mg: Lines) -> Stock:
    """Lots of each line of stock, oldest first, adding up to it."""
    mill = current_mill(record)
    lying = lying_now(record)
    materials: dict[str, list[str]] = {}
    for (place, material), mass_mg in stock_mg.items():
        if mass_mg > 0:
            materials.setdefault(place, []).append(material)
    material_of = {lot.lot: lot.material for lot, _ in record.lots()}
    found: dict[tuple[str, str], tuple[Layer, ...]] = {}
    for place, listed in materials.items():
        for material in listed:
            alone = len(listed) == 1
            mine = [
                Layer(lot=layer.lot or "", mass_mg=layer.mass_mg, since_at=layer.happened_at)
                for layer in lying.get(place, ())
                if alone or material_of.get(layer.lot or "") in _names(mill, material)
            ]
            mine.sort(key=lambda row: row.since_at)
            found[place, material] = _adding_up(mine, stock_mg[place, material])
    return found


def _names(mill: Mill, material: str) -> set[str]:
    """A material and what it is ground from: lots keep their name through the grinder."""
    ingredient = mill.ingredient_by_code.get(material)
    return {material, ingredient.ground_from if ingredient else material}


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
