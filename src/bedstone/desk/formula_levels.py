"""What is known of each ingredient's nutrients: by the tables, by the last assays, by the bins.

A level that nothing says stays unknown. Where the mill's own laboratory has a value it goes before
the tables; where it has none, the tables' value stands.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum

from bedstone.desk.assays import AssaySummary, assays, summarise
from bedstone.desk.formula_lying import LyingLot, lots_in, lying_lots
from bedstone.desk.record import Record
from bedstone.desk.revisions import counted, current_mill
from bedstone.formulation.levels import DRY_MATTER
from bedstone.formulation.model import NutrientLevel
from bedstone.materials.library import library
from bedstone.mill.model import Assay, Mill

__all__ = ["MOISTURE", "Composed", "Known", "known_in", "known_levels", "table_levels"]

MOISTURE = "moisture"
PCT = 100.0
MG_IN_T = 1e9

Levels = Mapping[str, NutrientLevel]


class Composed(StrEnum):
    """Where compositions are taken from."""

    TABLES = "tables"
    ASSAYS = "assays"
    BINS = "bins"


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What is known of an ingredient, as fed; moisture wet basis with its sd.

    ``note`` says in words what a level "in the bins" was taken from.
    """

    levels: Levels
    moisture_wb: float
    moisture_sd: float | None = None
    note: str = ""
    lots: tuple[LyingLot, ...] = field(default=())


def known_levels(
    record: Record, materials: Iterable[str], *, composed: Composed, last: int = 10
) -> dict[str, Known]:
    """What is known of materials, by code.

    Parameters
    ----------
    record : Record
        The record with its tables and assays.
    materials : iterable of str
        Ingredients, or products that go into others.
    composed : Composed
        Tables; the last ``last`` lots that were assayed, else tables; or what lies in the bins
        now: each lot by its own assays, else by the last assays, else by the tables.
    last : int
        How many assayed lots count.

    Notes
    -----
    What lies in bins is blended by the nominal masses of its lots. A bin that mixes what is in it
    gives the blend, and its sd is that of a weighted mean. Any other bin gives its lots one after
    another, so that a batch may be of any one of them: the sd then holds what the lots differ by
    as well, each with the weight of its mass.
    """
    mill = current_mill(record)
    rows = () if composed is Composed.TABLES else assays(record)
    found = {code: _known(mill, code, _own(mill, rows, code), last) for code in materials}
    if composed is not Composed.BINS:
        return found
    lying = lying_lots(record, found)
    return {
        code: _in_bins(known, lying[code], _own(mill, rows, code)) for code, known in found.items()
    }


def known_in(record: Record, place: str, material: str, *, last: int = 10) -> Known:
    """What is known of a material as it lies in one bin now, as :func:`known_levels` has all bins."""
    mill = current_mill(record)
    own = _own(mill, assays(record), material)
    return _in_bins(_known(mill, material, own, last), lots_in(record, place, material), own)


def table_levels(mill: Mill, material: str) -> dict[str, NutrientLevel]:
    """Levels of a material as the composition table has them; of a product rolled up.

    Where the table has none of an ingredient, those of the library ingredient that the mill names
    for it stand in; their source says so.

    A product that goes into others and has no rows of its own is reckoned from its running
    formula: means add up, and so do variances of its parts (lots independent of one another). A
    nutrient that one of its parts lacks stays unknown.
    """
    own = {
        row.nutrient: NutrientLevel(
            mean=row.mean, unit=row.unit, sd=row.sd, assays=row.assays, source=row.source
        )
        for row in mill.composition
        if row.ingredient == material
    }
    formula = mill.running_formula(material)
    if material not in mill.product_by_code or formula is None:
        return {**_of_library(mill, material), **own}
    parts = [
        (line.parts_frac, table_levels(mill, line.ingredient))
        for line in mill.lines_of(material, formula.version)
    ]
    return {**_rolled_up(parts, f"its formula, version {formula.version}"), **own}


def _of_library(mill: Mill, ingredient: str) -> dict[str, NutrientLevel]:
    row = mill.ingredient_by_code.get(ingredient)
    if row is None or not row.library:
        return {}
    found = library().levels_of(row.library, dry_matter_frac=1.0 - row.moisture_wb)
    return {
        level.nutrient: NutrientLevel(
            mean=level.mean, unit=level.unit, sd=level.sd, source=level.source
        )
        for level in found
        if level.nutrient not in {MOISTURE, DRY_MATTER}  # the ingredients table says these
    }


def _rolled_up(
    parts: Sequence[tuple[float, Mapping[str, NutrientLevel]]], source: str
) -> dict[str, NutrientLevel]:
    shared = set.intersection(*(set(levels) for _, levels in parts)) if parts else set()
    rolled = {}
    for nutrient in sorted(shared):
        rows = [(share, levels[nutrient]) for share, levels in parts]
        if len({row.unit for _, row in rows}) > 1:
            continue
        unsure = any(row.sd is None for _, row in rows)
        rolled[nutrient] = NutrientLevel(
            mean=math.fsum(share * row.mean for share, row in rows),
            unit=rows[0][1].unit,
            sd=None if unsure else math.hypot(*(share * (row.sd or 0.0) for share, row in rows)),
            source=source,
        )
    return rolled


def _own(mill: Mill, rows: Sequence[Assay], material: str) -> list[Assay]:
    """Assays of a material, and of what it is ground from, as if all were of it."""
    row = mill.ingredient_by_code.get(material)
    same = {material, row.ground_from} if row is not None and row.ground_from else {material}
    return [replace(item, of=material) for item in rows if item.of in same]


def _known(mill: Mill, material: str, rows: Sequence[Assay], last: int) -> Known:
    levels = table_levels(mill, material)
    row = mill.ingredient_by_code.get(material)
    moisture = NutrientLevel(
        mean=PCT * (row.moisture_wb if row is not None else _moisture_of_product(mill, material)),
        unit="%",
        source="ingredients table",
    )
    levels[MOISTURE] = moisture
    for nutrient in sorted({item.nutrient for item in rows}):
        newest = _newest_lots([item for item in rows if item.nutrient == nutrient], last)
        levels[nutrient] = _from_assays(summarise(newest)[material, nutrient], levels.get(nutrient))
    wet = levels.pop(MOISTURE)
    return Known(
        levels=levels,
        moisture_wb=wet.mean / PCT,
        moisture_sd=None if wet.sd is None else wet.sd / PCT,
    )


def _moisture_of_product(mill: Mill, material: str) -> float:
    formula = mill.running_formula(material)
    lines = mill.lines_of(material, formula.version) if formula is not None else ()
    return sum(
        line.parts_frac
        * (
            mill.ingredient_by_code[line.ingredient].moisture_wb
            if line.ingredient in mill.ingredient_by_code
            else _moisture_of_product(mill, line.ingredient)
        )
        for line in lines
    )


def _newest_lots(rows: list[Assay], last: int) -> list[Assay]:
    """The results of the last so many lots that were sampled."""
    newest: dict[str, None] = {}
    for row in sorted(rows, key=lambda item: item.sampled_at, reverse=True):
        newest.setdefault(row.lot or f"{row.place} {row.sampled_at.isoformat()}")
    kept = set(list(newest)[:last])
    return [row for row in rows if (row.lot or f"{row.place} {row.sampled_at.isoformat()}") in kept]


def _from_assays(found: AssaySummary, table: NutrientLevel | None) -> NutrientLevel:
    """The mill's own mean; its own spread where there are two lots or more, else the tables'."""
    kin = table is not None and table.unit == found.unit
    spread = found.sd if found.sd is not None else table.sd if kin and table is not None else None
    return NutrientLevel(
        mean=found.mean,
        unit=found.unit,
        sd=spread,
        assays=found.assays,
        source=f"own assays, {counted(found.assays, 'lot')} up to {found.last_at.date()}"
        + ("" if found.sd is not None or spread is None else "; sd of the table"),
    )


def _in_bins(known: Known, lots: tuple[LyingLot, ...], rows: Sequence[Assay]) -> Known:
    """What lies in the bins now, each lot by its own assays where it has any."""
    total_mg = sum(lot.mass_mg for lot in lots)
    if not total_mg:
        return replace(
            known,
            note="nothing of it lies in a bin that feeds a mixer: the level of its assays or tables",
        )
    by_lot: dict[str, list[Assay]] = {}
    for row in rows:
        by_lot.setdefault(row.lot, []).append(row)
    wet = NutrientLevel(mean=PCT * known.moisture_wb, unit="%", sd=_times(known.moisture_sd, PCT))
    blended = {
        nutrient: _blend(nutrient, level, lots, by_lot)
        for nutrient, level in {**known.levels, MOISTURE: wet}.items()
    }
    wet = blended.pop(MOISTURE)
    assayed = sum(bool(lot.lot and by_lot.get(lot.lot)) for lot in lots)
    bins = counted(len({lot.place for lot in lots}), "bin")
    return Known(
        levels=blended,
        moisture_wb=wet.mean / PCT,
        moisture_sd=_times(wet.sd, 1 / PCT),
        note=f"{total_mg / MG_IN_T:.3g} t in {bins}: {counted(len(lots), 'lot')}, "
        f"{assayed} of them assayed",
        lots=lots,
    )


def _times(value: float | None, factor: float) -> float | None:
    return None if value is None else value * factor


def _blend(
    nutrient: str,
    level: NutrientLevel,
    lots: tuple[LyingLot, ...],
    by_lot: Mapping[str, list[Assay]],
) -> NutrientLevel:
    total_mg = sum(lot.mass_mg for lot in lots)
    rows = []
    assayed = 0
    for lot in lots:
        own = [row for row in by_lot.get(lot.lot or "", ()) if row.nutrient == nutrient]
        assayed += bool(own)
        mean, sd = _lot_level(own, level)
        rows.append((lot, lot.mass_mg / total_mg, mean, sd))
    mean = math.fsum(share * lot_mean for _, share, lot_mean, _ in rows)
    unsure = any(sd is None for *_, sd in rows)
    return NutrientLevel(
        mean=mean,
        unit=level.unit,
        sd=None if unsure else math.sqrt(_variance(rows, mean)),
        source=f"in the bins: {assayed} of {len(lots)} lots assayed; the others by {level.source}"
        if assayed < len(lots)
        else f"in the bins: all {len(lots)} lots assayed",
    )


def _lot_level(own: list[Assay], level: NutrientLevel) -> tuple[float, float | None]:
    """Mean and sd of one lot: its own results, or what is known of such lots.

    A result of which the method's own sd is not given counts with the spread between lots: it is
    known to be no better than that.
    """
    own = [row for row in own if row.unit == level.unit]
    if not own:
        spread = level.sd
        if spread is not None and level.assays:
            spread *= math.sqrt(1 + 1 / level.assays)
        return level.mean, spread
    mean = math.fsum(row.value for row in own) / len(own)
    sds = [level.sd if row.sd is None else row.sd for row in own]
    if any(sd is None for sd in sds):
        return mean, None
    return mean, math.hypot(*(sd or 0.0 for sd in sds)) / len(own)


def _variance(rows: Sequence[tuple[LyingLot, float, float, float | None]], mean: float) -> float:
    """Variance of what a batch gets: see the notes of :func:`known_levels`."""
    mixed: dict[str, list[tuple[float, float, float]]] = {}
    total = 0.0
    for lot, share, lot_mean, sd in rows:
        if lot.mixes:
            mixed.setdefault(lot.place, []).append((share, lot_mean, sd or 0.0))
        else:
            total += share * ((sd or 0.0) ** 2 + (lot_mean - mean) ** 2)
    for parts in mixed.values():
        whole = math.fsum(share for share, _, _ in parts)
        bin_mean = math.fsum(share * lot_mean for share, lot_mean, _ in parts) / whole
        within = math.fsum((share / whole * sd) ** 2 for share, _, sd in parts)
        total += whole * (within + (bin_mean - mean) ** 2)
    return total
