"""Loads and grinding of the simulated mill: nothing runs out, nothing runs over."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field

from bedstone.demo.past.arrivals import Arrivals
from bedstone.demo.past.floor import MG_KG, POUND_MG, Floor, Mistake, Moved, to_mg
from bedstone.demo.past.gate import Came, Gate
from bedstone.demo.past.laboratory import Laboratory
from bedstone.ledger.model import How, Lot, LotKind, Movement
from bedstone.mill.model import Bin, Ingredient, Machine, Mill

__all__ = ["Supply", "kept_bin"]

LOW_FRAC = 0.45
FULL_FRAC = 0.93
MADE_FULL_FRAC = 0.7
TRUCK_KG = 21_800.0
TRUCK_DIVISION_MG = round(20 * POUND_MG)
SACK_DIVISION_MG = round(0.5 * POUND_MG)
GRIND_KG = 2_700.0
PALLET_KG = 453.59237
DRUG_BAG_KG = 22.6796185
SPARE_SACKS_KG = 40.0
EVENING_SACKS_KG = 110.0
DRUG_FRAC = 0.12
EVERY_OTHER = 3
MINUTE = dt.timedelta(minutes=1)


def kept_bin(mill: Mill, material: str) -> Bin | None:
    """The bin that is kept for a material, or the floor for what comes in sacks."""
    kept = [row for row in mill.bins if row.holds == material]
    if kept:
        return kept[0]
    floors = [row for row in mill.bins if row.kind == "floor"]
    return floors[0] if floors and material in mill.ingredient_by_code else None


@dataclass
class Supply:
    """Keeps each bin between low and full; a material to be left short gets a last small load."""

    floor: Floor
    leave_kg: Mapping[str, float]
    still_needed_kg: dict[str, float]
    sellers: Mapping[str, str]  # ingredient to the firm that always sells it
    laboratory: Laboratory
    _free_at: dict[str, dt.datetime] = field(default_factory=dict)
    _loads: int = 0
    _of: dict[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Open the gate."""
        self._gate = Gate(self.floor)
        self._arrivals = Arrivals(self.floor)

    def bin_for(self, material: str) -> Bin | None:
        """The bin that is kept for a material, or the floor for what comes in sacks."""
        return kept_bin(self.floor.mill, material)

    def used(self, material: str, *, mass_mg: int) -> None:
        """Note that so much of what the orders ahead need has been drawn."""
        left_kg = self.still_needed_kg.get(material, 0.0) - mass_mg / MG_KG
        self.still_needed_kg[material] = max(0.0, left_kg)

    def ensure(self, material: str, *, mass_mg: int, at: dt.datetime) -> Bin:
        """See that a draw can be made, and order or grind more when a bin is getting low."""
        place = self.bin_for(material)
        if place is None:
            msg = f"no bin is kept for {material}"
            raise ValueError(msg)
        row = self.floor.mill.ingredient_by_code.get(material)
        if row is None:
            return place
        if place.kind == "floor":
            self._sacks(row, place, mass_mg=mass_mg, at=at)
        elif row.ground_from:
            self._grind(row, place, mass_mg=mass_mg, at=at)
        else:
            self._trucks(row, place, mass_mg=mass_mg, at=at, low_frac=LOW_FRAC)
        return place

    def fill_up(self, at: dt.datetime) -> None:
        """Fill what is below three quarters, on the evening before the day of the demo."""
        for row in self.floor.mill.ingredients:
            place = self.bin_for(row.ingredient)
            if place is None:
                continue
            if place.kind == "floor":
                self._sacks(row, place, mass_mg=to_mg(EVENING_SACKS_KG), at=at)
                continue
            while row.ground_from and self._held_frac(place, row.ingredient) < MADE_FULL_FRAC:
                self._grind(row, place, mass_mg=0, at=at, low_frac=1.0)
            if not row.ground_from:
                self._trucks(row, place, mass_mg=0, at=at, low_frac=0.75)

    def _held_frac(self, place: Bin, material: str) -> float:
        return self.floor.true_mg(place.bin, material) / to_mg(place.capacity_kg)

    def _trucks(
        self, row: Ingredient, place: Bin, *, mass_mg: int, at: dt.datetime, low_frac: float
    ) -> None:
        held_mg = self.floor.true_mg(place.bin, row.ingredient)
        if held_mg - mass_mg > low_frac * to_mg(place.capacity_kg):
            return
        room_mg = round(FULL_FRAC * to_mg(place.capacity_kg)) - held_mg
        usual_mg = to_mg(TRUCK_KG * self.floor.dice.gauss(1.0, 0.015))
        trucks = max(1, room_mg // usual_mg)
        for _ in range(trucks):
            load_mg = min(room_mg, to_mg(TRUCK_KG * self.floor.dice.gauss(1.0, 0.015)))
            came_at = self._arrivals.before(at - MINUTE, place, load_mg)
            self.load(row, place, mass_mg=load_mg, at=came_at)
            room_mg -= load_mg

    def _sacks(self, row: Ingredient, place: Bin, *, mass_mg: int, at: dt.datetime) -> None:
        held_mg = self.floor.true_mg(place.bin, row.ingredient)
        drug_frac = DRUG_FRAC if row.ingredient_class == "drug" else 1.0
        if held_mg > drug_frac * (mass_mg + to_mg(SPARE_SACKS_KG)):
            return
        load_kg = DRUG_BAG_KG if row.ingredient_class == "drug" else PALLET_KG
        if row.ingredient in self.leave_kg:
            needed_kg = self.still_needed_kg.get(row.ingredient, 0.0)
            short_kg = self.leave_kg[row.ingredient] + needed_kg - held_mg / MG_KG
            sacks = max(0, round(short_kg / DRUG_BAG_KG))
            load_kg = min(load_kg, sacks * DRUG_BAG_KG)
        if load_kg:
            load_mg = to_mg(load_kg)
            came_at = self._arrivals.before(at - MINUTE, place, load_mg)
            self.load(row, place, mass_mg=load_mg, at=came_at)

    def load(
        self,
        row: Ingredient,
        place: Bin,
        *,
        mass_mg: int,
        at: dt.datetime,
        mistake: Mistake | None = None,
    ) -> None:
        """A load weighed in; a mistaken one moves nothing but the books."""
        self._loads += 1
        bulk = place.kind != "floor"
        division_mg = TRUCK_DIVISION_MG if bulk else SACK_DIVISION_MG
        booked_mg = max(1, mass_mg // division_mg) * division_mg
        day = at.astimezone(self.floor.mill.settings.zone)
        lot = f"L-{day:%m%d}-{row.ingredient}-{self._loads}"
        firm = self._firm(row) if mistake else self._seller(row)
        movement = self._weighed(row, place, lot, firm=firm, booked_mg=booked_mg)
        true_mg = round(booked_mg * self.floor.dice.gauss(1.0, 0.0006 if bulk else 0.0002))
        carrier = self._carrier()
        ticket = f"T{20_000 + self._loads}"
        if mistake is None:
            self.floor.sacks.setdefault((place.bin, row.ingredient), []).append((lot, true_mg))
            self._made_up(row, place, lot=lot, true_mg=true_mg, at=at)
            self._at_gate(
                row, place, lot, ticket=ticket, firm=firm, carrier=carrier, net_mg=booked_mg, at=at
            )
        self.floor.note(
            "receiving.load_accepted/1",
            at=at,
            by=self.floor.who("receiver", at),
            content={
                "lot": lot,
                "firm": firm,
                "ingredient": row.ingredient,
                "into": place.bin,
                "ticket": ticket,
                "carrier": carrier,
                "note": "",
            },
            moved=(Moved(movement=movement, true_mg=0 if mistake else true_mg),),
            lots=(Lot(lot=lot, kind=LotKind.LOAD, material=row.ingredient),),
            mistake=mistake,
        )

    def _weighed(
        self, row: Ingredient, place: Bin, lot: str, *, firm: str, booked_mg: int
    ) -> Movement:
        """The load as the truck scale or the floor scale has it."""
        bulk = place.kind != "floor"
        division_mg = TRUCK_DIVISION_MG if bulk else SACK_DIVISION_MG
        return Movement(
            from_place=f"supplier/{firm}",
            to_place=place.bin,
            mass_mg=booked_mg,
            material=row.ingredient,
            how=How.WEIGHED,
            instrument="truck scale" if bulk else "floor scale",
            seen=self.floor.reading(booked_mg, division_mg=division_mg),
            mass_sd_mg=division_mg // 2,
            lot=lot,
        )

    def _carrier(self) -> str:
        """Any haulier."""
        carriers = [item.firm for item in self.floor.mill.firms if item.role == "carrier"]
        return self.floor.dice.choice(carriers) if carriers else ""

    def _at_gate(
        self,
        row: Ingredient,
        place: Bin,
        lot: str,
        *,
        ticket: str,
        firm: str,
        carrier: str,
        net_mg: int,
        at: dt.datetime,
    ) -> None:
        """What the gate writes down of the load."""
        self._gate.came(
            Came(
                row=row,
                place=place,
                lot=lot,
                ticket=ticket,
                firm=firm,
                carrier=carrier,
                net_mg=net_mg,
                at=at.replace(microsecond=0),
                analysis=self.floor.makeup.lots[lot],
            )
        )

    def _made_up(
        self, row: Ingredient, place: Bin, *, lot: str, true_mg: int, at: dt.datetime
    ) -> None:
        """The lot gets its own analysis, and the laboratory a sample of it."""
        there_mg = self.floor.true_mg(place.bin, row.ingredient)
        analysis = self.floor.makeup.loaded(
            lot, row.ingredient, place=place.bin, there_mg=there_mg, mass_mg=true_mg
        )
        if place.kind != "floor":
            self.laboratory.load(lot, row.ingredient, analysis, at=at)

    def _firm(self, row: Ingredient) -> str:
        """Who sells an ingredient: whoever sold what lay there at first, else any supplier."""
        firms = [item.firm for item in self.floor.mill.firms if item.role == "supplier"]
        return self.sellers.get(row.ingredient) or (firms[0] if firms else "unnamed")

    def _seller(self, row: Ingredient) -> str:
        """Who sells this load: of grain every third comes from another who sells grain too."""
        usual = self._firm(row)
        count = self._of[row.ingredient] = self._of.get(row.ingredient, 0) + 1
        grains = {one.ingredient for one in self.floor.mill.ingredients
                  if one.ingredient_class == "grain"}  # fmt: skip
        others = sorted({firm for code, firm in self.sellers.items() if code in grains} - {usual})
        if row.ingredient in grains and others and count % EVERY_OTHER == 0:
            return others[0]
        return usual

    def _grind(
        self,
        row: Ingredient,
        place: Bin,
        *,
        mass_mg: int,
        at: dt.datetime,
        low_frac: float = LOW_FRAC,
    ) -> None:
        """Grind a short job when a ground bin is getting low."""
        capacity_mg = to_mg(place.capacity_kg)
        held_mg = self.floor.true_mg(place.bin, row.ingredient)
        if held_mg - mass_mg >= low_frac * capacity_mg:
            return
        room_mg = round(FULL_FRAC * capacity_mg) - held_mg
        in_mg = min(to_mg(GRIND_KG), room_mg)
        if in_mg > to_mg(GRIND_KG / 10):
            self._grind_once(row, place, in_mg=in_mg, at=at)

    def _grind_once(self, row: Ingredient, place: Bin, *, in_mg: int, at: dt.datetime) -> None:
        whole = self.floor.mill.ingredient_by_code[row.ground_from]
        source = self.ensure(whole.ingredient, mass_mg=in_mg, at=at)
        machine = self._grinder(source, place)
        begins = max(at, self._free_at.get(machine.machine, at))
        ends = begins + dt.timedelta(seconds=in_mg / MG_KG / (machine.rate_kg_s or 1.0))
        self._free_at[machine.machine] = ends
        dust_mg = round(in_mg * machine.loss_frac)
        self.floor.makeup.put(
            place.bin,
            row.ingredient,
            self.floor.makeup.of(source.bin, whole.ingredient),
            there_mg=self.floor.true_mg(place.bin, row.ingredient),
            mass_mg=in_mg,
        )
        ways = (
            (source.bin, machine.machine, in_mg, whole.ingredient),
            (machine.machine, place.bin, in_mg - dust_mg, row.ingredient),
            (machine.machine, "air", dust_mg, row.ingredient),
        )
        self.floor.note(
            "grinding.ground/1",
            at=ends,
            by=self.floor.who("batch operator", ends),
            content={
                "machine": machine.machine,
                "ingredient": whole.ingredient,
                "makes": row.ingredient,
                "from": source.bin,
                "to": place.bin,
                "job": f"G-{row.ingredient}-{at:%m%d%H%M}",
            },
            moved=_reckoned(ways),
        )

    def _grinder(self, source: Bin, place: Bin) -> Machine:
        ways = self.floor.mill.route_by_ends
        for machine in self.floor.mill.machines:
            into, out = (source.bin, machine.machine), (machine.machine, place.bin)
            if machine.kind == "grinder" and into in ways and out in ways:
                return machine
        msg = f"no grinder leads from {source.bin} to {place.bin}"
        raise ValueError(msg)


def _reckoned(ways: tuple[tuple[str, str, int, str], ...]) -> tuple[Moved, ...]:
    """Movements that nobody weighs, true as they are reckoned."""
    return tuple(
        Moved(
            movement=Movement(
                from_place=start,
                to_place=end,
                mass_mg=mass,
                material=material,
                how=How.RECKONED,
                mass_sd_mg=mass // 100,
            ),
            true_mg=mass,
        )
        for start, end, mass, material in ways
    )
