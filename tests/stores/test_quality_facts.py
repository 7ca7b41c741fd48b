"""What is measured and told beside the making of feed: kept, read back, taken back, in every store."""

import datetime as dt
from collections.abc import Callable
from dataclasses import replace

import pytest

from bedstone.desk.assays import assays, record_assay, summarise
from bedstone.desk.complaints import complaints, record_complaint
from bedstone.desk.levels import levels, record_level
from bedstone.desk.mixer_tests import mixer_tests, record_mixer_test
from bedstone.desk.proofs import ProofPoint, power_events, proofs, record_power_event, record_proof
from bedstone.desk.readings import readings, record_readings, series
from bedstone.desk.record import Record
from bedstone.desk.tables import difference, load_tables, recorded_folder
from bedstone.desk.verify import verify
from bedstone.errors import BadInput
from bedstone.ledger.model import Recorded
from bedstone.mill.folder import LoadedFolder
from bedstone.mill.model import Assay, Composition
from bedstone.mill.readings import ReadingRow
from fakes.desk_day import MORNING, a_folder, later

LOT = "L-CORN-GR"
PROTEIN = Assay(
    assay="A-1", nutrient="crude protein", of="CORN-GR", lot=LOT, value=7.9, unit="%", sd=0.2,
    method="Kjeldahl", laboratory="own", sampled_at=MORNING, retained_sample="shelf 3",
)  # fmt: skip


def the_folder() -> LoadedFolder:
    """The hand-written mill with protein of ground corn in its tables."""
    folder = a_folder()
    protein = Composition(
        ingredient="CORN-GR", nutrient="crude protein", mean=8.0, unit="%", source="example"
    )
    return replace(folder, mill=replace(folder.mill, composition=(protein,)))


@pytest.fixture
def loaded(record: Record) -> Record:
    """A record of each kind with the hand-written mill and its stock."""
    load_tables(record, the_folder(), by="osk", at=MORNING)
    return record


def assayed(record: Record) -> Recorded:
    return record_assay(record, PROTEIN, by="osk", at=later(5))


def read(record: Record) -> Recorded:
    rows = [ReadingRow(at=later(minute), value=80.0 + minute, run="R-1") for minute in (2, 1)]
    return record_readings(
        record, instrument="PL1", quantity="conditioner temperature", rows=rows, by="mara", at=later(5)
    )  # fmt: skip


def proved(record: Record) -> Recorded:
    points = [ProofPoint(reference_mg=20_000_000, seen_mg=20_100_000)]
    return record_proof(
        record, instrument="LM2", kind="catch test", points=points, adjusted=True,
        factor_before=1.0, factor_after=0.995, by="mara", at=later(6),
    )  # fmt: skip


def powered(record: Record) -> Recorded:
    return record_power_event(record, from_at=later(1), to_at=later(2), by="mara", at=later(6))


def levelled(record: Record) -> Recorded:
    return record_level(
        record, "T1", method="gauge", value=0.42, unit="frac", sd=0.01, by="mara", at=later(7)
    )  # fmt: skip


def complained(record: Record) -> Recorded:
    return record_complaint(
        record, complaint="C-1", customer="harrow", product="SHEEP-GR", what="mouldy",
        text="warm in the middle of the bag", by="osk", at=later(8),
    )  # fmt: skip


def mixed(record: Record) -> Recorded:
    return record_mixer_test(
        record, mixer="MX1", product="SHEEP-GR", tracer="iron", method="counted", values=[21, 25, 30],
        unit="count", mixing_s=180, by="mara", at=later(9),
    )  # fmt: skip


ACTS: dict[str, tuple[Callable[[Record], Recorded], Callable[[Record], tuple[object, ...]]]] = {
    "assay": (assayed, assays),
    "readings": (read, series),
    "proof": (proved, proofs),
    "power event": (powered, power_events),
    "level": (levelled, levels),
    "complaint": (complained, complaints),
    "mixer test": (mixed, mixer_tests),
}


@pytest.mark.parametrize("name", ACTS)
def test_an_act_is_kept_and_can_be_taken_back(name: str, loaded: Record) -> None:
    """Each act makes one fact that is read back; taken back, it is gone from the reading, and the
    record stays whole.
    """
    act, reading = ACTS[name]
    assert reading(loaded) == ()
    done = act(loaded)
    assert done.fact.movements == ()
    assert len(reading(loaded)) == 1
    loaded.reverse(done.position, by="osk", why="a slip", recorded_at=later(20))
    assert reading(loaded) == ()
    assert [item for item in verify(loaded) if item.verdict.value in ("stop", "act")] == []


def test_readings_come_back_in_order_and_the_last_word_stands(loaded: Record) -> None:
    """Readings are read in order of time; one given again for the same time replaces the first."""
    read(loaded)
    again = [ReadingRow(at=later(2), value=79.5, run="R-1")]
    record_readings(
        loaded, instrument="PL1", quantity="conditioner temperature", rows=again, by="mara",
        at=later(6),
    )  # fmt: skip
    found = readings(loaded, "PL1", "conditioner temperature")
    assert [row.value for row in found.rows] == [81.0, 79.5]
    assert found.unit == "C"
    late = readings(loaded, "PL1", "conditioner temperature", since=later(2))
    assert [row.at for row in late.rows] == [later(2)]


def test_a_corrected_assay_replaces_the_first(loaded: Record) -> None:
    """A second word of the same report stands in place of the first, and both are in the journal."""
    assayed(loaded)
    record_assay(loaded, replace(PROTEIN, value=8.1), by="osk", at=later(6))
    assert [row.value for row in assays(loaded)] == [8.1]
    assert len(list(loaded.facts(kinds=("quality.assayed/1",)))) == 2


def test_a_lot_measured_twice_counts_once(loaded: Record) -> None:
    """Mean and spread are over lots: two results of one lot are its mean, as worked by hand:
    lots 8.0 (of 7.9 and 8.1) and 9.0 have mean 8.5 and sd 0.7071.
    """
    rows = [
        PROTEIN,
        replace(PROTEIN, assay="A-2", value=8.1),
        replace(PROTEIN, assay="A-3", lot="L-OTHER", value=9.0),
    ]
    (found,) = summarise(rows).values()
    assert (found.mean, found.assays) == (pytest.approx(8.5), 2)
    assert found.sd == pytest.approx(0.70711, abs=1e-5)
    assert loaded.head().position > 0


def test_assays_merge_by_key_from_the_folder(loaded: Record) -> None:
    """A table of assays is recorded once; loaded again it says nothing new; what the record would
    export holds it; a row that is gone deletes nothing.
    """
    folder = replace(
        the_folder(), assays=(PROTEIN, replace(PROTEIN, nutrient="moisture", value=11.9))
    )
    assert [said for said in difference(loaded, folder) if "assays: 2 results" in said]
    assert load_tables(loaded, folder, by="osk", at=later(5)).assays_set == 2
    assert load_tables(loaded, folder, by="osk", at=later(6)).nothing_new
    assert load_tables(loaded, the_folder(), by="osk", at=later(7)).nothing_new
    assert recorded_folder(loaded).assays == folder.assays


def test_assays_of_lots_of_another_records_past_are_left_out(record: Record) -> None:
    """The folder of another record begins a new one: results of lots that this one lacks are left
    out and counted, at the first load and at the next; the others are taken.
    """
    past = replace(PROTEIN, assay="A-2", lot="L-OF-OLD", sampled_at=MORNING - dt.timedelta(days=20))
    folder = replace(the_folder(), assays=(PROTEIN, past))
    first = load_tables(record, folder, by="osk", at=MORNING)
    assert (first.assays_set, first.assays_left_out) == (1, 1)
    assert assays(record) == (PROTEIN,)
    assert not difference(record, folder)
    again = load_tables(record, folder, by="osk", at=later(5))
    assert (again.nothing_new, again.assays_left_out) == (True, 1)


def test_any_other_fault_of_an_assay_stays_a_fault(record: Record) -> None:
    """An unknown nutrient stops the first load even where its lot is of the past; once the record
    has begun, an unknown lot that was sampled since stops the load.
    """
    wrong = replace(PROTEIN, lot="L-OF-OLD", nutrient="luck")
    with pytest.raises(BadInput, match="cannot be taken") as caught:
        load_tables(record, replace(the_folder(), assays=(wrong,)), by="osk", at=MORNING)
    assert [fault.column for fault in caught.value.faults] == ["A-1 luck, nutrient"]
    assert record.head().position == 0
    load_tables(record, the_folder(), by="osk", at=MORNING)
    since = replace(PROTEIN, lot="L-OF-OLD", sampled_at=later(1))
    with pytest.raises(BadInput) as caught:
        load_tables(record, replace(the_folder(), assays=(since,)), by="osk", at=later(2))
    assert [fault.column for fault in caught.value.faults] == ["A-1 crude protein, lot"]


def test_readings_of_a_day_are_one_fact(loaded: Record) -> None:
    """A thousand readings make one fact."""
    before = loaded.head().position
    rows = [ReadingRow(at=MORNING + dt.timedelta(seconds=n), value=20.0) for n in range(1000)]
    record_readings(
        loaded, instrument="T1", quantity="tank temperature", rows=rows, by="mara", at=later(60)
    )  # fmt: skip
    assert loaded.head().position == before + 1
    assert len(readings(loaded, "T1", "tank temperature").rows) == 1000
