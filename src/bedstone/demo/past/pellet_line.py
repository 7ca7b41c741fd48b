"""A simulated pellet line: what truly goes over it, and what its dials show.

The physics is :mod:`bedstone.demo.past.line_physics`; errors of dials are invented for the demo.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field

from bedstone.demo.past.floor import Floor
from bedstone.demo.past.line_physics import TRUE_FACTORS, LinePhysics, Went
from bedstone.demo.past.makeup import MOISTURE
from bedstone.demo.past.notebook import Notebook
from bedstone.demo.past.truth import Sent
from bedstone.demo.weather import OutsideAir
from bedstone.mill.model import Machine, Product

__all__ = ["PelletLine", "Pelleted"]

FULL_A = {"PL1": 115.0, "PL2": 52.0}  # near 10 kWh a tonne, as published mills took
USUAL_FULL_A = 80.0
AMPS_C = 72.0
EVERY = dt.timedelta(minutes=12)
USUAL_FAT_PCT = 3.0
DAMP_WB, CLEARLY_DK = 0.135, 0.5
"""A run sent damper, or so much warmer than its table wants, is named in the truth."""
MOULD_DK, MOULD_WB = 9.0, 0.121
FLOW_SD_FRAC, STEAM_SD_FRAC, METER_SD_WB = 0.006, 0.015, 0.0015


@dataclass(frozen=True, slots=True, kw_only=True)
class Pelleted:
    """What truly happened to a batch on the line."""

    steam_frac: float  # of the mash
    water_frac: float  # lost to air, of the mash
    outlet_c: float
    moisture_wb: float
    air_c: float
    conditioner_c: float
    mash_read_wb: float  # moistures as the meter showed them
    outlet_read_wb: float

    @property
    def is_warm_and_damp(self) -> bool:
        """True when the pellets will sweat and mould in the bag (a crude rule of its own)."""
        return self.outlet_c - self.air_c > MOULD_DK and self.moisture_wb > MOULD_WB


@dataclass
class PelletLine:
    """All pellet lines of the mill, with their readings."""

    floor: Floor
    notebook: Notebook
    _off_c: dict[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Take dice of its own, and lay out the lines by the mill's tables."""
        self._dice = self.floor.dice_for("pellet line")
        self.air = OutsideAir(self.floor.mill.settings.zone, self.floor.seed)
        self._physics = LinePhysics(self.floor.mill, self.floor.dice_for("runs of the lines"))
        self.floor.truth.coolers = {
            row.line: {"heat": true.heat, "moisture": true.moisture}
            for row in self.floor.mill.coolers
            if (true := TRUE_FACTORS.get(row.line)) is not None
        }

    def batch(
        self,
        run: str,
        batch: str,
        *,
        product: Product,
        machine: Machine,
        rate_kg_s: float,
        begins: dt.datetime,
        ends: dt.datetime,
    ) -> Pelleted:
        """One batch through the line, with its readings."""
        line = machine.machine
        analysis = self.floor.makeup.of_batches([batch])
        middle = begins + (ends - begins) / 2
        outside, faults = self.air.at(middle), self.floor.truth.faults
        mash_wb = analysis.get(MOISTURE, 11.0) / 100
        went = self._physics.through(
            run,
            product=product.product,
            line=line,
            rate_kg_s=rate_kg_s,
            moisture_wb=mash_wb,
            outside=outside,
            air_frac=faults.air_frac(line, middle),
            dry_frac=faults.dry_frac(line, middle),
        )
        load = 0.5 + 0.32 * rate_kg_s / (machine.rate_kg_s or 1.0)
        amps = (
            FULL_A.get(line, USUAL_FULL_A)
            * load
            * (1 - 0.006 * (went.conditioned.temperature_c - AMPS_C))
        )
        amps *= 1 - 0.02 * (analysis.get("crude fat", USUAL_FAT_PCT) - USUAL_FAT_PCT)
        self._dials(run, line, went, rate_kg_s=rate_kg_s, amps=amps, times=(begins, ends))
        mash_read_wb, outlet_read_wb = self._by_hand(run, line, went, mash_wb=mash_wb, at=middle)
        return Pelleted(
            steam_frac=went.conditioned.steam_share,
            water_frac=went.leaving.lost_frac * went.conditioned.rate_kg_s / rate_kg_s,
            outlet_c=went.leaving.pellet_c,
            moisture_wb=went.leaving.moisture_wb,
            air_c=outside.temperature_c,
            conditioner_c=went.conditioned.temperature_c,
            mash_read_wb=mash_read_wb,
            outlet_read_wb=outlet_read_wb,
        )

    def _dials(
        self,
        run: str,
        line: str,
        went: Went,
        *,
        rate_kg_s: float,
        amps: float,
        times: tuple[dt.datetime, dt.datetime],
    ) -> None:
        """What the line shows by itself, every some minutes."""
        steam = went.conditioned.steam_kg_s
        shown = (
            ("mash temperature", went.mash_c, 0.5, 1),
            ("mash flow", rate_kg_s, FLOW_SD_FRAC * rate_kg_s, 3),
            ("conditioner temperature", went.conditioned.temperature_c, 0.5, 1),
            ("steam flow", steam, STEAM_SD_FRAC * steam, 4),
            ("motor current", amps, 0.03 * amps, 1),
            ("die temperature", went.die_c, 0.5, 1),
            ("exhaust air temperature", went.leaving.air_c, 0.8, 1),
        )
        at = times[0] + EVERY / 3
        while at < times[1]:
            for quantity, true, sd, places in shown:
                self._show(run, line, quantity, true, sd=sd, places=places, at=at)
            at += EVERY

    def _by_hand(
        self, run: str, line: str, went: Went, *, mash_wb: float, at: dt.datetime
    ) -> tuple[float, float]:
        """A jug of pellets at the cooler's outlet, and a moisture meter, once a batch.

        Returns the moistures of mash and pellets as they were read.
        """
        left = went.leaving
        mash = self._show(run, line, "mash moisture", mash_wb, sd=METER_SD_WB, places=3, at=at)
        self._show(run, line, "cooler outlet temperature", left.pellet_c, sd=0.5, places=1, at=at)
        pellets = self._show(
            run, line, "cooler outlet moisture", left.moisture_wb, sd=METER_SD_WB, places=3, at=at
        )
        return mash, pellets

    def _show(
        self,
        run: str,
        line: str,
        quantity: str,
        true: float,
        *,
        sd: float,
        places: int,
        at: dt.datetime,
    ) -> float:
        """What a dial shows of the truth, written down."""
        stuck = self.floor.truth.faults.stuck_since(f"{line} {quantity}", at)
        shown = round(self._dice.gauss(true, sd), places)
        if stuck is not None:
            shown = self._off_c.setdefault(f"{line} {quantity}", shown)
        self.notebook.write(line, quantity, shown, at=at, run=run)
        return shown

    def sent(
        self, run: str, product: str, line: str, made: Sequence[Pelleted], *, at: dt.datetime
    ) -> None:
        """Note in the truth, of a run that is done, whether it went too warm or too damp."""
        most_dk = next(
            row.above_ambient_dk for row in self.floor.mill.pellets if row.product == product
        )
        above_dk = sum(row.outlet_c - row.air_c for row in made) / len(made)
        moisture_wb = sum(row.moisture_wb for row in made) / len(made)
        for what, is_so in (
            ("warm", above_dk > most_dk + CLEARLY_DK),
            ("damp", moisture_wb > DAMP_WB),
        ):
            if is_so:
                self.floor.truth.sent.append(
                    Sent(
                        run=run,
                        line=line,
                        what=what,
                        above_air_dk=above_dk,
                        moisture_wb=moisture_wb,
                        done_at=at,
                    )
                )
