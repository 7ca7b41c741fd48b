import datetime as dt

import pytest

from bedstone.desk.layers import BinSeenEmpty
from bedstone.desk.record import MovementRecorded
from bedstone.ledger.layers import Layers, Share, layers_of
from bedstone.ledger.model import FlowPattern, How, Movement
from bedstone.ledger.shares import shared_out

AT = dt.datetime(2026, 3, 2, tzinfo=dt.UTC)
KG = 1_000_000


def sure(lot: str | None, mass_mg: int) -> Share:
    """A share that is certain."""
    return Share(lot, mass_mg, certain=True)


def maybe(lot: str | None, mass_mg: int) -> Share:
    """A share that is nominal or only possible."""
    return Share(lot, mass_mg, certain=False)


def booked(
    n: int,
    start: str,
    end: str,
    mass_mg: int,
    *,
    lot: str | None = None,
    sd_mg: int = 0,
    line: int = 1,
    reversed_by: int | None = None,
    reverses: int | None = None,
) -> MovementRecorded:
    """A movement of the n-th fact, a minute after the one before."""
    movement = Movement(
        from_place=start,
        to_place=end,
        mass_mg=mass_mg,
        material="CORN",
        how=How.WEIGHED,
        lot=lot,
        mass_sd_mg=sd_mg,
    )
    return MovementRecorded(
        position=n,
        line=line,
        kind="a.b/1",
        happened_at=AT + dt.timedelta(minutes=n),
        movement=movement,
        reversed_by=reversed_by,
        reverses=reverses,
    )


def two_loads(flow: FlowPattern, *rest: MovementRecorded, sd_mg: int = 0) -> Layers:
    """Loads of 100 and 50 in bin B1, then the rest."""
    loads = [
        booked(1, "supplier/A", "B1", 100, lot="L-1", sd_mg=sd_mg),
        booked(2, "supplier/A", "B1", 50, lot="L-2", sd_mg=sd_mg),
    ]
    return layers_of([*loads, *rest], {"B1": flow})


@pytest.mark.parametrize(
    ("flow", "shares"),
    [
        (FlowPattern.MASS, (sure("L-1", 100), sure("L-2", 20))),
        (FlowPattern.FUNNEL, (sure("L-2", 50), sure("L-1", 70))),
        (FlowPattern.MIXED, (sure("L-1", 80), sure("L-2", 40))),
        (FlowPattern.SEPARATE, (sure("L-1", 100), sure("L-2", 20))),
    ],
)
def test_a_large_draw_takes_both_lots_by_the_way_the_bin_empties(
    flow: FlowPattern, shares: tuple[Share, ...]
):
    """A draw of 120 of 150 must hold both lots; how much of each depends on the flow pattern."""
    layers = two_loads(flow, booked(3, "B1", "MX1", 120))
    assert layers.shares(3, 1) == shares
    assert sum(layer.mass_mg for layer in layers.layers("B1")) == 30


@pytest.mark.parametrize(
    ("flow", "shares"),
    [
        (FlowPattern.MASS, (sure("L-1", 40),)),
        (FlowPattern.FUNNEL, (maybe("L-2", 40), maybe("L-1", 0))),
        (FlowPattern.MIXED, (sure("L-1", 27), sure("L-2", 13))),
        (FlowPattern.SEPARATE, (maybe("L-1", 40), maybe("L-2", 0))),
    ],
)
def test_a_small_draw_is_certain_only_where_the_pattern_makes_it_so(
    flow: FlowPattern, shares: tuple[Share, ...]
):
    """A draw of 40 of 100 + 50: what else might have come is named as possible."""
    assert two_loads(flow, booked(3, "B1", "MX1", 40)).shares(3, 1) == shares


def test_errors_of_weighing_widen_what_is_possible_in_mass_flow():
    """A lot whose boundary lies within three standard deviations of a draw is possible."""
    draw = booked(3, "B1", "MX1", 95)
    exact = two_loads(FlowPattern.MASS, draw)
    assert exact.shares(3, 1) == (sure("L-1", 95),)
    rough = two_loads(FlowPattern.MASS, draw, sd_mg=2)
    assert rough.slack_mg("B1") == 9  # 3 * sqrt(2^2 + 2^2) = 8.5, rounded up
    assert rough.shares(3, 1) == (sure("L-1", 95), maybe("L-2", 0))


def test_a_nominal_share_within_the_errors_is_not_certain():
    """A few milligrams of a lot beyond the boundary may as well be nothing."""
    rough = two_loads(FlowPattern.MASS, booked(3, "B1", "MX1", 105), sd_mg=2)
    assert rough.shares(3, 1) == (sure("L-1", 100), maybe("L-2", 5))


def test_a_lot_that_is_used_up_stays_possible_within_the_errors():
    """The tail of a lot may come a little later than the books say."""
    rough = two_loads(FlowPattern.MASS, booked(3, "B1", "MX1", 104), sd_mg=2)
    assert rough.possible_lots("B1") == ("L-1", "L-2")
    rough.apply(booked(4, "B1", "MX1", 30))
    assert rough.shares(4, 1) == (sure("L-2", 30), maybe("L-1", 0))
    assert rough.possible_lots("B1") == ("L-2",)


@pytest.mark.parametrize("flow", FlowPattern)
def test_what_was_never_booked_in_is_named_as_unknown(flow: FlowPattern):
    """Book stock below nothing: the part beyond is of nobody knows what, and stays possible."""
    layers = two_loads(
        flow,
        booked(3, "B1", "MX1", 170),
        booked(4, "supplier/A", "B1", 60, lot="L-3"),
        booked(5, "B1", "MX1", 10),
    )
    assert sure(None, 20) in layers.shares(3, 1)
    assert sum(share.mass_mg for share in layers.shares(3, 1)) == 170
    assert sum(layer.mass_mg for layer in layers.layers("B1")) == 30
    assert sure("L-3", 10) in layers.shares(5, 1) or flow is not FlowPattern.MASS
    assert None in {share.lot for share in layers.shares(5, 1)}


@pytest.mark.parametrize("flow", FlowPattern)
def test_a_bin_seen_empty_forgets_all_that_was_in_it(flow: FlowPattern):
    """After a bin was seen empty only what came later is possible."""
    empty = BinSeenEmpty(place="B1", happened_at=AT + dt.timedelta(minutes=3), position=3)
    movements = [
        booked(1, "supplier/A", "B1", 100, lot="L-1", sd_mg=5),
        booked(3, "B1", "unaccounted", 100),
        booked(4, "supplier/A", "B1", 60, lot="L-3"),
        booked(5, "B1", "MX1", 10),
    ]
    layers = layers_of(movements, {"B1": flow}, seen_empty=[empty])
    assert layers.shares(5, 1) == (sure("L-3", 10),)
    assert layers.possible_lots("B1") == ("L-3",)
    assert layers.slack_mg("B1") == 0


@pytest.mark.parametrize("flow", FlowPattern)
def test_a_lot_that_is_given_is_the_truth(flow: FlowPattern):
    """A scanned lot is certain and leaves its layer, wherever that lies."""
    layers = two_loads(flow, booked(3, "B1", "MX1", 30, lot="L-2"))
    assert layers.shares(3, 1) == (sure("L-2", 30),)
    masses: dict[str, int] = {}
    for layer in layers.layers("B1"):
        masses[layer.lot] = masses.get(layer.lot, 0) + layer.mass_mg
    assert masses == {"L-1": 100, "L-2": 20}


@pytest.mark.parametrize("flow", FlowPattern)
def test_a_given_lot_that_the_books_do_not_have_is_believed_too(flow: FlowPattern):
    """A lot that was never booked in is still the truth, and the mass goes off the books."""
    layers = two_loads(flow, booked(3, "B1", "MX1", 30, lot="L-9"))
    assert layers.shares(3, 1) == (sure("L-9", 30),)
    assert sum(layer.mass_mg for layer in layers.layers("B1")) == 120


def test_facts_taken_back_are_passed_over():
    """A reversed load and its reversal leave no layer."""
    layers = two_loads(
        FlowPattern.MASS,
        booked(3, "supplier/A", "B1", 9, lot="L-3", reversed_by=4),
        booked(4, "B1", "supplier/A", 9, lot="L-3", reverses=3),
    )
    assert [layer.lot for layer in layers.layers("B1")] == ["L-1", "L-2"]


def test_lots_go_through_a_mill_unnamed_as_a_blend():
    """Ground grain is of the lots that the grain was of; dust takes its share."""
    layers = two_loads(
        FlowPattern.MASS,
        booked(3, "B1", "HM1", 120, line=1),
        booked(3, "HM1", "G1", 117, line=2),
        booked(3, "HM1", "air", 3, line=3),
        booked(4, "G1", "MX1", 117),
    )
    assert layers.shares(3, 2) == (sure("L-1", 98), sure("L-2", 19))
    assert layers.layers("HM1") == ()
    assert layers.shares(4, 1) == (sure("L-1", 98), sure("L-2", 19))


def test_a_part_of_a_blend_is_certain_of_no_lot():
    """Where a lot lies within a blend is not known: a part of it may hold none of that lot."""
    layers = two_loads(
        FlowPattern.MASS,
        booked(3, "B1", "HM1", 120, line=1),
        booked(3, "HM1", "G1", 120, line=2),
        booked(4, "G1", "MX1", 12),
    )
    assert layers.shares(4, 1) == (maybe("L-1", 10), maybe("L-2", 2))


def test_a_lot_only_possible_stays_possible_through_a_mill():
    """What may have been in the grain may be in the ground grain."""
    layers = two_loads(
        FlowPattern.MASS,
        booked(3, "B1", "HM1", 95, line=1),
        booked(3, "HM1", "G1", 95, line=2),
        booked(4, "G1", "MX1", 5),
        sd_mg=2,
    )
    assert layers.shares(4, 1) == (maybe("L-1", 5), maybe("L-2", 0))
    assert set(layers.possible_lots("G1")) == {"L-1", "L-2"}


def test_a_machine_forgets_when_the_books_say_that_nothing_is_left():
    """Lots of the batch before do not stick to a mixer in the ledger; residue is reckoned apart."""
    layers = two_loads(
        FlowPattern.MASS,
        booked(3, "B1", "MX1", 100),
        booked(3, "MX1", "F1", 100, lot="4107-01", line=2),
        booked(4, "B1", "MX1", 50),
        booked(4, "MX1", "F2", 50, line=2),
    )
    assert layers.shares(3, 2) == (sure("4107-01", 100),)
    assert layers.shares(4, 2) == (sure("L-2", 50),)


def test_what_a_count_moves_counts_as_slack():
    """A count that took 30 off the books says that they were off by up to 30 anywhere."""
    layers = two_loads(
        FlowPattern.MASS, booked(3, "B1", "unaccounted", 30), booked(4, "B1", "MX1", 60)
    )
    assert layers.slack_mg("B1") == 30
    assert layers.shares(4, 1) == (sure("L-1", 60), maybe("L-2", 0))


def test_a_draw_that_was_not_scanned_leaves_every_lot_kept_apart_possible():
    """Sacks of two lots, two draws unscanned: either may have been of either, none is certain."""
    layers = two_loads(
        FlowPattern.SEPARATE, booked(3, "B1", "MX1", 50), booked(4, "B1", "MX1", 100)
    )
    assert layers.shares(3, 1) == (maybe("L-1", 50), maybe("L-2", 0))
    assert layers.shares(4, 1) == (sure("L-1", 50), maybe("L-2", 50))
    assert layers.possible_lots("B1") == ("L-1", "L-2")


def test_a_lot_scanned_out_wholly_is_possible_no_more():
    """Counted sacks of a lot that have all been scanned leave only the other, which is certain."""
    layers = two_loads(
        FlowPattern.SEPARATE,
        booked(3, "B1", "MX1", 20),
        booked(4, "B1", "MX1", 100, lot="L-1"),
        booked(5, "B1", "MX1", 10),
    )
    assert layers.shares(5, 1) == (sure("L-2", 10),)
    assert layers.possible_lots("B1") == ("L-2",)


@pytest.mark.parametrize("flow", [FlowPattern.MASS, FlowPattern.FUNNEL, FlowPattern.SEPARATE])
def test_the_error_of_the_draw_itself_counts(flow: FlowPattern):
    """A draw booked a little short of, or beyond, a lot's end may reach it, or may not."""
    layers = two_loads(flow, booked(3, "B1", "MX1", 99, sd_mg=20))
    assert {share.lot for share in layers.shares(3, 1)} == {"L-1", "L-2"}
    layers = two_loads(flow, booked(3, "B1", "MX1", 110, sd_mg=20))
    assert not any(share.lot == "L-2" and share.certain for share in layers.shares(3, 1))


def test_asking_what_a_draw_would_be_changes_nothing():
    """The draw that is asked about is the one that comes, and asking twice is asking once."""
    layers = two_loads(FlowPattern.FUNNEL)
    before = layers.layers("B1")
    asked = layers.would_draw("B1", 70)
    assert layers.would_draw("B1", 70) == asked
    assert layers.layers("B1") == before
    layers.apply(booked(3, "B1", "MX1", 70))
    assert layers.shares(3, 1) == asked
    assert layers.would_draw("supplier/A", 5) == ()


def test_layers_are_listed_in_the_order_in_which_they_come_out():
    """Mass flow lists the oldest first, a funnel the youngest."""
    assert [row.lot for row in two_loads(FlowPattern.MASS).layers("B1")] == ["L-1", "L-2"]
    assert [row.lot for row in two_loads(FlowPattern.FUNNEL).layers("B1")] == ["L-2", "L-1"]


def test_places_never_heard_of_hold_nothing():
    """A place without movements has no layers, no possible lots, no shares."""
    layers = Layers({})
    assert layers.layers("B1") == ()
    assert layers.possible_lots("B1") == ()
    assert layers.shares(1, 1) == ()


@pytest.mark.parametrize(
    ("mass", "weights", "parts"),
    [(10, [1, 1, 1], [4, 3, 3]), (1, [1, 5, 5], [0, 1, 0]), (7, [0, 7], [0, 7])],
)
def test_a_whole_mass_is_shared_out_exactly(mass: int, weights: list[int], parts: list[int]):
    """Shares add up to the whole; the largest remainders are rounded up, equal ones by order."""
    assert shared_out(mass, weights) == parts


def test_lots_that_go_round_in_a_circle_are_followed_to_the_end():
    """Fines that go back to the bin they came from, hundreds of times, do no harm."""
    movements = [booked(1, "supplier/A", "B1", 1000, lot="L-1", sd_mg=3)]
    for n in range(2, 500):
        movements += [
            booked(n, "B1", "PL1", 20, line=1),
            booked(n, "PL1", "B1", 20, line=2),
            booked(n, "supplier/A", "B1", 10, lot=f"L-{n}", line=3),
            booked(n, "B1", "MX1", 10, line=4),
        ]
    layers = layers_of(movements, {"B1": FlowPattern.MASS})
    lots = {share.lot for share in layers.shares(499, 4)}
    assert "L-1" in lots
    assert lots <= {f"L-{n}" for n in range(1, 500)}
    assert sum(layer.mass_mg for layer in layers.layers("B1")) == 1000


def test_feed_turned_from_bin_to_bin_and_back_is_followed_to_the_end():
    """Turning a bin over into another and back, hundreds of times, keeps every lot possible."""
    flows = {"B1": FlowPattern.MASS, "B2": FlowPattern.MASS}
    movements = [
        booked(1, "supplier/A", "B1", 600, lot="L-1", sd_mg=50),
        booked(2, "supplier/A", "B1", 400, lot="L-2", sd_mg=50),
    ]
    for n in range(3, 400):
        movements += [
            booked(n, "B1", "B2", 700, line=1),
            booked(n, "B2", "B1", 700, line=2),
        ]
    layers = layers_of(movements, flows)
    assert {share.lot for share in layers.shares(399, 1)} == {"L-1", "L-2"}
    assert sum(layer.mass_mg for layer in layers.layers("B1")) == 1000
    assert set(layers.possible_lots("B1")) == {"L-1", "L-2"}
