"""Lengths of time in words."""

import datetime as dt

import pytest

from bedstone.quantities.times import shown_minutes
from bedstone.web.show import Show
from fakes.small_mill import a_mill


def test_a_mixing_time_is_shown_to_the_second() -> None:
    """The page says 3 min 30 s where the table says 210 s, not 4 min."""
    assert Show.of(a_mill()).span(210) == "3 min 30 s"


@pytest.mark.parametrize("late_s", [2_880, 2_909, 2_911, 2_939.4])
def test_lateness_is_what_the_clocks_show(late_s: float) -> None:
    """Due on a whole minute, an order is late by the minutes between the two times as printed."""
    due = dt.datetime(2026, 11, 25, 16, tzinfo=dt.UTC)
    ready = due + dt.timedelta(seconds=late_s)
    assert f"{ready:%H:%M}" == "16:48"
    assert shown_minutes(late_s) == "48 min"
