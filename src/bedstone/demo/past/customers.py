"""Customers of the simulated mill: which bags are bad or will be, and who telephones when."""

import datetime as dt
from dataclasses import dataclass

from bedstone.demo.past.floor import Floor
from bedstone.demo.past.truth import BadBags
from bedstone.mill.model import Order

__all__ = ["Customers", "Sold"]

OILY_GAIN = 1.05
OILY_PART_FRAC = 0.03
CHANCE = {"mouldy": 0.85, "oily": 0.15, "dusty": 0.022, "short weight": 0.008, "not eaten": 0.006}
CAUSES = {
    "mouldy": "too warm and damp out of the cooler",
    "oily": "an oil meter that lets more through than it reads",
    "dusty": "a die near the end of its life",
    "short weight": "a bag that slipped off the spout",
    "not eaten": "none in the feed",
}
TEXTS = {
    "mouldy": "a caked lump with grey mould in the middle of the bag, smells musty",
    "oily": "the bag is stained through and the feed clumps in the hand",
    "dusty": "a third of the bag is fines",
    "short weight": "weighed it at home, two pounds short",
    "not eaten": "they leave half of it in the trough",
}
MOULD_DAYS = (6, 17)
USUAL_DAYS = (2, 12)
MORNING_H, EVENING_H = 8, 17


@dataclass(frozen=True, slots=True, kw_only=True)
class Sold:
    """A run that left the mill, with what the simulator knows of it."""

    run: str
    order: Order
    bags: int
    is_pelleted: bool
    warm_frac: float  # part of it that went warm and damp into the bag
    oil_frac: float  # oil in its formula
    oil_gain: float  # of the meter that dosed it


@dataclass
class Customers:
    """Decides what is bad, once a run is sold, and lets the customer complain days later."""

    floor: Floor

    def __post_init__(self) -> None:
        """Take dice of its own."""
        self._dice = self.floor.dice_for("customers")

    def sold(self, sold: Sold, *, at: dt.datetime) -> None:
        """Whether a run that leaves now is bad, from which bag to which, and what comes of it."""
        rolls = {what: self._dice.random() for what in CHANCE}
        days = {
            what: self._dice.randint(*(MOULD_DAYS if what == "mouldy" else USUAL_DAYS))
            for what in CHANCE
        }
        minute = self._dice.randint(0, 60 * (EVENING_H - MORNING_H) - 1)
        for what, chance in CHANCE.items():
            if rolls[what] < chance and self._may_be(what, sold):
                self._bad(what, sold, at=at, days=days[what], minute=minute)
                return

    def _may_be(self, what: str, sold: Sold) -> bool:
        if what == "mouldy":
            return sold.warm_frac > 0 and sold.bags > 0
        if what == "oily":
            return sold.oil_gain > OILY_GAIN and sold.oil_frac >= OILY_PART_FRAC
        if what == "dusty":
            return sold.is_pelleted
        return what != "short weight" or sold.bags > 0

    def _bad(self, what: str, sold: Sold, *, at: dt.datetime, days: int, minute: int) -> None:
        first, last = self._which(what, sold)
        zone = self.floor.mill.settings.zone
        day = at.astimezone(zone).date() + dt.timedelta(days=days)
        hour = dt.time(MORNING_H + minute // 60, minute % 60)
        calls_at = dt.datetime.combine(day, hour, zone).astimezone(dt.UTC)
        told = self.floor.until is None or calls_at < self.floor.until
        self.floor.truth.bad_bags.append(
            BadBags(
                run=sold.run,
                product=sold.order.product,
                customer=sold.order.customer,
                first_bag=first,
                last_bag=last,
                what=what,
                cause=CAUSES[what],
                complaint_at=calls_at,
                is_recorded=told,
            )
        )
        if told:
            bag = self._dice.randint(first, last) if last else None
            self._complain(what, sold, bag=bag, at=calls_at)

    def _which(self, what: str, sold: Sold) -> tuple[int, int]:
        """Numbers of the bad bags: one that is short, a stretch of a run, or nothing of a load."""
        if not sold.bags:
            return 0, 0
        if what == "short weight":
            number = self._dice.randint(1, sold.bags)
            return number, number
        if what == "mouldy":
            return 1 + round((1 - sold.warm_frac) * (sold.bags - 1)), sold.bags
        return 1, sold.bags

    def _complain(self, what: str, sold: Sold, *, bag: int | None, at: dt.datetime) -> None:
        self.floor.note(
            "quality.complaint_received/1",
            at=at,
            by=self.floor.who("shipping", at),
            content={
                "complaint": f"C-{sold.order.order}",
                "customer": sold.order.customer,
                "product": sold.order.product,
                "order": sold.order.order,
                "lot": sold.run,
                "bag": bag,
                "what": what,
                "text": TEXTS[what],
            },
        )
