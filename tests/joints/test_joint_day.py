"""The mill's day walked from folder to customer, on a record in memory and in SQLite."""

import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from bedstone.desk.batches import (
    BatchRecorded,
    batch_standing,
    record_batch,
    record_clean_out,
    start_batch,
)
from bedstone.desk.orders import cancel_order, find_order
from bedstone.desk.plan_day import (
    check_plan,
    find_plan,
    latest_plan,
    make_plan,
    propose,
    release,
    released_plan,
)
from bedstone.desk.record import Record
from bedstone.desk.runs import (
    PelletedBatch,
    record_packed,
    record_pelleted,
    record_shipped,
    record_shipped_bulk,
)
from bedstone.desk.tables import load_tables
from bedstone.desk.trace import trace
from bedstone.errors import BedstoneError, Conflict, Refused
from bedstone.mill.plan import Batch, BatchKind, Plan, Verdict
from bedstone.store.record import SqlRecord
from bedstone.tracing.model import Degree
from fakes.desk_day import MORNING, actuals, later
from fakes.joint_mill import joint_folder
from fakes.memory import MemoryRecord
from fakes.plans import DAY


@pytest.fixture(params=["memory", "sqlite"])
def record(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Record]:
    """A record with the folder loaded."""
    made = MemoryRecord() if request.param == "memory" else SqlRecord(tmp_path / "mill.sqlite")
    load_tables(made, joint_folder(), by="osk", at=MORNING)
    yield made
    if isinstance(made, SqlRecord):
        made.close()


def released(record: Record, minute: int = 0) -> Plan:
    """Plan the day, propose and release the plan."""
    plan = make_plan(record, day=DAY, at=later(minute))
    propose(record, plan, by="osk", at=later(minute))
    release(record, plan.plan, by="osk", at=later(minute))
    return plan


def run_batch(
    record: Record, plan: Plan, batch: Batch, *, minute: float, **off_mg: int
) -> BatchRecorded:
    """Start a batch and record what was weighed."""
    start_batch(record, plan.plan, batch.batch, by="mara", at=later(minute))
    draws = actuals(batch, **off_mg)
    return record_batch(record, plan.plan, batch.batch, draws, by="mara", at=later(minute + 1))


def stock_kg(record: Record) -> dict[tuple[str, str], float]:
    """Book stock."""
    return {(row.place, row.material): row.mass_mg / 1e6 for row in record.stock()}


def in_order(plan: Plan) -> list[Batch]:
    """Batches in the order in which they run."""
    return sorted(plan.batches, key=lambda batch: batch.start_at)


def of_run(plan: Plan, run: str) -> list[Batch]:
    """Feed batches of a run."""
    return [row for row in in_order(plan) if row.run == run and row.kind is BatchKind.FEED]


def bulk_runs(record: Record, plan: Plan, *, minute: int) -> None:
    """Make the two bulk runs and load each out for its customer."""
    for order in ("4105", "4106"):
        batches = of_run(plan, f"R-{order}")
        for batch in batches:
            run_batch(record, plan, batch, minute=minute)
            minute += 5
        load_out(record, order, batches, minute=minute)


def load_out(record: Record, order: str, batches: list[Batch], *, minute: int) -> None:
    """Load a bulk run out for its customer."""
    record_shipped_bulk(
        record, order=order, run=f"R-{order}", mass_mg=sum(row.mass_mg for row in batches),
        from_place=batches[0].destination, machine="LO1", by="osk", at=later(minute),
    )  # fmt: skip


def test_the_day_from_folder_to_customer_and_back(record: Record):
    """Folder, plan, batches as weighed, pellets, bags, truck: stock moves by exactly what was
    weighed, and the run is traced back to every load and forward to the customer.
    """
    plan = released(record)
    assert plan.left_out == ()
    assert released_plan(record, DAY) == find_plan(record, plan.plan)
    before = stock_kg(record)
    weighed: dict[tuple[str, str], int] = {}
    for number, batch in enumerate(in_order(plan)):
        off = {"draw_1": 3_000_000} if batch.batch == "4107-02" else {}
        result = run_batch(record, plan, batch, minute=60 + 10 * number, **off)
        acts = [item for item in result.findings if item.verdict is not Verdict.NOTE]
        assert bool(acts) == bool(off), acts
        for draw in batch.draws:
            key = (draw.from_place, draw.ingredient)
            extra = off.get(f"draw_{draw.sequence}", 0)
            weighed[key] = weighed.get(key, 0) + draw.target_mg + extra
        run = of_run(plan, batch.run)
        if batch == run[-1] and batch.run != "R-4107":
            load_out(record, batch.run.removeprefix("R-"), run, minute=65 + 10 * number)
    now = stock_kg(record)
    for key, mass_mg in weighed.items():
        assert before[key] - now[key] == pytest.approx(mass_mg / 1e6, abs=1e-6)
    assert set(batch_standing(record, plan).values()) == {"made"}
    assert find_order(record, "4107").status == "made"
    _to_the_customer(record, of_run(plan, "R-4107"))
    _traced(record)
    assert sum(stock_kg(record).values()) == pytest.approx(0, abs=1e-6)


def _to_the_customer(record: Record, batches: list[Batch]) -> None:
    record_pelleted(
        record, run="R-4107", machine="PL1", from_place="SB1", to_place="FB1",
        batches=tuple(
            PelletedBatch(batch=row.batch, in_mg=row.mass_mg, steam_mg=50_000_000,
                          dust_mg=1_000_000, out_mg=row.mass_mg - 5_000_000)
            for row in batches
        ),
        by="mara", at=later(200),
    )  # fmt: skip
    record_packed(
        record, run="R-4107", machine="SK1", from_place="FB1", to_place="WH1", bags=150,
        by="mara", at=later(240),
    )  # fmt: skip
    record_shipped(
        record, order="4107", run="R-4107", bags=150, from_place="WH1", by="osk", at=later(260)
    )


def _traced(record: Record) -> None:
    run = trace(record, "R-4107")
    assert [link.lot for link in run.forward] == ["customer/harrow"]
    assert run.forward[0].firm_name == "Harrow Lane Farm"
    back = {link.lot: link for link in run.back}
    assert back["L-SHEEP-PX"].degree is Degree.CERTAIN
    assert back["supplier/fenwold"].phone == "555-0102"
    assert back["4107-01-flush"].degree is Degree.CARRY_OVER
    forward = {link.lot: link.degree for link in trace(record, "L-SHEEP-PX").forward}
    assert forward["customer/harrow"] is Degree.CERTAIN
    drug = {link.lot: link.degree for link in trace(record, "L-MONEN").forward}
    assert drug["4105-01"] is Degree.CERTAIN
    assert drug.get("R-4107") is not Degree.CERTAIN


def test_a_batch_out_of_order_is_refused_with_the_reason(record: Record):
    """Sheep feed before its flush is refused, names what has run, how much must pass and the
    source, and writes nothing; after the flush it may start.
    """
    plan = released(record)
    first = of_run(plan, "R-4107")[0]
    flush = next(row for row in plan.batches if row.kind is BatchKind.FLUSH)
    bulk_runs(record, plan, minute=60)
    head = record.head()
    with pytest.raises(Refused) as caught:
        start_batch(record, plan.plan, first.batch, by="mara", at=later(120))
    said = str(caught.value)
    assert "must not start now" in said
    assert "397 lb must pass" in said
    assert "21 CFR 225.65" in said
    assert record.head() == head
    run_batch(record, plan, flush, minute=130)
    assert start_batch(record, plan.plan, first.batch, by="mara", at=later(140)) == ()


def test_what_was_really_flushed_counts_not_what_was_planned(record: Record):
    """Half a flush on the scale is half a flush: the sheep feed stays refused until the other half
    has passed, or the way was cleaned by hand.
    """
    plan = released(record)
    first = of_run(plan, "R-4107")[0]
    flush = next(row for row in plan.batches if row.kind is BatchKind.FLUSH)
    bulk_runs(record, plan, minute=60)
    run_batch(record, plan, flush, minute=130, draw_1=-flush.draws[0].target_mg // 2)
    with pytest.raises(Refused, match="must not start now"):
        start_batch(record, plan.plan, first.batch, by="mara", at=later(140))
    ways = [f"{a}>{b}" for a, b in zip(first.route, first.route[1:], strict=False)]
    record_clean_out(
        record, places=(*first.route, *ways), reason="flush fell short", by="mara", at=later(150)
    )
    assert start_batch(record, plan.plan, first.batch, by="mara", at=later(160)) == ()


def test_a_batch_made_against_the_rules_is_recorded_and_held(record: Record):
    """What was made without asking is on record as it was, and on hold at once."""
    plan = released(record)
    pig, sheep = of_run(plan, "R-4106")[0], of_run(plan, "R-4107")[0]
    run_batch(record, plan, pig, minute=60)
    result = record_batch(record, plan.plan, sheep.batch, actuals(sheep), by="mara", at=later(70))
    assert any(item.verdict is Verdict.STOP for item in result.findings)
    assert batch_standing(record, plan)[sheep.batch] == "held"


def test_an_order_cancelled_in_between(record: Record):
    """An order cancelled after its first batch is not planned again; the others are, with what is
    left of them, under batch numbers that were not used.
    """
    plan = released(record)
    pig = of_run(plan, "R-4106")
    run_batch(record, plan, pig[0], minute=60)
    cancel_order(record, "4107", why="flock sold", by="osk", at=later(65))
    again = make_plan(record, day=DAY, at=later(70))
    assert again.status == "proposed", again.findings
    assert {row.run for row in again.batches} == {"R-4105", "R-4106"}
    assert [row.batch for row in of_run(again, "R-4106")] == ["4106-02"]
    assert check_plan(record, again) == tuple(
        item for item in again.findings if item.code == "time.due"
    )


def test_an_unsafe_plan_is_not_released(record: Record):
    """A plan edited by hand so that it has no flush is named by the verifier with the source, is
    not released, and none of its batches may start.
    """
    plan = make_plan(record, day=DAY, at=MORNING)
    propose(record, plan, by="osk", at=MORNING)
    unsafe = tuple(row for row in plan.batches if row.kind is BatchKind.FEED)
    edited = replace(plan, plan="P-2026-11-25-edited", batches=unsafe)
    stops = [item for item in check_plan(record, edited) if item.verdict is Verdict.STOP]
    assert any("21 CFR 225.65" in item.source for item in stops)
    propose(record, edited, by="osk", at=later(1))
    with pytest.raises(Refused, match="must not be released"):
        release(record, edited.plan, by="osk", at=later(2))
    assert latest_plan(record, DAY).status == "proposed"
    assert released_plan(record, DAY) is None
    with pytest.raises(Refused, match="proposed"):
        start_batch(record, edited.plan, unsafe[0].batch, by="mara", at=later(3))


def race(first: Callable[[], object], second: Callable[[], object]) -> list[object]:
    """What two people get who do something at the same moment."""
    gate, got = threading.Barrier(2), []

    def act(what: Callable[[], object]) -> None:
        gate.wait()
        try:
            got.append(what())
        except BedstoneError as error:
            got.append(error)

    threads = [threading.Thread(target=act, args=(what,)) for what in (first, second)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return got


def test_two_people_at_one_batch_and_at_two(tmp_path: Path):
    """Of two who record one batch at the same moment one succeeds and one is told so; two who
    record different batches both succeed, and nothing is lost.
    """
    record = SqlRecord(tmp_path / "mill.sqlite")
    load_tables(record, joint_folder(), by="osk", at=MORNING)
    plan = released(record)
    one, two, three = (of_run(plan, "R-4105") + of_run(plan, "R-4106"))[:3]

    def recording(batch: Batch, by: str) -> Callable[[], object]:
        draws = actuals(batch)
        return lambda: record_batch(record, plan.plan, batch.batch, draws, by=by, at=later(70))

    same = race(recording(one, "mara"), recording(one, "osk"))
    assert sorted(isinstance(item, BatchRecorded) for item in same) == [False, True]
    assert all(isinstance(item, BatchRecorded | Refused | Conflict) for item in same)
    both = race(recording(two, "mara"), recording(three, "osk"))
    assert all(isinstance(item, BatchRecorded) for item in both)
    kinds = [item.fact.kind for item in record.facts()]
    assert kinds.count("batching.batch_made/1") == 3
    record.close()
