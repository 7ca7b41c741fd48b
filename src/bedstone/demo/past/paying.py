"""What the simulated office pays for each load, reckoned apart from the program's own way."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from bedstone.demo.past.floor import Floor
from bedstone.ledger.model import Fact, Json
from bedstone.mill.model import Price

__all__ = ["Paying"]

SATURDAY = 5
NINE = dt.time(9, 15)
CORRECTED = 14


@dataclass
class Paying:
    """Settles a load on the next working morning; one is settled again three days later."""

    floor: Floor
    _settled: int = 0
    _place: int = 0  # of the settlement that is corrected

    def load(
        self, arrival: Mapping[str, Json], *, at: dt.datetime, net_mg: int, is_late: bool
    ) -> None:
        """A load is settled when the office next opens, a late one the day after."""
        zone = self.floor.mill.settings.zone
        day = at.astimezone(zone).date() + dt.timedelta(days=2 if is_late else 1)
        while day.weekday() >= SATURDAY:
            day += dt.timedelta(days=1)
        when = dt.datetime.combine(day, NINE, zone).astimezone(dt.UTC)
        if self.floor.until is not None and when >= self.floor.until:
            return
        self._settled += 1
        minute = dt.timedelta(minutes=2 * (self._settled % 20))
        is_first = self._settled == CORRECTED
        self._note(arrival, at=at, net_mg=net_mg, when=when + minute, keep=is_first)
        later = when + minute + dt.timedelta(days=3)
        if is_first and (self.floor.until is None or later < self.floor.until):
            self._note(arrival, at=at, net_mg=net_mg, when=later, corrects=True)

    def _note(
        self,
        arrival: Mapping[str, Json],
        *,
        at: dt.datetime,
        net_mg: int,
        when: dt.datetime,
        keep: bool = False,
        corrects: bool = False,
    ) -> None:
        def read(_: object) -> Fact:
            if keep:
                self._place = self.floor.position
            content = self._content(arrival, at=at, net_mg=net_mg)
            if corrects:
                content |= {"corrects": self._place, "why": "the seller asked for the sums again"}
            by = self.floor.who("manager", when)
            return Fact(
                kind="receiving.load_settled/1",
                happened_at=when.replace(microsecond=0),
                by=by,
                content=content,
            )

        self.floor.note_reading(when, read)

    def _content(
        self, arrival: Mapping[str, Json], *, at: dt.datetime, net_mg: int
    ) -> dict[str, Json]:
        code, firm = str(arrival["ingredient"]), str(arrival["firm"])
        results = _results(arrival)
        masses = self._masses(code, results, net_mg)
        price, words = self._price(code, firm, at)
        steps = self._steps(code, results)
        more = sum(adjust for _, adjust in steps)
        listed: list[Json] = [{"test": test, "adjust_cents100_t": one} for test, one in steps]
        return {
            "ticket": arrival["ticket"],
            "lot": arrival["lot"],
            "firm": firm,
            "ingredient": code,
            "revision": 1,
            "price_from": words,
            "price_cents100_t": price,
            "steps": listed,
            **masses,
            "money_cents": round(Fraction(int(str(masses["paid_mg"])) * (price + more), 10**11)),
            "corrects": 0,
            "why": "",
        }

    def _masses(
        self, code: str, results: Mapping[tuple[str, str], float], net_mg: int
    ) -> dict[str, Json]:
        """What goes off the net, by the terms."""
        terms = next(
            (row for row in self.floor.mill.receiving_terms if row.ingredient == code), None
        )
        wet, dirt = results.get(("moisture", "%")), results.get(("foreign matter", "%"))
        base = Fraction(repr(terms.moisture_base_wb or 0.0)) if terms else Fraction(0)
        handling = Fraction(repr(terms.handling_frac)) if terms else Fraction(0)
        free = Fraction(repr(terms.dockage_free_frac)) if terms else Fraction(0)
        is_dried = terms is not None and terms.shrink == "dry matter"
        factor = 1 / (1 - base) if is_dried else Fraction(0)
        dockage = net_mg * max(Fraction(0), Fraction(repr(dirt or 0.0)) / 100 - free)
        left = net_mg - dockage
        water = left * max(Fraction(0), Fraction(repr(wet or 0.0)) / 100 - base) * factor
        return {
            "terms": terms.source if terms else "paid as weighed",
            "moisture_pct": wet,
            "base_pct": float(base * 100),
            "shrink": terms.shrink if terms else "none",
            "shrink_factor": float(factor),
            "handling_pct": float(handling * 100),
            "dockage_pct": dirt or 0.0,
            "dockage_free_pct": float(free * 100),
            "net_mg": net_mg,
            "dockage_mg": round(dockage),
            "moisture_mg": round(water),
            "handling_mg": round(left * handling),
            "paid_mg": round(left - water - left * handling),
        }

    def _steps(self, code: str, results: Mapping[tuple[str, str], float]) -> list[tuple[str, int]]:
        """Steps of the price schedule, in hundredths of a cent a tonne."""
        return [
            (f"{row.test} {value:g} {row.unit}", round(row.adjust_usd_t * 10_000))
            for row in self.floor.mill.price_steps
            if row.ingredient == code
            and (value := results.get((row.test, row.unit))) is not None
            and row.from_value <= value < row.to_value
        ]

    def _price(self, code: str, firm: str, at: dt.datetime) -> tuple[int, str]:
        """Price in hundredths of a cent a tonne: the firm's own, the market's, the usual one."""
        mill = self.floor.mill
        day = at.astimezone(mill.settings.zone).date()
        rows: dict[tuple[str, str], Price] = {}
        for row in sorted(mill.prices, key=lambda row: row.from_on):
            if row.ingredient == code and row.from_on <= day and (row.until_on or day) >= day:
                rows[row.supplier, row.contract] = row
        own = [row for row in rows.values() if row.supplier == firm]
        market = [row for row in rows.values() if not row.supplier]
        for found in (own, market):
            if found:
                best = min(found, key=lambda row: row.price_usd_t)
                named = f"contract {best.contract}" if best.contract else "the seller's offer"
                words = named if found is own else "market"
                return round(best.price_usd_t * 10_000), f"{words}, from {best.from_on}"
        usual = mill.ingredient_by_code[code].price_usd_t
        return round(usual * 10_000), "ingredients table"


def _results(arrival: Mapping[str, Json]) -> dict[tuple[str, str], float]:
    tests = arrival["tests"]
    return {
        (str(one["test"]), str(one["unit"])): float(str(one["value"]))
        for one in (tests if isinstance(tests, list) else [])
        if isinstance(one, Mapping)
    }
