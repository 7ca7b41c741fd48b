"""What the simulated receiver writes down of each load: cargoes, looks, quick tests, weights."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from bedstone.demo.past.floor import Floor, Moved, to_mg
from bedstone.demo.past.paying import Paying
from bedstone.ledger.model import How, Json, Lot, LotKind, Movement
from bedstone.mill.model import Bin, Ingredient, PriceStep, Specification

__all__ = ["Came", "Gate"]

MINUTE = dt.timedelta(minutes=1)
TRUCK_LB, PALLET_LB, LB_MG = 20, 0.5, 453_592.37
LB_FT3_KG_M3, BUSHEL_FT3 = 16.018463, 1.244456
EVERY_REFUSED = 9
SAMPLE_DAYS = 180
BAG_LB = 50
TRIES = 50
LAST_CARGOES = {  # and how often of a hundred
    "grain": 50,
    "same ingredient": 20,
    "plant feed": 14,
    "minerals": 9,
    "fertiliser": 7,
}
CLEANED = {"plant feed": "swept", "minerals": "swept", "feed liquid": "swept"}
REFUSALS: tuple[Mapping[str, Json], ...] = (
    {"insects": "live"},
    {"cargoes": ["treated seed", "grain", "grain"]},
    {"odour": "chemical"},
    {"cargoes": ["unknown", "grain", "grain"]},
    {"foreign": "glass, metal or treated seed"},
)
WHY = (
    "live insects would infest the bins",
    "last cargo: treated seed brings dressing that may not enter feed",
    "smells of chemicals or smoke",
    "last cargo: unknown brings nobody knows what",
    "glass, metal or treated seed in it",
)
EVERY_FOURTH, OVER_FROM = 4, 2
OVER_FRAC, MUCH_OVER_FRAC = 0.001, 0.007
"""How much more than the truth the tickets of most sellers say, and of every fourth: hidden."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Came:
    """A load as it came: what the gate is told of it."""

    row: Ingredient
    place: Bin
    lot: str
    ticket: str
    firm: str
    carrier: str
    net_mg: int
    at: dt.datetime
    analysis: Mapping[str, float]


@dataclass
class Gate:
    """Judges as a receiver would: what is not fit is sent away, and the next one is taken."""

    floor: Floor
    _loads: int = 0
    _refused: int = 0
    _held: set[str] = field(default_factory=set)

    def __post_init__(self) -> None:
        """Take dice of its own."""
        self.dice = self.floor.dice_for("gate")
        self.paying = Paying(self.floor)
        firms = [row.firm for row in self.floor.mill.firms if row.role == "supplier"]
        for number, firm in enumerate(firms):
            self.floor.truth.sellers[firm] = (
                MUCH_OVER_FRAC if number % EVERY_FOURTH == OVER_FROM else OVER_FRAC
            )

    def came(self, load: Came) -> None:
        """Write a load down, and sometimes another that was turned away before it."""
        self._loads += 1
        if load.place.kind != "floor" and self._loads % EVERY_REFUSED == 0:
            self._turn_away(load)
        tests, why = self._tests(load)
        waits = [row for row in self._specs(load.row) if row.waits]
        under_hold = ""
        if waits and load.place.kind == "floor" and load.row.ingredient not in self._held:
            self._held.add(load.row.ingredient)
            tests = [one for one in tests if one["test"] != waits[0].test]
            why = [f"{waits[0].test} not tested yet: under hold only until it is known"]
            under_hold = f"the seller's certificate of {waits[0].test}"
        arrival = self._arrival(load, tests)
        outcome = "HOLD" if under_hold else "PRICE_DOWN" if why else "TAKE"
        self._note(
            "receiving.load_inspected/1",
            load,
            arrival,
            outcome=outcome,
            why=why,
            more={"into": load.place.bin, "under_hold": under_hold},
        )
        if under_hold:
            self._hold(load, under_hold)
            self._send_back(load, waits[0])
        self.paying.load(arrival, at=load.at, net_mg=load.net_mg, is_late=bool(under_hold))

    def _note(
        self,
        kind: str,
        load: Came,
        arrival: Mapping[str, Json],
        *,
        outcome: str,
        why: list[str],
        more: Mapping[str, Json],
    ) -> None:
        terms = next((row for row in self.floor.mill.receiving_terms
                      if row.ingredient == load.row.ingredient), None)  # fmt: skip
        day = load.at.astimezone(self.floor.mill.settings.zone).date()
        until = day + dt.timedelta(days=terms.sample_days if terms else SAMPLE_DAYS)
        reasons: list[Json] = list(why)
        role = "laboratory" if more.get("under_hold") else "receiver"
        self.floor.note(
            kind,
            at=load.at,
            by=self.floor.who(role, load.at),
            content={
                "ticket": arrival["ticket"],
                "arrival": dict(arrival),
                "outcome": outcome,
                "reasons": reasons,
                "barred_products": {},
                "sample_shelf": terms.sample_shelf if terms else "",
                "keep_until": until.isoformat(),
                **more,
            },
        )

    def _specs(self, row: Ingredient) -> list[Specification]:
        return [one for one in self.floor.mill.specifications if one.ingredient == row.ingredient]

    def _tests(self, load: Came) -> tuple[list[dict[str, Json]], list[str]]:
        """Results of the quick tests, and what was priced down."""
        found: list[dict[str, Json]] = []
        why: list[str] = []
        specs = self._specs(load.row)
        for spec in specs:
            value = self._fit(spec, load)
            found.append(_test(spec.test, value, spec.unit, spec.method))
            low, high = spec.minimum, spec.maximum
            if (low is not None and value < low) or (high is not None and value > high):
                limit = f"at least {low:g}" if low is not None else f"at most {high:g}"
                why.append(
                    f"{spec.test} {value:g} {spec.unit}, wanted {limit} {spec.unit}: "
                    "the price schedule has a step for it"
                )
        if load.place.kind != "floor":
            named = {spec.test for spec in specs}
            for test, unit in (("moisture", "%"), ("temperature", "F"), ("bulk density", "lb/ft3")):
                liquid = load.row.ingredient_class == "liquid" and test != "temperature"
                if test not in named and not liquid:
                    found.append(_test(test, self._value(test, unit, load), unit, ""))
        return found, why

    def _fit(self, spec: Specification, load: Came) -> float:
        """A result with which a load is taken, at a lower price where the schedule has a step."""
        steps = [row for row in self.floor.mill.price_steps
                 if (row.ingredient, row.test) == (spec.ingredient, spec.test)]  # fmt: skip
        value = 0.0
        for _ in range(TRIES):
            value = self._value(spec.test, spec.unit, load)
            if _is_taken(value, spec, steps):
                return value
        edge = spec.minimum if spec.minimum is not None and value < spec.minimum else spec.maximum
        return edge if edge is not None else value

    def _value(self, test: str, unit: str, load: Came) -> float:
        dice = self.dice
        if test == "bulk density":
            own = load.row.density_kg_m3 / LB_FT3_KG_M3 * dice.gauss(1.0, 0.015)
            return round(own * (BUSHEL_FT3 if unit == "lb/bu" else 1.0), 1)
        if test == "temperature":
            return round(dice.gauss(52.0, 6.0))
        if test == "foreign matter":
            return round(dice.lognormvariate(0.6, 0.6), 1)
        if unit == "ug/kg":
            return round(dice.expovariate(1 / 3.0), 0)
        if unit == "mg/kg":
            return round(dice.expovariate(1 / 1.2), 1)
        true = load.analysis.get(test, 0.0)
        return round(max(0.0, dice.gauss(true, 0.3)), 1)

    def _arrival(self, load: Came, tests: list[dict[str, Json]]) -> dict[str, Json]:
        """What stands on the form of the gate."""
        dice, is_bulk = self.dice, load.place.kind != "floor"
        is_liquid = load.row.ingredient_class == "liquid"
        cargoes: list[Json] = ["feed liquid"] * 3
        if not is_liquid:
            cargoes = list(dice.choices(list(LAST_CARGOES), list(LAST_CARGOES.values()), k=3))
        cleaned = CLEANED.get(str(cargoes[0]), "none")
        if "fertiliser" in cargoes[:2]:
            cleaned = "washed"
        step_mg = (TRUCK_LB if is_bulk else PALLET_LB) * LB_MG
        tare_lb = dice.gauss(29_000, 700) if is_bulk else dice.gauss(48, 3)
        tare_mg = round(round(tare_lb * LB_MG / step_mg) * step_mg)
        over = 1 + self.floor.truth.sellers.get(load.firm, 0.0) + dice.gauss(0, 0.0008)
        seller_mg = round(round(load.net_mg * over / step_mg) * step_mg)
        listed: list[Json] = list(tests)
        kind = "tanker" if is_liquid else "truck" if is_bulk else "tote"
        return {
            "ticket": load.ticket,
            "firm": load.firm,
            "ingredient": load.row.ingredient,
            "lot": load.lot,
            "carrier": load.carrier,
            "carrier_kind": kind,
            "vehicle": f"truck {dice.randint(3, 19)}",
            "cargoes": cargoes,
            "cleaned": cleaned,
            "wash_ticket": f"W-{dice.randint(3100, 3999)}" if cleaned == "washed" else "",
            "seals": "intact" if is_liquid or not is_bulk else "none fitted",
            "papers": "right",
            "odour": "as usual",
            "insects": "none",
            "foreign": "none",
            "tests": listed,
            "weighbridge": "WB1" if is_bulk else "WB2",
            "gross_mg": load.net_mg + tare_mg,
            "tare_mg": tare_mg,
            "seller_net_mg": seller_mg,
            "units": 0 if is_bulk else max(1, round(load.net_mg / LB_MG / BAG_LB)),
        }

    def _turn_away(self, load: Came) -> None:
        """A truck that came before was not fit."""
        number = self._refused % len(REFUSALS)
        self._refused += 1
        early = replace(
            load,
            lot=f"{load.lot}-R",
            ticket=f"T{30_000 + self._refused}",
            at=load.at - 47 * MINUTE,
        )
        arrival = self._arrival(early, []) | {"gross_mg": 0, "tare_mg": 0, "weighbridge": ""}
        arrival |= {"cleaned": "none", "wash_ticket": "", "cargoes": ["grain", "grain", "grain"]}
        arrival |= REFUSALS[number]
        self._note(
            "receiving.load_refused/1", early, arrival, outcome="REJECT", why=[WHY[number]], more={}
        )

    def _hold(self, load: Came, why: str) -> None:
        """The lot waits for its certificate, which comes the same morning."""
        lots: list[Json] = [load.lot]
        who = self.floor.who("laboratory", load.at)
        held: dict[str, Json] = {"lots": lots, "why": f"unloaded under hold: {why}"}
        self.floor.note("quality.held/1", at=load.at + MINUTE / 6, by=who, content=held)
        free: dict[str, Json] = {"lots": lots, "why": f"{why} came by mail and is right"}
        self.floor.note("quality.released/1", at=load.at + 130 * MINUTE, by=who, content=free)

    def _send_back(self, load: Came, spec: Specification) -> None:
        """Days later another lot comes whose certificate never does: it goes back as it came."""
        at = load.at + dt.timedelta(days=4, minutes=35)
        if self.floor.until is not None and at + dt.timedelta(days=3) >= self.floor.until:
            return
        again = replace(load, lot=f"{load.lot}-B", ticket=f"T{31_000 + self._loads}", at=at)
        why = f"the seller's certificate of {spec.test}"
        arrival = self._arrival(again, [])
        missing = f"{spec.test} not tested yet: under hold only until it is known"
        more: dict[str, Json] = {"into": again.place.bin, "under_hold": why}
        self._note(
            "receiving.load_inspected/1", again, arrival, outcome="HOLD", why=[missing], more=more
        )
        self._move(again, "receiving.load_accepted/1", at=at, back=False)
        lots: list[Json] = [again.lot]
        held: dict[str, Json] = {"lots": lots, "why": f"unloaded under hold: {why}"}
        who = self.floor.who("laboratory", at)
        self.floor.note("quality.held/1", at=at + MINUTE / 6, by=who, content=held)
        self._move(again, "receiving.lot_sent_back/1", at=at + dt.timedelta(days=2), back=True)

    def _move(self, load: Came, kind: str, *, at: dt.datetime, back: bool) -> None:
        """Sacks that come, or go, untouched: nothing of them is ever used."""
        ends = (f"supplier/{load.firm}", load.place.bin)
        named: dict[str, Json] = {
            "lot": load.lot, "firm": load.firm, "ingredient": load.row.ingredient, "ticket": load.ticket,
        }  # fmt: skip
        more: dict[str, Json] = (
            {"from": load.place.bin, "why": "no certificate within two days; contents not known"}
            if back
            else {"into": load.place.bin, "carrier": load.carrier, "note": ""}
        )
        movement = Movement(
            from_place=ends[1] if back else ends[0],
            to_place=ends[0] if back else ends[1],
            mass_mg=load.net_mg,
            material=load.row.ingredient,
            how=How.WEIGHED,
            instrument="floor scale",
            mass_sd_mg=to_mg(0.1),
            lot=load.lot,
        )
        lots = () if back else (Lot(lot=load.lot, kind=LotKind.LOAD, material=load.row.ingredient),)
        role = "laboratory" if back else "receiver"
        self.floor.note(
            kind,
            at=at,
            by=self.floor.who(role, at),
            content=named | more,
            moved=(Moved(movement=movement, true_mg=0),),
            lots=lots,
        )


def _test(test: str, value: float, unit: str, method: str) -> dict[str, Json]:
    return {"test": test, "value": float(value), "unit": unit, "readings": 1, "method": method}


def _is_taken(value: float, spec: Specification, steps: list[PriceStep]) -> bool:
    """Whether a result is within limits, with room for its error, or has a step of its price."""
    room = 2 * (spec.repeatability_sd or 0.0) if spec.risk_max_frac < 0.5 else 0.0  # noqa: PLR2004 - even odds
    low = spec.minimum is None or value >= spec.minimum + room
    high = spec.maximum is None or value <= spec.maximum - room
    ends = (spec.reject_below is None or value >= spec.reject_below) and (
        spec.reject_above is None or value <= spec.reject_above
    )
    priced = any(row.from_value <= value < row.to_value for row in steps)
    return ends and ((low and high) or priced)
