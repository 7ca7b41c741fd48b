"""The demo mill's whole day: planned, released, every batch started and recorded, traced."""

import datetime as dt
import random
from typing import Any

import pytest

from bedstone.desk.batches import ActualDraw, batch_standing, record_batch, start_batch
from bedstone.desk.beforehand import confirm_drug, is_drug, weigh_beforehand
from bedstone.desk.checks import lot_mg
from bedstone.desk.machines import machines_hold
from bedstone.desk.orders import all_orders
from bedstone.desk.plan_day import make_plan, propose, release
from bedstone.desk.record import Record
from bedstone.desk.runs import (
    PelletedBatch,
    record_ground,
    record_packed,
    record_pelleted,
    record_seen_empty,
    record_shipped_bulk,
)
from bedstone.desk.stock import bins_view, stock_table
from bedstone.desk.tables import current_mill
from bedstone.desk.trace import trace
from bedstone.mill.plan import Batch, BatchKind, GrindJob, Plan, Verdict
from bedstone.tracing.model import Degree


def lots_at_hand(record: Record) -> dict[str, str]:
    """A lot of each drug that lies on the floor, as an operator would scan it."""
    material_of = {lot.lot: lot.material for lot, _ in record.lots()}
    found: dict[str, str] = {}
    for view in bins_view(record):
        for layer in view.layers if view.bin.kind == "floor" else ():
            found.setdefault(material_of.get(layer.lot, ""), layer.lot)
    return found


def as_weighed(batch: Batch, chance: random.Random, lots: dict[str, str]) -> tuple[ActualDraw, ...]:
    """Draws as a sound scale weighs them: on the division, within half of the tolerance; a flush
    is never short.
    """
    return tuple(
        ActualDraw(
            sequence=draw.sequence,
            actual_mg=draw.target_mg
            + draw.division_mg
            * chance.randint(-1 if batch.kind is BatchKind.FEED else 0, 1)
            * (draw.tolerance_mg >= 2 * draw.division_mg),
            lot=lots.get(draw.ingredient) if draw.how == "hand" else None,
        )
        for draw in batch.draws
    )


def run_all(record: Record, plan: Plan) -> None:
    """Grind, start and record everything at the times of the plan, mixers side by side."""
    chance, lots = random.Random(7), lots_at_hand(record)
    events: list[tuple[dt.datetime, int, str, GrindJob | Batch]] = [
        (job.start_at, 0, job.job, job) for job in plan.grinding
    ]
    for batch in plan.batches:
        events.append((batch.start_at, 2, batch.batch, batch))
        events.append((batch.end_at, 1, batch.batch, batch))
    in_bin: dict[str, str] = {}
    for at, step, _, what in sorted(events, key=lambda event: event[:3]):
        if isinstance(what, GrindJob):
            record_ground(
                record, machine=what.machine, makes=what.makes, from_place=what.from_place,
                to_place=what.to_place, in_mg=what.mass_in_mg, out_mg=what.mass_out_mg,
                job=what.job, by="hank", at=at,
            )  # fmt: skip
        elif step == 2:
            _empty_for(record, what, in_bin, at=at)
            findings = start_batch(record, plan.plan, what.batch, by="mara", at=at)
            assert all(item.verdict is not Verdict.STOP for item in findings)
        else:
            draws = as_weighed(what, chance, lots)
            _drugs_seen(record, plan, what, draws, at=at)
            done = record_batch(record, plan.plan, what.batch, draws, by="mara", at=at)
            assert [item.text for item in done.findings if item.verdict is Verdict.STOP] == []
            if what.kind is BatchKind.FEED:
                _go_on(record, plan, what, at=at)


def _drugs_seen(
    record: Record, plan: Plan, batch: Batch, draws: tuple[ActualDraw, ...], *, at: dt.datetime
) -> None:
    """Drugs are weighed beforehand by one person and confirmed by another."""
    made = {draw.sequence: draw for draw in draws}
    for draw in batch.draws:
        if is_drug(current_mill(record), draw.ingredient):
            row = made[draw.sequence]
            place = (plan.plan, batch.batch, draw.sequence)
            weigh_beforehand(
                record, *place, mass_mg=row.actual_mg, lot=row.lot or "", by="mara", at=at
            )
            confirm_drug(record, *place, by="rosa", at=at)


def _go_on(record: Record, plan: Plan, batch: Batch, *, at: dt.datetime) -> None:
    """What was mixed goes through the pellet line and out over the line of its run at once."""
    mill = current_mill(record)
    run = next(row for row in plan.runs if row.run == batch.run)
    for place, after in zip(batch.route, batch.route[2:], strict=False):
        line = batch.route[batch.route.index(place) + 1]
        if line in mill.machine_by_code and mill.machine_by_code[line].kind == "pellet line":
            there_mg = lot_mg(record, place, batch.batch)
            row = PelletedBatch(
                batch=batch.batch, in_mg=there_mg, steam_mg=0, dust_mg=0, out_mg=there_mg
            )
            record_pelleted(
                record, run=batch.run, machine=line, from_place=place, to_place=after,
                batches=(row,), by="hank", at=at,
            )  # fmt: skip
    mass_mg = sum(
        item.movement.mass_mg for item in record.movements(lot=batch.batch)
        if item.movement.from_place == batch.mixer and item.movement.to_place != "air"
    )  # fmt: skip
    pack_kg = mill.product(batch.material).pack_kg
    if run.pack == "bulk" and run.packing_machine:
        record_shipped_bulk(
            record, order=run.order, run=run.run, mass_mg=mass_mg, from_place=batch.destination,
            machine=run.packing_machine, by="hank", at=at,
        )  # fmt: skip
    elif run.pack == "bags" and pack_kg:
        bags = int(mass_mg // (pack_kg * 1_000_000))
        warehouse = next(row.bin for row in mill.bins if row.kind == "warehouse")
        record_packed(
            record, run=run.run, machine=run.packing_machine, from_place=batch.destination,
            to_place=warehouse, bags=bags, by="hank", at=at,
        )  # fmt: skip


def _empty_for(record: Record, batch: Batch, in_bin: dict[str, str], *, at: dt.datetime) -> None:
    """The bin that a feed goes to was emptied of the one before."""
    end = current_mill(record).bin_by_code[batch.destination]
    if end.kind == "finished":
        if in_bin.get(end.bin, batch.material) != batch.material:
            record_seen_empty(record, end.bin, by="hank", at=at)
        in_bin[end.bin] = batch.material


@pytest.mark.slow
def test_the_demo_day_runs_as_planned(demo_mill: Any):
    """Every batch of the demo's plan may start in the order of the plan on what was really weighed;
    at the end every order in it is made, nothing is held, and a drug's way is known.
    """
    record = demo_mill.parts.open_record(demo_mill.directory)
    at = demo_mill.parts.clock()
    plan = make_plan(record, day=demo_mill.day, at=at)
    assert plan.status == "proposed"
    propose(record, plan, by="dell", at=at)
    release(record, plan.plan, by="dell", at=at)
    run_all(record, plan)
    assert set(batch_standing(record, plan).values()) == {"made"}
    planned = {run.order for run in plan.runs if run.order}
    left = {row.order for row in plan.left_out}
    standings = {row.order.order: row.status for row in all_orders(record)}
    assert {standings[order] for order in planned} == {"made"}
    assert {order for order, status in standings.items() if status == "open"} == left
    assert all(row.known for row in machines_hold(record) if row.place == "MX1")
    assert sum(line.mass_mg for line in record.stock()) == 0
    assert [row for row in stock_table(record) if "below nothing" in row.finding] == []
    _drugs(record, plan)


def _drugs(record: Record, plan: Plan) -> None:
    """A medicated batch names the lot of its drug; that lot leads to it and to no flush as such."""
    mill = current_mill(record)
    medicated = [
        row
        for row in plan.batches
        if row.kind is BatchKind.FEED and mill.product(row.material).medicated
    ]
    assert medicated
    for batch in medicated[:3]:
        back = {link.lot: link.degree for link in trace(record, batch.batch).back}
        drugs = [
            draw.ingredient
            for draw in batch.draws
            if mill.ingredient_by_code.get(draw.ingredient)
            and mill.ingredient_by_code[draw.ingredient].ingredient_class == "drug"
        ]
        material_of = {lot.lot: lot.material for lot, _ in record.lots()}
        certain = {material_of.get(lot) for lot, how in back.items() if how is Degree.CERTAIN}
        assert set(drugs) <= certain
