"""Two joints walked whole on the demo mill: assay to batch sheet, and price to the cost of a ton."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from bedstone.demo.quillback import quillback_folder
from bedstone.desk.assays import record_assay
from bedstone.desk.batches import ActualDraw, record_batch, start_batch
from bedstone.desk.formula_answer import Formulated, formulate, parts_of
from bedstone.desk.formula_checks import judge
from bedstone.desk.formula_levels import Composed
from bedstone.desk.formula_lying import lying_lots
from bedstone.desk.formula_versions import approve_formula, draft_formula, put_formula_in_use
from bedstone.desk.formulate import Choices
from bedstone.desk.made import started_batches
from bedstone.desk.plan_day import make_plan, propose, release
from bedstone.desk.receive import record_load
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.tables import load_tables, recorded_folder
from bedstone.errors import Refused
from bedstone.mill.model import Assay, Price
from bedstone.mill.plan import Batch, BatchKind, Plan
from bedstone.papers.printing import Printing
from bedstone.papers.sheet_data import sheet_data
from bedstone.store.record import SqlRecord
from fakes.memory import MemoryRecord

DAY = dt.date(2026, 11, 26)
EVE = dt.datetime(2026, 11, 25, 13, tzinfo=dt.UTC)
DAWN = dt.datetime(2026, 11, 26, 11, tzinfo=dt.UTC)
PRODUCT, SHEEP = "LAYER-16", "SHEEP-GR"
BINS = Choices(on=DAY, composed=Composed.BINS)


@pytest.fixture(params=["memory", "sqlite"])
def record(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Record]:
    """The demo mill with its opening stock and the orders of one product."""
    folder = quillback_folder(DAY)
    orders = tuple(row for row in folder.orders if row.product == PRODUCT)
    made = MemoryRecord() if request.param == "memory" else SqlRecord(tmp_path / "mill.sqlite")
    load_tables(made, replace(folder, orders=orders, weather=()), by="dell", at=EVE)
    yield made
    if isinstance(made, SqlRecord):
        made.close()


def at(minutes: float) -> dt.datetime:
    """So many minutes after the tables were loaded."""
    return EVE + dt.timedelta(minutes=minutes)


def a_poor_load(record: Record) -> None:
    """A load of soybean meal comes in, and the laboratory finds little protein in it."""
    record_load(
        record, firm="ferriscrush", ingredient="SBM48", into="B04", lot="L-1125-SBM48",
        mass_mg=8 * 10**9, by="tomas", at=at(1),
    )  # fmt: skip
    for report, lot, value in (("A-1", "L-1125-SBM48", 45.1), ("A-2", "L-1020-SBM48", 46.2)):
        row = Assay(
            assay=report, nutrient="crude protein", of="SBM48", lot=lot, value=value, unit="%",
            sd=0.3, method="combustion", sampled_at=at(2),
        )  # fmt: skip
        record_assay(record, row, by="rosa", at=at(3))


def planned(record: Record, *, minutes: float) -> Plan:
    """The day planned and released."""
    plan = make_plan(record, day=DAY, at=at(minutes))
    assert plan.status == "proposed"
    propose(record, plan, by="dell", at=at(minutes))
    release(record, plan.plan, by="dell", at=at(minutes))
    return plan


def made_before(record: Record, plan: Plan, batch: Batch) -> None:
    """What the plan has before a batch on its mixer, flushes, made as it says."""
    for row in sorted(plan.batches, key=lambda one: one.start_at):
        if row.mixer == batch.mixer and row.start_at < batch.start_at:
            start_batch(record, plan.plan, row.batch, by="mara", at=row.start_at)
            draws = tuple(
                ActualDraw(sequence=draw.sequence, actual_mg=draw.target_mg) for draw in row.draws
            )
            record_batch(record, plan.plan, row.batch, draws, by="mara", at=row.end_at)


def in_use(record: Record, found: Formulated, choices: Choices, *, minutes: float) -> int:
    """The answer, rounded to the scales, drafted, approved and put in use."""
    assert found.weighed is not None
    parts = parts_of(found.weighed.shares)
    version = draft_formula(record, PRODUCT, parts, why="poor meal", by="ines", at=at(minutes))
    approve_formula(record, PRODUCT, version, choices=choices, by="ines", at=at(minutes + 1))
    put_formula_in_use(record, PRODUCT, version, by="ines", at=at(minutes + 2))
    return version


def test_from_the_assay_of_a_load_to_the_sheet_of_a_batch(record: Record):
    """A load's assay lies in the bin with its lot; the formula solved with what is there keeps the
    tag with its odds; its version stands on the batch's sheet and is weighed; a batch of the plan
    made before it does not start.
    """
    before = planned(record, minutes=0.5)
    by_tables = formulate(record, PRODUCT, replace(BINS, composed=Composed.TABLES))
    a_poor_load(record)

    lots = {lot.lot: lot.mass_mg for lot in lying_lots(record, ["SBM48"])["SBM48"]}
    assert lots == {"L-1020-SBM48": 32_205_058_270, "L-1125-SBM48": 8 * 10**9}
    found = formulate(record, PRODUCT, BINS)
    level = found.asked.known["SBM48"].levels["crude protein"]
    assert level.mean == pytest.approx((32.20505827 * 46.2 + 8 * 45.1) / 40.20505827)

    assert found.answer is not None
    assert by_tables.answer is not None
    assert found.answer.cost_usd_t > by_tables.answer.cost_usd_t
    assert found.weighed is not None
    assert found.weighed.broken == ()
    protein = next(row for row in found.tag if row.name == "crude protein on the tag")
    assert protein.keeps_frac is not None
    assert protein.keeps_frac > 0.949
    assert protein.passes_frac is not None
    assert protein.passes_frac > protein.keeps_frac  # an inspector permits a deviation

    version = in_use(record, found, BINS, minutes=10)
    late = next(row for row in before.batches if row.kind is BatchKind.FEED)
    with pytest.raises(
        Refused, match=f"version {late.formula_version}.*now version {version} runs"
    ):
        start_batch(record, before.plan, late.batch, by="mara", at=DAWN)

    plan = planned(record, minutes=20)
    batch = next(row for row in plan.batches if row.kind is BatchKind.FEED)
    assert batch.formula_version == version
    target_mg = sum(draw.target_mg for draw in batch.draws)
    for draw in batch.draws:
        share = found.weighed.shares[draw.ingredient]
        assert draw.target_mg == pytest.approx(share * target_mg, abs=draw.division_mg + 1)
    sheet = str(sheet_data(Printing(plan=plan, mill=current_mill(record), head="0" * 64), batch))
    assert f"version {version}" in sheet or f"'{version}'" in sheet
    made_before(record, plan, batch)
    start_batch(record, plan.plan, batch.batch, by="mara", at=batch.start_at)
    assert started_batches(record)[batch.batch].position == record.head().position


def test_from_a_price_to_the_formula_and_the_cost_of_a_ton(record: Record):
    """A dearer ingredient makes the ton that runs dearer by its share of the rise; the formula that
    answers takes less of it and costs less than staying as one is.
    """
    choices = Choices(on=DAY)
    mill = current_mill(record)
    before = formulate(record, SHEEP, choices)
    running = {row.ingredient: row.parts_frac for row in mill.lines_of(SHEEP, 2)}
    was = judge(record, SHEEP, running, choices).cost_usd_t

    rise_usd_t = 120.0
    now = before.asked.prices["CORN-G"].price_usd_t + rise_usd_t
    price = Price(ingredient="CORN-G", from_on=DAY, price_usd_t=now)
    folder = recorded_folder(record)
    dearer = replace(folder, mill=replace(folder.mill, prices=(*folder.mill.prices, price)))
    load_tables(record, dearer, by="dell", at=at(5))

    cost = judge(record, SHEEP, running, choices).cost_usd_t
    assert cost - was == pytest.approx(running["CORN-G"] * rise_usd_t)
    after = formulate(record, SHEEP, choices)
    assert before.answer is not None
    assert after.answer is not None
    assert after.answer.shares["CORN-G"] < before.answer.shares["CORN-G"]
    kept = {row.code: row.share_frac for row in before.answer.ingredients}
    staying = before.answer.cost_usd_t + kept["CORN-G"] * rise_usd_t
    assert before.answer.cost_usd_t < after.answer.cost_usd_t < staying
    assert after.answer.cost_usd_t < cost
