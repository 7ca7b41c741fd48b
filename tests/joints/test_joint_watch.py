"""From a meter's drift to the lots it touched, walked on the demo mill from its record alone."""

import datetime as dt
import json
from collections.abc import Iterator
from io import BytesIO

import pytest
from pypdf import PdfReader

from bedstone.desk.holds import held_lots, hold_lots
from bedstone.desk.proofs import ProofPoint, record_proof
from bedstone.desk.record import Record
from bedstone.desk.watch import Watched, watch
from bedstone.desk.watch_history import history
from bedstone.desk.watch_lots import TouchedRun
from bedstone.desk.watch_suspects import Suspect
from bedstone.errors import Unknown
from bedstone.papers.instrument_papers import instrument_report
from conftest import DemoMill

MG_KG = 1_000_000


@pytest.fixture(scope="module")
def watched(demo_made: DemoMill) -> Watched:
    """What the record of the demo says of its instruments."""
    record = demo_made.parts.open_record(demo_made.directory)
    return watch(record, at=demo_made.parts.clock())


@pytest.fixture(scope="module")
def truth(demo_made: DemoMill) -> dict[str, object]:
    """The hidden fault of the oil meter, kept beside the record for scoring."""
    text = (demo_made.directory / "truth.json").read_text()
    return next(row for row in json.loads(text)["faults"] if row["where"] == "LM2")


@pytest.fixture
def record(demo_mill: DemoMill) -> Iterator[Record]:
    """A record that a test may write to."""
    return demo_mill.parts.open_record(demo_mill.directory)


def oil_meter(watched: Watched) -> Suspect:
    """The oil meter as it was found."""
    return next(row for row in watched.suspects if row.about == "LM2")


def test_only_the_oil_meter_stands_out(watched: Watched) -> None:
    """Of all instruments the one with the hidden fault is named, and no other."""
    assert [(row.about, row.kind) for row in watched.suspects] == [("LM2", "gain step")]


def test_it_is_dated_and_sized(watched: Watched, truth: dict[str, object]) -> None:
    """The interval holds the hidden beginning and is shorter than two days, the power event is the
    one of that moment, and the size is within three standard deviations of the hidden one.
    """
    found = oil_meter(watched)
    began = dt.datetime.fromisoformat(str(truth["begins_at"]))
    assert found.begins_lo_at <= began <= found.begins_hi_at
    assert found.begins_hi_at - found.begins_lo_at < dt.timedelta(days=2)
    assert found.power is not None
    assert abs(found.power.to_at - began) <= dt.timedelta(minutes=5)
    assert abs(found.size - float(str(truth["size"]))) < 3 * found.size_sd
    assert found.size_sd < 0.01


def test_it_could_be_known_within_a_working_week(
    watched: Watched, truth: dict[str, object]
) -> None:
    """With two readings of the tank a day, the alarm comes within the readings that the
    arithmetic asks for a step of 5 %, which is smaller.
    """
    found = oil_meter(watched)
    began = dt.datetime.fromisoformat(str(truth["begins_at"]))
    readings = watched.seen["LM2"].readings[1]
    assert found.alarm_at is not None
    assert readings is not None
    assert found.alarm_at - began < dt.timedelta(days=readings)


def test_the_runs_are_those_with_its_oil(watched: Watched, record: Record) -> None:
    """The runs named are the feeds into which LM2 dosed since the power came back: no more, no
    less, by the movements of the ledger.
    """
    found = oil_meter(watched)
    assert found.power is not None
    batches = {row.batch for run in found.runs for row in run.batches}
    read_kg = sum(row.read_kg for run in found.runs for row in run.batches)
    drawn = [
        item
        for item in record.movements()
        if item.movement.instrument == "LM2" and item.happened_at >= found.power.to_at
    ]
    facts = {item.position for item in drawn}
    made = {str(record.fact(position).fact.content["batch"]) for position in facts}
    assert batches <= made
    assert read_kg == pytest.approx(sum(item.movement.mass_mg for item in drawn) / MG_KG, rel=0.02)


def test_fat_goes_up_and_protein_down(watched: Watched) -> None:
    """More oil than booked makes each run fatter and thins its protein; odds stay odds."""
    checked = 0
    for run in oil_meter(watched).runs:
        for level in run.levels:
            assert 0 <= level.odds_likely_frac <= 1
            if level.nutrient == "crude fat":
                assert level.likely > level.booked
                checked += 1
            if level.nutrient == "crude protein":
                assert level.likely < level.booked
    assert checked > 10


def test_what_has_shipped_and_what_lies_here(watched: Watched, record: Record) -> None:
    """Of each run that was packed, what lies here and what was sent add up to what was packed."""
    packed: dict[str, float] = {}
    for item in record.movements():
        move = item.movement
        if move.lot and item.kind == "finishing.run_packed/1" and move.to_place == "WH1":
            packed[move.lot] = packed.get(move.lot, 0.0) + move.mass_mg / MG_KG
    runs: list[TouchedRun] = [run for run in oil_meter(watched).runs if run.run in packed]
    assert runs
    for run in runs:
        assert sum(row.mass_kg for row in run.where) == pytest.approx(packed[run.run], rel=1e-6)


def test_a_person_holds_and_it_is_no_longer_proposed(record: Record, demo_mill: DemoMill) -> None:
    """What still lies here is proposed for hold; nothing is held until a named person says so."""
    now = demo_mill.parts.clock()
    before = oil_meter(watch(record, at=now))
    assert before.hold
    assert not set(before.hold) & set(held_lots(record))
    hold_lots(record, before.hold, why="oil meter reads low", by="wren", at=now)
    assert oil_meter(watch(record, at=now)).hold == ()


def test_a_proof_that_is_right_clears_the_time_after_it(
    record: Record, demo_mill: DemoMill
) -> None:
    """Adjusted and proved now, the meter is no longer due; a fault must have begun after it."""
    now = demo_mill.parts.clock()
    record_proof(
        record, instrument="LM2", kind="catch test",
        points=(ProofPoint(reference_mg=21_400_000, seen_mg=20_000_000),),
        adjusted=True, factor_before=1.0, factor_after=1.07, by="mara", at=now,
    )  # fmt: skip
    after = watch(record, at=now)
    standing = next(row for row in after.proofs if row.instrument == "LM2")
    assert not standing.is_due
    assert standing.is_within
    assert all(row.about != "LM2" for row in after.suspects)


def test_the_laboratory_and_the_yield_bear_witness_too(watched: Watched) -> None:
    """The oil meter's finding rests on its tank, the laboratory's fat and the yield of runs; every
    scale, meter, bag scale and dial of the lines has a witness and a smallest step.
    """
    found = oil_meter(watched)
    assert {"level of T02", "laboratory: crude fat of feed", "yield of pellets"} <= set(
        found.witnesses
    )
    for about in ("SC1", "SC2", "LM1", "SK1 bag scale", "PL1 conditioner temperature",
                  "PL1 cooler outlet moisture", "SK1 bag temperature", "B04 gate to SC1"):  # fmt: skip
        assert watched.smallest[about].size > 0
    assert watched.smallest["LM2"].size < 0.02


def test_its_control_chart_leaves_the_limits_and_a_sound_one_stays(
    record: Record, demo_mill: DemoMill
) -> None:
    """The moving average of the oil meter's best witness ends far beyond its limit; that of the
    molasses meter passes it at few of its results; what nobody has is refused in words.
    """
    now = demo_mill.parts.clock()
    wrong, sound = (history(record, code, at=now) for code in ("LM2", "LM1"))
    assert wrong.witness == "level of T02"
    assert wrong.control[-1].average > 2 * wrong.control[-1].limit
    assert wrong.sum_passed_at is not None
    assert wrong.sum_passed_at > oil_meter(wrong.watched).begins_lo_at
    beyond = [row for row in sound.control if abs(row.average) > row.limit]
    assert len(beyond) < 0.1 * len(sound.control)
    with pytest.raises(Unknown, match="no instrument"):
        history(record, "LM9", at=now)


def test_the_report_says_what_is_wrong_and_what_to_do(record: Record, demo_mill: DemoMill) -> None:
    """The monthly report names the meter, its size, the lots that lie here and what to do now."""
    now = demo_mill.parts.clock()
    content = instrument_report(record, now.date(), at=now)
    pages = PdfReader(BytesIO(content)).pages
    text = " ".join(" ".join(page.extract_text() for page in pages).split())
    for words in ("Wrong: LM2", "more flows than is read", "runs touched", "Stop dosing over LM2"):
        assert words in text
