"""Warm pellets in a bin: filled in from the record, what is odd about the bin, the night ahead."""

import datetime as dt
from dataclasses import replace

import pytest

from bedstone.cooling.after_cooler import HOT_ADVICE, activity_at
from bedstone.cooling.model import Isotherm
from bedstone.desk.bag_activity import bags_of_run
from bedstone.desk.bin_acts import record_count, record_seen_empty
from bedstone.desk.bin_findings import bins_with_pellets, findings_of_bins, heating_in, pellet_bin
from bedstone.desk.merged_rows import MG_IN_KG
from bedstone.desk.readings import record_readings
from bedstone.desk.revisions import current_mill
from bedstone.desk.warm_bin import UNREAD, at_mass, filled_in, plain, with_skin
from bedstone.desk.warm_night import night_ahead
from bedstone.errors import BadInput, Unknown
from bedstone.mill.plan import Verdict
from bedstone.mill.readings import ReadingRow
from bedstone.storage.levels import shape_of
from bedstone.storage.skin import skin_of, slim_bin
from fakes.line_runs import AT, RUN, line_record, made, pelleted, read
from fakes.memory import MemoryRecord

HOUR = dt.timedelta(hours=1)
NOW = AT + HOUR
BIN = "FB6"


@pytest.fixture
def record() -> MemoryRecord:
    """The demo mill in 10 C air with a run in a bin that left its cooler at 34 C with 12.6 %."""
    found = MemoryRecord()
    line_record(found, air_c=10.0)
    made(found)
    read(found, cooler_outlet_temperature=34.0, cooler_outlet_moisture=0.126,
         conditioner_temperature=70.0)  # fmt: skip
    pelleted(found)
    return found


def in_bin(record: MemoryRecord, *values: float, first: dt.datetime = NOW) -> None:
    """A thermometer in the bin, hour by hour."""
    rows = [ReadingRow(at=first + n * HOUR, value=value) for n, value in enumerate(values)]
    record_readings(record, instrument=BIN, quantity="bin temperature", rows=rows, by="dell",
                    at=rows[-1].at)  # fmt: skip


def test_a_bin_is_filled_in_from_what_is_known(record: MemoryRecord) -> None:
    """Mass by the books, heat and water as read at the cooler, the coldest hour of the weather, areas
    of a bin of its volume; each with where it is from.
    """
    found = filled_in(record, BIN, at=NOW)
    held = pellet_bin(record, BIN, at=NOW)
    assert held.runs == (RUN,)
    assert found.asked.mass_kg == held.mass_mg / MG_IN_KG
    assert (found.asked.pellet_c, found.asked.moisture_wb) == (34.0, 0.126)
    assert found.asked.coldest_c == 10.0
    mill = current_mill(record)
    row = next(one for one in mill.pellets if one.product == "RABBIT-16")
    measure = next(one for one in mill.bin_shapes if one.bin == BIN)
    skin = skin_of(shape_of(measure), found.asked.mass_kg / row.bulk_density_kg_m3)
    assert (found.asked.top_m2, found.asked.roof_m2, found.asked.wall_m2) == (
        skin.top_m2, skin.bare_m2, skin.touched_m2,
    )  # fmt: skip
    assert RUN in found.said["pellet_c"]
    assert "the books" in found.said["mass_kg"]
    assert "shape in the tables" in found.said["top_m2"]
    assert len(found.outside_c) == 24 - NOW.hour


def test_a_reading_in_the_bin_goes_before_the_cooler(record: MemoryRecord) -> None:
    """The last thermometer reading since the bin was filled is how warm the pellets are."""
    in_bin(record, 33.0, 31.0)
    found = filled_in(record, BIN, at=NOW + 2 * HOUR)
    assert found.asked.pellet_c == 31.0
    assert "reading in the bin" in found.said["pellet_c"]


def test_without_readings_the_settings_say_it() -> None:
    """Nobody read the outlet: the line's own settings in that hour's air, and it says so."""
    record = MemoryRecord()
    line_record(record, air_c=10.0)
    made(record)
    masses = {"1-01": 900_000_000, "1-02": 900_000_000}
    read(record, cooler_outlet_moisture=0.12, conditioner_temperature=70.0)
    pelleted(record, mash_mg=masses)
    found = filled_in(record, BIN, at=NOW)
    assert "reckoned from the settings of PL2" in found.said["pellet_c"]
    assert 10.0 < found.asked.pellet_c < 40.0
    assert found.asked.moisture_wb == 0.12


def test_a_bin_without_a_shape_is_taken_as_slim(record: MemoryRecord) -> None:
    """Where the tables have no shape: round, twice as high as wide, of the bin's volume; it says so."""
    mill = replace(current_mill(record), bin_shapes=())
    found = with_skin(plain(), mill, pellet_bin(record, BIN, at=NOW))
    row = next(one for one in mill.pellets if one.product == "RABBIT-16")
    whole = slim_bin(mill.bin_by_code[BIN].capacity_kg / row.bulk_density_kg_m3)
    assert found.asked.top_m2 == pytest.approx(whole.area_m2(whole.height_m))
    assert "no shape in the tables" in found.said["top_m2"]


def test_a_bin_filled_warm_is_a_finding_for_three_days(record: MemoryRecord) -> None:
    """Sent 24 K above the air: the bin is to be looked at, and three days later no more."""
    (told,) = pellet_bin(record, BIN, at=NOW).findings
    assert (told.code, told.verdict, told.about) == ("bin.filled_warm", Verdict.ACT, BIN)
    assert RUN in told.text
    assert "°F" in told.text
    assert "tonight" in told.do
    assert pellet_bin(record, BIN, at=NOW + 80 * HOUR).findings == ()


def test_a_hot_bin_is_kept_out_of(record: MemoryRecord) -> None:
    """At 57 C inside the finding carries the caution; at 40 C it does not."""
    in_bin(record, 40.0)
    assert "bin.hot" not in [one.code for one in pellet_bin(record, BIN, at=NOW).findings]
    in_bin(record, 57.0, first=NOW + HOUR)
    (hot, *_) = pellet_bin(record, BIN, at=NOW + HOUR).findings
    assert (hot.code, hot.do) == ("bin.hot", HOT_ADVICE)
    assert "135 °F" in hot.text


def test_feed_on_top_of_a_hot_heap_does_not_hide_it(record: MemoryRecord) -> None:
    """More came into a hot bin after its thermometer was read: it counts as hot until it is read
    again, and says that nobody has.
    """
    in_bin(record, 57.0)
    made(record, "R-2", batches=("2-01",), at=NOW)
    later = NOW + 2 * HOUR
    read(record, "R-2", at=NOW + HOUR, cooler_outlet_temperature=20.0,
         conditioner_temperature=70.0)  # fmt: skip
    pelleted(record, "R-2", mash_mg={"2-01": 900_000_000}, at=later)
    (hot, *_) = pellet_bin(record, BIN, at=later).findings
    assert hot.code == "bin.hot"
    assert "nobody has read it since" in hot.text
    assert [one.code for one in heating_in(record, BIN, at=later)] == ["bin.hot"]
    in_bin(record, 30.0, first=later)
    assert heating_in(record, BIN, at=later) == ()


def test_a_bin_that_warms_by_itself_is_told(record: MemoryRecord) -> None:
    """Six kelvins up with nothing put in is told; four are not."""
    in_bin(record, 30.0, 33.0, 34.0)
    codes = [one.code for one in pellet_bin(record, BIN, at=NOW + 3 * HOUR).findings]
    assert "bin.warming" not in codes
    in_bin(record, 36.0, first=NOW + 3 * HOUR)
    told = pellet_bin(record, BIN, at=NOW + 4 * HOUR).findings[0]
    assert told.code == "bin.warming"
    assert "11 °F more" in told.text


def test_a_hot_bin_of_grain_is_told_too(record: MemoryRecord) -> None:
    """Whatever lies in a bin: hot corn is told, a bin without readings or without corn is not."""
    receive(record)
    rows = [ReadingRow(at=NOW, value=61.0)]
    for code in ("B01", "B02"):
        record_readings(record, instrument=code, quantity="bin temperature", rows=rows, by="dell",
                        at=NOW)  # fmt: skip
    found = findings_of_bins(record, at=NOW)
    assert [one.code for one in found["B01"]] == ["bin.hot"]
    assert set(found) == {"B01", BIN}


def receive(record: MemoryRecord) -> None:
    """Ten tonnes of corn counted in B01."""
    record_count(record, "B01", material="CORN", counted_mg=10_000_000_000, by="dell", at=AT)
    record_seen_empty(record, "B02", by="dell", at=AT)


def test_only_loose_pellets_are_listed(record: MemoryRecord) -> None:
    """Grain, mash and bags in the warehouse are no bins of pellets; an unknown one is refused with
    those there are.
    """
    assert BIN in [one.bin.bin for one in bins_with_pellets(record, at=NOW)]
    for code, word in (("B01", "Corn"), ("FB5", "empty"), ("NIX", "no bin")):
        with pytest.raises(Unknown) as caught:
            filled_in(record, code, at=NOW)
        assert word.casefold() in caught.value.seen.casefold() or code == "B01"
        assert BIN in caught.value.allowed


def test_the_night_goes_by_what_is_meant(record: MemoryRecord) -> None:
    """A colder coldest hour moves the whole night; figures typed over are said to be typed."""
    found = filled_in(record, BIN, at=NOW)
    mill = current_mill(record)
    own = night_ahead(found, found.asked, mill=mill)
    colder = night_ahead(found, replace(found.asked, coldest_c=-10.0), mill=mill)
    assert [row.outside_c for row in colder.night.hours] == [
        row.outside_c - 20.0 for row in own.night.hours
    ]
    assert sum(colder.night.roof_kg) > sum(own.night.roof_kg)
    assert colder.said["coldest_c"] == "typed"
    assert own.said == dict(found.said)
    assert own.runs == (RUN,)


def test_as_it_cools_goes_down_in_round_steps_with_the_bag(record: MemoryRecord) -> None:
    """The curve begins at the pellets' own temperature, has the bag's as read, and round steps."""
    record_readings(record, instrument="SK2", quantity="bag temperature",
                    rows=[ReadingRow(at=NOW, value=18.2, run=RUN)], by="dell", at=NOW)  # fmt: skip
    found = filled_in(record, BIN, at=NOW)
    warm = [row.temperature_c for row in night_ahead(found, found.asked).cools.rows]
    assert warm == sorted(warm, reverse=True)
    assert warm[0] == 34.0
    assert 18.2 in warm
    round_f = [one * 1.8 + 32 for one in warm if one not in (34.0, 18.2)]
    assert all(abs(one / 10 - round(one / 10)) < 1e-9 for one in round_f)
    assert min(round_f) <= 50.0 + 5


def test_bags_of_a_run_are_judged_as_warm_as_they_were_closed(record: MemoryRecord) -> None:
    """Mean temperature and moisture of a run's bags give their water activity, down to freezing;
    without both nothing is said.
    """
    assert bags_of_run(record, RUN, "RABBIT-16") is None
    for quantity, values in (("bag temperature", (30.0, 34.0)), ("bag moisture", (0.14, 0.146))):
        rows = [ReadingRow(at=NOW - n * HOUR, value=one, run=RUN) for n, one in enumerate(values)]
        record_readings(record, instrument="SK2", quantity=quantity, rows=rows, by="dell", at=NOW)
    bags = bags_of_run(record, RUN, "RABBIT-16")
    assert bags is not None
    assert (bags.bag_c, bags.moisture_wb) == (32.0, pytest.approx(0.143))
    assert bags.activity_frac == pytest.approx(activity_at(0.143, 32.0, Isotherm()))
    assert bags.most_frac == 0.65
    assert bags.activity_frac > bags.most_frac
    warm = [row.temperature_c for row in bags.cools.rows]
    assert warm[0] == bags.cools.bag_c == 32.0
    assert -3 < warm[-1] < 3


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"mass_kg": 80_000.0}, "does not hold this much"),
        ({"mass_kg": 60.0}, "So few pellets"),
        ({"pellet_c": 120.0}, "fear a fire"),
        ({"wall_m2": 900.0}, "wall"),
    ],
)
def test_what_cannot_be_is_said(record: MemoryRecord, typed: dict[str, float], words: str) -> None:
    """More than the bin holds, a skin of pellets, a fire: in words, in the mill's units."""
    found = filled_in(record, BIN, at=NOW)
    with pytest.raises(BadInput) as caught:
        night_ahead(found, replace(found.asked, **typed), mill=current_mill(record))
    assert words in str(caught.value)
    assert " kg" not in str(caught.value)


def test_without_weather_it_must_be_typed(record: MemoryRecord) -> None:
    """Beyond the weather on record the night is flat, and it says to type the coldest hour."""
    found = filled_in(record, BIN, at=NOW + 60 * HOUR)
    assert len(set(found.outside_c)) == 1
    assert "type it" in found.said["coldest_c"]
    with pytest.raises(BadInput):
        filled_in(record, BIN, at=NOW, hours=500)


def test_an_example_needs_no_mill() -> None:
    """Plain figures give a night; its areas are of a slim bin two thirds full of that mass."""
    found = plain(12, mass_kg=9000.0)
    whole = slim_bin(9000.0 / 620.0 * 1.5)
    assert found.asked.top_m2 == pytest.approx(whole.area_m2(1.0))
    assert len(night_ahead(found, found.asked).night.hours) == 13
    with pytest.raises(BadInput):
        plain(12, mass_kg=0.0)


def test_surfaces_go_with_the_mass_that_is_meant(record: MemoryRecord) -> None:
    """Another mass than the books': surface, roof and wall of a heap so big in that bin; the same where
    no bin is meant.
    """
    mill = current_mill(record)
    row = next(one for one in mill.pellets if one.product == "RABBIT-16")
    measure = next(one for one in mill.bin_shapes if one.bin == BIN)
    books = filled_in(record, BIN, at=NOW)
    found = filled_in(record, BIN, at=NOW, mass_kg=5_000.0)
    skin = skin_of(shape_of(measure), 5_000.0 / row.bulk_density_kg_m3)
    assert (found.asked.top_m2, found.asked.roof_m2, found.asked.wall_m2) == (
        skin.top_m2, skin.bare_m2, skin.touched_m2,
    )  # fmt: skip
    assert found.said["mass_kg"] == "typed"
    assert found.asked.wall_m2 > books.asked.wall_m2
    assert at_mass(books, mill, 5_000.0) == found
    none = filled_in(record, "", at=NOW)
    assert (
        at_mass(none, mill, 5_000.0).asked == filled_in(record, "", at=NOW, mass_kg=5_000.0).asked
    )


def leave(record: MemoryRecord, mass_kg: float) -> None:
    """So much of the run is still in the bin by a count."""
    record_count(record, BIN, material="RABBIT-16", counted_mg=round(mass_kg * MG_IN_KG), by="dell",
                 at=NOW)  # fmt: skip


def test_a_remainder_of_the_books_is_not_judged(record: MemoryRecord) -> None:
    """Half a per cent of what the bin holds is the least that counts: below it the bin was not "filled
    warm" and has no night, which is said; what a thermometer reads in it stands all the same.
    """
    least_kg = pellet_bin(record, BIN, at=NOW).least_kg
    assert least_kg == max(45.0, 0.005 * current_mill(record).bin_by_code[BIN].capacity_kg)
    leave(record, least_kg + 1.0)
    assert [one.code for one in pellet_bin(record, BIN, at=NOW).findings] == ["bin.filled_warm"]
    leave(record, least_kg - 1.0)
    held = pellet_bin(record, BIN, at=NOW)
    assert held.is_remainder
    assert held.findings == ()
    found, mill = filled_in(record, BIN, at=NOW), current_mill(record)
    with pytest.raises(BadInput, match="only a remainder"):
        night_ahead(found, found.asked, mill=mill)
    typed = filled_in(record, BIN, at=NOW, mass_kg=2_000.0)
    assert night_ahead(typed, typed.asked, mill=mill).night.hours
    in_bin(record, 60.0)
    assert [one.code for one in pellet_bin(record, BIN, at=NOW).findings] == ["bin.hot"]


def test_what_nobody_read_is_said(record: MemoryRecord) -> None:
    """A night by a moisture that nobody read says so; by what was read it says nothing."""
    mill, found = current_mill(record), filled_in(record, BIN, at=NOW)
    assert night_ahead(found, found.asked, mill=mill).unread == ""
    said = {**found.said, "pellet_c": f"{UNREAD}: a usual figure, type yours"}
    unread = replace(found, said=said)
    assert night_ahead(unread, found.asked, mill=mill).unread == "how warm"
    other = replace(found.asked, pellet_c=33.0)
    assert night_ahead(unread, other, mill=mill).unread == ""
