"""A batch whose draw came out wrong: re-balanced within what the formula allows, else held."""

from dataclasses import replace

import pytest

from bedstone.desk.batches import record_batch
from bedstone.desk.holds import held_lots
from bedstone.desk.made import made_batches
from bedstone.desk.rebalance_batch import as_rebalanced, rebalancings, record_rebalanced
from bedstone.errors import BadInput, Refused
from bedstone.mill.model import Inclusion
from bedstone.mill.plan import Batch, Verdict
from fakes.desk_day import PLAN, a_day, a_desk_mill, actuals, later
from fakes.memory import MemoryRecord

SHEEP = next(batch for batch in PLAN.batches if batch.batch == "4107-01")
DRUGGED = next(batch for batch in PLAN.batches if batch.batch == "4105-01")
KG = 1_000_000


def a_wide_day(*wide: str, batch: Batch = SHEEP) -> MemoryRecord:
    """The hand-written day, with ingredients that may move between nothing and everything."""
    rows = tuple(
        Inclusion(product=batch.material, ingredient=code, min_frac=0.0, max_frac=1.0)
        for code in wide
    )
    return a_day(mill=replace(a_desk_mill(), inclusions=rows))


def over(batch: Batch, kg: float) -> dict[int, int]:
    """The first draw in the mixer, so much over its target."""
    return {1: batch.draws[0].target_mg + round(kg * KG)}


def test_what_came_too_much_is_made_up_by_what_may_move():
    """20 kg of corn too much: with corn and middlings free to move the batch keeps its mass, the
    others their shares, and the middlings give way.
    """
    record = a_wide_day("CORN-GR", "MIDDS", "SBM")
    record_rebalanced(record, PLAN.plan, "4107-01", over(SHEEP, 20), by="mara", at=later(2))
    row = rebalancings(record)["4107-01"]
    assert row.fits
    whole_mg = sum(draw.target_mg for draw in SHEEP.draws)
    assert row.batch_mg == pytest.approx(whole_mg, abs=2 * SHEEP.draws[0].division_mg)
    changed = as_rebalanced(record, SHEEP)
    moved = {
        new.ingredient: new.target_mg - old.target_mg
        for old, new in zip(SHEEP.draws, changed.draws, strict=True)
    }
    assert moved["CORN-GR"] == 20 * KG
    assert moved["MIDDS"] < 0
    assert moved["SBM"] < 0
    assert sum(moved.values()) == pytest.approx(0, abs=2 * SHEEP.draws[0].division_mg)


def test_the_record_remembers_the_new_targets():
    """A re-balanced batch is held against its new targets, is not on hold, and says what happened."""
    record = a_wide_day("CORN-GR", "MIDDS", "SBM")
    record_rebalanced(record, PLAN.plan, "4107-01", over(SHEEP, 20), by="mara", at=later(2))
    changed = as_rebalanced(record, SHEEP)
    done = record_batch(record, PLAN.plan, "4107-01", actuals(changed), by="mara", at=later(9))
    said = [one.code for one in done.findings if one.code.startswith("batching.")]
    assert said == ["batching.rebalanced"]
    made = made_batches(record)["4107-01"].made
    assert made.draws[0].target_mg == SHEEP.draws[0].target_mg + 20 * KG


def test_what_cannot_be_made_to_fit_holds_the_batch_with_the_arithmetic():
    """Where nothing may move, 200 kg too much fit no batch of this mixer: held, with the reckoning."""
    record = a_day()
    record_rebalanced(record, PLAN.plan, "4107-01", over(SHEEP, 200), by="mara", at=later(2))
    row = rebalancings(record)["4107-01"]
    assert not row.fits
    assert row.why_not
    draws = actuals(SHEEP, draw_1=200 * KG)
    done = record_batch(record, PLAN.plan, "4107-01", draws, by="mara", at=later(9))
    stop = next(one for one in done.findings if one.code == "batching.rebalance_impossible")
    assert stop.verdict is Verdict.STOP
    assert "in the mixer" in stop.text
    assert "4107-01" in held_lots(record)


def test_a_drug_off_its_target_is_never_made_to_fit():
    """However much else may move, a drug out of tolerance holds the batch."""
    record = a_wide_day("CORN-GR", "SBM", "MONEN", batch=DRUGGED)
    drug = next(draw for draw in DRUGGED.draws if draw.ingredient == "MONEN")
    weighed = {1: DRUGGED.draws[0].target_mg, drug.sequence: 2 * drug.target_mg}
    record_rebalanced(record, PLAN.plan, "4105-01", weighed, by="mara", at=later(2))
    row = rebalancings(record)["4105-01"]
    assert not row.fits
    assert "drug" in row.why_not


@pytest.mark.parametrize(
    "weighed", [{}, {99: 1}, {draw.sequence: 1 for draw in SHEEP.draws}, {1: -1}]
)
def test_only_a_batch_midway_is_rebalanced(weighed: dict[int, int]):
    """Nothing in, everything in, a strange draw or less than nothing is refused in words."""
    with pytest.raises(BadInput):
        record_rebalanced(a_day(), PLAN.plan, "4107-01", weighed, by="mara", at=later(2))


def test_a_batch_on_record_is_not_rebalanced():
    """Once it is made there is no rest to weigh."""
    record = a_day()
    record_batch(record, PLAN.plan, "4107-01", actuals(SHEEP), by="mara", at=later(2))
    with pytest.raises(Refused, match="not being made"):
        record_rebalanced(record, PLAN.plan, "4107-01", over(SHEEP, 5), by="mara", at=later(3))
