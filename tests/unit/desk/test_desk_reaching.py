"""What the machines hold when things are typed late, wait upstream, or are taken back."""

import datetime as dt
from dataclasses import replace

import pytest

from bedstone.desk.batches import record_batch, record_clean_out
from bedstone.desk.import_batches import import_batches
from bedstone.desk.machines import machines_hold, what_ran
from bedstone.desk.made import made_batches
from bedstone.desk.runs import record_shipped_bulk
from bedstone.desk.tables import current_mill, load_tables
from bedstone.errors import Refused
from bedstone.ledger.model import Fact
from bedstone.mill.residue import MaterialPassed, Reached
from fakes.desk_day import (
    PLAN,
    a_day,
    a_desk_mill,
    a_folder,
    actuals,
    an_order,
    later,
    plan_released,
)
from fakes.memory import MemoryRecord

WHOLE = replace(
    PLAN,
    plan="P-2026-11-25-whole1",
    batches=tuple(
        replace(row, route=(*row.route, "LO1")) if row.destination == "FB2" else row
        for row in PLAN.batches
    ),
)
BATCHES = {row.batch: row for row in WHOLE.batches}


def day() -> MemoryRecord:
    """A day whose plan has mash go all the way to the load-out."""
    record = a_day()
    plan_released(record, WHOLE)
    return record


def made(record: MemoryRecord, code: str, minute: int) -> None:
    """Record a batch."""
    record_batch(record, WHOLE.plan, code, actuals(BATCHES[code]), by="mara", at=later(minute))


def began(record: MemoryRecord, code: str, minute: int) -> None:
    """Put the beginning of a batch on record, unjudged."""
    batch = BATCHES[code]
    content = {
        "batch": code, "run": batch.run, "mixer": batch.mixer, "plan": WHOLE.plan,
        "formula_version": batch.formula_version,
    }  # fmt: skip
    fact = Fact(kind="batching.batch_started/1", happened_at=later(minute), by="m", content=content)
    record.append(fact, recorded_at=later(minute))


def monensin(record: MemoryRecord, place: str, at: dt.datetime | None = None):
    """What a place holds of the drug."""
    rows = [row for row in machines_hold(record, at) if row.place == place]
    return next((row for row in rows if row.substance == "monensin"), None)


def passed(record: MemoryRecord) -> list[str]:
    """Materials in the order in which they went along the machines."""
    return [row.material for row in what_ran(record) if isinstance(row, MaterialPassed)]


def test_a_batch_counts_from_when_it_began():
    """A flush typed in after the drug batch that began after it does not clean the mixer of it."""
    record = day()
    began(record, "4107-01-flush", 1)
    began(record, "4105-01", 10)
    made(record, "4105-01", 20)
    made(record, "4107-01-flush", 25)
    assert passed(record) == ["BARLEY-GR", "BROIL-M"]
    assert monensin(record, "MX1").passed_mg == 0


def test_a_corrected_batch_keeps_its_time():
    """A flush taken back and recorded again later counts where it was, before the drug."""
    record = day()
    made(record, "4107-01-flush", 5)
    made(record, "4105-01", 10)
    position = made_batches(record)["4107-01-flush"].position
    record.reverse(position, by="osk", why="wrong", recorded_at=later(20))
    made(record, "4107-01-flush", 21)
    assert passed(record) == ["BARLEY-GR", "BROIL-M"]
    assert monensin(record, "MX1").passed_mg == 0


def test_a_batch_taken_back_is_dirt_and_cleans_nothing():
    """A drug batch taken back still leaves its drug; a flush taken back has washed nothing away."""
    record = day()
    made(record, "4105-01", 10)
    record.reverse(
        made_batches(record)["4105-01"].position, by="osk", why="wrong", recorded_at=later(11)
    )
    assert monensin(record, "MX1").passed_mg == 0
    assert monensin(record, "MX1").concentration_mg_kg == pytest.approx(100, rel=0.01)
    made(record, "4107-01-flush", 12)
    assert monensin(record, "MX1").passed_mg > 0
    record.reverse(
        made_batches(record)["4107-01-flush"].position, by="osk", why="wrong", recorded_at=later(13)
    )
    assert monensin(record, "MX1").passed_mg == 0
    assert passed(record) == []


def test_feed_that_waits_upstream_makes_a_cleaned_line_dirty():
    """A load-out cleaned while medicated feed waits in the bin above it is not clean of it."""
    record = day()
    made(record, "4105-01", 10)
    route = BATCHES["4105-01"].route
    line = route[-1]
    record_clean_out(record, places=(line,), reason="drug", by="mara", at=later(20))
    held = monensin(record, line)
    assert held is not None
    assert held.passed_mg == 0
    assert held.left_by == "BROIL-M"
    assert any(isinstance(row, Reached) for row in what_ran(record))


def test_feed_loaded_out_after_a_clean_out_makes_the_line_dirty():
    """A line that was cleaned before feed went over it holds what the feed contains."""
    record = day()
    load_tables(
        record,
        a_folder(orders=(an_order("4105", product="BROIL-M", pack="bulk"),)),
        by="osk",
        at=later(1),
    )
    made(record, "4105-01", 10)
    batch = BATCHES["4105-01"]
    record_clean_out(record, places=(batch.route[-1],), reason="drug", by="mara", at=later(20))
    record_shipped_bulk(
        record,
        order="4105",
        run="R-4105",
        mass_mg=sum(draw.actual_mg for draw in made_batches(record)["4105-01"].made.draws),
        from_place=batch.destination,
        machine=batch.route[-1],
        by="mara",
        at=later(30),
    )
    held = monensin(record, batch.route[-1])
    assert held is not None
    assert held.passed_mg == 0
    assert monensin(record, batch.route[-1], later(20)) is not None
    record_clean_out(record, places=(batch.route[-1],), reason="drug", by="mara", at=later(40))
    again = monensin(record, batch.route[-1])
    assert again is None or again.passed_mg is None


def test_a_clean_out_is_not_typed_for_a_batch_that_has_begun():
    """A clean-out before a batch that has begun or was made is refused, and nothing is written."""
    record = day()
    began(record, "4105-01", 5)
    position = record.head().position
    with pytest.raises(Refused, match="4105-01"):
        record_clean_out(
            record, places=("MX1",), reason="x", before_batch="4105-01", by="mara", at=later(6)
        )
    made(record, "4106-01", 7)
    assert record.head().position > position
    position = record.head().position
    with pytest.raises(Refused, match="4106-01"):
        record_clean_out(
            record, places=("MX1",), reason="x", before_batch="4106-01", by="mara", at=later(8)
        )
    assert record.head().position == position


def test_new_tables_do_not_clean_the_past():
    """A drug content lowered by new tables leaves what was mixed before as strong as it was."""
    record = day()
    made(record, "4105-01", 10)
    before = monensin(record, "MX1").concentration_mg_kg
    mill = a_desk_mill()
    weak = tuple(
        replace(row, content_mg_kg=row.content_mg_kg / 10 if row.ingredient == "MONEN" else 1.0)
        for row in mill.contents
    )
    report = load_tables(
        record, a_folder(mill=replace(mill, contents=weak)), by="osk", at=later(15)
    )
    assert monensin(record, "MX1").concentration_mg_kg == pytest.approx(before)
    assert any("MONEN" in said and "monensin" in said for said in report.fell)


def test_imported_batches_follow_their_beginnings():
    """Batches of one file of the controls are recorded in the order in which they began."""
    record = day()
    began(record, "4105-01", 1)
    began(record, "4106-01", 2)
    settings = current_mill(record).settings
    rows = [(settings.controls_batch, settings.controls_sequence, settings.controls_actual)]
    unit_mg = {"kg": 1e6, "lb": 453592.37, "g": 1e3}[settings.controls_unit]
    rows += [
        (code, str(draw.sequence), f"{draw.target_mg / unit_mg:.4f}")
        for code in ("4106-01", "4105-01")
        for draw in BATCHES[code].draws
    ]
    text = "\n".join(",".join(row) for row in rows)
    done = import_batches(record, WHOLE.plan, text, by="mara", at=later(30))
    assert [row.recorded.fact.content["batch"] for row in done] == ["4105-01", "4106-01"]
    assert passed(record) == ["BROIL-M", "PIG-FIN"]
