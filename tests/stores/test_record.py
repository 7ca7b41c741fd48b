import datetime as dt
from collections.abc import Iterator
from dataclasses import replace

import pytest

from bedstone.desk.record import Head, Record
from bedstone.errors import BadInput, Conflict, Refused, Unknown
from bedstone.ledger.chain import NO_HEAD, next_head
from bedstone.ledger.model import Fact
from bedstone.ledger.stock import fold_stock, total_mg
from fakes.facts import AT, batch, day_of_facts, load
from fakes.memory import MemoryRecord

LATER = AT + dt.timedelta(days=1)


def test_an_empty_record_has_the_head_of_nothing(record: Record):
    """Nothing recorded: position 0, 64 zeros, no stock, no facts, no lots."""
    assert record.head() == Head(position=0, head=NO_HEAD)
    assert record.stock() == ()
    assert list(record.facts()) == []
    assert record.lots() == ()


def test_a_fact_comes_back_as_it_was_given(record: Record):
    """What append returns, what fact gives and what facts yield is the same, in UTC."""
    zone = dt.timezone(dt.timedelta(hours=-6))
    given = replace(load(1), happened_at=load(1).happened_at.astimezone(zone))
    kept = record.append(given, recorded_at=LATER.astimezone(zone))
    assert kept.position == 1
    assert kept.fact == load(1)
    assert kept.recorded_at == LATER
    assert kept.head == next_head(NO_HEAD, kept.text)
    assert record.fact(1) == kept
    assert list(record.facts()) == [kept]
    assert record.head() == Head(position=1, head=kept.head)


def test_every_record_gives_the_same_heads(record: Record):
    """The chain depends on what is recorded and when, not on where it is kept."""
    memory = MemoryRecord()
    for fact in day_of_facts():
        assert record.append(fact, recorded_at=LATER) == memory.append(fact, recorded_at=LATER)
    record.reverse(2, by="mara", why="wrong bin", recorded_at=LATER)
    memory.reverse(2, by="mara", why="wrong bin", recorded_at=LATER)
    assert record.head() == memory.head()
    assert list(record.movements(reversed_too=True)) == list(memory.movements(reversed_too=True))
    assert record.lots() == memory.lots()
    assert record.stock() == memory.stock()


def test_many_facts_at_once_are_the_same_as_one_by_one(record: Record):
    """An import leaves what single facts would have left."""
    facts = day_of_facts(30)
    memory = MemoryRecord()
    for fact in facts:
        memory.append(fact, recorded_at=LATER)
    assert record.append_all(iter(facts), recorded_at=LATER) == 30
    assert record.head() == memory.head()
    assert list(record.movements()) == list(memory.movements())
    assert record.append_all([], recorded_at=LATER) == 30


@pytest.mark.parametrize(
    ("wrong", "error"),
    [
        (replace(load(99), by=""), BadInput),
        (load(3), Refused),  # its lot is there already
        (
            Fact(kind="journal.reversed/1", happened_at=AT, by="x", content={"reverses": 77}),
            Unknown,
        ),
    ],
)
def test_an_import_is_all_or_nothing(record: Record, wrong: Fact, error: type[Exception]):
    """One fact that may not be kept, and none of the others is either."""
    record.append(load(1), recorded_at=LATER)
    before = record.head(), record.stock(), record.lots()
    with pytest.raises(error):
        record.append_all([load(2), load(3), wrong, load(4)], recorded_at=LATER)
    assert (record.head(), record.stock(), record.lots()) == before


def test_an_import_whose_source_fails_leaves_nothing(record: Record):
    """If the facts stop coming with an error, nothing of them is kept."""

    def broken() -> Iterator[Fact]:
        yield load(1)
        raise KeyError("the source broke")

    with pytest.raises(KeyError):
        record.append_all(broken(), recorded_at=LATER)
    assert record.head().position == 0


def test_who_read_too_long_ago_is_told_and_nothing_is_written(record: Record):
    """Appending after a position that is no longer the last is a Conflict."""
    record.append(load(1), recorded_at=LATER, after=0)
    with pytest.raises(Conflict, match="Somebody else recorded first"):
        record.append(load(2), recorded_at=LATER, after=0)
    assert record.head().position == 1
    assert record.append(load(2), recorded_at=LATER, after=1).position == 2


def test_an_import_read_too_long_ago_is_told_and_nothing_is_written(record: Record):
    """Importing after a position that is no longer the last is a Conflict, the whole of it."""
    record.append_all([load(1), load(2)], recorded_at=LATER, after=0)
    with pytest.raises(Conflict, match="Somebody else recorded first"):
        record.append_all([load(3), load(4)], recorded_at=LATER, after=0)
    assert record.head().position == 2


def test_a_fact_that_is_not_there_is_unknown(record: Record):
    """Asking for a fact beyond the end says how many there are."""
    record.append(load(1), recorded_at=LATER)
    for position in (0, 2, -1):
        with pytest.raises(Unknown, match=f"no fact {position}"):
            record.fact(position)


def test_facts_are_chosen_by_kind_position_and_time(record: Record):
    """Kinds, after, until and newest_first each choose as they say."""
    record.append_all(day_of_facts(9), recorded_at=LATER)
    kind = "receiving.load_accepted/1"
    assert [item.position for item in record.facts(kinds=(kind,))] == [1, 4, 7]
    assert [item.position for item in record.facts(kinds=(kind, "a.b/1"), after=1)] == [4, 7]
    until = record.fact(5).fact.happened_at
    assert [item.position for item in record.facts(until=until)] == [1, 2, 3, 4, 5]
    newest = record.facts(newest_first=True, after=6)
    assert [item.position for item in newest] == [9, 8, 7]


def test_readings_are_whole_however_long_they_are(record: Record):
    """More facts and movements than fit a page come once each, in order."""
    many = [load(n) for n in range(2500)]
    record.append_all(many, recorded_at=LATER)
    assert [item.position for item in record.facts()] == list(range(1, 2501))
    back = [item.position for item in record.facts(newest_first=True)]
    assert back == list(range(2500, 0, -1))
    assert [item.position for item in record.movements()] == list(range(1, 2501))
    assert len(list(record.movements(place="B01"))) == 2500


def test_a_reading_does_not_see_what_is_recorded_while_it_runs(record: Record):
    """Facts recorded or taken back between two pages are not in a reading that has begun."""
    record.append_all([load(n) for n in range(2500)], recorded_at=LATER)
    reading, moving = record.facts(), record.movements()
    seen = [next(reading).position]
    moved = [next(moving).position]
    record.append(load(3000), recorded_at=LATER)
    record.reverse(2400, by="mara", why="wrong", recorded_at=LATER)
    seen += [item.position for item in reading]
    moved += [item.position for item in moving]
    assert seen == list(range(1, 2501))
    assert moved == seen


def test_movements_are_ordered_by_when_they_happened(record: Record):
    """A fact recorded late stands where it happened."""
    for n in (5, 1, 3):
        record.append(load(n), recorded_at=LATER)
    assert [item.position for item in record.movements()] == [2, 3, 1]
    assert [item.line for item in record.movements()] == [1, 1, 1]


def test_movements_are_chosen_by_place_lot_position_and_time(record: Record):
    """Each way of choosing movements gives those and no others."""
    record.append_all(day_of_facts(6), recorded_at=LATER)
    assert {item.position for item in record.movements(place="F01")} == {2, 3, 5, 6}
    assert [item.line for item in record.movements(place="MX1", position=2)] == [1, 2, 3]
    assert [(item.position, item.line) for item in record.movements(lot="4107-04")] == [(5, 3)]
    until = record.fact(2).fact.happened_at
    assert {item.position for item in record.movements(until=until)} == {1, 2}
    assert {item.kind for item in record.movements(position=1)} == {"receiving.load_accepted/1"}
    assert list(record.movements(place="nowhere")) == []
    for place in (None, "F01", "MX1"):
        onward = list(record.movements(place=place))
        assert list(record.movements(place=place, newest_first=True)) == onward[::-1]


def test_a_fact_taken_back_leaves_stock_as_if_it_had_never_been(record: Record):
    """Its movements are mirrored at the moment at which it happened, and both are left out."""
    record.append_all(day_of_facts(6), recorded_at=LATER)
    without = [fact for n, fact in enumerate(day_of_facts(6)) if n != 1]
    taken = record.reverse(2, by="mara", why="weighed twice", recorded_at=LATER)
    assert taken.fact.kind == "journal.reversed/1"
    assert taken.fact.content == {
        "reverses": 2,
        "kind": "batching.batch_made/1",
        "why": "weighed twice",
    }
    assert taken.fact.happened_at == record.fact(2).fact.happened_at
    plain = MemoryRecord()
    plain.append_all(without, recorded_at=LATER)
    for at in (None, AT + dt.timedelta(minutes=2), LATER):
        assert record.stock(at) == plain.stock(at)
    assert [item.position for item in record.facts()] == [1, 3, 4, 5, 6]
    assert {item.position for item in record.movements()} == {1, 3, 4, 5, 6}
    everything = list(record.movements(reversed_too=True))
    assert {(m.reversed_by, m.reverses) for m in everything if m.position == 2} == {(7, None)}
    assert {(m.reversed_by, m.reverses) for m in everything if m.position == 7} == {(None, 2)}
    assert [item.position for item in record.facts(reversed_too=True)] == list(range(1, 8))


def test_a_fact_is_taken_back_once(record: Record):
    """Taking back twice, a taking back, or what is not there is refused; nothing is written."""
    record.append(load(1), recorded_at=LATER)
    record.reverse(1, by="mara", why="wrong", recorded_at=LATER)
    with pytest.raises(Refused, match="already"):
        record.reverse(1, by="mara", why="wrong", recorded_at=LATER)
    with pytest.raises(Refused, match="cannot be taken back"):
        record.reverse(2, by="mara", why="wrong", recorded_at=LATER)
    with pytest.raises(Unknown):
        record.reverse(9, by="mara", why="wrong", recorded_at=LATER)
    assert record.head().position == 2


def test_a_taking_back_that_is_no_mirror_is_not_kept(record: Record):
    """A reversal made by hand is kept only if it mirrors the fact exactly."""
    record.append(load(1), recorded_at=LATER)
    crooked = Fact(
        kind="journal.reversed/1",
        happened_at=load(1).happened_at,
        by="mara",
        content={"reverses": 1},
        movements=load(1).movements,
    )
    with pytest.raises(BadInput, match="does not mirror"):
        record.append(crooked, recorded_at=LATER)
    with pytest.raises(BadInput, match="which fact"):
        record.append(replace(crooked, content={}), recorded_at=LATER)
    assert record.head().position == 1


def test_a_record_copied_fact_by_fact_has_the_same_heads(record: Record):
    """Replay: appending what facts yields, reversals too, at the same times, gives the same chain."""
    record.append_all(day_of_facts(6), recorded_at=LATER)
    record.reverse(2, by="mara", why="wrong", recorded_at=LATER)
    copy = MemoryRecord()
    for item in record.facts(reversed_too=True):
        assert copy.append(item.fact, recorded_at=item.recorded_at) == item


def test_a_lot_is_made_once(record: Record):
    """The same lot twice is refused, in one fact after another and within an import."""
    record.append(batch(1), recorded_at=LATER)
    with pytest.raises(Refused, match="4107-01 is recorded already"):
        record.append(batch(2, lot="4107-01"), recorded_at=LATER)
    with pytest.raises(Refused, match="4107-07 is recorded already"):
        record.append_all([batch(3, lot="4107-07"), batch(4, lot="4107-07")], recorded_at=LATER)
    assert record.head().position == 1


def test_a_lot_can_be_made_again_when_its_fact_was_taken_back(record: Record):
    """A batch recorded wrongly is taken back and recorded again under its own number."""
    record.append(batch(1), recorded_at=LATER)
    record.reverse(1, by="mara", why="wrong draw", recorded_at=LATER)
    with pytest.raises(Unknown):
        record.lot("4107-01")
    assert record.lots() == ()
    record.append(batch(1), recorded_at=LATER)
    assert record.lot("4107-01") == (batch(1).lots[0], 3)
    assert record.lots() == ((batch(1).lots[0], 3),)


def test_near_names_are_offered_for_an_unknown_lot(record: Record):
    """A lot that is not there: the error names lots that look like it."""
    record.append(batch(1), recorded_at=LATER)
    with pytest.raises(Unknown, match="4107-01"):
        record.lot("4107-O1")


def test_stock_at_any_moment_is_the_sum_of_what_had_happened_by_then(record: Record):
    """Stock of every place, outside ones too, follows from the movements up to that moment."""
    facts = day_of_facts(12)
    record.append_all(reversed(facts), recorded_at=LATER)
    for at in [AT - dt.timedelta(1), *(fact.happened_at for fact in facts), LATER, None]:
        movements = [
            movement
            for fact in facts
            if at is None or fact.happened_at <= at
            for movement in fact.movements
        ]
        found = {(line.place, line.material): line.mass_mg for line in record.stock(at)}
        assert found == fold_stock(movements)
        assert total_mg(found) == 0


def test_masses_up_to_the_limit_are_exact(record: Record):
    """A mass near 2^63 milligrams comes back to the milligram."""
    (movement,) = load(1).movements
    huge = replace(load(1), movements=(replace(movement, mass_mg=2**63 - 1),))
    record.append(huge, recorded_at=LATER)
    (found,) = record.movements()
    assert found.movement.mass_mg == 2**63 - 1
    assert record.stock()[0].mass_mg == 2**63 - 1


@pytest.mark.parametrize("text", ["'; DROP TABLE facts; --", "ü\u2028\U0001f33e", "%_\\", "null"])
def test_any_text_is_kept_as_it_is(record: Record, text: str):
    """Quotes, signs of other scripts and words of the database are text like any other."""
    fact = replace(load(1), by=text, content={text: [text]})
    record.append(fact, recorded_at=LATER)
    assert record.fact(1).fact == fact
