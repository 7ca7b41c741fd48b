"""A simulated pellet line: heat, steam, water lost in the cooler, and what its dials show.

Crude on purpose and apart from the rooms that reckon. Coefficients are invented for the demo but
for the steam that a degree takes (see ``STEAM_FRAC_DK``).
"""

import datetime as dt
from dataclasses import dataclass, field

from bedstone.demo.past.floor import Floor
from bedstone.demo.past.makeup import MOISTURE
from bedstone.demo.past.notebook import Notebook
from bedstone.demo.past.ways import rate_kg_s
from bedstone.demo.weather import OutsideAir
from bedstone.mill.model import Machine, Product

__all__ = ["PelletLine", "Pelleted"]

STEAM_FRAC_DK = 0.0008  # 97.2 F to 190 F raised moisture by 4.2 points (kg steam per kg and K)
TARGET_C = {"swine": 80.0, "broiler": 84.0, "layer": 81.0, "horse": 75.0, "rabbit": 76.0}
USUAL_TARGET_C = 78.0
FULL_A = {"PL1": 115.0, "PL2": 52.0}  # near 10 kWh a tonne, as published mills took
USUAL_FULL_A = 80.0
DIE_DK = 6.0
COOLING_FRAC_DK = 0.00062
EVERY = dt.timedelta(minutes=12)
USUAL_FAT_PCT = 3.0
WARM_DK, DAMP_WB = 12.0, 0.122


@dataclass(frozen=True, slots=True, kw_only=True)
class Pelleted:
    """What truly happened to a batch on the line."""

    steam_frac: float  # of the mash
    water_frac: float  # lost to air, of the mash
    outlet_c: float
    moisture_wb: float
    air_c: float
    conditioner_c: float

    @property
    def is_warm_and_damp(self) -> bool:
        """True when the pellets will sweat and mould in the bag (a crude rule of its own)."""
        return self.outlet_c - self.air_c > WARM_DK and self.moisture_wb > DAMP_WB


@dataclass
class PelletLine:
    """All pellet lines of the mill, with their readings."""

    floor: Floor
    notebook: Notebook
    _off_c: dict[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Take dice of its own, and errors of each thermometer that stay."""
        self._dice = self.floor.dice_for("pellet line")
        self.air = OutsideAir(self.floor.mill.settings.zone, self.floor.seed)

    def batch(
        self,
        run: str,
        batch: str,
        *,
        product: Product,
        machine: Machine,
        begins: dt.datetime,
        ends: dt.datetime,
    ) -> Pelleted:
        """One batch through the line, with its readings."""
        dice, line = self._dice, machine.machine
        analysis = self.floor.makeup.of_batches([batch])
        middle = begins + (ends - begins) / 2
        air_c = self.air.at(middle).temperature_c
        cond_c = TARGET_C.get(product.species, USUAL_TARGET_C) + dice.gauss(0, 1.2)
        mash_c = 9.0 + 0.55 * air_c + dice.gauss(0, 0.8)
        part = rate_kg_s(self.floor.mill, product.product, machine) / (machine.rate_kg_s or 1.0)
        fan = self.floor.truth.faults.air_frac(line, middle)
        outlet_c = air_c + (2.5 + 4.0 * part + dice.gauss(0, 0.6)) / fan**1.5
        steam = STEAM_FRAC_DK * (cond_c - mash_c) * dice.gauss(1, 0.01)
        damp = 1.1 - 0.2 * self.air.at(middle).humidity_frac
        water = COOLING_FRAC_DK * (cond_c + DIE_DK - outlet_c) * damp * (0.6 + 0.4 * fan)
        water *= dice.gauss(1, 0.02)
        moisture = (analysis.get(MOISTURE, 11.0) / 100 + steam - water) / (1 + steam - water)
        made = Pelleted(
            steam_frac=steam,
            water_frac=water,
            outlet_c=outlet_c,
            moisture_wb=moisture,
            air_c=air_c,
            conditioner_c=cond_c,
        )
        amps = FULL_A.get(line, USUAL_FULL_A) * (0.5 + 0.32 * part) * (1 - 0.006 * (cond_c - 79))
        amps *= 1 - 0.02 * (analysis.get("crude fat", USUAL_FAT_PCT) - USUAL_FAT_PCT)
        self._readings(run, line, made, cond_c=cond_c, amps=amps, begins=begins, ends=ends)
        return made

    def _readings(
        self,
        run: str,
        line: str,
        made: Pelleted,
        *,
        cond_c: float,
        amps: float,
        begins: dt.datetime,
        ends: dt.datetime,
    ) -> None:
        """The dials every some minutes; outlet and moisture by hand once a batch."""
        at = begins + EVERY / 3
        while at < ends:
            self._show(run, line, "conditioner temperature", cond_c, sd=0.7, at=at)
            self._show(run, line, "motor current", amps, sd=0.03 * amps, at=at)
            warm_c = made.air_c + 0.42 * (cond_c - made.air_c)
            self._show(run, line, "exhaust air temperature", warm_c, sd=0.8, at=at)
            at += EVERY
        at = begins + (ends - begins) / 2
        self._show(run, line, "cooler outlet temperature", made.outlet_c, sd=0.5, at=at)
        damp = self._dice.gauss(made.moisture_wb, 0.0015)
        self.notebook.write(line, "cooler outlet moisture", round(damp, 3), at=at, run=run)

    def _show(
        self, run: str, line: str, quantity: str, true: float, *, sd: float, at: dt.datetime
    ) -> None:
        stuck = self.floor.truth.faults.stuck_since(f"{line} {quantity}", at)
        shown = round(self._dice.gauss(true, sd), 1)
        if stuck is not None:
            shown = self._off_c.setdefault(f"{line} {quantity}", shown)
        self.notebook.write(line, quantity, shown, at=at, run=run)
