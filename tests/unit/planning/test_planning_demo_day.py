"""The demo mill's day, with the draws that the batching station makes for it."""

import datetime as dt

import pytest

from bedstone.batching.draws import DayEvent, draws_of_day
from bedstone.batching.model import Arrival, BatchToDraw, Layer, Part
from bedstone.demo.quillback import quillback_folder
from bedstone.mill.model import Mill
from bedstone.mill.plan import Batch, BatchKind, Plan
from bedstone.planning.assemble import assemble
from bedstone.planning.day import plan_runs
from bedstone.planning.model import DayOutcome, DayProblem, OrderToMake
from fakes.planned import stops

DAY = dt.date(2026, 11, 25)


def demo_day() -> DayProblem:
    """The demo's orders on its opening stock; nothing is known of the machines."""
    folder = quillback_folder(DAY)
    stock_mg: dict[tuple[str, str], int] = {}
    for row in folder.opening_stock:
        key = (row.place, row.material)
        stock_mg[key] = stock_mg.get(key, 0) + round(row.mass_kg * 1e6)
    now = dt.datetime.combine(DAY, dt.time(5, 30), tzinfo=folder.mill.settings.zone)
    return DayProblem(
        mill=folder.mill,
        orders=tuple(
            OrderToMake(order=order, remaining_mg=round(order.mass_kg * 1e6))
            for order in folder.orders
        ),
        stock_mg=stock_mg,
        starting=(),
        day=DAY,
        now=now.astimezone(dt.UTC),
        evaluations=3000,
    )


def to_draw(mill: Mill, batch: Batch) -> BatchToDraw:
    """A batch with its parts."""
    lines = mill.lines_of(batch.material, batch.formula_version or 0)
    parts = tuple(Part(ingredient=row.ingredient, parts_frac=row.parts_frac) for row in lines)
    return BatchToDraw(
        batch=batch.batch,
        material=batch.material,
        mixer=batch.mixer,
        mass_mg=batch.mass_mg,
        parts=parts or (Part(ingredient=batch.material, parts_frac=1.0),),
    )


def with_draws(asked: DayProblem, outcome: DayOutcome) -> Plan:
    """The plan with the batching station's draws, in order of time."""
    events: list[tuple[dt.datetime, int, DayEvent]] = [
        (job.end_at, 0, job) for job in outcome.grinding
    ]
    events += [(batch.start_at, 1, to_draw(asked.mill, batch)) for batch in outcome.batches]
    events += [
        (
            run.ready_at,
            0,
            Arrival(
                place=run.finished_bin,
                material=run.product,
                lot=run.run,
                mass_mg=run.mass_mg,
                at=run.ready_at,
            ),
        )
        for run in outcome.runs
        if run.pack == "stock"
    ]
    events.sort(key=lambda event: event[:2])
    lying = {
        key: (Layer(lot="L-1", mass_mg=mass_mg, since_at=asked.now),)
        for key, mass_mg in asked.stock_mg.items()
    }
    drawn = draws_of_day(asked.mill, [event for _, _, event in events], stock=lying)
    assert [finding.text for finding in drawn.findings] == []
    return assemble(outcome, drawn.draws, made_at=asked.now, revision=0, position=0, head="0" * 64)


@pytest.mark.slow
def test_the_demo_day_is_planned_whole_and_safe():
    """All of the demo's orders that can be are made, the two others named, and nothing in it is refused."""
    asked = demo_day()
    outcome = plan_runs(asked)
    plan = with_draws(asked, outcome)
    assert stops(asked, plan) == []
    assert len(plan.runs) == len(asked.orders) - 2
    assert {run.order for run in plan.runs if run.order} | {row.order for row in plan.left_out} == {
        row.order.order for row in asked.orders
    }
    assert {row.because for row in plan.left_out} == {"never", "stock"}  # there is time for all
    flushes = [batch for batch in plan.batches if batch.kind is BatchKind.FLUSH]
    assert flushes
    assert all(batch.reason and batch.fate for batch in flushes)
    assert plan.as_orders_came is not None
    assert plan.costs.running_cents100 < plan.as_orders_came.running_cents100
