"""A flush that no plan has: before a batch that must not start because too little has passed."""

import datetime as dt

from bedstone.desk.appending import appended
from bedstone.desk.checks import must_be_bin, place_mg
from bedstone.desk.merged_rows import MG_IN_KG
from bedstone.desk.plans import PlanStanding, batch_of, find_plan
from bedstone.desk.record import Record
from bedstone.desk.record_batch import ActualDraw, batch_fact
from bedstone.desk.revisions import current_mill
from bedstone.desk.start_batch import may_start
from bedstone.errors import BadInput, Refused
from bedstone.ledger.model import Fact, Reading, Recorded
from bedstone.mill.mixing import mix_times
from bedstone.mill.model import Mill, Scale
from bedstone.mill.plan import Batch, BatchKind, Draw, Plan
from bedstone.mill.tolerances import scale_tolerance_mg
from bedstone.planning.paths import Paths
from bedstone.quantities.masses import shown_mass

__all__ = ["flush_bins", "flush_way", "record_extra_flush"]


def flush_bins(record: Record) -> tuple[str, ...]:
    """The bins out of which flush material can be drawn: kept for it, or it lies there."""
    mill = current_mill(record)
    material = mill.settings.flush_material
    lying = {
        line.place for line in record.stock() if line.material == material and line.mass_mg > 0
    }
    return tuple(
        row.bin
        for row in mill.bins
        if material and row.feeds and (row.holds == material or row.bin in lying)
    )


def flush_way(mill: Mill, plan: Plan, batch: Batch) -> tuple[str, ...]:
    """The way of a flush before a batch: that of the flush which the plan has before its run, else
    as far along the batch's own way as a place leads to the flush bin.
    """
    for row in plan.batches:
        if row.kind is BatchKind.FLUSH and (row.run, row.mixer) == (batch.run, batch.mixer):
            return row.route
    flush_bin = mill.settings.flush_bin
    lengths = [
        length
        for length, place in enumerate(batch.route, start=1)
        if (place, flush_bin) in mill.route_by_ends
    ]
    return batch.route[: max(lengths, default=len(batch.route))]


def record_extra_flush(
    record: Record,
    plan_id: str,
    batch_id: str,
    *,
    from_place: str,
    mass_mg: int,
    seen: Reading | None = None,
    by: str,
    at: dt.datetime,
) -> Recorded:
    """Record a flush that was run before a batch although the plan has none, or has not enough.

    Asks: a bin with flush material that a scale of the mixer draws from, and what was weighed. It
    takes the way of the flush that the plan has before the run, else the batch's own as far as a
    place leads to the flush bin. Refused when: the batch has begun or was made, its plan is not in
    force, another batch is open in the mixer, or the flush material may not go over that way.
    Records: ``batching.batch_made/1`` with an id such as "4106-01-flush-2".
    """
    mill = current_mill(record)
    if not mill.settings.flush_material or not mill.settings.flush_bin:
        raise Refused(
            "This mill has no flush material or no flush bin.", do="name them in mill.toml"
        )
    must_be_bin(mill, from_place)

    def act() -> Fact:
        standing = find_plan(record, plan_id)
        batch = batch_of(standing.plan, batch_id)
        may_start(record, standing, batch)
        flush = _flush(record, standing, batch, from_place=from_place, mass_mg=mass_mg)
        draws = (ActualDraw(sequence=1, actual_mg=mass_mg, seen=seen),)
        return batch_fact(mill, standing, flush, draws=draws, findings=(), by=by, at=at)

    return appended(record, act, at=at)


def _flush(
    record: Record, standing: PlanStanding, batch: Batch, *, from_place: str, mass_mg: int
) -> Batch:
    """The flush as a batch, if it can have been made."""
    mill = current_mill(record)
    material = mill.settings.flush_material
    scale = _scale(record, mill, batch, from_place)
    _must_fit(mill, batch, mass_mg)
    route = flush_way(mill, standing.plan, batch)
    barred = set(Paths(mill).never_flushed()).intersection(route)
    if barred:
        raise Refused(
            f"{mill.name_of(material)} must not go over {mill.name_of(min(barred))}: it holds what "
            "a feed on that way must never meet.",
            do="clean it out by hand instead",
        )
    division_mg = round(scale.division_kg * MG_IN_KG)
    mixed = mix_times(mill, batch.mixer, material=material, ingredients=())
    draw = Draw(
        sequence=1,
        ingredient=material,
        from_place=from_place,
        instrument=scale.scale,
        how="weighed",
        target_mg=mass_mg,
        tolerance_mg=scale_tolerance_mg(mass_mg, division_mg),
        division_mg=division_mg,
    )
    return Batch(
        batch=_free_id(record, batch),
        kind=BatchKind.FLUSH,
        run=batch.run,
        material=material,
        formula_version=None,
        mass_mg=mass_mg,
        mixer=batch.mixer,
        route=route,
        destination=mill.settings.flush_bin,
        draws=(draw,),
        dry_mix_s=mixed.dry_mix_s,
        wet_mix_s=0.0,
        start_at=batch.start_at,
        end_at=batch.start_at,
    )


def _scale(record: Record, mill: Mill, batch: Batch, from_place: str) -> Scale:
    """The largest scale of the mixer that draws from a bin in which there is flush material."""
    material = mill.settings.flush_material
    row = mill.bin_by_code[from_place]
    scales = [
        mill.scale_by_code[code]
        for code in row.feeds.split()
        if code in mill.scale_by_code and mill.scale_by_code[code].machine == batch.mixer
    ]
    lies = row.holds == material or place_mg(record, from_place).get(material, 0) > 0
    if not scales or not lies:
        raise BadInput(
            f"{mill.name_of(material)} cannot be drawn from {mill.name_of(from_place)} into "
            f"{mill.name_of(batch.mixer)}.",
            seen=mill.name_of(from_place),
            allowed=", ".join(flush_bins(record)) or "no bin has flush material",
        )
    return max(scales, key=lambda scale: (scale.capacity_kg, scale.scale))


def _must_fit(mill: Mill, batch: Batch, mass_mg: int) -> None:
    most_mg = round((mill.machine_by_code[batch.mixer].mass_max_kg or 0.0) * MG_IN_KG)
    if not 0 < mass_mg <= most_mg:
        units = mill.settings.units
        raise BadInput(
            "So much cannot have been flushed at once.",
            seen=shown_mass(mass_mg, units=units),
            allowed=f"more than nothing and at most {shown_mass(most_mg, units=units)}, which "
            f"{mill.name_of(batch.mixer)} takes",
        )


def _free_id(record: Record, batch: Batch) -> str:
    """The next free id of a flush before a batch that no plan has; the plan's own is the first."""
    used = {row.lot for row, _ in record.lots()}
    number = 2
    while f"{batch.batch}-flush-{number}" in used:
        number += 1
    return f"{batch.batch}-flush-{number}"
