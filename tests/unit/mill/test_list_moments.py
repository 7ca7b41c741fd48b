"""Days and times in lists."""

import pytest

from bedstone.errors import BadInput
from bedstone.mill.list_moments import moment_cell


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("11/24/2026 7:51 PM", "2026-11-24 19:51"),
        ("1/2/2026 12:05 am", "2026-01-02 00:05"),
        ("01/02/2026 12:05 p.m.", "2026-01-02 12:05"),
        ("11/24/2026 19:51:07", "2026-11-24 19:51:07"),
        ("11/24/2026, 7:51PM", "2026-11-24 19:51"),
        ("2026-11-24 19:51 -06:00", "2026-11-24 19:51 -06:00"),
        ("soon", "soon"),
    ],
)
def test_a_us_mills_list_is_read_month_first(text: str, wanted: str):
    """Month, day and year with a clock of twelve or of twenty-four hours; all else stays as it is."""
    assert moment_cell(text, "US") == wanted


@pytest.mark.parametrize(
    ("text", "units"),
    [
        ("11/24/26 7:51 PM", "US"),
        ("11/24/2026", "US"),
        ("11/24/2026 19:51 PM", "US"),
        ("11/24/2026 0:10 AM", "US"),
        ("3/4/2026 10:00", "SI"),
    ],
)
def test_what_can_be_read_two_ways_is_refused(text: str, units: str):
    """A year of two figures, a day without a time, an hour that no such clock has, and slashes where the
    day may come first: refused with an example of what is taken.
    """
    with pytest.raises(BadInput) as refused:
        moment_cell(text, units)
    assert "2026-11-24 19:30" in str(refused.value)
    assert ("11/24/2026 7:30 PM" in str(refused.value)) == (units == "US")
