"""Water of a run: reckoned, booked, and booked again when readings come or go."""

import datetime as dt

import pytest

from bedstone.desk.batches import record_batch
from bedstone.desk.line_water import book_water_again, is_as_read, keeps_pellets, pelletings
from bedstone.desk.lots_lying import lying_now
from bedstone.desk.machines import machines_hold
from bedstone.desk.readings import READINGS
from bedstone.desk.runs import PelletedBatch, record_pelleted
from bedstone.desk.verify import verify
from bedstone.errors import BadInput
from bedstone.ledger.model import How
from bedstone.ledger.reversal import reversal_of
from fakes.desk_day import PLAN, a_day, actuals, later
from fakes.line_runs import AT, BATCHES, RUN, line_record, made, pelleted, read, shipped
from fakes.memory import MemoryRecord

LATER = AT + dt.timedelta(hours=2)
COND_C = 72.0


@pytest.fixture
def record() -> MemoryRecord:
    """A run of rabbit feed that is mixed, nothing read of it."""
    found = MemoryRecord()
    line_record(found)
    made(found)
    return found


def rows(record: MemoryRecord) -> tuple[PelletedBatch, ...]:
    """The batches of the run as they stand in the record."""
    (one,) = pelletings(record, RUN)
    return one.batches


def again(record: MemoryRecord, *, hours: int = 3) -> tuple[str, ...]:
    """Book the water again, some hours after the run."""
    return book_water_again(record, {RUN}, by="dell", at=AT + dt.timedelta(hours=hours))


def balanced(record: MemoryRecord) -> bool:
    """What went into the line came out of it, to the milligram, and the record is whole."""
    held = sum(line.mass_mg for line in record.stock() if line.place == "PL2")
    bad = [one for one in verify(record) if one.verdict.value in ("stop", "act")]
    return not held and not bad


def test_dry_matter_stays_through_the_line(record: MemoryRecord) -> None:
    """Worked by hand: 900 kg of mash with 12 % less 0.1 % dust hold 791.2 kg of dry matter; at
    11 % they are 889.0 kg. What steam brought beyond that the air took.
    """
    read(record, conditioner_temperature=COND_C, cooler_outlet_moisture=0.11, mash_moisture=0.12)
    pelleted(record, dust_mg=dict.fromkeys(BATCHES, 900_000))
    first = rows(record)[0]
    assert first.out_mg == pytest.approx(899_100_000 * 0.88 / 0.89, abs=1)
    assert 0.03 < first.steam_mg / first.in_mg < 0.07
    assert first.steam_sd_mg == pytest.approx(0.05 * first.steam_mg, abs=1)
    assert balanced(record)


def test_without_readings_the_settings_stand_with_a_wider_error(record: MemoryRecord) -> None:
    """Nothing read: steam by the setting, pellets as moist as their mash, both less certain than
    with readings.
    """
    pelleted(record)
    blind = rows(record)[0]
    assert blind.steam_sd_mg == pytest.approx(0.15 * blind.steam_mg, abs=1)
    read(record, conditioner_temperature=COND_C, cooler_outlet_moisture=0.11,
         mash_moisture=0.12, at=LATER)  # fmt: skip
    assert again(record) == (RUN,)
    known = rows(record)[0]
    assert known.out_sd_mg < blind.out_sd_mg
    assert known.out_mg < blind.out_mg
    assert balanced(record)


def test_readings_that_come_later_book_the_water_again_once(record: MemoryRecord) -> None:
    """The first fact is taken back and recorded again at its own time; a second look changes
    nothing; readings that are taken back change it back.
    """
    read(record, conditioner_temperature=COND_C, cooler_outlet_moisture=0.12)
    first = pelleted(record)
    before = rows(record)
    read(record, cooler_outlet_moisture=0.10, at=LATER)
    assert again(record) == (RUN,)
    (one,) = pelletings(record, RUN)
    assert one.recorded.fact.happened_at == first.fact.happened_at
    assert one.recorded.position > first.position
    assert one.batches[0].out_mg < before[0].out_mg
    head = record.head()
    assert again(record, hours=4) == ()
    assert record.head() == head
    slip = list(record.facts(kinds=(READINGS,)))[-1]
    record.reverse(slip.position, by="dell", why="a slip", recorded_at=LATER)
    assert again(record, hours=5) == (RUN,)
    assert rows(record) == before
    assert balanced(record)


def test_pellets_that_have_gone_are_not_booked_again(record: MemoryRecord) -> None:
    """All of the pellets are packed when a wetter reading comes: steam and the air's water follow
    it, the pellets' weight stays, and nothing lies in the bin that is not there. What has gone in
    part stays in part: the batch that still lies there is booked anew.
    """
    read(record, conditioner_temperature=COND_C, cooler_outlet_moisture=0.11)
    pelleted(record)
    before = rows(record)
    out_mg = sum(row.out_mg for row in before)
    left(record, out_mg - 5_000_000)  # a rest within what the books can be off
    read(record, conditioner_temperature=COND_C + 8, cooler_outlet_moisture=0.13, at=LATER)
    assert again(record) == (RUN,)
    after = rows(record)
    assert [row.out_mg for row in after] == [row.out_mg for row in before]
    assert all(new.steam_mg > old.steam_mg for old, new in zip(before, after, strict=True))
    assert sum(row.mass_mg for row in record.stock() if row.place == "FB6") == 5_000_000
    assert keeps_pellets(record, pelletings(record, RUN)[0])
    assert is_as_read(record, pelletings(record, RUN)[0])
    assert again(record, hours=4) == ()
    assert balanced(record)


def test_of_pellets_gone_in_part_the_rest_is_booked_again(record: MemoryRecord) -> None:
    """The first batch has left, the second lies there: the reading changes the second alone."""
    read(record, conditioner_temperature=COND_C, cooler_outlet_moisture=0.11)
    pelleted(record)
    before = rows(record)
    left(record, before[0].out_mg)
    read(record, cooler_outlet_moisture=0.12, at=LATER)
    assert again(record) == (RUN,)
    after = rows(record)
    assert after[0].out_mg == before[0].out_mg
    assert after[1].out_mg > before[1].out_mg
    assert sum(row.mass_mg for row in record.stock() if row.place == "FB6") == after[1].out_mg
    assert balanced(record)


def left(record: MemoryRecord, mass_mg: int) -> None:
    """So much of the run is packed, and leaves."""
    shipped(record, bags_mg=mass_mg, left_mg=mass_mg)


def test_what_was_metered_and_weighed_stays(record: MemoryRecord) -> None:
    """Metered steam and weighed pellets are not touched by readings; with one of them only the
    other is reckoned.
    """
    steam, out = dict.fromkeys(BATCHES, 40_000_000), dict.fromkeys(BATCHES, 905_000_000)
    pelleted(record, steam_mg=steam, out_mg=out)
    read(record, conditioner_temperature=COND_C, cooler_outlet_moisture=0.10, at=LATER)
    assert again(record) == ()
    made(record, "R-9", batches=("9-01", "9-02"))
    nine = dict.fromkeys(("9-01", "9-02"), 900_000_000)
    pelleted(record, "R-9", mash_mg=nine, steam_mg=dict.fromkeys(nine, 40_000_000))
    read(record, "R-9", cooler_outlet_moisture=0.10, at=LATER)
    assert book_water_again(record, {"R-9", RUN}, by="dell", at=LATER) == ("R-9",)
    (one,) = pelletings(record, "R-9")
    assert {row.steam_mg for row in one.batches} == {40_000_000}
    hows = {move.how for move in one.recorded.fact.movements if move.from_place == "steam"}
    assert hows == {How.METERED}
    assert balanced(record)


def test_readings_that_contradict_themselves_book_nothing(record: MemoryRecord) -> None:
    """Pellets wetter than mash and steam: what was booked stands; at the line it is refused."""
    pelleted(record)
    before = rows(record)
    read(record, conditioner_temperature=COND_C, cooler_outlet_moisture=0.25, at=LATER)
    assert again(record) == ()
    assert rows(record) == before
    made(record, "R-9", batches=("9-01",))
    read(record, "R-9", conditioner_temperature=COND_C, cooler_outlet_moisture=0.25)
    with pytest.raises(BadInput, match="weigh more"):
        pelleted(record, "R-9", mash_mg={"9-01": 900_000_000})


def test_feed_without_tables_is_refused_unless_metered_and_weighed(record: MemoryRecord) -> None:
    """Nothing is known of the pellets of a mash feed: said in words; typed masses are taken."""
    made(record, "R-9", product="RABBIT-16", batches=("9-01",))
    with pytest.raises(BadInput, match="cannot be reckoned"):
        pelleted(record, "R-NIX", mash_mg={"9-01": 900_000_000})


def test_steam_that_was_none_by_a_slip_comes_back(record: MemoryRecord) -> None:
    """A conditioner read colder than its mash took no steam; taken back, the steam is booked."""
    pelleted(record)
    before = rows(record)
    read(record, conditioner_temperature=31.0, mash_temperature=45.0, at=LATER)
    again(record)
    assert rows(record)[0].steam_mg == 1
    for item in record.facts(kinds=(READINGS,)):
        record.reverse(item.position, by="dell", why="a slip", recorded_at=LATER)
    again(record, hours=4)
    assert rows(record) == before
    assert balanced(record)


def test_booking_anew_makes_no_machine_dirty_again() -> None:
    """A fact that is taken back and recorded anew at its own time leaves what each machine holds,
    and what lies where, as it was, even after other feed went on.
    """
    made_day = a_day()
    first = [row for row in PLAN.batches if row.run == "R-4107" and row.formula_version]
    later_rows = [row for row in PLAN.batches if row.run != "R-4107" and row.formula_version]
    for number, batch in enumerate(first):
        record_batch(made_day, PLAN.plan, batch.batch, actuals(batch), by="mara",
                     at=later(90 + number))  # fmt: skip
    rows_of = tuple(
        PelletedBatch(batch=row.batch, in_mg=row.mass_mg, steam_mg=60_000_000, dust_mg=1_000_000,
                      out_mg=row.mass_mg - 2_000_000, steam_sd_mg=3_000_000, out_sd_mg=4_000_000)
        for row in first
    )  # fmt: skip
    done = record_pelleted(made_day, run="R-4107", machine="PL1", from_place="SB1",
                           to_place="FB1", batches=rows_of, by="mara", at=later(120))  # fmt: skip
    for number, batch in enumerate(later_rows):
        record_batch(made_day, PLAN.plan, batch.batch, actuals(batch), by="mara",
                     at=later(130 + number))  # fmt: skip
    held, lying = machines_hold(made_day), lying_now(made_day)
    made_day.append_all([reversal_of(done, by="mara", why="readings"), done.fact],
                        recorded_at=later(200))  # fmt: skip
    assert held
    assert machines_hold(made_day) == held
    assert lying_now(made_day) == lying
