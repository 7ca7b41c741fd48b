"""What goes wrong at Quillback Mill in the weeks before the day, unknown to anybody there."""

import datetime as dt

from bedstone.demo.faults import Fault, FaultKind, Faults
from bedstone.demo.past.watch import PowerCut
from bedstone.demo.simulator import Scenario

__all__ = ["quillback_scenario"]

SATURDAY = 5
FIRST_CUT_DAYS, SECOND_CUT_DAYS, WEAK_FAN_DAYS, WET_STEAM_DAYS = 29, 11, 15, 21
OIL_MORE_FRAC = 0.07
AIR_LESS_FRAC = 0.65
VAPOUR_LESS_FRAC = 0.3
ALL_METERS = ("LM1", "LM2", "LM3", "LM4")
MOLASSES_METERS = ("LM1", "LM3")


def quillback_scenario(day: dt.date, *, zone: dt.tzinfo) -> Scenario:
    """Faults and power cuts before a day of the demo.

    In the first week the power fails and all meters are proved. In the fourth it fails again, only
    the molasses meters are proved, and the oil meter of the two-ton mixer lets through 7 % more
    than it reads from then on. In the third week pellet line 1 runs for a day and a half with a third
    of the air in its cooler. Some days earlier its steam is wet for a shift: a trap stuck shut.
    """
    second = _at(day, SECOND_CUT_DAYS, "13:40", zone)
    faults = (
        Fault(
            kind=FaultKind.GAIN_STEP,
            where="LM2",
            size=OIL_MORE_FRAC,
            begins_at=second,
            cause="settings lost when the power came back",
        ),
        Fault(
            kind=FaultKind.WEAK_FAN,
            where="PL1",
            size=AIR_LESS_FRAC,
            begins_at=_at(day, WEAK_FAN_DAYS, "12:30", zone),
            ends_at=_at(day, WEAK_FAN_DAYS - 1, "23:30", zone),
            cause="the fan's belt slips; tightened the day after",
        ),
        Fault(
            kind=FaultKind.WET_STEAM,
            where="PL1",
            size=VAPOUR_LESS_FRAC,
            begins_at=_at(day, WET_STEAM_DAYS, "06:00", zone),
            ends_at=_at(day, WET_STEAM_DAYS, "16:30", zone),
            cause="a steam trap stuck shut, knocked free by the evening shift",
        ),
    )
    return Scenario(
        faults=Faults(faults),
        power=(
            _cut(_at(day, FIRST_CUT_DAYS, "09:12", zone), 6, ALL_METERS, "line down in the storm"),
            _cut(second - dt.timedelta(minutes=3), 3, MOLASSES_METERS, "lights went twice, surge"),
        ),
    )


def _cut(at: dt.datetime, minutes: int, proved: tuple[str, ...], note: str) -> PowerCut:
    return PowerCut(from_at=at, to_at=at + dt.timedelta(minutes=minutes), proved=proved, note=note)


def _at(day: dt.date, before: int, clock: str, zone: dt.tzinfo) -> dt.datetime:
    """A time on the last day from Monday to Friday that is at least so many days before."""
    found = day - dt.timedelta(days=before)
    while found.weekday() >= SATURDAY:
        found -= dt.timedelta(days=1)
    return dt.datetime.combine(found, dt.time.fromisoformat(clock), zone).astimezone(dt.UTC)
