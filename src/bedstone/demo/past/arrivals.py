"""When the loads of the simulated mill drive up: in working hours, one after another."""

import datetime as dt
from dataclasses import dataclass, field

from bedstone.demo.past.book import shift_of
from bedstone.demo.past.floor import Floor, to_mg
from bedstone.mill.model import Bin

__all__ = ["Arrivals"]

BEFORE_SHIFT = dt.timedelta(minutes=25)
GATE_SHUTS, AFTER_NOON = dt.time(16, 45), dt.time(12, 30)
EARLIER_MIN = (4, 55)
APART = dt.timedelta(minutes=6)
FULL_FRAC = 0.985


@dataclass
class Arrivals:
    """The gate's day: nobody comes at night, and no two at once."""

    floor: Floor
    _came: dict[dt.date, list[dt.datetime]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Take dice of its own."""
        self._dice = self.floor.dice_for("arrivals")

    def before(self, needed_at: dt.datetime, place: Bin, mass_mg: int) -> dt.datetime:
        """When a load drove up that was there at a moment, on the same day.

        Some time before it is needed, or in the afternoon if that was after the gate shut; not
        before the place had room for it.
        """
        zone = self.floor.mill.settings.zone
        day = needed_at.astimezone(zone).date()
        shift = shift_of(self.floor.mill, day)
        start_at = needed_at if shift is None else shift[0]
        opens_at = min(start_at - BEFORE_SHIFT, needed_at)
        shuts_at = dt.datetime.combine(day, GATE_SHUTS, zone).astimezone(dt.UTC)
        noon_at = dt.datetime.combine(day, AFTER_NOON, zone).astimezone(dt.UTC)
        part = self._dice.random()
        if needed_at > shuts_at:
            wanted_at = noon_at + part * (shuts_at - noon_at)
        else:
            low, high = EARLIER_MIN
            wanted_at = needed_at - dt.timedelta(minutes=low + part * (high - low))
        capacity_mg = round(FULL_FRAC * to_mg(place.capacity_kg))
        room_at = self.floor.room_since(place.bin, mass_mg, capacity_mg=capacity_mg)
        earliest_at = max(opens_at, room_at or opens_at)
        found_at = self._alone(day, max(wanted_at, earliest_at), earliest_at)
        return min(found_at, needed_at)

    def _alone(self, day: dt.date, wanted_at: dt.datetime, earliest_at: dt.datetime) -> dt.datetime:
        """Some minutes from every other load of the day: earlier if it can be, else later."""
        came = self._came.setdefault(day, [])
        at = wanted_at
        while at >= earliest_at and any(abs(at - other) < APART for other in came):
            at -= dt.timedelta(seconds=self._dice.randint(60, 300))
        at = max(at, earliest_at)
        while any(abs(at - other) < APART for other in came):
            at += dt.timedelta(seconds=self._dice.randint(60, 300))
        came.append(at)
        return at
