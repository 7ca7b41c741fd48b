"""The time axis of a picture of the day, and what a day must have to be drawn on it."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

from bedstone.mill.plan import Bar, Batch, Run
from bedstone.web.show import Show

__all__ = ["GUTTER_PX", "Axis", "OfDay", "axis_of"]

GUTTER_PX = 150
"""Room for the names of the machines, left of the axis."""
WHOLE_PX = 1226
"""Width in which a day fits whole; the page scales it to the screen."""
HOUR_PX = 52
"""The least an hour may take; only a plan over more than a day asks for more than the whole."""


class OfDay(Protocol):
    """A day to be drawn: that of a plan, or of an order of running that is only tried."""

    @property
    def bars(self) -> tuple[Bar, ...]:
        """The machines busy from one time to another."""
        ...

    @property
    def runs(self) -> tuple[Run, ...]:
        """The runs that the bars belong to."""
        ...

    @property
    def batches(self) -> tuple[Batch, ...]:
        """Their batches, and the flushes."""
        ...


@dataclass(frozen=True, kw_only=True)
class Axis:
    """Where a moment lies on the picture."""

    start_at: dt.datetime
    end_at: dt.datetime

    @property
    def width_px(self) -> float:
        """Width of the time axis alone."""
        hours = (self.end_at - self.start_at).total_seconds() / 3600
        return max(WHOLE_PX - GUTTER_PX - 10, hours * HOUR_PX)

    def has(self, moment_at: dt.datetime) -> bool:
        """Whether a moment lies on the picture."""
        return self.start_at <= moment_at <= self.end_at

    def x(self, moment_at: dt.datetime) -> float:
        """Place of a moment from the left edge."""
        part = (moment_at - self.start_at) / (self.end_at - self.start_at)
        return GUTTER_PX + part * self.width_px


def axis_of(plans: Iterable[OfDay], show: Show) -> Axis:
    """Whole hours around all bars of one or several days, so that they can be held together."""
    bars = [bar for plan in plans for bar in plan.bars]
    start_at = min(bar.start_at for bar in bars).astimezone(show.zone)
    end_at = max(bar.end_at for bar in bars).astimezone(show.zone)
    floor = start_at.replace(minute=0, second=0, microsecond=0)
    ceiling = end_at.replace(minute=0, second=0, microsecond=0) + dt.timedelta(hours=1)
    return Axis(start_at=floor.astimezone(dt.UTC), end_at=ceiling.astimezone(dt.UTC))
