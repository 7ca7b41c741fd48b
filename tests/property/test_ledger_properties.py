import datetime as dt
import shutil
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bedstone.desk.record import MovementRecorded
from bedstone.desk.verify import verify
from bedstone.errors import Refused
from bedstone.ledger.layers import layers_of
from bedstone.ledger.model import Fact, FlowPattern, Movement
from bedstone.ledger.stock import fold_stock, total_mg
from bedstone.ledger.text import fact_from_text, fact_text
from bedstone.store.record import FILE_NAME, SqlRecord, open_record
from fakes.memory import MemoryRecord
from property.strategies import EPOCH, facts, moments, movements

# a fact to append, or the position of one to take back (counted from the start, as far as there are)
acts = st.lists(facts(lots=False) | st.integers(1, 12), min_size=1, max_size=12)


def _act(record: MemoryRecord | SqlRecord, act: Fact | int) -> bool:
    """Carry out an act; False if it was refused."""
    if isinstance(act, Fact):
        record.append(act, recorded_at=EPOCH)
        return True
    if act > record.head().position:
        return False
    try:
        record.reverse(act, by="mara", why="wrong", recorded_at=EPOCH)
    except Refused:
        return False
    return True


@pytest.fixture(scope="module")
def template() -> Iterator[Path]:
    """The file of an empty record, to be copied."""
    with TemporaryDirectory() as folder:
        open_record(Path(folder)).close()
        yield Path(folder) / FILE_NAME


@given(facts(), st.integers(1, 10**9), moments)
def test_any_fact_comes_back_from_its_text(fact: Fact, position: int, recorded_at: dt.datetime):
    """Text and back is the same fact, and the same text again."""
    text = fact_text(fact, position=position, recorded_at=recorded_at)
    assert fact_from_text(text) == (position, recorded_at, fact)
    assert fact_text(fact_from_text(text)[2], position=position, recorded_at=recorded_at) == text


@given(acts, moments)
def test_mass_is_conserved_over_any_facts_and_reversals(script: list[Fact | int], at: dt.datetime):
    """All places together hold nothing, at any moment, and stock is that of what was not taken
    back.
    """
    record = MemoryRecord()
    for act in script:
        _act(record, act)
    for moment in (None, at):
        lines = record.stock(moment)
        assert sum(line.mass_mg for line in lines) == 0
        standing = [item.movement for item in record.movements(until=moment)]
        assert {(line.place, line.material): line.mass_mg for line in lines} == fold_stock(standing)


@settings(max_examples=25, deadline=None)
@given(acts, moments)
def test_the_store_says_what_the_record_in_memory_says(
    template: Path, script: list[Fact | int], at: dt.datetime
):
    """After any facts and reversals heads, stock and movements are the same, the store is whole,
    and replaying what it gives makes the same chain.
    """
    memory, copy = MemoryRecord(), MemoryRecord()
    with TemporaryDirectory() as folder:
        shutil.copy(template, folder)
        kept = open_record(Path(folder))
        for act in script:
            assert _act(kept, act) == _act(memory, act)
        assert kept.head() == memory.head()
        assert kept.stock(at) == memory.stock(at)
        assert list(kept.movements(until=at)) == list(memory.movements(until=at))
        assert [item.code for item in verify(kept)] == ["record.whole"]
        for item in kept.facts(reversed_too=True):
            copy.append(item.fact, recorded_at=item.recorded_at)
        assert copy.head() == memory.head()
        kept.close()


@given(st.lists(movements(), max_size=20), st.integers(0, 20))
def test_stock_of_the_whole_is_stock_of_the_second_half_on_the_first(
    moved: list[Movement], cut: int
):
    """Adding up from a snapshot gives what adding up from the beginning gives."""
    whole = fold_stock(moved)
    assert fold_stock(moved[cut:], fold_stock(moved[:cut])) == whole
    assert total_mg(whole) == 0


@given(
    st.lists(movements(), max_size=25), st.sampled_from(FlowPattern), st.sampled_from(FlowPattern)
)
def test_layers_agree_with_the_books_after_any_movements(
    moved: list[Movement], first: FlowPattern, second: FlowPattern
):
    """Nominal layers add up to book stock where that is above nothing (material by material where
    lots are kept apart), and the shares of every
    movement out of a place to its mass; what is certain has a mass; possible lots are there once.
    """
    booked = [
        MovementRecorded(
            position=n,
            line=1,
            kind="a.b/1",
            happened_at=EPOCH + dt.timedelta(minutes=n),
            movement=movement,
        )
        for n, movement in enumerate(moved, start=1)
    ]
    flows = {"B01": first, "B02": second}
    layers = layers_of(booked, flows)
    books: dict[str, dict[str, int]] = {}
    for (place, material), mass_mg in fold_stock(moved).items():
        heap = material if flows.get(place) is FlowPattern.SEPARATE else ""
        heaps = books.setdefault(place, {})
        heaps[heap] = heaps.get(heap, 0) + mass_mg
    for place in layers.places():
        held = sum(layer.mass_mg for layer in layers.layers(place))
        assert held == sum(max(0, heap) for heap in books.get(place, {}).values())
        lots = layers.possible_lots(place)
        assert len(set(lots)) == len(lots)
        assert {layer.lot for layer in layers.layers(place)} <= set(lots)
    for (position, line), drawn in layers.drawn().items():
        shares = layers.shares(position, line)
        assert sum(share.mass_mg for share in shares) == moved[position - 1].mass_mg
        assert all(share.mass_mg > 0 for share in shares if share.certain)
        assert len({share.lot for share in shares}) == len(shares)
        assert {share.lot for share in shares} == set(drawn.lots)
