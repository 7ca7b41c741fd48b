"""What lies of feed that goes into others: how it was made, and whether it may be drawn."""

from dataclasses import replace

import pytest

from bedstone.desk.check_plan import findings_of_start
from bedstone.desk.held_stock import ON_HOLD, without_held
from bedstone.desk.holds import hold_lots
from bedstone.desk.lying_contents import lying_contents
from bedstone.desk.machines import what_ran
from bedstone.desk.record_batch import record_batch
from bedstone.desk.tables import load_tables
from bedstone.ledger.model import FlowPattern
from bedstone.mill.model import Formula, FormulaLine, Mill, Product
from bedstone.mill.residue import MaterialPassed
from fakes.desk_day import PLAN, a_day, a_desk_mill, a_folder, actuals, later, plan_released
from fakes.memory import MemoryRecord

BROIL = next(row for row in PLAN.batches if row.batch == "4105-01")
TEXTURED = replace(
    BROIL,
    batch="4108-01",
    run="R-4108",
    material="TEX",
    formula_version=1,
    route=("MX1", "FB1"),
    destination="FB1",
    draws=(replace(BROIL.draws[0], ingredient="BROIL-M", from_place="FB2"),),
)


def mill_with_textured(*, monensin_frac: float) -> Mill:
    """The mill with a feed that takes broiler feed in, and a later broiler formula."""
    mill = a_desk_mill()
    lines = [row for row in mill.formula_lines if row.product == "BROIL-M"]
    version = lines[0].version
    newer = tuple(
        replace(
            row,
            version=version + 1,
            parts_frac=monensin_frac if row.ingredient == "MONEN" else row.parts_frac,
        )
        for row in lines
    )
    formulas = tuple(
        replace(row, status="withdrawn") if row.product == "BROIL-M" else row
        for row in mill.formulas
    )
    running = next(row for row in mill.formulas if row.product == "BROIL-M")
    return replace(
        mill,
        bins=tuple(
            replace(row, feeds="SC1", flow=FlowPattern.MASS.value) if row.bin == "FB2" else row
            for row in mill.bins
        ),
        products=(
            *mill.products,
            Product(product="TEX", name="Textured", species="horse", form="mash",
                    life_stage="adult", density_kg_m3=600.0, price_usd_t=300.0,
                    route="MX1 > FB1 > SK1"),
        ),
        formulas=(
            *formulas,
            replace(running, version=version + 1, status="running"),
            Formula(product="TEX", version=1, status="running"),
        ),
        formula_lines=(
            *mill.formula_lines,
            *newer,
            FormulaLine(product="TEX", version=1, ingredient="BROIL-M", parts_frac=1.0),
        ),
    )  # fmt: skip


def a_made_day() -> MemoryRecord:
    """Broiler feed with its drug mixed, then a formula without the drug set to running."""
    record = a_day()
    record_batch(record, PLAN.plan, "4105-01", actuals(BROIL), by="mara", at=later(10))
    folder = a_folder(mill=mill_with_textured(monensin_frac=0.0))
    load_tables(record, folder, by="osk", at=later(20))
    plan_released(record, replace(PLAN, plan="P-2026-11-25-textur", batches=(TEXTURED,)))
    return record


def in_bin(record: MemoryRecord) -> float:
    """Monensin in the broiler feed that lies in its bin."""
    return lying_contents(record)["BROIL-M"]["monensin"]


def test_what_lies_counts_as_it_was_weighed():
    """Feed mixed by a withdrawn formula counts with the drug that was weighed into it."""
    record = a_made_day()
    assert in_bin(record) == pytest.approx(0.0005 * 200_000, rel=0.01)
    found = findings_of_start(record, PLAN, TEXTURED)
    assert found is not None
    assert not lying_contents(a_day())


def test_a_textured_batch_brings_what_its_pellets_held():
    """A batch that drew feed of a withdrawn formula leaves the drug of that feed behind."""
    record = a_made_day()
    batch = TEXTURED
    record_batch(record, "P-2026-11-25-textur", batch.batch, actuals(batch), by="m", at=later(30))
    event = next(
        row for row in what_ran(record) if isinstance(row, MaterialPassed) and row.material == "TEX"
    )
    assert event.contents["monensin"] == pytest.approx(0.0005 * 200_000, rel=0.01)


def test_feed_on_hold_in_a_finished_bin_is_no_stock_and_keeps_its_bin():
    """A held lot in a finished bin is not planned with, and no other feed is planned onto it."""
    record = a_made_day()
    stock = {(row.place, row.material): row.mass_mg for row in record.stock()}
    assert without_held(record, stock) == stock
    hold_lots(record, ("4105-01",), why="mould", by="osk", at=later(25))
    left = without_held(record, stock)
    assert ("FB2", "BROIL-M") not in left
    assert left["FB2", ON_HOLD] == stock["FB2", "BROIL-M"]
    assert "quality.held_draw" in {row.code for row in findings_of_start(record, PLAN, TEXTURED)}
