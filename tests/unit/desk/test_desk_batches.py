"""What was weighed becomes a fact; holds; the controls' CSV."""

import csv
import io
from dataclasses import replace

import pytest

from bedstone.desk.batches import (
    ActualDraw,
    batch_standing,
    made_batch,
    record_batch,
    record_clean_out,
)
from bedstone.desk.holds import held_lots, release_lots
from bedstone.desk.import_batches import import_batches
from bedstone.errors import BadInput, Conflict, Refused, Unknown
from bedstone.ledger.model import How, Reading
from bedstone.mill.plan import Batch, Verdict
from fakes.desk_day import PLAN, a_day, actuals, later, plan_released
from fakes.memory import MemoryRecord
from fakes.plans import a_plan

SHEEP, PIG, BROILER, FLUSH = (
    next(row for row in PLAN.batches if row.batch == code)
    for code in ("4107-01", "4106-01", "4105-01", "4107-01-flush")
)


def made(record: MemoryRecord, batch: Batch, minute: int, **off_mg: int):
    """Record a batch on its targets."""
    draws = actuals(batch, **off_mg)
    return record_batch(record, PLAN.plan, batch.batch, draws, by="mara", at=later(minute))


def stock_of(record: MemoryRecord, place: str, material: str) -> int:
    """Book stock of a line."""
    lines = [line for line in record.stock() if (line.place, line.material) == (place, material)]
    return lines[0].mass_mg if lines else 0


def test_stock_changes_by_exactly_what_was_weighed():
    """Each bin loses what was drawn from it, and the surge bin gets the sum under the batch's lot."""
    record = a_day()
    before = {draw.ingredient: stock_of(record, draw.from_place, draw.ingredient)
              for draw in SHEEP.draws}  # fmt: skip
    result = made(record, SHEEP, 90, draw_2=300_000)
    assert {finding.code for finding in result.findings} == {"order.changed"}
    for draw in SHEEP.draws:
        off = 300_000 if draw.sequence == 2 else 0
        now = stock_of(record, draw.from_place, draw.ingredient)
        assert now == before[draw.ingredient] - draw.target_mg - off
    assert stock_of(record, "SB1", "SHEEP-GR") == SHEEP.mass_mg + 300_000
    out = result.recorded.fact.movements[-1]
    assert (out.lot, out.how, out.to_place) == ("4107-01", How.RECKONED, "SB1")
    assert record.lot("4107-01")[0].material == "SHEEP-GR"


def test_the_fact_holds_reading_target_and_spread_of_each_draw():
    """A draw is booked with the reading as read, its target and its instrument's spread."""
    record = a_day()
    draws = list(actuals(SHEEP))
    seen = Reading(number="1600", unit="lb", division="1")
    draws[0] = ActualDraw(sequence=1, actual_mg=draws[0].actual_mg, seen=seen)
    recorded = record_batch(
        record, PLAN.plan, "4107-01", tuple(draws), by="mara", at=later(90)
    ).recorded
    movement = recorded.fact.movements[0]
    assert movement.seen == seen
    assert movement.target_mg == SHEEP.draws[0].target_mg
    assert movement.mass_sd_mg == SHEEP.draws[0].division_mg // 2
    metered = recorded.fact.movements[7]
    assert metered.how is How.METERED
    assert metered.mass_sd_mg == round(0.005 * SHEEP.draws[7].target_mg)


def test_a_draw_out_of_tolerance_is_a_finding_and_no_hold():
    """Corn 5 kg over is booked as weighed, named, and does not hold the batch."""
    record = a_day()
    result = made(record, SHEEP, 90, draw_1=5_000_000)
    codes = [finding.code for finding in result.findings]
    assert codes == ["batching.draw_over", "batching.total_over", "order.changed"]
    assert held_lots(record) == {}
    assert batch_standing(record, PLAN)["4107-01"] == "made"
    assert made_batch(record, "4107-01").made.findings == result.findings


def test_a_drug_out_of_tolerance_holds_the_batch():
    """A drug 0.1 kg over holds the batch by a fact right after its own."""
    record = a_day()
    result = made(record, BROILER, 10, draw_2=100_000)
    assert result.findings[0].verdict is Verdict.STOP
    kinds = [item.fact.kind for item in record.facts(after=result.recorded.position - 1)]
    assert kinds == ["batching.batch_made/1", "quality.held/1"]
    assert batch_standing(record, PLAN)["4105-01"] == "held"
    assert "Monensin" in held_lots(record)["4105-01"]
    release_lots(record, ("4105-01",), why="re-weighed, right", by="osk", at=later(20))
    assert batch_standing(record, PLAN)["4105-01"] == "made"


def test_a_batch_is_held_even_if_the_second_fact_never_came():
    """A batch whose own findings say STOP counts as held if the writer died before the hold."""
    record = a_day()
    made(record, BROILER, 10, draw_2=100_000)
    record.reverse(record.head().position, by="osk", why="test", recorded_at=later(11))
    assert "4105-01" in held_lots(record)


@pytest.mark.parametrize(
    ("change", "found", "allowed"),
    [
        ({1: -1}, "less than nothing", "0 or more"),
        ({1: None}, "no actual", "one for each draw"),
        ({1: 10 * SHEEP.draws[0].target_mg}, "16,000 lb", "at most 3,200 lb"),
        ({99: 1}, "an actual", "draws 1 to 9"),
    ],
)
def test_impossible_actuals_write_nothing(change: dict[int, int | None], found: str, allowed: str):
    """A negative, missing, tenfold or unknown draw is refused with words and nothing is written."""
    record = a_day()
    head = record.head()
    masses = {draw.sequence: draw.target_mg for draw in SHEEP.draws} | change
    draws = tuple(
        ActualDraw(sequence=number, actual_mg=mass_mg)
        for number, mass_mg in masses.items()
        if mass_mg is not None
    )
    with pytest.raises(BadInput) as caught:
        record_batch(record, PLAN.plan, "4107-01", draws, by="mara", at=later(90))
    assert found in caught.value.faults[0].found
    assert allowed in caught.value.faults[0].allowed
    assert record.head() == head


def test_two_actuals_for_one_draw_are_refused():
    """The same draw twice is no batch."""
    draws = (*actuals(SHEEP), ActualDraw(sequence=1, actual_mg=1))
    with pytest.raises(BadInput, match="two actuals"):
        record_batch(a_day(), PLAN.plan, "4107-01", draws, by="mara", at=later(90))


def test_a_batch_of_nothing_is_refused():
    """All draws at 0 kg make no batch."""
    draws = tuple(ActualDraw(sequence=draw.sequence, actual_mg=0) for draw in SHEEP.draws)
    with pytest.raises(BadInput, match="something was weighed"):
        record_batch(a_day(), PLAN.plan, "4107-01", draws, by="mara", at=later(90))


def test_a_batch_left_out_draw_is_booked_without_a_movement():
    """A draw of 0 kg has no movement and holds or names the batch."""
    record = a_day()
    result = made(record, SHEEP, 90, draw_7=-SHEEP.draws[6].target_mg)
    assert "SALT" not in [movement.material for movement in result.recorded.fact.movements]
    assert result.findings[0].code == "batching.draw_under"


def test_a_batch_twice_is_refused():
    """The second recording of a batch is refused and says which fact holds the first."""
    record = a_day()
    first = made(record, SHEEP, 90).recorded
    with pytest.raises(Refused, match=f"fact {first.position}"):
        made(record, SHEEP, 95)


def test_two_tablets_at_one_batch():
    """Of two tablets showing one batch the slower gets a Conflict that names the faster."""
    record = a_day()
    shown = record.head().position
    made(record, SHEEP, 90)
    with pytest.raises(Conflict, match="mara"):
        record_batch(
            record, PLAN.plan, "4107-01", actuals(SHEEP), by="osk", at=later(91), after=shown
        )


def test_a_batch_taken_back_can_be_recorded_again():
    """After its fact is taken back a batch stands planned, its stock is back, and it can be made."""
    record = a_day()
    before = stock_of(record, "G1", "CORN-GR")
    first = made(record, SHEEP, 90).recorded
    record.reverse(first.position, by="osk", why="wrong sheet", recorded_at=later(92))
    assert batch_standing(record, PLAN)["4107-01"] == "planned"
    assert stock_of(record, "G1", "CORN-GR") == before
    made(record, SHEEP, 95)
    assert batch_standing(record, PLAN)["4107-01"] == "made"


def test_a_scanned_lot_must_be_known_and_right():
    """A lot nobody received is unknown, a lot of something else is refused, a right one is kept."""
    record = a_day()

    def scanned(lot: str) -> tuple[ActualDraw, ...]:
        draws = list(actuals(SHEEP))
        draws[2] = replace(draws[2], lot=lot)
        return tuple(draws)

    with pytest.raises(Unknown, match="L-SHEEP-PX"):
        record_batch(record, PLAN.plan, "4107-01", scanned("L-SHEP-PX"), by="mara", at=later(90))
    with pytest.raises(BadInput, match="is not what draw 3"):
        record_batch(record, PLAN.plan, "4107-01", scanned("L-PIG-PX"), by="mara", at=later(90))
    result = record_batch(
        record, PLAN.plan, "4107-01", scanned("L-SHEEP-PX"), by="mara", at=later(90)
    )
    assert result.recorded.fact.movements[2].lot == "L-SHEEP-PX"


def test_a_flush_is_recorded_like_a_batch():
    """A flush goes from its bin through the mixer into the flush bin under its own lot."""
    record = a_day()
    recorded = made(record, FLUSH, 80).recorded
    assert recorded.fact.content["kind"] == "flush"
    assert recorded.fact.movements[-1].to_place == "FL1"
    assert record.lot("4107-01-flush")[0].material == "BARLEY-GR"


def test_an_unreleased_plan_takes_no_batch():
    """A batch of a plan that was only proposed is refused."""
    record = a_day()
    plan = a_plan(plan="P-2026-11-25-000000")
    plan_released(record, plan)
    record.reverse(record.head().position, by="osk", why="not yet", recorded_at=later(1))
    with pytest.raises(Refused, match="proposed"):
        record_batch(record, plan.plan, "4107-01", actuals(SHEEP), by="mara", at=later(90))


def test_unknown_plan_and_batch_offer_near_ones():
    """A mistyped plan or batch is answered with what is near it."""
    record = a_day()
    with pytest.raises(Unknown, match="4107-01"):
        record_batch(record, PLAN.plan, "4107-1", (), by="mara", at=later(1))
    with pytest.raises(Unknown, match=PLAN.plan):
        record_batch(record, "P-2026-11-25-3f9a1d", "4107-01", (), by="mara", at=later(1))


def controls_csv(record: MemoryRecord, *batches: Batch, off: str = "") -> str:
    """The controls' export for some batches, as the mill's settings name the columns."""
    from bedstone.desk.tables import current_mill

    settings = current_mill(record).settings
    rows = io.StringIO()
    writer = csv.writer(rows)
    writer.writerow([settings.controls_batch, settings.controls_sequence, settings.controls_actual])
    for batch in batches:
        for draw in batch.draws:
            unit_mg = {"kg": 1e6, "lb": 453592.37, "g": 1e3}[settings.controls_unit]
            number = off or f"{draw.target_mg / unit_mg:.4f}"
            writer.writerow([batch.batch, draw.sequence, number])
    return rows.getvalue()


def test_the_controls_csv_becomes_batches():
    """Two batches in one file become two facts with the numbers as they were read."""
    record = a_day()
    text = controls_csv(record, PIG, SHEEP)
    done = import_batches(record, PLAN.plan, text, by="mara", at=later(100))
    assert [row.recorded.fact.content["batch"] for row in done] == ["4106-01", "4107-01"]
    assert done[0].recorded.fact.movements[0].seen is not None


def test_a_file_with_one_bad_batch_writes_nothing():
    """If one batch of a file is on record already, none of the file is recorded."""
    record = a_day()
    made(record, SHEEP, 90)
    head = record.head()
    with pytest.raises(Refused, match="4107-01"):
        import_batches(
            record, PLAN.plan, controls_csv(record, PIG, SHEEP), by="mara", at=later(100)
        )
    with pytest.raises(BadInput):
        import_batches(
            record, PLAN.plan, controls_csv(record, PIG, off="99999"), by="mara", at=later(100)
        )
    assert record.head() == head


def test_a_clean_out_names_known_places_and_a_reason():
    """A clean-out of known places is on record; an unknown place or no reason is refused."""
    record = a_day()
    content = record_clean_out(
        record, places=("MX1", "MX1>SB1"), reason="before sheep", by="mara", at=later(1)
    ).fact.content
    assert content["places"] == ["MX1", "MX1>SB1"]
    with pytest.raises(BadInput, match="MX9"):
        record_clean_out(record, places=("MX9",), reason="x", by="mara", at=later(1))
    with pytest.raises(BadInput, match="why"):
        record_clean_out(record, places=("MX1",), reason=" ", by="mara", at=later(1))
