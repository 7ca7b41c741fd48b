"""The picture of a trace of very many lots: gathered, opened, every lot in exactly one box."""

import datetime as dt
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bedstone.tracing.model import Degree, Trace, TraceLink
from bedstone.web.lot_graph import lot_graph
from bedstone.web.lot_groups import MOST_IN_COLUMN, MOST_OPENED, columns_of
from bedstone.web.show import Show

NOW = dt.datetime(2026, 11, 25, tzinfo=dt.UTC)


def link(lot: str, *, material: str = "A", degree: str = "certain", depth: int = 1) -> TraceLink:
    """A batch that the traced lot is in."""
    return TraceLink(
        lot=lot,
        kind="batch",
        material=material,
        degree=Degree(degree),
        mass_mg=1,
        through="",
        happened_at=NOW,
        depth=depth,
        firm=None,
        from_lot="L",
    )


def trace_of(links: list[TraceLink]) -> Trace:
    """A trace forward."""
    return Trace(
        lot="L", kind="load", material="X", made_at=NOW, mass_mg=1, back=(), forward=tuple(links)
    )


LINKS = st.lists(
    st.builds(
        link,
        st.integers(0, 300).map(str),
        material=st.sampled_from("ABCDEFGHIJKLMNOP"),
        degree=st.sampled_from(["certain", "possible", "carry-over"]),
        depth=st.integers(1, 3),
    ),
    max_size=300,
)


@given(LINKS, st.sets(st.sampled_from([f"f1.batch.{one}" for one in "ABC"])))
def test_every_lot_is_in_one_box_or_counted_as_more(links: list[TraceLink], opened: set[str]):
    """Nothing is lost: what is not drawn is said, column by column; groups are no more than a dozen."""
    columns = columns_of(links, side=1, opened=opened)
    drawn = [one.lot for column in columns for node in column.nodes for one in node.links]
    assert len(drawn) == len(set(drawn))
    more = sum(column.more for column in columns)
    assert len(drawn) + more == len({one.lot for one in links})
    for column in columns:
        closed = [node for node in column.nodes if node.key]
        assert len(closed) <= MOST_IN_COLUMN
        assert len(column.nodes) <= MOST_IN_COLUMN + MOST_OPENED * len(opened)


def test_a_short_column_is_drawn_lot_by_lot():
    """A dozen lots need no gathering."""
    (column,) = columns_of([link(str(n)) for n in range(MOST_IN_COLUMN)], side=1)
    assert all(not node.key for node in column.nodes)


def test_a_group_says_how_many_are_how_sure_and_opens_them():
    """162 batches of two feeds: two boxes; one opened shows its lots, each with its own trace."""
    links = [link(f"a{n}") for n in range(7)]
    links += [link(f"p{n}", degree="possible") for n in range(55)]
    links += [link(f"b{n}", material="B") for n in range(100)]
    show = Show.of(None)
    closed = str(lot_graph(trace_of(links), show))
    assert closed.count('class="node many"') == 2
    assert "62 batches: 7 certain, 55 possible. Opens them one by one" in closed
    assert 'href="/trace?lot=L&amp;open=f1.batch.A"' in closed
    opened = str(lot_graph(trace_of(links), show, opened=("f1.batch.A",)))
    assert opened.count('class="node many"') == 1
    assert 'href="/trace?lot=a0"' in opened
    assert "and 2 more, in the table" in opened
    assert re.search(r'href="/trace\?lot=L&amp;open=f1.batch.A&amp;open=f1.batch.B"', opened)


@pytest.mark.parametrize("degree", ["certain", "possible", "carry-over"])
def test_the_line_to_a_group_is_as_sure_as_its_surest_lot(degree: str):
    """One curve for each pair of boxes."""
    links = [link(f"c{n}", degree="carry-over") for n in range(20)] + [link("x", degree=degree)]
    drawn = str(lot_graph(trace_of(links), Show.of(None)))
    assert re.findall(r'class="edge ([a-z-]+)"', drawn) == [degree]
