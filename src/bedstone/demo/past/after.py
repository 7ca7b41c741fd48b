"""What happens to simulated feed after the mixer: pelleting, bags, bulk, a bin seen empty."""

import datetime as dt
import math
from collections.abc import Callable
from dataclasses import dataclass, field

from bedstone.demo.past.book import shift_of
from bedstone.demo.past.customers import Customers, Sold
from bedstone.demo.past.floor import MG_KG, POUND_MG, Floor, Moved, to_mg
from bedstone.demo.past.laboratory import Laboratory
from bedstone.demo.past.live_additives import LiveAdditives
from bedstone.demo.past.makeup import MOISTURE
from bedstone.demo.past.notebook import Notebook
from bedstone.demo.past.pellet_line import Pelleted, PelletLine
from bedstone.demo.past.pellet_tests import PelletTests
from bedstone.demo.past.ways import rate_kg_s
from bedstone.ledger.model import How, Lot, LotKind, Movement
from bedstone.mill.model import Order, Product

__all__ = ["AfterMixer", "RunMade"]

MOISTURE_SD_WB = 0.006  # of mash and pellets together, as the books take it
STEAM_METER_SD_FRAC = 0.015
BAG_MORE_FRAC, BAG_SD_FRAC = 0.0016, 0.0022
BAGS_BETWEEN = 20
BAG_STEP_KG = POUND_MG / MG_KG / 50
BULK_DIVISION_MG = round(20 * POUND_MG)
OVERNIGHT_CHANCE = 0.4


@dataclass
class RunMade:
    """A run on its way: what it is made of, where it lies."""

    run: str
    product: Product
    order: Order | None
    surge: str
    line: str
    finished: str
    packer: str
    route: tuple[str, ...]
    batches: list[str] = field(default_factory=list)
    pelleted: list[Pelleted] = field(default_factory=list)
    bag_true_mg: float = 0.0
    oil_frac: float = 0.0  # oil in the formula
    oil_gain: float = 1.0  # what the meter truly let through, as a part of what it read


@dataclass
class AfterMixer:
    """Pellet lines, sacking lines and load-out, each busy until some time."""

    floor: Floor
    lines: PelletLine
    tests: PelletTests
    notebook: Notebook
    laboratory: Laboratory
    customers: Customers
    free_at: dict[str, dt.datetime] = field(default_factory=dict)
    dies: dict[str, str] = field(default_factory=dict)
    pelleted_at: dict[str, list[dt.datetime]] = field(default_factory=dict)
    hold_next: Callable[[str, dt.datetime], dt.datetime] | None = None

    def __post_init__(self) -> None:
        """Take dice of its own for what is only seen in bags."""
        self._dice = self.floor.dice_for("bags")
        self.live = LiveAdditives(self.floor, self.laboratory)

    def pellet(
        self, run: RunMade, batch: str, *, mass_mg: int, true_mg: int, at: dt.datetime
    ) -> dt.datetime:
        """One batch through a pellet line; returns when it is done."""
        mill = self.floor.mill
        machine = mill.machine_by_code[run.line]
        begins = max(at, self.free_at.get(run.line, at))
        if len(run.batches) == 1:
            begins += dt.timedelta(seconds=machine.changeover_s)
            if self.dies.get(run.line, run.product.die) != run.product.die:
                begins += dt.timedelta(seconds=machine.die_change_s)
            self.dies[run.line] = run.product.die
        rate = rate_kg_s(mill, run.product.product, machine) * self.floor.dice.gauss(0.97, 0.02)
        ends = begins + dt.timedelta(seconds=mass_mg / MG_KG / rate)
        self.free_at[run.line] = ends
        self.pelleted_at.setdefault(run.surge, []).append(ends)
        made = self.lines.batch(
            run.run,
            batch,
            product=run.product,
            machine=machine,
            rate_kg_s=rate,
            begins=begins,
            ends=ends,
        )
        run.pelleted.append(made)
        self.floor.note(
            "pelleting.run_pelleted/1",
            at=ends,
            by=self.floor.who("pellet operator", ends),
            content={
                "run": run.run,
                "product": run.product.product,
                "machine": run.line,
                "from": run.surge,
                "to": run.finished,
                "batches": [batch],
            },
            moved=self._pelleted(
                run, batch, made, masses=(mass_mg, true_mg), loss_frac=machine.loss_frac
            ),
        )
        return ends

    def _pelleted(
        self,
        run: RunMade,
        batch: str,
        made: Pelleted,
        *,
        masses: tuple[int, int],
        loss_frac: float,
    ) -> tuple[Moved, ...]:
        """Mash and steam in; water, dust and pellets out, on the books by the moistures read."""
        product = run.product.product
        mass_mg, true_mg = masses
        true_steam_mg = round(mass_mg * made.steam_frac)
        steam_mg = round(true_steam_mg * self.floor.dice.gauss(1.0, STEAM_METER_SD_FRAC))
        true_water_mg = round(mass_mg * made.water_frac)
        dust_mg = round(mass_mg * loss_frac)
        out_mg = round((mass_mg - dust_mg) * (1 - made.mash_read_wb) / (1 - made.outlet_read_wb))
        water_mg = mass_mg + steam_mg - dust_mg - out_mg
        true_out_mg = true_mg + true_steam_mg - true_water_mg - dust_mg
        self._into_finished(run, batch, true_out_mg)
        steam_sd_mg = STEAM_METER_SD_FRAC * steam_mg
        out_sd_mg = MOISTURE_SD_WB * out_mg / (1 - made.outlet_read_wb)
        water_sd_mg = math.hypot(steam_sd_mg, out_sd_mg)
        line, mash = run.line, (mass_mg, true_mg, mass_mg / 200)
        water, dust = (water_mg, true_water_mg, water_sd_mg), (dust_mg, dust_mg, dust_mg / 200)
        pellets = out_mg, true_out_mg, out_sd_mg
        return (
            _way(run.surge, line, product, mash, batch),
            _way(
                "steam", line, "water", (steam_mg, true_steam_mg, steam_sd_mg), batch, How.METERED
            ),
            _way(line, "air", "water", water, batch),
            _way(line, "air", product, dust, batch),
            _way(line, run.finished, product, pellets, batch),
        )

    def _into_finished(self, run: RunMade, batch: str, mass_mg: int) -> None:
        makeup, product = self.floor.makeup, run.product.product
        makeup.put(
            run.finished,
            product,
            makeup.batches[batch][1],
            there_mg=self.floor.true_mg(run.finished, product),
            mass_mg=mass_mg,
        )

    def leave(self, run: RunMade, *, at: dt.datetime) -> None:
        """Bag or load the run and ship it, and look into the bin."""
        if run.pelleted:
            product = run.product.product
            self.lines.sent(run.run, product, run.line, run.pelleted, at=at)
            line = self.floor.mill.machine_by_code[run.line]
            self.tests.tumbled(run.run, run.product, line, run.pelleted, at=at)
        if run.order is None:
            self.free_at[run.finished] = at
            return
        machine = self.floor.mill.machine_by_code[run.packer]
        begins = max(at, self.free_at.get(run.packer, at)) + dt.timedelta(
            seconds=machine.changeover_s
        )
        mass_mg = self._there_mg(run)
        ends = begins + dt.timedelta(seconds=mass_mg / MG_KG / (machine.rate_kg_s or 1.0))
        self.free_at[run.packer] = ends
        if run.order.pack == "bags":
            self._bags(run, run.order, mass_mg=mass_mg, at=ends)
        else:
            self._bulk(run, run.order, mass_mg=mass_mg, at=ends)
        empty_at = ends + dt.timedelta(minutes=4)
        if not self.floor.mill.bin_by_code[run.finished].holds:
            self._seen_empty(run.finished, at=empty_at)
        self.free_at[run.finished] = empty_at

    def _there_mg(self, run: RunMade) -> int:
        """What can be packed: all that lies there, or the run's own mass from a kept bin."""
        there = self.floor.true_mg(run.finished, run.product.product)
        if run.order is None or not self.floor.mill.bin_by_code[run.finished].holds:
            return there
        return min(there, to_mg(run.order.mass_kg))

    def _bags(self, run: RunMade, order: Order, *, mass_mg: int, at: dt.datetime) -> None:
        product = run.product
        pack_mg = to_mg(product.pack_kg or 1.0)
        run.bag_true_mg = pack_mg * (1 + self._dice.gauss(BAG_MORE_FRAC, BAG_MORE_FRAC / 3))
        run.bag_true_mg *= self.floor.truth.faults.gain(f"{run.packer} bag mass", at)
        wanted = round(order.mass_kg / (product.pack_kg or 1.0))
        bags = min(wanted, int(mass_mg // run.bag_true_mg))
        bags_true_mg = round(bags * run.bag_true_mg)
        kept = bool(self.floor.mill.bin_by_code[run.finished].holds)
        scrap_mg = 0 if kept else max(0, mass_mg - bags_true_mg)
        scrap_mg = round(scrap_mg * self.floor.dice.uniform(0.9, 1.0))
        warehouse = next(row.bin for row in self.floor.mill.bins if row.kind == "warehouse")
        booked_mg = bags * pack_mg
        ways = (
            (run.finished, run.packer, booked_mg + scrap_mg, How.RECKONED, None),
            (run.packer, warehouse, booked_mg, How.COUNTED, run.run),
            (run.packer, "scrap", scrap_mg, How.WEIGHED, None),
        )
        self.floor.note(
            "finishing.run_packed/1",
            at=at,
            by=self.floor.who("sacker", at),
            content={
                "run": run.run,
                "product": product.product,
                "machine": run.packer,
                "from": run.finished,
                "to": warehouse,
                "bags": bags,
                "batches": list(run.batches),
            },
            moved=self._ways(
                ways, product.product, true_mg=(bags_true_mg + scrap_mg, bags_true_mg, scrap_mg)
            ),
            lots=(Lot(lot=run.run, kind=LotKind.RUN, material=product.product),),
        )
        self._check_bags(run, bags=bags, at=at)
        self._sampled(run, at=at)
        self._go_out(run, order, bags=bags, warehouse=warehouse, at=at)

    def _check_bags(self, run: RunMade, *, bags: int, at: dt.datetime) -> None:
        """Every so many bags one is weighed again; one of the run is felt and tested."""
        rate_kg_s = self.floor.mill.machine_by_code[run.packer].rate_kg_s or 1.0
        seconds = run.bag_true_mg / MG_KG / rate_kg_s
        for bag in range(BAGS_BETWEEN, bags + 1, BAGS_BETWEEN):
            when = at - dt.timedelta(seconds=(bags - bag) * seconds)
            mass_kg = run.bag_true_mg / MG_KG * self._dice.gauss(1, BAG_SD_FRAC)
            shown_kg = round(mass_kg / BAG_STEP_KG) * BAG_STEP_KG
            self.notebook.write(run.packer, "bag mass", round(shown_kg, 4), at=when, run=run.run)
        if run.pelleted:
            last = run.pelleted[-1]
            when = at - dt.timedelta(minutes=2)
            warm_c = round(self._dice.gauss(last.outlet_c - 0.8, 0.5), 1)
            damp_wb = round(self._dice.gauss(last.moisture_wb, 0.0015), 3)
            self.notebook.write(run.packer, "bag temperature", warm_c, at=when, run=run.run)
            self.notebook.write(run.packer, "bag moisture", damp_wb, at=when, run=run.run)

    def _sampled(self, run: RunMade, *, at: dt.datetime) -> None:
        """The laboratory gets a sample of the run, as dry as the cooler left it."""
        analysis = self.floor.makeup.of_batches(run.batches)
        if run.pelleted:
            before_wb = analysis[MOISTURE] / 100
            after_wb = sum(row.moisture_wb for row in run.pelleted) / len(run.pelleted)
            dried = (1 - after_wb) / (1 - before_wb)
            analysis = {name: value * dried for name, value in analysis.items()}
            analysis[MOISTURE] = 100 * after_wb
            hot_c = [row.conditioner_c for row in run.pelleted]
            analysis = self.live.after_heat(analysis, hot_c)
            self.live.sampled(run.run, run.product.product, analysis, at=at)
        self.laboratory.run(run.run, run.product.product, analysis, at=at)

    def _go_out(
        self, run: RunMade, order: Order, *, bags: int, warehouse: str, at: dt.datetime
    ) -> None:
        """The bags leave the same day or wait for the next morning, unless the past ends before."""
        ready_at = at
        if self.hold_next is not None:
            ready_at = self.hold_next(run.run, at)
            self.hold_next = None
        gone_at = ready_at + dt.timedelta(minutes=self.floor.dice.randint(25, 150))
        if self.floor.dice.random() < OVERNIGHT_CHANCE:
            gone_at = self._next_morning(ready_at)
        if self.floor.until is None or gone_at < self.floor.until:
            self.ship_bags(run, order, bags=bags, warehouse=warehouse, at=gone_at)

    def _next_morning(self, at: dt.datetime) -> dt.datetime:
        """Some time after the mill opens again on its next working day."""
        day = at.astimezone(self.floor.mill.settings.zone).date()
        shifts = (
            shift_of(self.floor.mill, day + dt.timedelta(days=number)) for number in range(1, 8)
        )
        start = next((shift[0] for shift in shifts if shift is not None), at)
        return start + dt.timedelta(minutes=self.floor.dice.randint(30, 180))

    def _ways(
        self,
        ways: tuple[tuple[str, str, int, How, str | None], ...],
        product: str,
        *,
        true_mg: tuple[int, ...] | None = None,
    ) -> tuple[Moved, ...]:
        truly = true_mg or tuple(mass for _, _, mass, _, _ in ways)
        return tuple(
            Moved(
                movement=Movement(
                    from_place=start,
                    to_place=end,
                    mass_mg=mass,
                    material=product,
                    how=how,
                    lot=lot,
                ),
                true_mg=true,
            )
            for (start, end, mass, how, lot), true in zip(ways, truly, strict=True)
        )

    def ship_bags(
        self, run: RunMade, order: Order, *, bags: int, warehouse: str, at: dt.datetime
    ) -> None:
        """The bags of a run leave the warehouse."""
        mass_mg = bags * to_mg(run.product.pack_kg or 1.0)
        way = (warehouse, f"customer/{order.customer}", mass_mg, How.COUNTED, run.run)
        truly = (round(bags * run.bag_true_mg),)
        self._shipped(run, order, bags=bags, ways=(way,), true_mg=truly, at=at)

    def _bulk(self, run: RunMade, order: Order, *, mass_mg: int, at: dt.datetime) -> None:
        booked_mg = mass_mg // BULK_DIVISION_MG * BULK_DIVISION_MG
        ways = (
            (run.finished, run.packer, booked_mg, How.WEIGHED, None),
            (run.packer, f"customer/{order.customer}", booked_mg, How.WEIGHED, run.run),
        )
        lot = Lot(lot=run.run, kind=LotKind.RUN, material=run.product.product)
        self._shipped(run, order, bags=0, ways=ways, at=at, lots=(lot,))
        self._sampled(run, at=at)

    def _shipped(
        self,
        run: RunMade,
        order: Order,
        *,
        bags: int,
        ways: tuple[tuple[str, str, int, How, str | None], ...],
        at: dt.datetime,
        lots: tuple[Lot, ...] = (),
        true_mg: tuple[int, ...] | None = None,
    ) -> None:
        self.floor.note(
            "finishing.shipped/1",
            at=at,
            by=self.floor.who("shipping", at),
            content={
                "order": order.order,
                "customer": order.customer,
                "run": run.run,
                "bags": bags,
            },
            moved=self._ways(ways, run.product.product, true_mg=true_mg),
            lots=lots,
        )
        warm = sum(row.is_warm_and_damp for row in run.pelleted)
        self.customers.sold(
            Sold(
                run=run.run,
                order=order,
                bags=bags,
                is_pelleted=bool(run.pelleted),
                warm_frac=warm / len(run.pelleted) if run.pelleted else 0.0,
                oil_frac=run.oil_frac,
                oil_gain=run.oil_gain,
            ),
            at=at,
        )

    def _seen_empty(self, place: str, *, at: dt.datetime) -> None:
        """The bin is empty; what the books still say goes to unaccounted."""
        floor = self.floor
        moved = [
            floor.unaccounted(place, material, -mass_mg, true_out_mg=floor.true_mg(place, material))
            for (where, material), mass_mg in sorted(floor.book.items())
            if where == place and (mass_mg or floor.true_mg(place, material))
        ]
        self.floor.note(
            "storage.bin_seen_empty/1",
            at=at,
            by=self.floor.who("sacker", at),
            content={"bin": place},
            moved=moved,
        )


def _way(  # noqa: PLR0917 - a row of a table
    start: str,
    end: str,
    material: str,
    masses: tuple[int, int, float],
    batch: str,
    how: How = How.RECKONED,
) -> Moved:
    """A mass of a batch as booked, as it truly was, and with its deviation."""
    movement = Movement(
        from_place=start, to_place=end, mass_mg=masses[0], material=material, how=how,
        mass_sd_mg=round(masses[2]), lot=batch,
    )  # fmt: skip
    return Moved(movement=movement, true_mg=masses[1])
