"""Gross errors are found, named, sized, and not told apart where they cannot be."""

import numpy as np
import pytest

from bedstone.errors import BadInput
from bedstone.quality.balance import Flow, reconcile

LEGS = (
    ("receipts", "supplier", "bins"),
    ("draws", "bins", "mixer"),
    ("oil", "supplier", "mixer"),
    ("batches", "mixer", "surge"),
    ("pellets", "surge", "cooler"),
    ("water", "cooler", "air"),
    ("bagged", "cooler", "store"),
    ("shipped", "store", "customer"),
    ("bins change", "bins", "stock"),
    ("store change", "store", "stock"),
)
TRUE = (900.0, 880.0, 40.0, 920.0, 920.0, 12.0, 908.0, 900.0, 20.0, 8.0)
OUTSIDE = ["supplier", "air", "customer", "stock"]


def shift(seed: int = 1, **wrong: float) -> list[Flow]:
    """A shift as read, with 0.4 % of error, and what is said to be wrong added."""
    draw = np.random.default_rng(seed)
    made = []
    for (name, a, b), kg in zip(LEGS, TRUE, strict=True):
        sd = 0.004 * kg + 0.5
        read = kg + sd * float(draw.normal()) + wrong.get(name.replace(" ", "_"), 0.0)
        made.append(Flow(flow=name, from_place=a, to_place=b, measured_kg=read, sd_kg=sd))
    return made


def test_an_instrument_that_reads_wrong_is_named_and_sized() -> None:
    """The draws' scale reads 40 kg too much: it is named, with 40 kg inside two of its errors."""
    found = reconcile(shift(draws=40.0), OUTSIDE)
    assert found.gross[0].about == "draws"
    assert found.gross[0].size_kg == pytest.approx(40.0, abs=2 * found.gross[0].size_sd_kg)
    assert found.gross[0].probability < 0.01


def test_two_errors_are_found_one_after_the_other() -> None:
    """Draws 50 kg too much, bags 45 kg too little."""
    found = reconcile(shift(draws=50.0, bagged=-45.0), OUTSIDE)
    assert {one.about for one in found.gross[:2]} == {"draws", "bagged"}


def test_what_only_one_balance_sees_cannot_be_told_apart() -> None:
    """Oil is seen by the mixer alone: meter and a loss at the mixer say the same, and it is said."""
    found = reconcile(shift(oil=25.0), OUTSIDE)
    named = {found.gross[0].about, *found.gross[0].not_told_from}
    assert {"oil", "mixer"} <= named


def test_clean_flows_agree() -> None:
    """No error, no name."""
    found = reconcile(shift(), OUTSIDE)
    assert found.agrees
    assert found.probability > 0.01


def test_an_unmeasured_flow_follows_where_a_balance_reaches_it() -> None:
    """Water into the air is what pellets lose on the way to the bags."""
    flows = [
        flow if flow.flow != "water" else Flow(flow="water", from_place="cooler", to_place="air")
        for flow in shift()
    ]
    water = next(one for one in reconcile(flows, OUTSIDE).flows if one.flow == "water")
    assert water.says == "reckoned"
    assert water.agreed_kg is not None
    assert water.sd_kg is not None
    assert water.agreed_kg == pytest.approx(12.0, abs=3 * water.sd_kg)


def test_two_unmeasured_ways_out_cannot_be_known() -> None:
    """Water and dust from the same cooler, neither weighed: both are named as unknown."""
    flows = [flow for flow in shift() if flow.flow != "water"]
    flows += [Flow(flow=name, from_place="cooler", to_place="air") for name in ("water", "dust")]
    says = {one.flow: one.says for one in reconcile(flows, OUTSIDE).flows}
    assert says["water"] == says["dust"] == "cannot be known"


def test_no_flow_at_all_is_an_empty_balance() -> None:
    """Nothing measured: nothing agrees or disagrees."""
    found = reconcile([], OUTSIDE)
    assert found.checks == 0
    assert found.agrees


def test_flows_that_cannot_be_are_refused() -> None:
    """No error given, a circle, a name twice."""
    with pytest.raises(BadInput, match="error of its instrument"):
        reconcile([Flow(flow="a", from_place="x", to_place="y", measured_kg=1.0)], [])
    with pytest.raises(BadInput, match="somewhere else"):
        reconcile([Flow(flow="a", from_place="x", to_place="x")], [])
    twice = Flow(flow="a", from_place="x", to_place="y")
    with pytest.raises(BadInput, match="twice"):
        reconcile([twice, twice], [])
