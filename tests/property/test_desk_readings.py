"""What the desk keeps between calls is what it would read from the start."""

from hypothesis import given, settings
from hypothesis import strategies as st

from bedstone.desk.batches import record_batch, record_clean_out
from bedstone.desk.holds import held_lots
from bedstone.desk.lots_lying import lying_now
from bedstone.desk.made import clean_outs, made_batches, started_batches
from bedstone.desk.orders import all_orders, cancel_order, set_order
from bedstone.desk.runs import record_load, record_seen_empty
from bedstone.desk.stock import stock_table
from bedstone.desk.trace import trace
from bedstone.errors import BedstoneError
from fakes.desk_day import PLAN, a_day, actuals, an_order, later
from fakes.memory import MemoryRecord

BATCHES = {row.batch: row for row in PLAN.batches}
ACTS = st.tuples(
    st.sampled_from(["batch", "load", "empty", "order", "cancel", "clean", "back"]),
    st.integers(0, 9),
    st.integers(0, 30),  # minutes back from where the clock stands: facts come late
)


def do(record: MemoryRecord, number: int, act: tuple[str, int, int]) -> None:
    """Do one act; those that the desk refuses change nothing."""
    kind, size, back = act
    at = later(40 + 5 * number - back)
    if kind == "batch":
        code = sorted(BATCHES)[size % len(BATCHES)]
        draws = actuals(BATCHES[code], draw_2=10**6)
        record_batch(record, PLAN.plan, code, draws, by="mara", at=at)
    elif kind == "load":
        record_load(
            record, firm="fenwold", ingredient="SBM", into="B4", lot=f"L-{number}",
            mass_mg=(size + 1) * 10**8, by="osk", at=at,
        )  # fmt: skip
    elif kind == "empty":
        record_seen_empty(record, ["B4", "SB1", "G1", "FB2"][size % 4], by="osk", at=at)
    elif kind == "order":
        set_order(record, an_order(f"41{size:02d}", mass_kg=1000.0 + number), by="osk", at=at)
    elif kind == "cancel":
        cancel_order(record, f"41{size:02d}", why="test", by="osk", at=at)
    elif kind == "clean":
        record_clean_out(record, places=("MX1",), reason="test", by="osk", at=at)
    else:
        position = max(9, record.head().position - size % 4)
        record.reverse(position, by="osk", why="test", recorded_at=at)


def look(record: MemoryRecord) -> list[object]:
    """Everything that the desk keeps between calls."""
    lots = sorted(lot.lot for lot, _ in record.lots())
    return [
        lying_now(record),
        dict(made_batches(record)),
        dict(started_batches(record)),
        clean_outs(record),
        dict(held_lots(record)),
        all_orders(record),
        stock_table(record),
        [trace(record, lot) for lot in lots[-3:]],
    ]


@given(acts=st.lists(ACTS, min_size=3, max_size=20))
@settings(max_examples=60, deadline=None)
def test_kept_readings_equal_fresh_ones(acts: list[tuple[str, int, int]]):
    """However facts come, late ones and ones taken back among them, and whenever the desk looked,
    it says what it says of a record with the same facts that it has never seen.
    """
    record = a_day()
    look(record)
    for number, act in enumerate(acts):
        try:
            do(record, number, act)
        except BedstoneError:
            continue
        if act[2] % 2:
            look(record)
    fresh = MemoryRecord()
    for item in record.facts(reversed_too=True):
        fresh.append(item.fact, recorded_at=item.recorded_at)
    assert fresh.head() == record.head()
    assert look(record) == look(fresh)
