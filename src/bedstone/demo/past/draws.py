"""Draws of a simulated batch: which instrument, what was aimed at, what it showed, what truly went."""

import datetime as dt
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from bedstone.demo.past.floor import MG_KG, Floor, Moved, to_mg
from bedstone.demo.past.supply import Supply
from bedstone.ledger.model import How, Json, Movement
from bedstone.mill.model import Bin, Meter, Mill, Scale

__all__ = ["Drawn", "Weighing", "instrument_for"]

SHAKE_DIVISIONS = 0.45
SLIP_CHANCE = 0.004
SLIP_DIVISIONS = 9
METER_SHAKE_FRAC = 0.3
METER_TOLERANCE_SD = 2
# Class III maintenance tolerance by number of divisions, NIST Handbook 44, 2.20, Table 6.
TOLERANCE_STEPS = ((500, 1), (2_000, 2), (4_000, 3))
TOLERANCE_MORE = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """One draw: what the books say of it, and what truly went."""

    ingredient: str
    from_place: str
    instrument: str
    target_mg: int
    actual_mg: int
    tolerance_mg: int
    division_mg: int
    lot: str | None
    moved: Moved
    analysis: Mapping[str, float]  # the truth

    def content(self, sequence: int) -> dict[str, Json]:
        """The draw as it stands in the fact."""
        return {
            "sequence": sequence,
            "ingredient": self.ingredient,
            "from_place": self.from_place,
            "instrument": self.instrument,
            "target_mg": self.target_mg,
            "actual_mg": self.actual_mg,
            "tolerance_mg": self.tolerance_mg,
            "lot": self.lot,
        }

    def finding(self, batch: str, sequence: int, *, name: str) -> dict[str, Json] | None:
        """What is to be said of a draw out of tolerance."""
        off_mg = self.actual_mg - self.target_mg
        if abs(off_mg) <= self.tolerance_mg:
            return None
        word = "over" if off_mg > 0 else "under"
        return {
            "code": f"batching.draw_{word}",
            "verdict": "act",
            "about": f"{batch}/{sequence}",
            "text": f"{name} in {batch} is {abs(off_mg) / MG_KG:.2f} kg {word} its target of "
            f"{self.target_mg / MG_KG:.2f} kg; {self.tolerance_mg / MG_KG:.2f} kg is allowed.",
            "value": off_mg / MG_KG,
            "limit": self.tolerance_mg / MG_KG,
            "unit": "kg",
            "source": "NIST Handbook 44, 2.20, Table 6, class III, maintenance",
            "do": "tell the nutritionist; check the bin's gate and the controls' cut-off",
        }


def instrument_for(mill: Mill, mixer: str, place: Bin, *, mass_mg: int) -> Scale | Meter:
    """The smallest scale that can take a draw from a bin, or the meter of a liquid."""
    stations = {row.start for row in mill.routes if row.end == mixer}
    feeds = place.feeds.split()
    meters = [row for row in mill.meters if row.meter in feeds and row.machine == mixer]
    if meters:
        return meters[0]
    scales = [
        row for row in mill.scales if row.scale in feeds and row.machine in {mixer, *stations}
    ]
    scales.sort(key=lambda row: row.capacity_kg)
    fits = [row for row in scales if to_mg(row.capacity_kg) >= mass_mg]
    if not scales:
        msg = f"what lies in {place.bin} cannot be drawn into {mixer}"
        raise ValueError(msg)
    return (fits or scales[-1:])[0]


@dataclass
class Weighing:
    """Weighs up batches on one mill's instruments."""

    floor: Floor
    supply: Supply
    _doubled: dict[str, int] = field(default_factory=dict)

    def draw(self, mixer: str, material: str, *, mass_mg: int, at: dt.datetime) -> Iterator[Drawn]:
        """Draw a material into a mixer, in as many weighings as sacks and instruments need."""
        place = self.supply.ensure(material, mass_mg=mass_mg, at=at)
        self.supply.used(material, mass_mg=mass_mg)
        tool = instrument_for(self.floor.mill, mixer, place, mass_mg=mass_mg)
        division_mg = to_mg(tool.division_kg)
        for lot, share_mg in self._lots(place, material, mass_mg=mass_mg):
            target_mg = max(1, round(share_mg / division_mg)) * division_mg
            yield self._one(tool, mixer, place, material, target_mg=target_mg, lot=lot, at=at)

    def _lots(self, place: Bin, material: str, *, mass_mg: int) -> Iterator[tuple[str | None, int]]:
        """Sacks are scanned, oldest first; what lies in a bin has no lot to scan."""
        if place.kind != "floor":
            yield None, mass_mg
            return
        rows = self.floor.sacks.get((place.bin, material), [])
        left_mg = mass_mg
        while left_mg > 0 and rows:
            lot, held_mg = rows[0]
            share_mg = min(left_mg, held_mg)
            if len(rows) > 1 and held_mg < mass_mg // 20:
                rows.pop(0)
                continue
            yield lot, share_mg
            left_mg -= share_mg
            if share_mg == held_mg:
                rows.pop(0)
            else:
                rows[0] = (lot, held_mg - share_mg)

    def _one(
        self,
        tool: Scale | Meter,
        mixer: str,
        place: Bin,
        material: str,
        *,
        target_mg: int,
        lot: str | None,
        at: dt.datetime,
    ) -> Drawn:
        dice = self.floor.dice
        division_mg = to_mg(tool.division_kg)
        off = dice.gauss(0, SHAKE_DIVISIONS)
        if isinstance(tool, Meter):
            off = dice.gauss(0, METER_SHAKE_FRAC * tool.sd_frac * target_mg / division_mg)
        elif place.kind != "floor" and dice.random() < SLIP_CHANCE:
            off += math.copysign(SLIP_DIVISIONS, off)
        actual_mg = max(division_mg, target_mg + round(off) * division_mg)
        sd_mg = _sd_mg(tool, actual_mg)
        name = tool.meter if isinstance(tool, Meter) else tool.scale
        true_mg = self._truly(name, material, read_mg=actual_mg, sd_mg=sd_mg, at=at)
        source = self._source(place.bin, material, at=at)
        return Drawn(
            ingredient=material,
            from_place=place.bin,
            instrument=name,
            target_mg=target_mg,
            actual_mg=actual_mg,
            tolerance_mg=_tolerance_mg(tool, target_mg),
            division_mg=division_mg,
            lot=lot,
            analysis=self.floor.makeup.of(*(source or (place.bin, material))),
            moved=Moved(
                movement=Movement(
                    from_place=place.bin,
                    to_place=mixer,
                    mass_mg=actual_mg,
                    material=material,
                    how=How.METERED if isinstance(tool, Meter) else How.WEIGHED,
                    instrument=name,
                    seen=self.floor.reading(actual_mg, division_mg=division_mg),
                    target_mg=target_mg,
                    mass_sd_mg=sd_mg,
                    lot=lot,
                ),
                true_mg=true_mg,
                truly_from=source,
            ),
        )

    def _truly(
        self, instrument: str, material: str, *, read_mg: int, sd_mg: int, at: dt.datetime
    ) -> int:
        """What truly goes when an instrument reads so much: its own error, then what is wrong."""
        floor, faults = self.floor, self.floor.truth.faults
        true_mg = read_mg * faults.gain(instrument, at) + floor.dice.gauss(0, sd_mg)
        true_mg += to_mg(faults.zero_kg(instrument, at))
        if faults.doubles(material, at, so_far=self._doubled.get(material, 0)):
            self._doubled[material] = self._doubled.get(material, 0) + 1
            true_mg *= 2
            floor.truth.doubled.append(f"{material} {at.isoformat()}")
        day = at.astimezone(floor.mill.settings.zone).date().isoformat()
        floor.truth.flowed(instrument, day, read_mg=read_mg, true_mg=max(1, round(true_mg)))
        return max(1, round(true_mg))

    def _source(self, place: str, material: str, *, at: dt.datetime) -> tuple[str, str] | None:
        """Place and material that a draw really comes from, if it is not the one that is booked."""
        really = self.floor.truth.faults.really_from(place, at)
        if really == place:
            return None
        self.floor.truth.wrongly_drawn.append(f"{material} {at.isoformat()}")
        return really, self.floor.mill.bin_by_code[really].holds


def _sd_mg(tool: Scale | Meter, mass_mg: int) -> int:
    if isinstance(tool, Meter):
        return round(tool.sd_frac * mass_mg)
    return to_mg(tool.sd_kg) if tool.sd_kg is not None else to_mg(tool.division_kg) // 2


def _tolerance_mg(tool: Scale | Meter, target_mg: int) -> int:
    division_mg = to_mg(tool.division_kg)
    if isinstance(tool, Meter):
        steps = round(METER_TOLERANCE_SD * tool.sd_frac * target_mg / division_mg)
        return max(1, steps) * division_mg
    for most, steps in TOLERANCE_STEPS:
        if target_mg <= most * division_mg:
            return steps * division_mg
    return TOLERANCE_MORE * division_mg
