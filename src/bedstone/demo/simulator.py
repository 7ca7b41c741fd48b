"""The mill simulator: past weeks of a mill as facts, with true flows and instrument errors.

Crude on purpose and apart from the rooms that reckon: nothing is scored against itself. The same
seed gives the same facts.
"""

import datetime as dt
import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from bedstone.demo.faults import NO_FAULTS, Faults
from bedstone.demo.past.after import AfterMixer
from bedstone.demo.past.book import DayOrders, Demand, order_book
from bedstone.demo.past.caution import Caution
from bedstone.demo.past.customers import Customers
from bedstone.demo.past.draws import Weighing
from bedstone.demo.past.floor import Floor, to_mg
from bedstone.demo.past.laboratory import Laboratory
from bedstone.demo.past.mixing import Job, MixerLine, first_mixer, is_kept
from bedstone.demo.past.notebook import Notebook
from bedstone.demo.past.pellet_line import PelletLine
from bedstone.demo.past.pellet_tests import PelletTests
from bedstone.demo.past.supply import Supply
from bedstone.demo.past.truth import Truth
from bedstone.demo.past.upkeep import FRIDAY, Upkeep
from bedstone.demo.past.watch import PowerCut, Watch
from bedstone.ledger.model import Fact
from bedstone.mill.model import Machine, Mill, OpeningStock, Order

__all__ = ["NOTHING_WRONG", "Past", "Scenario", "simulate_past"]

LAST_NUMBER = 4_100
KEEP_KG = 1_300.0
STOCK_RUN_KG = 1_633.0
MISTAKE_DAY, HOLD_DAY, CANCEL_DAY = 2, 4, 6
COUNTS_A_WEEK = 5
SIEVES_EVERY = 3
PROOFS_DAY, MIXER_TEST_DAYS, MIXING_TIMES_DAY, MONDAY = 1, (3, 15), 2, 0
SHIFTS_MEET = dt.time(14)
EVENING = dt.timedelta(minutes=50)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """What goes wrong in a past: faults that nobody knows of, and power cuts that everybody saw."""

    faults: Faults = NO_FAULTS
    power: tuple[PowerCut, ...] = ()


NOTHING_WRONG = Scenario()


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
    scenario: Scenario = NOTHING_WRONG,
) -> Iterator[Fact]:
    """Yield what happened in the mill from ``start_day`` on, in order of time.

    ``opening`` is what lay there (its own fact is the desk's). ``leave_kg`` names materials of
    which only so much shall be left in the end. ``first_position`` is the place that the first
    fact will have in the journal: a fact that takes another back names its place.
    """
    past = Past(mill, opening, seed=seed, first_position=first_position, scenario=scenario)
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
    scenario: Scenario = field(kw_only=True, default=NOTHING_WRONG)

    def __post_init__(self) -> None:
        """Lay out the floor with its opening stock."""
        dice = random.Random(f"past {self.seed}")  # noqa: S311  a simulation, nothing secret
        self.truth = Truth(self.scenario.faults)
        self.floor = Floor(
            mill=self.mill,
            dice=dice,
            position=self.first_position,
            seed=self.seed,
            truth=self.truth,
        )
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
        end = dt.datetime.combine(
            start_day + dt.timedelta(days=days), dt.time(0), self.mill.settings.zone
        )
        floor.until = end.astimezone(dt.UTC)
        self._notebook, laboratory = Notebook(floor), Laboratory(floor)
        self._watch = Watch(floor, self._notebook)
        self._supply = Supply(floor, leave_kg, self._needed, sellers, laboratory)
        self._upkeep = Upkeep(floor, self._supply, self.seed)
        self._caution = Caution(self.mill)
        self._weighing = Weighing(floor, self._supply)
        self._tests = PelletTests(floor)
        self._after = AfterMixer(
            floor,
            PelletLine(floor, self._notebook),
            self._tests,
            self._notebook,
            laboratory,
            Customers(floor),
        )
        for day in book:
            for order in day.orders:
                self._upkeep.orders(order)
                self._add_need(order.product, order.mass_kg)
        by_day = {day.day: (number, day) for number, day in enumerate(book)}
        for number in range(days):
            yield from self._day(start_day + dt.timedelta(days=number), by_day=by_day)
        self._notebook.close(floor.until)
        yield from floor.day_over()
        self.truth.stock = dict(floor.true)

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
        self._notebook.close(midnight.astimezone(dt.UTC))
        yield from self.floor.day_over(midnight.astimezone(dt.UTC))

    def _work(self, number: int, orders: DayOrders, *, last: bool) -> None:
        """One working day: the queues of the mixers, then the evening."""
        start = orders.start_at
        if number == MISTAKE_DAY:
            self._upkeep.book_twice(start + dt.timedelta(hours=2))
        if number == HOLD_DAY:
            self._after.hold_next = self._upkeep.hold
        self._watched(number, orders)
        self._tests.fitted(number, start - dt.timedelta(minutes=40))
        if number % SIEVES_EVERY == 0:
            self._tests.sieved(start + dt.timedelta(minutes=50))
        lines = self._lines(number, orders)
        while any(line.busy() for line in lines):
            min((line for line in lines if line.busy()), key=lambda line: line.at).step()
        evening = max(line.at for line in lines) + EVENING
        self._watch.read_gauges(evening - EVENING / 2)
        if orders.day.weekday() == FRIDAY:
            self._upkeep.empty_flush_bin(evening)
            self._upkeep.count(evening, bins=COUNTS_A_WEEK)
        if last:
            self._supply.fill_up(evening)

    def _watched(self, number: int, orders: DayOrders) -> None:
        """Proofs, tests and levels of the day; power that fails, before anything is weighed after."""
        watch, start = self._watch, orders.start_at
        for cut in self.scenario.power:
            if start <= cut.from_at < start + dt.timedelta(days=1):
                watch.power_cut(cut)
        if number == PROOFS_DAY:
            watch.prove_meters(start - dt.timedelta(minutes=50))
        if orders.day.weekday() == MONDAY:
            scales = self.mill.scales
            watch.prove_scale(scales[number // 6 % len(scales)], start - dt.timedelta(minutes=20))
        for mixer in self.mill.machines:
            if mixer.kind == "mixer" and number == MIXING_TIMES_DAY:
                self._test_times(mixer, orders)
            if mixer.kind == "mixer" and number in MIXER_TEST_DAYS:
                self._test_mixer(mixer, orders)
        if orders.day.weekday() == FRIDAY:
            watch.tape(start + dt.timedelta(minutes=12))
        meet = dt.datetime.combine(orders.day, SHIFTS_MEET, self.mill.settings.zone)
        if meet.astimezone(dt.UTC) < orders.end_at:
            watch.read_gauges(meet.astimezone(dt.UTC))

    def _test_times(self, mixer: Machine, orders: DayOrders) -> None:
        """A series of tests at several mixing times, by salt, on the first order it makes."""
        for order in orders.orders:
            product = self.mill.product(order.product)
            if first_mixer(product, {mixer.machine: mixer}):
                self._watch.test_mixing_times(
                    mixer, product.product, at=orders.start_at + dt.timedelta(hours=2)
                )
                return

    def _test_mixer(self, mixer: Machine, orders: DayOrders) -> None:
        """A test on the first order of the day that the mixer makes."""
        for order in orders.orders:
            product = self.mill.product(order.product)
            if first_mixer(product, {mixer.machine: mixer}):
                self._watch.test_mixer(
                    mixer.machine,
                    product.product,
                    mixing_s=mixer.dry_mix_s + mixer.wet_mix_s,
                    at=orders.start_at + dt.timedelta(hours=3),
                )
                return

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
