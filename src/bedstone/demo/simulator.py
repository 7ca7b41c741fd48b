"""The mill simulator: past weeks of a mill as facts, with true flows and instrument errors.

Crude on purpose and apart from the rooms that reckon: nothing is scored against itself. The same
seed gives the same facts.
"""

import datetime as dt
import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from bedstone.demo.past.after import AfterMixer
from bedstone.demo.past.book import DayOrders, Demand, order_book
from bedstone.demo.past.caution import Caution
from bedstone.demo.past.draws import Weighing
from bedstone.demo.past.floor import Floor, to_mg
from bedstone.demo.past.mixing import Job, MixerLine, first_mixer, is_kept
from bedstone.demo.past.supply import Supply
from bedstone.demo.past.upkeep import FRIDAY, Upkeep
from bedstone.ledger.model import Fact
from bedstone.mill.model import Mill, OpeningStock, Order

__all__ = ["Past", "simulate_past"]

LAST_NUMBER = 4_100
KEEP_KG = 1_300.0
STOCK_RUN_KG = 1_633.0
MISTAKE_DAY, HOLD_DAY, CANCEL_DAY = 2, 4, 6
COUNTS_A_WEEK = 5
EVENING = dt.timedelta(minutes=50)


def simulate_past(
    mill: Mill,
    opening: Sequence[OpeningStock],
    *,
    seed: int,
    start_day: dt.date,
    days: int,
    demands: Sequence[Demand],
    leave_kg: Mapping[str, float] | None = None,
    first_position: int = 1,
) -> Iterator[Fact]:
    """Yield what happened in the mill from ``start_day`` on, in order of time.

    ``opening`` is what lay there (its own fact is the desk's). ``leave_kg`` names materials of
    which only so much shall be left in the end. ``first_position`` is the place that the first
    fact will have in the journal: a fact that takes another back names its place.
    """
    past = Past(mill, opening, seed=seed, first_position=first_position)
    yield from past.run(start_day, days=days, demands=demands, leave_kg=leave_kg or {})


@dataclass
class _Kept:
    """What is made for stock because another feed takes it."""

    product: str
    place: str
    runs: int = 0


@dataclass
class Past:
    """A run of the simulator; ``floor`` holds the truth for whoever wants to score against it."""

    mill: Mill
    opening: Sequence[OpeningStock]
    seed: int = field(kw_only=True)
    first_position: int = field(kw_only=True, default=1)

    def __post_init__(self) -> None:
        """Lay out the floor with its opening stock."""
        dice = random.Random(f"past {self.seed}")  # noqa: S311  a simulation, nothing secret
        self.floor = Floor(mill=self.mill, dice=dice, position=self.first_position)
        for row in self.opening:
            self.floor.put_opening(row.place, row.material, lot=row.lot, mass_mg=to_mg(row.mass_kg))
        used = {row.ingredient for row in self.mill.formula_lines}
        self._kept = [
            _Kept(row.product, place)
            for row in self.mill.products
            if row.product in used and (place := is_kept(self.floor, row.product))
        ]

    def run(
        self,
        start_day: dt.date,
        *,
        days: int,
        demands: Sequence[Demand],
        leave_kg: Mapping[str, float],
    ) -> Iterator[Fact]:
        """Yield the facts of some days, day by day."""
        floor = self.floor
        book = order_book(
            self.mill,
            demands,
            first=start_day,
            days=days,
            last_number=LAST_NUMBER,
            dice=floor.dice,
        )
        self._needed: dict[str, float] = {}
        sellers = {row.material: row.supplier for row in self.opening if row.supplier}
        self._supply = Supply(floor, leave_kg, self._needed, sellers)
        self._upkeep = Upkeep(floor, self._supply, self.seed)
        self._caution = Caution(self.mill)
        self._weighing = Weighing(floor, self._supply)
        end = dt.datetime.combine(
            start_day + dt.timedelta(days=days), dt.time(0), self.mill.settings.zone
        )
        self._after = AfterMixer(floor, until=end.astimezone(dt.UTC))
        for day in book:
            for order in day.orders:
                self._upkeep.orders(order)
                self._add_need(order.product, order.mass_kg)
        by_day = {day.day: (number, day) for number, day in enumerate(book)}
        for number in range(days):
            yield from self._day(start_day + dt.timedelta(days=number), by_day=by_day)
        yield from floor.day_over()

    def _add_need(self, product: str, mass_kg: float) -> None:
        formula = self.mill.running_formula(product)
        for line in self.mill.lines_of(product, formula.version) if formula else ():
            key = line.ingredient
            self._needed[key] = self._needed.get(key, 0.0) + line.parts_frac * mass_kg

    def _day(
        self, day: dt.date, *, by_day: Mapping[dt.date, tuple[int, DayOrders]]
    ) -> Iterator[Fact]:
        self._upkeep.weather(day)
        if day in by_day:
            number, orders = by_day[day]
            if number == 0:
                self._upkeep.clean_all(orders.start_at - dt.timedelta(minutes=30))
            self._work(number, orders, last=orders.day == max(by_day))
        midnight = dt.datetime.combine(
            day + dt.timedelta(days=1), dt.time(0), self.mill.settings.zone
        )
        yield from self.floor.day_over(midnight.astimezone(dt.UTC))

    def _work(self, number: int, orders: DayOrders, *, last: bool) -> None:
        """One working day: the queues of the mixers, then the evening."""
        start = orders.start_at
        if number == MISTAKE_DAY:
            self._upkeep.book_twice(start + dt.timedelta(hours=2))
        if number == HOLD_DAY:
            self._after.hold_next = self._upkeep.hold
        lines = self._lines(number, orders)
        while any(line.busy() for line in lines):
            min((line for line in lines if line.busy()), key=lambda line: line.at).step()
        evening = max(line.at for line in lines) + EVENING
        if orders.day.weekday() == FRIDAY:
            self._upkeep.empty_flush_bin(evening)
            self._upkeep.count(evening, bins=COUNTS_A_WEEK)
        if last:
            self._supply.fill_up(evening)

    def _lines(self, number: int, orders: DayOrders) -> list[MixerLine]:
        mixers = {row.machine: row for row in self.mill.machines if row.kind == "mixer"}
        lines = {
            code: MixerLine(
                self.floor, self._weighing, self._caution, self._after, machine, orders.start_at
            )
            for code, machine in mixers.items()
        }
        for job in self._jobs(number, orders):
            lines[first_mixer(job.product, mixers)].queue.append(job)
        for line in lines.values():
            line.queue.sort(key=lambda job: (self._dirt(job.product.product), job.code))
        return list(lines.values())

    def _jobs(self, number: int, orders: DayOrders) -> list[Job]:
        jobs = []
        called_off = self._called_off(orders) if number == CANCEL_DAY else None
        for order in orders.orders:
            if order is called_off:
                self._upkeep.cancel(order, at=orders.start_at - dt.timedelta(minutes=45))
                continue
            product = self.mill.product(order.product)
            jobs.append(Job(code=order.order, product=product, mass_kg=order.mass_kg, order=order))
        for kept in self._kept:
            need_kg = sum(self._takes_kg(job, kept.product) for job in jobs)
            if self.floor.true_mg(kept.place, kept.product) < to_mg(need_kg + KEEP_KG):
                kept.runs += 1
                product = self.mill.product(kept.product)
                code = f"S{kept.runs:03d}"
                jobs.append(Job(code=code, product=product, mass_kg=STOCK_RUN_KG))
        return jobs

    def _called_off(self, orders: DayOrders) -> Order | None:
        """The order of a day that is called off: none that takes what shall be left short."""
        for order in orders.orders:
            job = Job(code="", product=self.mill.product(order.product), mass_kg=order.mass_kg)
            if not any(self._takes_kg(job, code) for code in self._supply.leave_kg):
                return order
        return None

    def _takes_kg(self, job: Job, product: str) -> float:
        formula = self.mill.running_formula(job.product.product)
        lines = self.mill.lines_of(job.product.product, formula.version) if formula else ()
        return sum(row.parts_frac * job.mass_kg for row in lines if row.ingredient == product)

    def _dirt(self, product: str) -> int:
        """How many feeds of the mill must not follow a product without a flush: clean ones first."""
        contents = self._caution.contents(product)
        count = 0
        for other in self.mill.products:
            for limit in self._caution.limits(other.product):
                content = contents.get(limit.substance, 0.0)
                count += content > (limit.level_mg_kg or 0.0)
        return count
