"""Quillback Mill, Ferris County: a made-up mill folder with orders for any given day.

Everything in it is invented except the values of composition and the limits that name a work.
"""

import datetime as dt
from collections.abc import Iterator

from bedstone.demo.past.truth import Truth
from bedstone.demo.quillback.demand import DEMANDS, LEAVE_KG
from bedstone.demo.quillback.opening import opening_stock
from bedstone.demo.quillback.orders import orders_for
from bedstone.demo.quillback.packaged import packaged_mill
from bedstone.demo.quillback.scenario import quillback_scenario
from bedstone.demo.simulator import NOTHING_WRONG, Past
from bedstone.demo.weather import weather_hours
from bedstone.ledger.model import Fact
from bedstone.mill.folder import LoadedFolder

__all__ = [
    "DEMO_PINS",
    "PAST_DAYS",
    "next_working_day",
    "quillback_folder",
    "quillback_past",
    "quillback_past_and_truth",
]

PAST_DAYS = 35
"""Days of past that the simulator makes before the day of the demo."""

DEMO_PINS: dict[str, str] = {
    "dell": "4182",
    "ines": "2751",
    "tomas": "6390",
    "mara": "7315",
    "hank": "9046",
    "junie": "5528",
    "abel": "3867",
    "rosa": "1934",
    "cleo": "8473",
    "wren": "6612",
}
"""PIN of each person of the demo mill, invented, shown to whoever tries the demo."""

SATURDAY = 5


def next_working_day(day: dt.date) -> dt.date:
    """The first day after ``day`` that is a Monday to Friday, when the mill runs two shifts."""
    after = day + dt.timedelta(days=1)
    while after.weekday() >= SATURDAY:
        after += dt.timedelta(days=1)
    return after


def quillback_folder(day: dt.date, *, past_days: int = PAST_DAYS, seed: int = 0) -> LoadedFolder:
    """The demo mill's folder with orders for ``day``, weather about it, and opening stock.

    The opening stock is what lay in the mill on the evening before the past begins, ``past_days``
    before ``day``. ``seed`` is the past's, so that the air of its last day stays what it was.
    """
    mill = packaged_mill()
    zone = mill.settings.zone
    first = day - dt.timedelta(days=past_days)
    return LoadedFolder(
        mill=mill,
        orders=orders_for(day, mill=mill),
        opening_stock=opening_stock(first, zone=zone),
        weather=weather_hours(day - dt.timedelta(days=1), days=3, zone=zone, seed=seed),
    )


def quillback_past(
    day: dt.date,
    *,
    today: dt.date,
    past_days: int = PAST_DAYS,
    seed: int = 0,
    first_position: int = 1,
    hidden_faults: bool = True,
) -> Iterator[Fact]:
    """What happened before ``day``: from ``past_days`` before it to the evening before ``today``.

    Nothing is made up for today and later, so that nothing recorded now lies before the past. The
    folder's tables and opening stock must be on record first, dated before the past begins.
    ``hidden_faults`` is the switch for what goes wrong unnoticed (:mod:`scenario`).
    """
    facts, _ = quillback_past_and_truth(
        day,
        today=today,
        past_days=past_days,
        seed=seed,
        first_position=first_position,
        hidden_faults=hidden_faults,
    )
    return facts


def quillback_past_and_truth(
    day: dt.date,
    *,
    today: dt.date,
    past_days: int = PAST_DAYS,
    seed: int = 0,
    first_position: int = 1,
    hidden_faults: bool = True,
) -> tuple[Iterator[Fact], Truth]:
    """The same with the truth behind it, which is whole once the last fact was taken."""
    folder = quillback_folder(day, past_days=past_days, seed=seed)
    zone = folder.mill.settings.zone
    first = day - dt.timedelta(days=past_days)
    past = Past(
        folder.mill,
        folder.opening_stock,
        seed=seed,
        first_position=first_position,
        scenario=quillback_scenario(day, zone=zone) if hidden_faults else NOTHING_WRONG,
    )
    facts = past.run(
        first,
        days=max(0, (min(day, today) - first).days),
        demands=DEMANDS,
        leave_kg=LEAVE_KG,
    )
    return facts, past.truth
