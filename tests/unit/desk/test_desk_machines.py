"""What the machines hold after what really ran."""

import pytest

from bedstone.desk.batches import record_batch, record_clean_out
from bedstone.desk.machines import machines_hold, what_ran
from bedstone.ledger.model import Fact
from bedstone.mill.residue import CleanedOut, MaterialPassed
from fakes.desk_day import PLAN, a_day, actuals, later
from fakes.memory import MemoryRecord

BATCHES = {row.batch: row for row in PLAN.batches}


def made(record: MemoryRecord, code: str, minute: int, **off_mg: int) -> None:
    """Record a batch."""
    draws = actuals(BATCHES[code], **off_mg)
    record_batch(record, PLAN.plan, code, draws, by="mara", at=later(minute))


def held(record: MemoryRecord, substance: str, minute: int | None = None):
    """What each place holds of a substance."""
    at = None if minute is None else later(minute)
    return {row.place: row for row in machines_hold(record, at) if row.substance == substance}


def test_a_silent_record_counts_as_the_worst():
    """Before any batch every place holds the worst that the mill handles, and says it is unknown."""
    rows = held(a_day(clean=False), "monensin")
    worst = 0.0005 * 200_000
    assert rows["MX1"].concentration_mg_kg == pytest.approx(worst)
    assert not rows["MX1"].known
    assert rows["MX1"].left_by == "BROIL-M"


def test_what_was_really_weighed_counts():
    """A drug drawn half over its target leaves half as much again behind."""
    record, other = a_day(clean=False), a_day(clean=False)
    made(record, "4105-01", 10)
    made(other, "4105-01", 10, draw_2=BATCHES["4105-01"].draws[1].target_mg // 2)
    route = "MX1>FB2" if "MX1>FB2" in held(record, "monensin") else "FB2"
    one = next(row for row in what_ran(record) if isinstance(row, MaterialPassed))
    two = next(row for row in what_ran(other) if isinstance(row, MaterialPassed))
    assert two.contents["monensin"] / one.contents["monensin"] == pytest.approx(1.5, rel=1e-3)
    assert held(record, "monensin")[route].known


def test_order_of_time_not_of_recording():
    """A batch recorded late but made early counts before the one recorded first."""
    record = a_day(clean=False)
    made(record, "4106-01", 60)
    made(record, "4105-01", 10)
    assert [row.material for row in what_ran(record)] == ["BROIL-M", "PIG-FIN"]
    assert [row.material for row in what_ran(record, later(30))] == ["BROIL-M"]


def test_a_clean_out_makes_a_place_known_and_empty():
    """After a clean-out a place holds nothing and nothing has passed since."""
    record = a_day(clean=False)
    made(record, "4105-01", 10)
    record_clean_out(record, places=("MX1", "FB2"), reason="drug", by="mara", at=later(20))
    assert isinstance(what_ran(record)[-1], CleanedOut)
    assert "MX1" not in held(record, "monensin") or (
        held(record, "monensin")["MX1"].concentration_mg_kg == 0
    )
    assert held(record, "monensin", 15)["MX1"].passed_mg == 0


def test_a_batch_under_way_counts_as_planned():
    """A batch that has begun and is not recorded yet counts with its planned mass."""
    record = a_day(clean=False)
    content = {
        "batch": "4105-01", "run": "R-4105", "mixer": "MX1", "plan": PLAN.plan,
        "formula_version": 2,
    }  # fmt: skip
    fact = Fact(kind="batching.batch_started/1", happened_at=later(5), by="mara", content=content)
    record.append(fact, recorded_at=later(5))
    (event,) = what_ran(record)
    assert (event.material, event.mass_mg) == ("BROIL-M", BATCHES["4105-01"].mass_mg)
    assert what_ran(record, but="4105-01") == ()
    made(record, "4105-01", 12, draw_1=1_000_000)
    (event,) = what_ran(record)
    assert event.mass_mg == BATCHES["4105-01"].mass_mg + 1_000_000
