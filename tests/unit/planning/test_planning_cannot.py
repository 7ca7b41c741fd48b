"""Days in which orders cannot be made at all: each order says why, in words that name what to change."""

import dataclasses
import datetime as dt

from bedstone.mill.model import Limit
from bedstone.planning.day import plan_runs
from bedstone.planning.model import DayProblem
from fakes.planning_mill import planning_mill, problem, stock, wanted
from fakes.random_days import random_day
from fakes.random_mill import random_mill


def said(asked: DayProblem) -> dict[str, tuple[str, str]]:
    """Why each order was left out."""
    return {row.order: (row.because, row.text) for row in plan_runs(asked).left_out}


def test_a_feed_that_must_never_meet_what_every_way_has_handled():
    """A limit that says never, for feed of the mixer that drugs go through: the place is named."""
    never = Limit(species="layer", substance="monensin", kind="never", source="mill policy")
    mill = planning_mill(limits=(never,))
    because, text = said(problem(wanted("1", "LAYER", 1000), mill=mill))["1"]
    assert because == "never"
    assert "MX1" in text
    assert "monensin" in text
    assert "mill policy" in text


def test_a_line_without_a_rate_is_named_with_where_to_give_it_one():
    """No rate of its own and none for the feed: the table to fill is named, not a time."""
    mill = planning_mill()
    mill = dataclasses.replace(
        mill,
        machines=tuple(
            dataclasses.replace(row, rate_kg_s=None) if row.machine == "SK1" else row
            for row in mill.machines
        ),
    )
    because, text = said(problem(wanted("1", "LAYER", 1000), mill=mill))["1"]
    assert because == "time"
    assert text == (
        "SK1 has no rate, neither of its own nor for Layer: give it one in the machines or the "
        "rates table."
    )


def test_a_batch_larger_than_every_bin_on_its_way():
    """The batch and each bin with what it takes are named."""
    mill = planning_mill()
    mill = dataclasses.replace(
        mill,
        bins=tuple(
            dataclasses.replace(row, capacity_kg=300.0) if row.kind == "finished" else row
            for row in mill.bins
        ),
    )
    because, text = said(problem(wanted("1", "LAYER", 1000), mill=mill))["1"]
    assert because == "bin"
    assert "FB1 (300 kg)" in text
    assert "FB2 (300 kg)" in text


def test_an_ingredient_of_which_there_is_none():
    """What it needs and what is left of it."""
    because, text = said(problem(wanted("1", "LAYER", 1000), stock_mg=stock(B3=0.0)))["1"]
    assert because == "stock"
    assert text == "Needs 100 kg of Lime; 0 kg is left for it."


def test_a_day_without_a_shift_and_one_that_is_over():
    """No shift left is said as such; ten minutes of one are set against what sacking needs."""
    order = wanted("1", "LAYER", 4000)
    over = dataclasses.replace(problem(order), now=dt.datetime(2026, 11, 26, 1, tzinfo=dt.UTC))
    because, text = said(over)["1"]
    assert (because, "no shift left today" in text) == ("time", True)
    nearly = dataclasses.replace(over, now=dt.datetime(2026, 11, 25, 23, 50, tzinfo=dt.UTC))
    because, text = said(nearly)["1"]
    assert because == "time"
    assert "10 min of its shifts today is left" in text
    assert "22 min on SK1" in text  # 4,000 kg at 3 kg/s


def test_an_order_due_before_it_could_be_ready_says_so():
    """It is made, late, and no order of running is blamed for what none can avoid."""
    runs = plan_runs(
        problem(wanted("1", "LAYER", 4000, due_h=0.0), wanted("2", "LAYER", 500, due_h=12.0))
    ).runs
    late = {run.order: [row for row in run.findings if row.code == "time.late"] for run in runs}
    assert late["2"] == []
    assert "even run first of all it would be" in late["1"][0].text
    assert late["1"][0].do == "tell the customer"


def test_a_day_of_which_nothing_can_be_made_names_every_order():
    """Forty orders and no shift at all: forty reasons, and no run."""
    asked = random_day(1, orders=40)
    outcome = plan_runs(
        dataclasses.replace(asked, now=dt.datetime(2026, 11, 26, 6, 30, tzinfo=dt.UTC))
    )
    assert outcome.runs == ()
    assert len(outcome.left_out) == 40
    assert all(row.text for row in outcome.left_out)
    assert outcome.costs.least_possible_cents100 == 0


def test_random_mills_and_days_are_the_same_for_the_same_seed():
    """And differ for another; a day of forty orders has about 120 batches, all kinds of limits."""
    assert random_day(5, orders=40) == random_day(5, orders=40)
    assert random_day(5, orders=40) != random_day(6, orders=40)
    kinds = {row.kind for seed in range(12) for row in random_mill(seed).limits}
    assert kinds == {"level", "procedure", "clean-out", "never"}
    lines = {
        sum(row.kind == "pellet line" for row in random_mill(seed).machines) for seed in range(12)
    }
    assert lines == {1, 2, 3}
