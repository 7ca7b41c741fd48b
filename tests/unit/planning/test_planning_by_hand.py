"""A day's order of running given by hand: its times, its cost, what breaks and why."""

import pytest

from bedstone.errors import BadInput
from bedstone.mill.plan import Verdict
from bedstone.planning.by_hand import run_by_hand
from bedstone.planning.day import plan_runs
from bedstone.planning.model import DayProblem
from fakes.planning_mill import problem, stock, wanted


def three_orders(**more: object) -> DayProblem:
    """Medicated, then two feeds that must not have much of it."""
    return problem(
        wanted("4101", "BEEF-M", 3000.0),
        wanted("4102", "SHEEP", 3000.0),
        wanted("4103", "PIG-CU", 3000.0),
        evaluations=40,
        **more,  # type: ignore[arg-type]
    )


def order_of(runs: str) -> list[tuple[str, str]]:
    """Runs of order numbers on the first mixer."""
    return [(f"R-{code}", "MX1") for code in runs.split()]


def test_runs_are_made_in_the_order_given():
    """The order of a person stands, though another would be cheaper."""
    made = run_by_hand(three_orders(), order_of("4101 4103 4102"))
    starts = sorted(made.outcome.runs, key=lambda run: run.start_at)
    assert [run.order for run in starts] == ["4101", "4103", "4102"]
    assert made.may_run
    assert made.outcome.left_out == ()


def test_an_order_that_needs_flushes_gets_them_and_costs_more():
    """Copper and the drug before sheep feed: a flush is there, which the other order goes without."""
    dear = run_by_hand(three_orders(), order_of("4101 4103 4102")).outcome.costs
    cheap = run_by_hand(three_orders(), order_of("4102 4103 4101")).outcome.costs
    assert (dear.flushes, cheap.flushes) == (1, 0)
    assert dear.running_cents100 > cheap.running_cents100


def test_the_planners_own_order_given_by_hand_is_the_same_plan():
    """Walking by hand what the planner found gives its runs, bars and costs again."""
    asked = three_orders()
    found = plan_runs(asked)
    runs = sorted(found.runs, key=lambda run: run.start_at)
    again = run_by_hand(asked, [(run.run, "MX1") for run in runs]).outcome
    assert again == found


def test_a_run_out_of_place_is_named_with_the_reason_and_the_others_are_made():
    """Feed that takes in a product made only afterwards finds none of it."""
    asked = problem(wanted("4101", "HORSE-TX", 1000.0), wanted("4102", "HORSE-CF", 1000.0))
    stock_run = next(run.run for run in plan_runs(asked).runs if run.pack == "stock")
    made = run_by_hand(asked, [("R-4101", "MX2"), (stock_run, "MX2"), ("R-4102", "MX2")])
    assert {run.run for run in made.outcome.runs} == {stock_run, "R-4102"}
    stopped = next(row for row in made.breaks if row.verdict is Verdict.STOP)
    assert (stopped.code, stopped.about) == ("hand.stock", "R-4101")
    assert "Horse-Pl" in stopped.text
    assert [row.because for row in made.outcome.left_out] == ["stock"]
    assert not made.may_run


def test_a_run_that_is_not_named_is_left_out_and_said_to_be():
    """Nobody forgets an order without a word."""
    made = run_by_hand(three_orders(), order_of("4102 4103"))
    assert [(row.order, row.because) for row in made.outcome.left_out] == [("4101", "hand")]
    assert [row.code for row in made.breaks] == ["hand.left_out"]


def test_a_run_made_late_by_the_order_is_told():
    """What is due at eight and stands behind two long runs is late, and by how much is said."""
    asked = problem(
        wanted("4101", "PIG-CU", 9000.0),
        wanted("4102", "BEEF-M", 9000.0),
        wanted("4103", "SHEEP", 1000.0, due_h=3.0),
    )
    made = run_by_hand(asked, order_of("4101 4102 4103"))
    (late,) = (row for row in made.breaks if row.about == "R-4103")
    assert late.code == "time.late"
    assert late.value is not None
    assert late.value > 0.5
    first = run_by_hand(asked, order_of("4103 4101 4102"))
    assert not [row for row in first.breaks if row.about == "R-4103"]


def test_no_mixer_named_takes_one_that_can():
    """An empty mixer is filled in."""
    made = run_by_hand(three_orders(), [("R-4102", ""), ("R-4101", "")])
    assert {batch.mixer for batch in made.outcome.batches} == {"MX1"}


@pytest.mark.parametrize(
    ("order", "seen"),
    [
        ([("R-9999", "MX1")], "R-9999"),
        ([("R-4101", "MX2")], "R-4101 on MX2"),
        ([("R-4101", "MX1"), ("R-4101", "MX1")], "R-4101 twice"),
    ],
)
def test_what_cannot_be_meant_is_refused(order: list[tuple[str, str]], seen: str):
    """An unknown run, a mixer that does not make it, a run named twice."""
    with pytest.raises(BadInput) as refused:
        run_by_hand(three_orders(), order)
    assert refused.value.seen == seen


def test_want_of_stock_is_told_run_by_run():
    """The run that comes too late for what is scarce is the one that breaks."""
    asked = three_orders(stock_mg=stock(P3=30.0))
    made = run_by_hand(asked, order_of("4102 4103 4101"))
    assert made.may_run
