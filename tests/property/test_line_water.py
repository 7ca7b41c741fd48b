"""Water of a run whatever was read of it, before and after its pelleting, and taken back again."""

import datetime as dt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bedstone.desk.line_water import book_water_again, pelletings
from bedstone.desk.readings import READINGS
from bedstone.desk.verify import verify
from bedstone.errors import BadInput, Refused
from fakes.line_runs import AT, BATCHES, RUN, line_record, made, pelleted, read, shipped
from fakes.memory import MemoryRecord

MINUTE = dt.timedelta(minutes=1)
WHOLE = dict.fromkeys(BATCHES, 900_000_000)
VALUES = {
    "conditioner_temperature": st.floats(30, 105),
    "mash_temperature": st.floats(-20, 40),
    "mash_moisture": st.floats(0.05, 0.25),
    "mash_flow": st.floats(0.1, 1.6),
    "steam_flow": st.floats(0.0, 0.16),
    "cooler_outlet_moisture": st.floats(0.03, 0.3),
}
readings = st.lists(
    st.sampled_from(sorted(VALUES)).flatmap(lambda name: st.tuples(st.just(name), VALUES[name])),
    max_size=6,
)
metered = st.fixed_dictionaries(
    {},
    optional={
        "steam_mg": st.integers(0, 90_000_000).map(lambda mg: dict.fromkeys(BATCHES, mg)),
        "dust_mg": st.integers(0, 5_000_000).map(lambda mg: dict.fromkeys(BATCHES, mg)),
        "out_mg": st.integers(800_000_000, 890_000_000).map(lambda mg: dict.fromkeys(BATCHES, mg)),
    },
)


@pytest.fixture(scope="module")
def base() -> MemoryRecord:
    """The demo mill with a run that is mixed."""
    record = MemoryRecord()
    line_record(record)
    made(record)
    return record


def again(record: MemoryRecord, at: dt.datetime) -> tuple[str, ...]:
    """Book the water of the run anew."""
    return book_water_again(record, {RUN}, by="dell", at=at)


def is_whole(record: MemoryRecord) -> bool:
    """What went into the line came out of it batch by batch, to the milligram; all adds up to
    nothing; the record is as it was written.
    """
    for one in pelletings(record, RUN):
        for batch in one.batches:
            moves = [move for move in one.recorded.fact.movements if move.lot == batch.batch]
            into = sum(move.mass_mg for move in moves if move.to_place == "PL2")
            out = sum(move.mass_mg for move in moves if move.from_place == "PL2")
            if into != out or min(move.mass_mg for move in moves) <= 0:
                return False
    on_line = sum(row.mass_mg for row in record.stock() if row.place == "PL2")
    every = sum(row.mass_mg for row in record.stock())
    bad = [one for one in verify(record) if one.verdict.value in ("stop", "act")]
    return on_line == 0 and every == 0 and not bad


@settings(max_examples=25, deadline=None)
@given(readings, metered, readings, st.randoms(use_true_random=False))
def test_mass_in_is_mass_out_for_any_readings(
    base: MemoryRecord,
    first: list[tuple[str, float]],
    given_mg: dict[str, dict[str, int]],
    later: list[tuple[str, float]],
    dice: object,
) -> None:
    """Whatever was read before and after, and taken back in any order: what went in came out;
    booking again a second time records nothing; once all later readings are gone the masses are
    those of the first booking; what was metered or weighed has never moved.
    """
    record = MemoryRecord()
    record.append_all([item.fact for item in base.facts()], recorded_at=AT - MINUTE)
    _read_all(record, first, after=0)
    try:
        pelleted(record, **given_mg)
    except BadInput:
        assert not pelletings(record, RUN)  # more pellets than mash and steam: nothing is booked
        return
    assert is_whole(record)
    booked = pelletings(record, RUN)[0].batches
    position = record.head().position
    for number, one in enumerate(later):
        _read_all(record, [one], after=60 + number)
        again(record, AT + 200 * MINUTE)
        assert is_whole(record)
    facts = [item for item in record.facts(kinds=(READINGS,)) if item.position > position]
    dice.shuffle(facts)  # type: ignore[attr-defined]  # a Random of hypothesis
    for item in facts:
        record.reverse(item.position, by="dell", why="a slip", recorded_at=AT + 300 * MINUTE)
        again(record, AT + 300 * MINUTE)
        head = record.head()
        assert again(record, AT + 301 * MINUTE) == ()
        assert record.head() == head
        assert is_whole(record)
    assert pelletings(record, RUN)[0].batches == booked
    for row in booked:
        for name, masses in given_mg.items():
            assert getattr(row, name) == masses[row.batch]


def _read_all(record: MemoryRecord, rows: list[tuple[str, float]], *, after: int) -> None:
    for number, (name, value) in enumerate(rows):
        try:
            read(record, at=AT + (after + number) * MINUTE, **{name: value})
        except Refused:
            continue  # the same again


@settings(max_examples=15, deadline=None)
@given(readings, st.floats(0.0, 1.0), readings)
def test_no_reading_makes_stock_of_feed_that_has_gone(
    base: MemoryRecord,
    first: list[tuple[str, float]],
    part: float,
    later: list[tuple[str, float]],
) -> None:
    """Whatever part of the pellets has left, and whatever is read after it: no bin holds less than
    nothing by it, nothing lies in a bin out of which all has gone, and mass in is mass out.
    """
    record = MemoryRecord()
    record.append_all([item.fact for item in base.facts()], recorded_at=AT - MINUTE)
    _read_all(record, first, after=0)
    try:
        pelleted(record)
    except BadInput:
        return
    out_mg = sum(row.out_mg for row in pelletings(record, RUN)[0].batches)
    gone_mg = max(1, round(part * out_mg))
    shipped(record, bags_mg=gone_mg, left_mg=gone_mg)
    for number, one in enumerate(later):
        _read_all(record, [one], after=60 + number)
        again(record, AT + 200 * MINUTE)
        lying_mg = sum(row.mass_mg for row in record.stock() if row.place == "FB6")
        assert lying_mg >= 0
        if gone_mg == out_mg:
            assert lying_mg == 0
        assert is_whole(record)
