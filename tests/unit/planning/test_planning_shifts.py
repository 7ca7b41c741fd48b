"""Shifts, rates by the hour and the two days a year that are not 24 hours long."""

import datetime as dt

import pytest

from bedstone.mill.model import Shift
from bedstone.planning.shifts import NEVER, Line, Windows, clock, shift_windows
from fakes.planning_mill import DAY, planning_mill

HOUR = 3600


def shifts(*rows: tuple[str, str, dt.time, dt.time]) -> tuple[Shift, ...]:
    """Shifts from (machine, weekday, start, end)."""
    return tuple(
        Shift(machine=machine, weekday=day, start_time=start, end_time=end)
        for machine, day, start, end in rows
    )


@pytest.mark.parametrize(
    ("day", "hours", "first_utc_hour"),
    [
        (dt.date(2026, 3, 7), 8.0, 6),  # the Saturday before: winter time
        (dt.date(2026, 3, 8), 7.0, 6),  # clocks go forward at two
        (dt.date(2026, 11, 1), 9.0, 5),  # clocks go back at two
    ],
)
def test_a_night_shift_is_as_long_as_the_night(day: dt.date, hours: float, first_utc_hour: int):
    """A shift from midnight to eight lasts 7, 8 or 9 hours, by the day."""
    word = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")[day.weekday()]
    mill = planning_mill(shifts=shifts(("", word, dt.time(0), dt.time(8))))
    ((start, end),) = shift_windows(mill, "MX1", day=day).spans
    assert (end - start) / HOUR == hours
    assert clock(mill, day, start).hour == first_utc_hour


def test_own_shifts_stand_in_for_those_of_all():
    """A machine with shifts of its own has no others; a day without any has none."""
    mill = planning_mill(
        shifts=shifts(
            ("", "Wed", dt.time(6), dt.time(18)), ("PL1", "Wed", dt.time(20), dt.time(23, 59))
        )
    )
    assert shift_windows(mill, "MX1", day=DAY).spans == ((6 * HOUR, 18 * HOUR),)
    assert shift_windows(mill, "PL1", day=DAY).spans == ((20 * HOUR, 24 * HOUR),)
    assert shift_windows(mill, "MX1", day=DAY + dt.timedelta(days=1)).spans == ()


def test_shifts_that_touch_are_one():
    """Early and late shift without a break between them count as one time."""
    mill = planning_mill(
        shifts=shifts(("", "Wed", dt.time(14), dt.time(22)), ("", "Wed", dt.time(6), dt.time(14)))
    )
    assert shift_windows(mill, "MX1", day=DAY).spans == ((6 * HOUR, 22 * HOUR),)


def test_a_job_fits_whole_into_a_shift():
    """What does not fit before the break begins after it; what fits nowhere never begins."""
    windows = Windows(((0, 100), (200, 300)))
    assert windows.fit(0, 100) == 0
    assert windows.fit(1, 100) == 200
    assert windows.fit(250, 60) == NEVER
    assert windows.parts(50, 250) == ((50, 100), (200, 250))


def test_a_line_pauses_between_shifts_and_changes_with_the_hour():
    """1 kg/s for 100 s, a break, then 2 kg/s: 150 kg from second 50 end 50 s after the break."""
    line = Line([(0, 100, 1.0), (200, 300, 2.0)])
    assert line.work(50, 150.0) == (50, 250)
    assert line.work(120, 100.0) == (200, 250)
    assert line.work(0, 301.0) == (0, NEVER)


def test_a_packing_line_begins_so_late_that_it_never_waits():
    """Batches of 100 kg that come every 200 s are packed at 1 kg/s from second 300 on."""
    line = Line([(0, 10_000, 1.0)])
    arrivals = [(200, 100.0), (400, 100.0), (600, 100.0)]
    start = line.latest_start(arrivals, 0)
    assert start == 400
    assert line.work(start, 300.0) == (400, 700)
