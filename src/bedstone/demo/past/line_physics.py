"""What conditioner, die and cooler of a simulated pellet line truly do.

The balances are those of the engine rooms, since a made-up formula cannot be calibrated against:
what stays hidden is how this mill's own coolers exchange (``TRUE_FACTORS``), how each run differs
from the last, what is wrong, and what each dial shows beside the truth.
"""

import math
import random
from dataclasses import dataclass, field, replace
from functools import lru_cache
from types import MappingProxyType
from typing import Final

from bedstone.cooling.air_flow import Fan, cooler_at_fan
from bedstone.cooling.cooler import cool
from bedstone.cooling.model import AirIn, Factors, Leaving, PelletKind, PelletsIn
from bedstone.materials.moist_air import pressure_at_altitude_pa
from bedstone.mill.model import Mill, Weather
from bedstone.mill.pellet_tables import fan_points
from bedstone.pelleting.conditioner import Chamber, Conditioned, MashIn, steam_for
from bedstone.pelleting.specific_heat import TYPICAL_FEED
from bedstone.pelleting.steam import Steam, steam_at_gauge

__all__ = ["TRUE_FACTORS", "LinePhysics", "RunLuck", "Went"]

TRUE_FACTORS: Final = MappingProxyType(
    {"PL1": Factors(heat=0.7, moisture=1.6), "PL2": Factors(heat=0.8, moisture=1.25)}
)
"""Hidden: how the coolers exchange against the correlations. Invented for the demo."""
RUN_SD_FRAC, AIR_SD_FRAC, BED_SD_FRAC, LOSS_SD_FRAC = 0.03, 0.015, 0.03, 0.05
CONDITIONER_SD_C, MOST_OFF_DK, MASH_SD_C = 1.0, 1.5, 0.8
INDOORS_C, OUTDOORS_PART = 12.8, 0.35
"""Mash before steam stands indoors: so warm at 0 C outside, and so much of each degree more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RunLuck:
    """How a run differs from the usual one: its people, its fines, the level of its bed."""

    conditioner_dk: float
    mash_dk: float
    heat: float
    moisture: float
    air: float
    depth: float
    loss: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Went:
    """What truly went over the line with a batch."""

    mash_c: float
    conditioned: Conditioned
    die_c: float
    leaving: Leaving


@dataclass
class LinePhysics:
    """The pellet lines of a mill, by its tables."""

    mill: Mill
    dice: random.Random
    _luck: dict[str, RunLuck] = field(default_factory=dict)

    def luck(self, run: str) -> RunLuck:
        """How a run differs, drawn once."""
        if run not in self._luck:
            dice = self.dice
            self._luck[run] = RunLuck(
                conditioner_dk=max(-MOST_OFF_DK, min(dice.gauss(0, CONDITIONER_SD_C), MOST_OFF_DK)),
                mash_dk=dice.gauss(0, MASH_SD_C),
                heat=math.exp(dice.gauss(0, RUN_SD_FRAC)),
                moisture=math.exp(dice.gauss(0, RUN_SD_FRAC)),
                air=dice.gauss(1, AIR_SD_FRAC),
                depth=dice.gauss(1, BED_SD_FRAC),
                loss=dice.gauss(1, LOSS_SD_FRAC),
            )
        return self._luck[run]

    def through(
        self,
        run: str,
        *,
        product: str,
        line: str,
        rate_kg_s: float,
        moisture_wb: float,
        outside: Weather,
        air_frac: float,
        dry_frac: float,
    ) -> Went:
        """Mash of a product through conditioner, die and cooler of a line.

        ``air_frac`` of its air reaches the cooler, ``dry_frac`` of the vapour in its steam is left.
        """
        luck = self.luck(run)
        row = next(one for one in self.mill.pellet_lines if one.line == line)
        pellets = next(one for one in self.mill.pellets if one.product == product)
        mash_c = INDOORS_C + OUTDOORS_PART * outside.temperature_c + luck.mash_dk
        mash = MashIn(
            rate_kg_s=rate_kg_s,
            temperature_c=mash_c,
            made_of=TYPICAL_FEED.with_water(moisture_wb),
        )
        steam = self._steam(row.steam_gauge_pa, row.steam_quality_frac * dry_frac)
        made = steam_for(
            Chamber(mash=mash, steam=steam, loss_frac=row.loss_frac * luck.loss),
            pellets.conditioning_c + luck.conditioner_dk,
        )
        die_c = made.temperature_c + pellets.die_rise_dk
        hot = PelletsIn(rate_kg_s=made.rate_kg_s, temperature_c=die_c, moisture_wb=made.moisture_wb)
        leaving = self._cooled(line, pellet_of(self.mill, product), hot, outside, luck, air_frac)
        return Went(mash_c=mash_c, conditioned=made, die_c=die_c, leaving=leaving)

    def _steam(self, gauge_pa: float, quality_frac: float) -> Steam:
        return _steam(
            gauge_pa, quality_frac, pressure_at_altitude_pa(self.mill.settings.altitude_m)
        )

    def _cooled(  # noqa: PLR0917 - what goes into the cooler
        self,
        line: str,
        pellet: PelletKind,
        hot: PelletsIn,
        outside: Weather,
        luck: RunLuck,
        air_frac: float,
    ) -> Leaving:
        row = next(one for one in self.mill.coolers if one.line == line)
        air = AirIn(
            temperature_c=outside.temperature_c,
            relative_humidity_frac=outside.humidity_frac,
            pressure_pa=outside.pressure_pa,
        )
        true = TRUE_FACTORS.get(line, TRUE_FACTORS["PL1"])
        factors = Factors(heat=true.heat * luck.heat, moisture=true.moisture * luck.moisture)
        cooler = cooler_at_fan(
            Fan(
                volume_m3_s=row.air_m3_s,
                curve=fan_points(row.fan_curve) or (),
                duct_pa=row.duct_pa,
                duct_at_m3_s=row.duct_at_m3_s,
            ),
            area_m2=row.area_m2,
            depth_m=row.depth_m * luck.depth,
            pellet=pellet,
            pellets=hot,
            air=air,
            factors=factors,
        )
        cooler = replace(cooler, air_kg_s=cooler.air_kg_s * luck.air * air_frac)
        return cool(cooler, pellet, hot, air, factors)[0]


def pellet_of(mill: Mill, product: str) -> PelletKind:
    """The pellet of a product, by its table."""
    row = next(one for one in mill.pellets if one.product == product)
    return PelletKind(
        diameter_mm=row.diameter_mm,
        length_mm=row.length_mm,
        bulk_density_kg_m3=row.bulk_density_kg_m3,
    )


@lru_cache(maxsize=64)
def _steam(gauge_pa: float, quality_frac: float, ambient_pa: float) -> Steam:
    return steam_at_gauge(gauge_pa, quality_frac, ambient_pa)
