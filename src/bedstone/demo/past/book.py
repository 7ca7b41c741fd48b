"""The order book of the simulated past: who ordered what, day by day, within what a day can make."""

import datetime as dt
import random
from collections.abc import Sequence
from dataclasses import dataclass

from bedstone.demo.past.ways import rate_kg_s, step_of
from bedstone.mill.model import Mill, Order

__all__ = ["DayOrders", "Demand", "order_book", "shift_of"]

SHORT_TON_KG = 907.18474
FULL_FRAC = 0.84
SMALLEST_DAY_S = 4 * 3600
HOUR_S = 3600


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """What a customer orders now and then."""

    customer: str
    product: str
    pack: str
    tons: tuple[float, ...]  # short tons, one is picked
    chance: float  # of an order on a full working day


@dataclass(frozen=True, slots=True, kw_only=True)
class DayOrders:
    """Orders to be made on one day, between the start and the end of its shift."""

    day: dt.date
    start_at: dt.datetime
    end_at: dt.datetime
    orders: tuple[Order, ...]


def shift_of(mill: Mill, day: dt.date) -> tuple[dt.datetime, dt.datetime] | None:
    """When the mill runs on a day, or None."""
    name = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")[day.weekday()]
    rows = [row for row in mill.shifts if row.weekday == name and not row.machine]
    if not rows:
        return None
    zone = mill.settings.zone
    start = dt.datetime.combine(day, min(row.start_time for row in rows), zone)
    end = dt.datetime.combine(day, max(row.end_time for row in rows), zone)
    return start.astimezone(dt.UTC), end.astimezone(dt.UTC)


def order_book(
    mill: Mill,
    demands: Sequence[Demand],
    *,
    first: dt.date,
    days: int,
    last_number: int,
    dice: random.Random,
) -> tuple[DayOrders, ...]:
    """The orders of each day on which the mill runs; their numbers end with ``last_number``."""
    picked: list[tuple[dt.date, dt.datetime, dt.datetime, list[tuple[Demand, float]]]] = []
    for number in range(days):
        day = first + dt.timedelta(days=number)
        shift = shift_of(mill, day)
        if shift is not None:
            picked.append((day, *shift, _pick(mill, demands, seconds=_length_s(*shift), dice=dice)))
    code = last_number - sum(len(rows) for *_, rows in picked)
    book = []
    for day, start, end, rows in picked:
        orders = []
        for demand, tons in rows:
            code += 1
            orders.append(_order(demand, tons, code=code, start=start, first=first, dice=dice))
        book.append(DayOrders(day=day, start_at=start, end_at=end, orders=tuple(orders)))
    return tuple(book)


def _length_s(start: dt.datetime, end: dt.datetime) -> float:
    return (end - start).total_seconds()


def _pick(
    mill: Mill, demands: Sequence[Demand], *, seconds: float, dice: random.Random
) -> list[tuple[Demand, float]]:
    """Orders of one day, so many that each mixer's line can make them within the shift."""
    used: dict[str, float] = {}
    chosen = []
    for demand in dice.sample(list(demands), k=len(demands)):
        if dice.random() > demand.chance * min(1.0, seconds / (16 * HOUR_S)):
            continue
        tons = dice.choice(demand.tons)
        line, cost_s = _cost(mill, demand, tons)
        if used.get(line, 0.0) + cost_s <= FULL_FRAC * max(seconds, SMALLEST_DAY_S):
            used[line] = used.get(line, 0.0) + cost_s
            chosen.append((demand, tons))
    return chosen


def _cost(mill: Mill, demand: Demand, tons: float) -> tuple[str, float]:
    """The line that an order takes, and for how long, roughly."""
    product = mill.product(demand.product)
    mixer = mill.machine_by_code[step_of(mill, product, "mixer")[0]]
    mass_kg = tons * SHORT_TON_KG
    batches = max(1.0, mass_kg / (mixer.mass_max_kg or 1.0))
    seconds = batches * (mixer.fill_s + mixer.dry_mix_s + mixer.wet_mix_s + mixer.discharge_s)
    lines = step_of(mill, product, "pellet line")
    if lines:
        machine = mill.machine_by_code[lines[0]]
        seconds = max(seconds, mass_kg / rate_kg_s(mill, product.product, machine) + 600)
    return mixer.machine, seconds + 300


def _order(
    demand: Demand,
    tons: float,
    *,
    code: int,
    start: dt.datetime,
    first: dt.date,
    dice: random.Random,
) -> Order:
    entered = start - dt.timedelta(hours=dice.randint(10, 60), minutes=dice.randint(0, 59))
    earliest = dt.datetime.combine(first, dt.time(6, 5), dt.UTC)
    due = start + dt.timedelta(minutes=30 * dice.randint(10, 30))
    return Order(
        order=str(code),
        customer=demand.customer,
        product=demand.product,
        mass_kg=tons * SHORT_TON_KG,
        pack=demand.pack,
        entered_at=max(entered, earliest),
        due_at=due,
    )
