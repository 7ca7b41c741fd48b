"""Traces out of the record, both ways."""

import pytest

from bedstone.desk.batches import ActualDraw, record_batch
from bedstone.desk.runs import record_ground, record_load, record_packed, record_shipped
from bedstone.desk.trace import trace
from bedstone.errors import Unknown
from bedstone.tracing.model import Degree
from fakes.desk_day import PLAN, a_day, actuals, later
from fakes.memory import MemoryRecord

SHEEP = [row for row in PLAN.batches if row.run == "R-4107" and row.formula_version]
FLUSH = next(row for row in PLAN.batches if row.batch == "4107-01-flush")
PIG = next(row for row in PLAN.batches if row.batch == "4106-01")


def shipped() -> MemoryRecord:
    """Pig feed, a flush, three sheep batches straight into the finished bin, bags, a truck."""
    record = a_day()
    for number, batch in enumerate((PIG, FLUSH, *SHEEP)):
        at = later(30 + number)
        record_batch(record, PLAN.plan, batch.batch, actuals(batch), by="mara", at=at)
    record_packed(
        record, run="R-4107", machine="SK1", from_place="SB1", to_place="WH1", bags=239,
        by="mara", at=later(120),
    )  # fmt: skip
    record_shipped(
        record, order="4107", run="R-4107", bags=239, from_place="WH1", by="osk", at=later(130)
    )
    return record


def test_a_run_goes_back_to_loads_and_suppliers():
    """A run leads back over its batches to every load in them and to who sold it."""
    found = trace(shipped(), "R-4107")
    degrees = {link.lot: link.degree for link in found.back}
    assert degrees["4107-01"] is Degree.CERTAIN
    assert degrees["L-SBM"] is Degree.CERTAIN
    assert degrees["supplier/fenwold"] is Degree.CERTAIN
    firm = next(link for link in found.back if link.firm == "fenwold")
    assert (firm.firm_name, firm.phone) == ("Fenwold Grain", "555-0102")
    assert "L-MONEN" not in degrees


def test_a_load_goes_forward_to_the_customer():
    """A load of premix leads over batches and run to the customer and to nobody else."""
    found = trace(shipped(), "L-SHEEP-PX")
    degrees = {link.lot: link.degree for link in found.forward}
    assert degrees == {
        "4107-01": Degree.CERTAIN,
        "4107-02": Degree.CERTAIN,
        "4107-03": Degree.CERTAIN,
        "R-4107": Degree.CERTAIN,
        "customer/harrow": Degree.CERTAIN,
    }
    drawn = [row.target_mg for b in SHEEP for row in b.draws if row.ingredient == "SHEEP-PX"]
    assert sum(link.mass_mg for link in found.forward if link.depth == 1) == sum(drawn)


def test_what_ran_before_comes_as_carry_over():
    """What the way to the surge bin kept of the pig batch is named on the flush as carry-over."""
    links = {link.lot: link for link in trace(shipped(), "4107-01-flush").back}
    assert links["L-BARLEY-GR"].degree is Degree.CERTAIN
    assert (
        "4106-01" not in links
    )  # the pig feed takes another way out of a mixer that keeps nothing
    sheep = {link.lot: link for link in trace(shipped(), "4107-01").back}
    assert sheep["4107-01-flush"].degree is Degree.CARRY_OVER
    assert sheep["4107-01-flush"].through == "MX1>SB1"
    assert sheep["4107-01-flush"].mass_mg == pytest.approx(4e6, rel=1e-6)


def test_a_scanned_lot_is_certain_and_others_are_not_named():
    """Of two lots of premix on the floor, only the one that was scanned is in the batch."""
    record = a_day()
    record_load(
        record, firm="fenwold", ingredient="SHEEP-PX", into="F1", lot="L-PX-2", mass_mg=50 * 10**6,
        by="osk", at=later(1),
    )  # fmt: skip
    draws = list(actuals(SHEEP[0]))
    draws[2] = ActualDraw(sequence=3, actual_mg=draws[2].actual_mg, lot="L-PX-2")
    record_batch(record, PLAN.plan, "4107-01", tuple(draws), by="mara", at=later(30))
    back = {link.lot: link.degree for link in trace(record, "4107-01").back}
    assert back["L-PX-2"] is Degree.CERTAIN
    assert "L-SHEEP-PX" not in back


def test_a_lot_is_followed_through_the_grinder():
    """Corn that was ground keeps its load: the batch leads back to the load of whole corn."""
    record = a_day()
    record_load(
        record, firm="fenwold", ingredient="CORN", into="B1", lot="L-WHOLE", mass_mg=20 * 10**9,
        by="osk", at=later(1),
    )  # fmt: skip
    record_ground(
        record, machine="GR1", makes="CORN-GR", from_place="B1", to_place="G1", in_mg=10**10,
        out_mg=9_900_000_000, by="osk", at=later(20),
    )  # fmt: skip
    for number, batch in enumerate((PIG, *SHEEP)):
        record_batch(
            record, PLAN.plan, batch.batch, actuals(batch), by="mara", at=later(30 + number)
        )
    forward = {link.lot: link for link in trace(record, "L-WHOLE").forward}
    back = {link.lot: link.degree for link in trace(record, "4107-03").back}
    corn_mg = sum(row.target_mg for b in (PIG, *SHEEP) for row in b.draws if row.sequence == 1)
    assert corn_mg < 9 * 10**9  # so that nominally only the old corn was drawn
    assert back["L-CORN-GR"] is Degree.CERTAIN
    assert forward.get("4107-03") is None or forward["4107-03"].degree is Degree.POSSIBLE


def test_an_unknown_lot_offers_near_ones():
    """A mistyped lot is answered with lots that are near it."""
    with pytest.raises(Unknown, match="R-4107"):
        trace(shipped(), "R-4017")


def test_a_fact_taken_back_is_in_no_trace():
    """Once the truck is taken back, no customer is reached."""
    record = shipped()
    assert any(link.kind == "customer" for link in trace(record, "R-4107").forward)
    record.reverse(record.head().position, by="osk", why="other truck", recorded_at=later(140))
    assert trace(record, "R-4107").forward == ()
