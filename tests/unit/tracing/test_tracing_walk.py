"""The graph of lots and the walk along it, on cases worked by hand."""

import datetime as dt
from dataclasses import replace

import pytest

from bedstone.mill.model import Machine, Mill, Product, Route, Settings
from bedstone.tracing.carried import (
    LotPassed,
    PlacesCleaned,
    carried_over,
    left_after_mixing,
    left_after_passing,
)
from bedstone.tracing.graph import LotGraph
from bedstone.tracing.model import Degree, LotEdge, TracedLot

T0 = dt.datetime(2026, 11, 25, tzinfo=dt.UTC)


def edge(start: str, end: str, degree: Degree, share: float = 1.0) -> LotEdge:
    """An edge of a kilogram."""
    return LotEdge(
        from_lot=start,
        to_lot=end,
        degree=degree,
        mass_mg=10**6,
        through="MX1",
        happened_at=T0,
        share_frac=share,
    )


def graph(*edges: LotEdge) -> LotGraph:
    """A graph of batches."""
    names = {name for item in edges for name in (item.from_lot, item.to_lot)}
    made = LotGraph({name: TracedLot(lot=name, kind="batch", material="X") for name in names})
    for item in edges:
        made.add(item)
    return made


def reached(found: LotGraph, lot: str, *, frac: float = 1e-4) -> dict[str, Degree]:
    """Lots reached forward, each with its degree."""
    return {link.lot: link.degree for link in found.trace(lot, carried_frac=frac).forward}


def test_a_way_is_as_sure_as_its_least_sure_step():
    """Certain then possible is possible; certain then certain is certain."""
    found = graph(
        edge("A", "B", Degree.CERTAIN), edge("B", "C", Degree.CERTAIN),
        edge("B", "D", Degree.POSSIBLE), edge("D", "E", Degree.CERTAIN),
    )  # fmt: skip
    assert reached(found, "A") == {
        "B": Degree.CERTAIN,
        "C": Degree.CERTAIN,
        "D": Degree.POSSIBLE,
        "E": Degree.POSSIBLE,
    }


def test_the_surest_of_two_ways_counts():
    """A lot reached by a long certain way and a short possible one is certain."""
    found = graph(
        edge("A", "C", Degree.POSSIBLE), edge("A", "B", Degree.CERTAIN),
        edge("B", "C", Degree.CERTAIN),
    )  # fmt: skip
    assert reached(found, "A")["C"] is Degree.CERTAIN


def test_carry_over_is_followed_down_to_the_stated_part():
    """Carry-over of 1 % twice is 1 in 10,000: reached at that part, not below."""
    found = graph(
        edge("A", "B", Degree.CARRY_OVER, 0.01), edge("B", "C", Degree.CARRY_OVER, 0.01),
        edge("C", "D", Degree.CARRY_OVER, 0.01),
    )  # fmt: skip
    assert set(reached(found, "A", frac=0.99e-4)) == {"B", "C"}
    assert set(reached(found, "A", frac=1e-2)) == {"B"}
    link = found.trace("A", carried_frac=1e-7).forward[-1]
    assert (link.lot, link.depth) == ("D", 3)
    assert link.share_frac == pytest.approx(1e-6)


def test_a_lot_reached_without_carry_over_is_listed_without_it():
    """Carry-over beside a real way is not listed."""
    found = graph(edge("A", "B", Degree.POSSIBLE), edge("A", "B", Degree.CARRY_OVER, 0.5))
    links = found.trace("A").forward
    assert [(link.lot, link.degree) for link in links] == [("B", Degree.POSSIBLE)]


def test_parts_of_one_lot_are_added_up():
    """Two draws of one lot into one batch are one link with both masses."""
    found = graph(edge("A", "B", Degree.POSSIBLE), edge("A", "B", Degree.CERTAIN))
    (link,) = found.trace("A").forward
    assert (link.mass_mg, link.degree) == (2 * 10**6, Degree.CERTAIN)


def test_a_ring_of_lots_ends():
    """Rework that leads back to where it came from does not go round for ever."""
    found = graph(
        edge("A", "B", Degree.CERTAIN), edge("B", "C", Degree.CERTAIN),
        edge("C", "A", Degree.CERTAIN),
    )  # fmt: skip
    assert set(reached(found, "A")) == {"B", "C"}


def small() -> Mill:
    """A mixer that keeps 10 kg and a conveyor that keeps 5 kg."""
    return Mill(
        settings=Settings(format=1, name="x", time_zone="UTC"),
        machines=(
            Machine(machine="MX1", kind="mixer", hold_up_kg=10.0),
            Machine(machine="LO1", kind="load-out"),
        ),
        routes=(Route(start="MX1", end="LO1", hold_up_kg=5.0, exchange_frac=0.5),),
        products=(
            Product(product="P", name="P", species="x", life_stage="x", form="mash",
                    route="MX1 > LO1", density_kg_m3=600.0, price_usd_t=1.0),
        ),
    )  # fmt: skip


def passed(lot: str, mass_kg: float = 990.0) -> LotPassed:
    """A batch through mixer and load-out."""
    return LotPassed(lot=lot, route=("MX1", "LO1"), mass_mg=round(mass_kg * 1e6), happened_at=T0)


def test_carry_over_of_a_mixer_by_hand():
    """Of a batch of 990 kg, 9.9 kg stay with 10 kg of old; 99 % of that goes with the next, and
    5 kg in the conveyor besides.
    """
    edges = carried_over(small(), (passed("A"), passed("B"), passed("C")))
    by_pair = {(item.from_lot, item.to_lot): item for item in edges}
    assert by_pair["A", "B"].mass_mg == pytest.approx(9.9e6 * 0.99 + 5e6, rel=1e-9)
    assert by_pair["A", "B"].through == "MX1"
    assert by_pair["A", "C"].mass_mg == pytest.approx(9.9e6 * 0.01 * 0.99, rel=1e-9)
    assert by_pair["A", "B"].share_frac == pytest.approx((9.9 * 0.99 + 5) / 990)


def test_a_clean_out_ends_carry_over():
    """Nothing is carried past machines that were cleaned by hand."""
    cleaned = PlacesCleaned(places=("MX1", "MX1>LO1"))
    assert carried_over(small(), (passed("A"), cleaned, passed("B"))) == ()


def test_parts_left_against_a_geometric_series():
    """N batches leave the n-th power of what one leaves; passing in two goes leaves the product."""
    one = left_after_mixing(hold_up_kg=10.0, passed_kg=990.0)
    assert one == pytest.approx(0.01)
    twice = left_after_passing(hold_up_kg=5.0, exchange_frac=0.5, passed_kg=10.0) ** 2
    assert left_after_passing(hold_up_kg=5.0, exchange_frac=0.5, passed_kg=20.0) == pytest.approx(
        twice
    )
    assert left_after_passing(hold_up_kg=0.0, exchange_frac=1.0, passed_kg=1.0) == 0.0


def test_the_likeliest_lots_come_first():
    """Of equally near and sure lots the one with the largest nominal mass comes first, lots that
    are only possible without a mass last, then by name.
    """
    sizes = {"B": 5, "C": 9, "D": None, "A1": None, "E": 9}
    edges = tuple(
        replace(edge("A", lot, Degree.POSSIBLE), mass_mg=size) for lot, size in sizes.items()
    )
    found = graph(edge("A", "Z", Degree.CERTAIN), *edges)
    order = [link.lot for link in found.trace("A").forward]
    assert order == ["Z", "C", "E", "B", "A1", "D"]
