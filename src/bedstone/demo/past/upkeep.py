"""What else happens in the simulated past: weather, clean-outs, counts, holds, slips of a pen."""

import datetime as dt
from dataclasses import dataclass, field

from bedstone.demo.past.floor import Floor, Mistake, Moved, to_mg
from bedstone.demo.past.supply import Supply
from bedstone.demo.past.ways import alternatives
from bedstone.demo.weather import weather_hours
from bedstone.ledger.model import How, Json, Movement
from bedstone.mill.model import Order

__all__ = ["Upkeep", "order_content"]

FRIDAY = 4
COUNTED_KINDS = ("tank", "ingredient")
COUNT_STEP_KG = 20.0
MINUTE = dt.timedelta(minutes=1)


def _text(at: dt.datetime) -> str:
    return at.astimezone(dt.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def order_content(order: Order) -> dict[str, Json]:
    """An order as it stands in its fact."""
    return {
        "order": order.order,
        "customer": order.customer,
        "product": order.product,
        "mass_mg": to_mg(order.mass_kg),
        "pack": order.pack,
        "entered_at": _text(order.entered_at),
        "due_at": _text(order.due_at),
        "status": order.status,
        "note": order.note,
    }


@dataclass
class Upkeep:
    """Acts beside the making of feed."""

    floor: Floor
    supply: Supply
    seed: int
    _counted: int = 0
    _mistakes: list[Mistake] = field(default_factory=list)

    def weather(self, day: dt.date) -> None:
        """The hours of a day as the mill's thermometer had them."""
        zone = self.floor.mill.settings.zone
        rows = weather_hours(day, days=1, zone=zone, seed=self.seed)
        at = rows[-1].hour_at + 59 * MINUTE
        hours: list[Json] = [
            {
                "hour_at": _text(row.hour_at),
                "temperature_c": row.temperature_c,
                "humidity_frac": row.humidity_frac,
                "pressure_pa": row.pressure_pa,
            }
            for row in rows
        ]
        self.floor.note(
            "weather.hours_set/1",
            at=at,
            by=self.floor.who("manager", at),
            content={"hours": hours},
        )

    def orders(self, order: Order) -> None:
        """An order comes in."""
        self.floor.note(
            "orders.order_set/1",
            at=order.entered_at,
            by=self.floor.who("manager", order.entered_at),
            content=order_content(order),
        )

    def cancel(self, order: Order, *, at: dt.datetime) -> None:
        """A customer calls an order off."""
        self.floor.note(
            "orders.order_cancelled/1",
            at=at,
            by=self.floor.who("manager", at),
            content={"order": order.order, "why": "customer called it off by telephone"},
        )

    def clean_all(self, at: dt.datetime) -> None:
        """Everything that feed passes is cleaned by hand before the record begins."""
        mill = self.floor.mill
        steps = {
            code for product in mill.products for step in alternatives(product) for code in step
        }
        ways = [
            f"{row.start}>{row.end}"
            for row in mill.routes
            if row.start in steps and row.end in steps
        ]
        self._cleaned([*sorted(steps), *ways], "yearly clean-out of the whole mill", at=at)

    def _cleaned(
        self, places: list[str], reason: str, *, at: dt.datetime, moved: tuple[Moved, ...] = ()
    ) -> None:
        listed: list[Json] = list(places)
        self.floor.note(
            "cleaning.cleaned_out/1",
            at=at,
            by=self.floor.who("batch operator", at),
            content={"places": listed, "before_batch": "", "reason": reason},
            moved=moved,
        )

    def empty_flush_bin(self, at: dt.datetime) -> None:
        """What was flushed is taken away and thrown out."""
        mill = self.floor.mill
        place, material = mill.settings.flush_bin, mill.settings.flush_material
        mass_mg = self.floor.book.get((place, material), 0)
        if mass_mg <= 0:
            return
        movement = Movement(
            from_place=place,
            to_place="scrap",
            mass_mg=mass_mg,
            material=material,
            how=How.RECKONED,
            mass_sd_mg=mass_mg // 100,
        )
        true_mg = self.floor.true_mg(place, material)
        self._cleaned(
            [place],
            "flush material taken away to be composted",
            at=at,
            moved=(Moved(movement=movement, true_mg=true_mg),),
        )

    def count(self, at: dt.datetime, *, bins: int) -> None:
        """Some bins are sounded in turn, and the books brought to what was found."""
        rows = [row for row in self.floor.mill.bins if row.kind in COUNTED_KINDS and row.holds]
        for number in range(bins):
            row = rows[(self._counted + number) % len(rows)]
            true_mg = self.floor.true_mg(row.bin, row.holds)
            step_mg = to_mg(COUNT_STEP_KG)
            counted_mg = round(true_mg * self.floor.dice.gauss(1.0, 0.004) / step_mg) * step_mg
            more_mg = counted_mg - self.floor.book.get((row.bin, row.holds), 0)
            when = at + 6 * number * MINUTE
            self.floor.note(
                "storage.counted/1",
                at=when,
                by=self.floor.who("receiver", when),
                content={
                    "place": row.bin,
                    "material": row.holds,
                    "counted_mg": counted_mg,
                    "how": "dipped" if row.kind == "tank" else "sounded from the top",
                },
                moved=(self.floor.unaccounted(row.bin, row.holds, more_mg),) if more_mg else (),
            )
        self._counted += bins

    def book_twice(self, at: dt.datetime) -> None:
        """A load of sacks is booked a second time, and taken back two hours later."""
        sacks = [row for row in self.floor.mill.ingredients if row.ingredient_class == "micro"]
        if not sacks:
            return
        row = sacks[len(sacks) // 2]
        place = self.supply.bin_for(row.ingredient)
        if place is None:
            return
        self.supply.load(row, place, mass_mg=to_mg(453.59237), at=at)
        later = at + 4 * MINUTE
        why = "the same ticket typed in twice"
        mistake = Mistake(why=why, by=self.floor.who("receiver", later))
        self.supply.load(row, place, mass_mg=to_mg(453.59237), at=later, mistake=mistake)
        self.floor.take_back(mistake, at=at + 120 * MINUTE)

    def hold(self, run: str, at: dt.datetime) -> dt.datetime:
        """The laboratory holds a run that was just packed; returns when it lets it go again."""
        lots: list[Json] = [run]
        held_at, released_at = at + 12 * MINUTE, at + 190 * MINUTE
        who = self.floor.who("laboratory", at)
        why = "two bags with an open seam; the rest of the run is looked through"
        held: dict[str, Json] = {"lots": lots, "why": why}
        released: dict[str, Json] = {"lots": lots, "why": "all bags looked at, two sewn again"}
        self.floor.note("quality.held/1", at=held_at, by=who, content=held)
        self.floor.note("quality.released/1", at=released_at, by=who, content=released)
        return released_at
