"""What a run's readings on its line say against its settings."""

import datetime as dt
from dataclasses import replace

import pytest

from bedstone.desk.line_findings import plain_findings, read_findings
from bedstone.desk.line_readings import RunRead, read_of_run
from bedstone.desk.line_sent import now_of, sent_findings, where_sent
from bedstone.desk.line_tests import record_durability
from bedstone.desk.line_water import line_water
from bedstone.desk.revisions import current_mill
from bedstone.mill.plan import Finding, Verdict
from bedstone.mill.readings import ReadingRow
from fakes.line_runs import AT, BATCHES, RUN, line_record, made, pelleted, read, shipped
from fakes.memory import MemoryRecord

HOUR = dt.timedelta(hours=1)


@pytest.fixture
def record() -> MemoryRecord:
    """The demo mill with a day of 20 C air, and a run of rabbit feed that is mixed."""
    found = MemoryRecord()
    line_record(found)
    made(found)
    return found


def a_read(*, product: str = "RABBIT-16", **values: float) -> RunRead:
    """A run with one reading of each quantity; what is not named is as the tables have it."""
    rows = {
        quantity.replace("_", " "): (ReadingRow(at=AT, value=value, run=RUN),)
        for quantity, value in values.items()
    }
    return RunRead(run=RUN, product=product, line="PL2", rows=rows)


def set_c(record: MemoryRecord, product: str = "RABBIT-16") -> float:
    """What the tables set for the conditioner."""
    return next(r.conditioning_c for r in current_mill(record).pellets if r.product == product)


def by_code(found: tuple[Finding, ...]) -> dict[str, Finding]:
    """Findings by their code."""
    return {one.code: one for one in found}


def test_a_run_as_set_has_nothing_to_say(record: MemoryRecord) -> None:
    """At its setting, with the rise of the tables, cool and dry at the outlet: no finding."""
    wanted = set_c(record)
    run = a_read(conditioner_temperature=wanted + 1, die_temperature=wanted + 6.5,
                 cooler_outlet_temperature=21.5, cooler_outlet_moisture=0.122,
                 mash_moisture=0.12)  # fmt: skip
    assert read_findings(record, run) == ()


def test_heat_off_its_setting_is_told_with_how_far(record: MemoryRecord) -> None:
    """8 K over the setting is 14 °F above it; a die 12 K hotter than usual is told apart."""
    wanted = set_c(record)
    found = by_code(read_findings(record, a_read(
        conditioner_temperature=wanted + 8, die_temperature=wanted + 8 + 5.6 + 12)))  # fmt: skip
    assert "14 °F above it" in found["line.conditioner"].text
    assert found["line.die"].value == pytest.approx(17.6)
    assert "rolls" in found["line.die"].do


def test_a_live_culture_that_was_cooked_is_told() -> None:
    """The culture in the horse supplement does not live through 93 C."""
    record = MemoryRecord()
    line_record(record)
    made(record, product="HORSE-SUP")
    run = a_read(product="HORSE-SUP", conditioner_temperature=93.0)
    found = by_code(read_findings(record, run))
    assert found["line.additive"].verdict is Verdict.ACT
    assert "199 °F" in found["line.additive"].text


def test_steam_is_judged_by_the_balance_where_the_mash_was_read(record: MemoryRecord) -> None:
    """Steam a third over what the balance asks is told, a tenth is not, and without a reading of
    the mash nothing is said.
    """
    wanted, rate = set_c(record), 0.7
    read(record, conditioner_temperature=wanted)
    need = rate * line_water(record, RUN, "PL2", "RABBIT-16").steam_frac
    near = a_read(conditioner_temperature=wanted, mash_flow=rate, steam_flow=1.1 * need)
    assert "line.steam" not in by_code(read_findings(record, near))
    far = a_read(conditioner_temperature=wanted, mash_flow=rate, steam_flow=1.33 * need)
    told = by_code(read_findings(record, far))["line.steam"]
    assert "33 % more" in told.text
    assert "wet steam" in told.do
    little = a_read(conditioner_temperature=wanted, mash_flow=rate, steam_flow=0.6 * need)
    assert "40 % less" in by_code(read_findings(record, little))["line.steam"].text
    blind = a_read(conditioner_temperature=wanted, steam_flow=1.33 * need)
    assert "line.steam" not in by_code(read_findings(record, blind))


def test_a_motor_over_its_plate_and_unlike_its_other_runs_is_told(record: MemoryRecord) -> None:
    """Over the plate at once; 30 % over the median of five earlier runs; four are too few."""
    over = a_read(motor_current=60.0)
    told = by_code(read_findings(record, over))["line.motor"]
    assert (told.verdict, told.limit) == (Verdict.ACT, 52.0)
    for number in range(5):
        run = f"R-2{number}"
        made(record, run, batches=(f"2{number}-01",), at=AT - (6 - number) * HOUR)
        read(record, run, at=AT - (6 - number) * HOUR, motor_current=30.0 + number, mash_flow=0.7)
        seen = a_read(motor_current=41.6, mash_flow=0.7)
        codes = by_code(read_findings(record, seen))
        assert ("line.motor_usual" in codes) == (number == 4)
    assert "32 A is usual" in codes["line.motor_usual"].text
    assert "30 % more" in codes["line.motor_usual"].text
    slow = a_read(motor_current=32.0 / 2, mash_flow=0.35)
    assert "line.motor_usual" not in by_code(read_findings(record, slow))


def test_pellets_too_soft_for_their_product_are_told(record: MemoryRecord) -> None:
    """An index surely below what the product asks is acted on; a single test just below is not."""
    run = a_read(conditioner_temperature=set_c(record))
    wanted = next(
        r.durability_frac for r in current_mill(record).pellets if r.product == "RABBIT-16"
    )
    assert wanted is not None
    near_g = 500 * wanted - 4  # 0.8 points below: a second test may be as much above
    record_durability(record, run=RUN, line="PL2", retained_g=[near_g], by="dell", at=AT)
    assert by_code(read_findings(record, run))["line.durability"].verdict is Verdict.NOTE
    record_durability(
        record, run=RUN, line="PL2", retained_g=[350.0, 352.0, 351.0], by="dell", at=AT
    )
    told = by_code(read_findings(record, run))["line.durability"]
    assert told.verdict is Verdict.ACT
    assert "70.2 %" in told.text


def test_pellets_sent_warm_are_told_with_their_bin_and_batches(record: MemoryRecord) -> None:
    """15 K over 20 C air, against the 8.3 K of the tables: told with where they went."""
    read(record, cooler_outlet_temperature=35.0, cooler_outlet_moisture=0.12,
         conditioner_temperature=set_c(record))  # fmt: skip
    run = a_read(cooler_outlet_temperature=35.0)
    assert "not on record yet" in sent_findings(record, run)[0].text
    pelleted(record)
    (told,) = sent_findings(record, run)
    assert told.code == "line.sent_warm"
    assert "27 °F warmer" in told.text
    assert "finished bin 6, horse side (batches 1-01, 1-02)" in told.text
    assert told.text.endswith("Now, by the books: 4,035 lb in small finished bin 6, horse side.")
    assert "watch that bin tonight" in told.do
    (sent,) = where_sent(record, RUN, "PL2")
    assert (sent.place, sent.batches) == ("FB6", BATCHES)


def test_feed_that_has_gone_is_sought_where_it_is(record: MemoryRecord) -> None:
    """Once all of it is in bags and some at a customer's, the finding names both, and whom to call;
    nobody is told to watch a bin that holds nothing of it.
    """
    read(record, cooler_outlet_temperature=35.0, cooler_outlet_moisture=0.145, mash_moisture=0.13)
    pelleted(record)
    shipped(record, bags_mg=1_000_000_000, left_mg=700_000_000)
    found = by_code(sent_findings(record, a_read(cooler_outlet_temperature=35.0,
                                                 cooler_outlet_moisture=0.145)))  # fmt: skip
    warm, damp = found["line.sent_warm"], found["line.sent_damp"]
    mill = current_mill(record)
    firm = next(one for one in mill.firms if one.role == "customer")
    for told in (warm, damp):
        assert f"1,543 lb shipped to {firm.name} for order 77" in told.text
        assert "661 lb in " in told.text
        assert f"call {firm.name} ({firm.phone})" in told.do
    assert "feel the bags" in warm.do
    assert "hold it" in damp.do
    lying_mg = sum(one.mass_mg for one in now_of(record, RUN, "PL2").lying)
    assert lying_mg == where_sent(record, RUN, "PL2")[0].mass_mg - 700_000_000


def test_readings_that_cannot_be_are_left_out_and_said(record: MemoryRecord) -> None:
    """In air of 20 C pellets at 5 C, and a conditioner at 104 C at the mill's height, are no pellets
    and no mash: said, and in no mean. One as cold as drying makes it stays.
    """
    at = [AT + number * dt.timedelta(minutes=5) for number in range(4)]
    for when, outlet_c, cond_c in zip(at, (24.0, 5.0, 22.0, 15.0), (70.0, 104.0, 72.0, 71.0),
                                      strict=True):  # fmt: skip
        read(record, at=when, cooler_outlet_temperature=outlet_c, conditioner_temperature=cond_c)
    run = read_of_run(record, RUN, "PL2")
    assert run is not None
    assert run.mean("cooler outlet temperature") == pytest.approx((24 + 22 + 15) / 3)
    assert run.mean("conditioner temperature") == pytest.approx(71.0)
    found = by_code(read_findings(record, run))
    cold, hot = found["line.slip_air"], found["line.slip_boiling"]
    assert "1 of 4 readings" in cold.text
    assert "41 °F is 27 °F colder than the air of its hour (68 °F)" in cold.text
    assert "219 °F" in hot.text
    assert "line.sent_warm" not in found
    assert line_water(record, RUN, "PL2", "RABBIT-16").steam_frac < 0.07


def test_pellets_hotter_than_their_die_are_taken_for_hot(record: MemoryRecord) -> None:
    """One of the two dials is wrong; until somebody knows which, the bin is to be read, and today's
    page says so. Nothing being left of the outlet's readings, that is said.
    """
    read(record, die_temperature=60.0, conditioner_temperature=58.0, cooler_outlet_temperature=75.0)
    run = read_of_run(record, RUN, "PL2")
    assert run is not None
    assert run.mean("cooler outlet temperature") is None
    told = by_code(plain_findings(record, run))["line.slip_die"]
    assert told.verdict is Verdict.ACT
    assert "nothing is known of its cooler outlet temperature" in told.text
    assert "take the pellets for hot" in told.do
    assert run.at == AT


def test_one_warm_reading_among_cool_ones_is_told(record: MemoryRecord) -> None:
    """The mean may be cool enough: the warm part of the run lies in the bin all the same."""
    rows = tuple(
        ReadingRow(at=AT + number * dt.timedelta(minutes=5), value=value, run=RUN)
        for number, value in enumerate((24.0, 24.0, 24.0, 31.0))
    )
    run = RunRead(run=RUN, product="RABBIT-16", line="PL2",
                  rows={"cooler outlet temperature": rows})  # fmt: skip
    (told,) = sent_findings(record, run)
    assert "1 of 4 readings too warm" in told.text
    cool = replace(run, rows={"cooler outlet temperature": rows[:3]})
    assert sent_findings(record, cool) == ()


def test_an_outlet_beyond_what_its_cooler_can_do_is_told(record: MemoryRecord) -> None:
    """Pellets that come out 30 K above the air are beyond even an uncalibrated cooler's range."""
    run = a_read(conditioner_temperature=set_c(record), cooler_outlet_temperature=50.0)
    told = by_code(read_findings(record, run))["line.cooler"]
    assert "not calibrated" in told.text
    assert told.value == pytest.approx(30.0)
    assert told.limit is not None
    assert told.limit < 28.0


def test_damp_and_over_dried_pellets_are_told_with_weight_and_money(record: MemoryRecord) -> None:
    """14.5 % is too damp. 9 % where the mash had 12 %: 3.2 % of the weight went to the air."""
    wanted = set_c(record)
    damp = a_read(conditioner_temperature=wanted, cooler_outlet_moisture=0.145)
    assert "line.sent_damp" in by_code(read_findings(record, damp))
    read(record, conditioner_temperature=wanted, mash_moisture=0.12, cooler_outlet_moisture=0.09)
    pelleted(record)
    dry = a_read(conditioner_temperature=wanted, cooler_outlet_moisture=0.09)
    told = by_code(read_findings(record, dry))["line.over_dried"]
    assert "3.0 points drier" in told.text
    out_mg = where_sent(record, RUN, "PL2")[0].mass_mg
    lost_lb = out_mg * (0.91 / 0.88 - 1) / 453_592.37
    assert f"{lost_lb:.0f} lb of weight" in told.text
    assert "$" in told.text


def test_one_damp_reading_among_dry_ones_is_told(record: MemoryRecord) -> None:
    """14.2 % in one of four: told. 13.9 %, which a meter may be off, is not."""
    for worst, codes in ((0.142, {"line.sent_damp"}), (0.139, set())):
        rows = tuple(
            ReadingRow(at=AT + number * dt.timedelta(minutes=5), value=value, run=RUN)
            for number, value in enumerate((0.12, 0.12, 0.12, worst))
        )
        run = RunRead(run=RUN, product="RABBIT-16", line="PL2",
                      rows={"cooler outlet moisture": rows})  # fmt: skip
        found = by_code(sent_findings(record, run))
        assert set(found) == codes
    assert "1 of 4" in by_code(sent_findings(record, replace(run, rows={
        "cooler outlet moisture": (*rows[:3], replace(rows[3], value=0.145))
    })))["line.sent_damp"].text  # fmt: skip


def test_moisture_that_mash_and_steam_cannot_give_is_told(record: MemoryRecord) -> None:
    """25 % behind the cooler is a slip of the meter, and its water is not booked."""
    read(record, conditioner_temperature=set_c(record), cooler_outlet_moisture=0.25)
    run = a_read(conditioner_temperature=set_c(record), cooler_outlet_moisture=0.25)
    assert "line.water" in by_code(read_findings(record, run))


def test_a_product_without_pellets_in_the_tables_is_left_alone(record: MemoryRecord) -> None:
    """Nothing is known of how it should be made."""
    assert read_findings(record, a_read(product="LAYER-16", motor_current=900.0)) == ()
