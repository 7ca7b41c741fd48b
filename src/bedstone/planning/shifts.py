"""When machines may run on the day, in whole seconds from the midnight on which it begins.

Shifts are in the mill's own time; the day of a change to or from summer time is an hour shorter
or longer, and so is a shift that spans the change.
"""

import datetime as dt
import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from bedstone.mill.model import Mill

__all__ = [
    "NEVER",
    "Line",
    "Windows",
    "clock",
    "has_shift",
    "midnight",
    "rate_segments",
    "seconds",
    "shift_windows",
]

NEVER = 10**12
"""A time that never comes. [s]"""
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
RUNS_TO_MIDNIGHT = dt.time(23, 59)
STEP_S = 1800  # zones whose offset is no whole number of hours change at the half
OVERTIME_S = 14 * 86_400


@dataclass(frozen=True)
class Windows:
    """The times in which a machine may run, in order, apart. [s]"""

    spans: tuple[tuple[int, int], ...]

    def fit(self, from_s: int, duration_s: int) -> int:
        """The first start, not before a time, from which a duration lies inside one shift."""
        for start_s, end_s in self.spans:
            begin_s = max(from_s, start_s)
            if begin_s + duration_s <= end_s:
                return begin_s
        return NEVER

    def holds(self, start_s: int, end_s: int) -> bool:
        """True when a time lies inside one shift."""
        return any(begin <= start_s and end_s <= end for begin, end in self.spans)

    def with_overtime(self) -> "Windows":
        """The same with the last shift going on as long as it takes."""
        if not self.spans:
            return Windows(((0, OVERTIME_S),))
        start_s, end_s = self.spans[-1]
        return Windows((*self.spans[:-1], (start_s, end_s + OVERTIME_S)))

    def parts(self, start_s: int, end_s: int) -> tuple[tuple[int, int], ...]:
        """What of a time lies in shifts, shift by shift."""
        cut = ((max(start_s, begin), min(end_s, end)) for begin, end in self.spans)
        return tuple((begin, end) for begin, end in cut if begin < end)


def midnight(mill: Mill, day: dt.date) -> dt.datetime:
    """The start of the day in the mill's time, as UTC."""
    return dt.datetime.combine(day, dt.time(0), tzinfo=mill.settings.zone).astimezone(dt.UTC)


def seconds(mill: Mill, day: dt.date, moment: dt.datetime) -> int:
    """Seconds from the start of the day to a moment, parts of a second rounded up."""
    return math.ceil((moment - midnight(mill, day)).total_seconds())


def clock(mill: Mill, day: dt.date, after_s: float) -> dt.datetime:
    """The moment that is so many seconds after the start of the day, UTC."""
    return midnight(mill, day) + dt.timedelta(seconds=after_s)


def has_shift(mill: Mill, day: dt.date) -> bool:
    """True when some machine may run on a day."""
    return any(shift_windows(mill, row.machine, day=day).spans for row in mill.machines)


def shift_windows(mill: Mill, machine: str, *, day: dt.date) -> Windows:
    """The shifts of a machine on a day.

    A machine with shifts of its own has no others; a mill without any shifts runs all day.
    """
    if not mill.shifts:
        end = seconds(mill, day, midnight(mill, day + dt.timedelta(days=1)))
        return Windows(((0, end),))
    rows = [row for row in mill.shifts if row.machine == machine]
    if not rows:
        rows = [row for row in mill.shifts if not row.machine]
    word = WEEKDAYS[day.weekday()]
    spans = sorted(
        (_second_of(mill, day, row.start_time), _second_of(mill, day, row.end_time))
        for row in rows
        if row.weekday == word
    )
    merged: list[tuple[int, int]] = []
    for start_s, end_s in spans:
        if merged and start_s <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(end_s, merged[-1][1]))
        elif start_s < end_s:
            merged.append((start_s, end_s))
    return Windows(tuple(merged))


def _second_of(mill: Mill, day: dt.date, time: dt.time) -> int:
    if time >= RUNS_TO_MIDNIGHT:
        return seconds(mill, day, midnight(mill, day + dt.timedelta(days=1)))
    moment = dt.datetime.combine(day, time, tzinfo=mill.settings.zone)
    return seconds(mill, day, moment.astimezone(dt.UTC))


class Line:
    """A machine that works at a rate, which may change with the hour, inside its shifts."""

    def __init__(self, segments: Sequence[tuple[int, int, float]]) -> None:
        """Take (start, end, rate) in order, apart. [s, s, kg/s]"""
        self.starts = [start for start, _, _ in segments]
        self.ends = [end for _, end, _ in segments]
        self.rates = [rate for _, _, rate in segments]
        self.done_kg = [0.0]  # by the end of each segment, from the first start
        for start, end, rate in segments:
            self.done_kg.append(self.done_kg[-1] + (end - start) * rate)

    def by(self, at_s: float) -> float:
        """What the line could have worked by a time [kg]."""
        number = bisect_right(self.starts, at_s) - 1
        if number < 0:
            return 0.0
        return (
            self.done_kg[number]
            + (min(at_s, self.ends[number]) - self.starts[number]) * (self.rates[number])
        )

    def when(self, done_kg: float) -> int:
        """The first whole second at which so much could have been worked."""
        number = bisect_left(self.done_kg, done_kg - 1e-9)
        if number >= len(self.done_kg):
            return NEVER
        if number == 0:
            return self.starts[0] if self.starts else NEVER
        left_kg = done_kg - self.done_kg[number - 1]
        return self.starts[number - 1] + math.ceil(left_kg / self.rates[number - 1] - 1e-6)

    def begin(self, from_s: int) -> int:
        """The first second, not before a time, at which the line may run."""
        number = bisect_right(self.ends, from_s)
        return max(from_s, self.starts[number]) if number < len(self.starts) else NEVER

    def work(self, from_s: int, mass_kg: float) -> tuple[int, int]:
        """Start and end of working a mass, not before a time; breaks between shifts pause it."""
        start_s = self.begin(from_s)
        if start_s >= NEVER:
            return NEVER, NEVER
        return start_s, self.when(self.by(start_s) + mass_kg)

    def latest_start(self, arrivals: Sequence[tuple[int, float]], from_s: int) -> int:
        """The start from which the line never waits, for (when it is there, mass) in order."""
        need_kg = self.by(from_s)
        before_kg = 0.0
        for at_s, mass_kg in arrivals:
            need_kg = max(need_kg, self.by(at_s) - before_kg)
            before_kg += mass_kg
        return self.begin(max(from_s, self.when(need_kg)))


def rate_segments(
    mill: Mill, day: dt.date, machine: str, *, product: str, windows: Windows
) -> tuple[tuple[int, int, float], ...]:
    """Rate of a machine for a product, piece by piece over its shifts. [kg/s]"""
    row = mill.machine_by_code[machine]
    by_hour = _by_hour(mill, product, machine, usual_kg_s=row.rate_kg_s or 0.0)
    segments: list[tuple[int, int, float]] = []
    for start_s, end_s in windows.spans:
        at_s = start_s
        while at_s < end_s:
            next_s = min(end_s, (at_s // STEP_S + 1) * STEP_S)
            hour = clock(mill, day, at_s).astimezone(mill.settings.zone).hour
            rate_kg_s = by_hour[hour]
            if segments and segments[-1][1] == at_s and segments[-1][2] == rate_kg_s:
                segments[-1] = (segments[-1][0], next_s, rate_kg_s)
            elif rate_kg_s > 0:
                segments.append((at_s, next_s, rate_kg_s))
            at_s = next_s
    return tuple(segments)


def _by_hour(mill: Mill, product: str, machine: str, *, usual_kg_s: float) -> tuple[float, ...]:
    rates = [usual_kg_s] * 24
    for row in mill.rates:
        if row.product == product and row.machine == machine:
            for hour in range(row.start_hour, row.end_hour):
                rates[hour] = row.rate_kg_s
    return tuple(rates)
