"""What happens to simulated feed after the mixer: pelleting, bags, bulk, a bin seen empty."""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, field

from bedstone.demo.past.book import shift_of
from bedstone.demo.past.floor import MG_KG, POUND_MG, Floor, Moved, to_mg
from bedstone.demo.past.ways import rate_kg_s
from bedstone.ledger.model import How, Lot, LotKind, Movement
from bedstone.mill.model import Order, Product

__all__ = ["AfterMixer", "RunMade"]

STEAM_FRAC = 0.041
WATER_FRAC = 0.045
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


@dataclass
class AfterMixer:
    """Pellet lines, sacking lines and load-out, each busy until some time."""

    floor: Floor
    free_at: dict[str, dt.datetime] = field(default_factory=dict)
    dies: dict[str, str] = field(default_factory=dict)
    pelleted_at: dict[str, list[dt.datetime]] = field(default_factory=dict)
    until: dt.datetime | None = None  # what would ship later is still in the warehouse
    hold_next: Callable[[str, dt.datetime], dt.datetime] | None = None

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
                run, batch, masses=(mass_mg, true_mg), loss_frac=machine.loss_frac
            ),
        )
        return ends

    def _pelleted(
        self, run: RunMade, batch: str, *, masses: tuple[int, int], loss_frac: float
    ) -> tuple[Moved, ...]:
        """Mash and steam in; water, dust and pellets out. The books take the usual water."""
        dice, product = self.floor.dice, run.product.product
        mass_mg, true_mg = masses
        steam_mg = round(mass_mg * dice.gauss(STEAM_FRAC, 0.002))
        water_mg = round(mass_mg * WATER_FRAC)
        true_water_mg = round(mass_mg * dice.gauss(WATER_FRAC, 0.002))
        dust_mg = round(mass_mg * loss_frac)
        out_mg = mass_mg + steam_mg - water_mg - dust_mg
        true_out_mg = true_mg + steam_mg - true_water_mg - dust_mg
        ways = (
            (run.surge, run.line, mass_mg, true_mg, product, How.RECKONED),
            ("steam", run.line, steam_mg, steam_mg, "water", How.METERED),
            (run.line, "air", water_mg, true_water_mg, "water", How.RECKONED),
            (run.line, "air", dust_mg, dust_mg, product, How.RECKONED),
            (run.line, run.finished, out_mg, true_out_mg, product, How.RECKONED),
        )
        return tuple(
            Moved(
                movement=Movement(
                    from_place=start,
                    to_place=end,
                    mass_mg=mass,
                    material=material,
                    how=how,
                    mass_sd_mg=mass // 200,
                    lot=batch,
                ),
                true_mg=truly,
            )
            for start, end, mass, truly, material, how in ways
        )

    def leave(self, run: RunMade, *, at: dt.datetime) -> None:
        """Bag or load the run and ship it, and look into the bin."""
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
        wanted = round(order.mass_kg / (product.pack_kg or 1.0))
        bags = min(wanted, mass_mg // pack_mg)
        kept = bool(self.floor.mill.bin_by_code[run.finished].holds)
        scrap_mg = 0 if kept else max(0, mass_mg - bags * pack_mg)
        scrap_mg = round(scrap_mg * self.floor.dice.uniform(0.9, 1.0))
        warehouse = next(row.bin for row in self.floor.mill.bins if row.kind == "warehouse")
        ways = (
            (run.finished, run.packer, bags * pack_mg + scrap_mg, How.RECKONED, None),
            (run.packer, warehouse, bags * pack_mg, How.COUNTED, run.run),
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
            moved=self._ways(ways, product.product),
            lots=(Lot(lot=run.run, kind=LotKind.RUN, material=product.product),),
        )
        ready_at = at
        if self.hold_next is not None:
            ready_at = self.hold_next(run.run, at)
            self.hold_next = None
        gone_at = ready_at + dt.timedelta(minutes=self.floor.dice.randint(25, 150))
        if self.floor.dice.random() < OVERNIGHT_CHANCE:
            gone_at = self._next_morning(ready_at)
        if self.until is None or gone_at < self.until:
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
        self, ways: tuple[tuple[str, str, int, How, str | None], ...], product: str
    ) -> tuple[Moved, ...]:
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
                true_mg=mass,
            )
            for start, end, mass, how, lot in ways
        )

    def ship_bags(
        self, run: RunMade, order: Order, *, bags: int, warehouse: str, at: dt.datetime
    ) -> None:
        """The bags of a run leave the warehouse."""
        mass_mg = bags * to_mg(run.product.pack_kg or 1.0)
        way = (warehouse, f"customer/{order.customer}", mass_mg, How.COUNTED, run.run)
        self._shipped(run, order, bags=bags, ways=(way,), at=at)

    def _bulk(self, run: RunMade, order: Order, *, mass_mg: int, at: dt.datetime) -> None:
        booked_mg = mass_mg // BULK_DIVISION_MG * BULK_DIVISION_MG
        ways = (
            (run.finished, run.packer, booked_mg, How.WEIGHED, None),
            (run.packer, f"customer/{order.customer}", booked_mg, How.WEIGHED, run.run),
        )
        lot = Lot(lot=run.run, kind=LotKind.RUN, material=run.product.product)
        self._shipped(run, order, bags=0, ways=ways, at=at, lots=(lot,))

    def _shipped(
        self,
        run: RunMade,
        order: Order,
        *,
        bags: int,
        ways: tuple[tuple[str, str, int, How, str | None], ...],
        at: dt.datetime,
        lots: tuple[Lot, ...] = (),
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
            moved=self._ways(ways, run.product.product),
            lots=lots,
        )

    def _seen_empty(self, place: str, *, at: dt.datetime) -> None:
        """The bin is empty; what the books still say goes to unaccounted."""
        moved = []
        for (where, material), mass_mg in sorted(self.floor.book.items()):
            if where == place and mass_mg:
                moved.append(self.floor.unaccounted(place, material, -mass_mg))
                self.floor.true[place, material] = 0
        self.floor.note(
            "storage.bin_seen_empty/1",
            at=at,
            by=self.floor.who("sacker", at),
            content={"bin": place},
            moved=moved,
        )
