"""Forward trace and back trace are inverse, whatever ran."""

from hypothesis import given, settings
from hypothesis import strategies as st

from bedstone.desk.batches import record_batch
from bedstone.desk.record import Record
from bedstone.desk.runs import (
    record_load,
    record_packed,
    record_seen_empty,
    record_shipped,
)
from bedstone.desk.trace import trace
from bedstone.errors import BedstoneError
from fakes.desk_day import PLAN, a_day, actuals, later

BATCHES = {row.batch: row for row in PLAN.batches}
ACTS = st.one_of(
    st.tuples(st.just("batch"), st.sampled_from(sorted(BATCHES)), st.integers(-3, 3)),
    st.tuples(
        st.just("load"), st.sampled_from(["B4:SBM", "G3:BARLEY-GR", "F1:VITE"]), st.integers(1, 4)
    ),
    st.tuples(st.just("empty"), st.sampled_from(["B4", "SB1", "G3", "FB2"]), st.just(0)),
    st.tuples(st.just("pack"), st.sampled_from(["SB1", "FB2"]), st.integers(1, 200)),
    st.tuples(st.just("ship"), st.just("R-4107"), st.integers(1, 60)),
    st.tuples(st.just("back"), st.just(""), st.integers(1, 40)),
)


def do(record: Record, number: int, act: tuple[str, str, int]) -> None:
    """Do one act; those that the desk refuses change nothing."""
    kind, what, size = act
    at = later(10 + number)
    if kind == "batch":
        draws = actuals(BATCHES[what], draw_1=size * 1_000_000)
        record_batch(record, PLAN.plan, what, draws, by="mara", at=at)
    elif kind == "load":
        place, ingredient = what.split(":")
        record_load(
            record, firm="fenwold", ingredient=ingredient, into=place, lot=f"L-{number}",
            mass_mg=size * 10**9, by="osk", at=at,
        )  # fmt: skip
    elif kind == "empty":
        record_seen_empty(record, what, by="osk", at=at)
    elif kind == "pack":
        record_packed(
            record, run="R-4107", machine="SK1", from_place=what, to_place="WH1", bags=size,
            by="mara", at=at,
        )  # fmt: skip
    elif kind == "ship":
        record_shipped(record, order="4107", run=what, bags=size, from_place="WH1", by="osk", at=at)
    else:
        position = max(15, record.head().position - size)
        record.reverse(position, by="osk", why="test", recorded_at=at)


@given(acts=st.lists(ACTS, max_size=25))
@settings(max_examples=60, deadline=None)
def test_forward_and_back_are_inverse(acts: list[tuple[str, str, int]]):
    """Lot B is reached forward from A, surely or possibly or as carry-over, exactly when A is
    reached back from B in the same degree.
    """
    record = a_day()
    for number, act in enumerate(acts):
        try:
            do(record, number, act)
        except BedstoneError:
            continue
    lots = [lot.lot for lot, _ in record.lots()]
    forward = {(lot, link.lot): link.degree for lot in lots for link in trace(record, lot).forward}
    back = {(link.lot, lot): link.degree for lot in lots for link in trace(record, lot).back}
    inside = set(lots)
    assert {pair: how for pair, how in forward.items() if pair[1] in inside} == {
        pair: how for pair, how in back.items() if pair[0] in inside
    }


@given(acts=st.lists(ACTS, max_size=25))
@settings(max_examples=40, deadline=None)
def test_mass_is_conserved_by_every_act(acts: list[tuple[str, str, int]]):
    """Whatever acts the desk takes, the masses of all places, outside ones too, add to nothing."""
    record = a_day()
    for number, act in enumerate(acts):
        head = record.head()
        try:
            do(record, number, act)
        except BedstoneError:
            assert record.head() == head
    assert sum(line.mass_mg for line in record.stock()) == 0
