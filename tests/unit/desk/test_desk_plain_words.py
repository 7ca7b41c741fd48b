"""Words and figures that a person at the mill reads, where codes or needless digits would stand."""

import datetime as dt
from dataclasses import replace

import pytest

from bedstone.desk.level_masses import latest_levels
from bedstone.desk.levels import record_level
from bedstone.desk.receive import record_load
from bedstone.desk.stock import must_have_been
from bedstone.desk.watch_words import kept_words
from bedstone.errors import BadInput
from bedstone.mill.plan import BECAUSE
from bedstone.web.show import Show
from fakes.desk_day import a_day, a_desk_mill, later


@pytest.mark.parametrize(
    ("likely", "booked", "words"),
    [
        (0.9999, 1.0, "kept over 99 in 100"),
        (0.94, 0.999, "kept 94 in 100, by the books over 99 in 100"),
        (0.001, 0.5, "kept less than 1 in 100, by the books 50 in 100"),
    ],
)
def test_odds_that_round_to_all_or_nothing_say_so(likely: float, booked: float, words: str):
    """No guarantee is kept "100 in 100, not 100"; what is the same by the books is said once."""
    assert kept_words(likely, booked) == words


@pytest.mark.parametrize(("units", "words"), [("US", "68 °F"), ("SI", "20 °C")])
def test_degrees_have_their_sign(units: str, words: str):
    """20 °C are 68 °F by definition of the scale; a bare letter is no unit of temperature."""
    mill = a_desk_mill()
    show = Show.of(replace(mill, settings=replace(mill.settings, units=units)))
    assert show.warmth(20.0) == words
    assert show.unit("F") == "°F"


def test_why_an_order_is_left_out_is_no_code():
    """Every reason that a plan may have is said in words of more than one part."""
    assert all(" " in words for words in BECAUSE.values())


def test_nobody_knows_the_stock_of_a_moment_to_come():
    """Now and before may be asked, a minute ahead may not."""
    now = later(5)
    must_have_been(now, now, a_desk_mill())
    with pytest.raises(BadInput, match="up to now"):
        must_have_been(now + dt.timedelta(minutes=1), now, a_desk_mill())


def test_a_finding_says_what_came_in_after_its_reading():
    """A level far off the books is of what lay there before the load that follows."""
    record = a_day()
    record_level(
        record, "B1", method="weighed", value=5_000.0, unit="kg", sd=1.0, by="mara", at=later(1)
    )
    (before,) = latest_levels(record, "B1")
    assert before.found is not None
    assert before.found.is_finding
    assert "after that reading" not in before.words
    record_load(
        record, firm="fenwold", ingredient="CORN", into="B1", lot="L-NEW", mass_mg=500_000_000,
        by="mara", at=later(2),
    )  # fmt: skip
    (since,) = latest_levels(record, "B1")
    assert "came in after that reading" in since.words
