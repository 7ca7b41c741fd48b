"""How the simulated mill watches itself: levels, proofs, tests of mixers, power that fails."""

import datetime as dt
import math
from collections.abc import Iterable
from dataclasses import dataclass, field

from bedstone.demo.past.floor import MG_KG, Floor, Stock, to_mg
from bedstone.demo.past.level_reading import LevelReading
from bedstone.demo.past.notebook import Notebook
from bedstone.ledger.model import FlowPattern, Json
from bedstone.mill.model import Bin, Machine, Meter, Mill, Scale
from bedstone.storage.levels import shape_of
from bedstone.storage.shape import Top

__all__ = ["PowerCut", "Watch"]

MINUTE = dt.timedelta(minutes=1)
GAUGE_SD_FRAC = 0.004
TAPE_SD_M = 0.06
TAPE_STEP_M = 0.02
TAPED_STEPS = 24
CATCHES, CATCH_KG = 3, 20.0
CATCH_SD_FRAC = 0.0015
ADJUST_FRAC = 0.005
TRACER_COUNT = 100.0
MIXER_CV = 0.035
SERIES_PARTS, SERIES_EVERY = (0.25, 0.5, 0.75, 1.0), 20 * MINUTE
UNMIXED_CV, MIXES_IN_PARTS, SALT_PCT, SALT_SD_FRAC = 0.8, 0.15, 0.5, 0.02
"""Spread when mixing begins, and the part of the dry time in which it falls to 1/e."""
SAMPLES = 10
TANK_C = {"MOLASSES": 41.0}


@dataclass(frozen=True, slots=True)
class Taping:
    """What a tape in a bin would show at each mass, by the bin's own shape in the tables."""

    depth_m: tuple[float, ...]
    mass_kg: tuple[float, ...]  # falling

    @classmethod
    def of(cls, mill: Mill, held: Bin) -> "Taping":
        """Masses at steps of depth, under a heap, or over a crater where a core draws."""
        row = next(row for row in mill.bin_shapes if row.bin == held.bin)
        shape = shape_of(row)
        top: Top = "crater" if held.flow == FlowPattern.FUNNEL.value else "heap"
        density = mill.ingredient_by_code[held.holds].density_kg_m3
        depths = tuple(shape.height_m * step / TAPED_STEPS for step in range(TAPED_STEPS + 1))
        return cls(
            depths,
            tuple(
                density * shape.volume_m3(depth, top=top, repose_deg=row.repose_deg)
                for depth in depths
            ),
        )

    def shown_m(self, mass_kg: float) -> float:
        """Depth at which so much lies in it, straight between steps; the rim if it is too much."""
        for n in range(1, len(self.depth_m)):
            above, below = self.mass_kg[n - 1], self.mass_kg[n]
            if mass_kg >= below:
                part = 0.0 if above <= below else min(1.0, (above - mass_kg) / (above - below))
                return self.depth_m[n - 1] + part * (self.depth_m[n] - self.depth_m[n - 1])
        return self.depth_m[-1]


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerCut:
    """Power that failed, and the meters that somebody thought of proving afterwards."""

    from_at: dt.datetime
    to_at: dt.datetime
    proved: tuple[str, ...]
    note: str


@dataclass
class Watch:
    """Acts of watching, each with the error of its instrument."""

    floor: Floor
    notebook: Notebook
    _shown: dict[str, float] = field(default_factory=dict)
    _tapings: dict[str, Taping] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Take dice of its own."""
        self._dice = self.floor.dice_for("watch")

    def read_gauges(self, at: dt.datetime) -> None:
        """The gauge of each tank, and its temperature."""
        for number, held in enumerate(self._bins("tank")):
            when = at + number * MINUTE
            error = self._dice.gauss(0, GAUGE_SD_FRAC)
            self.floor.note_reading(when, self._gauge(held, error=error, at=when))
            warm_c = self._dice.gauss(TANK_C.get(held.holds, 24.0), 0.8)
            self.notebook.write(held.bin, "tank temperature", round(warm_c, 1), at=when)

    def _gauge(self, held: Bin, *, error: float, at: dt.datetime) -> LevelReading:
        def shown(stock: Stock) -> float:
            part = stock.get((held.bin, held.holds), 0) / to_mg(held.capacity_kg) + error
            value = round(min(1.0, max(0.0, part)), 3)
            stuck = self.floor.truth.faults.stuck_since(held.bin, at)
            if stuck is not None:
                return self._shown.setdefault(held.bin, value)
            self._shown[held.bin] = value
            return value

        return LevelReading(
            floor=self.floor,
            held=held,
            at=at,
            method="gauge",
            unit="frac",
            sd=GAUGE_SD_FRAC,
            shown=shown,
        )

    def tape(self, at: dt.datetime) -> None:
        """Every bin of dry ingredients, with a tape from the top."""
        for number, held in enumerate((*self._bins("ingredient"), *self._bins("ground"))):
            when = at + 3 * number * MINUTE
            error = self._dice.gauss(0, TAPE_SD_M)
            self.floor.note_reading(when, self._taped(held, error=error, at=when))

    def _taped(self, held: Bin, *, error: float, at: dt.datetime) -> LevelReading:
        taping = self._tapings.get(held.bin)
        if taping is None:
            taping = self._tapings[held.bin] = Taping.of(self.floor.mill, held)

        def shown(stock: Stock) -> float:
            there_kg = stock.get((held.bin, held.holds), 0) / MG_KG
            down_m = min(taping.depth_m[-1], max(0.0, taping.shown_m(there_kg) + error))
            return round(round(down_m / TAPE_STEP_M) * TAPE_STEP_M, 2)

        return LevelReading(
            floor=self.floor, held=held, at=at, method="tape", unit="m", sd=TAPE_SD_M, shown=shown
        )

    def _bins(self, kind: str) -> tuple[Bin, ...]:
        return tuple(row for row in self.floor.mill.bins if row.kind == kind and row.holds)

    def prove_meters(self, at: dt.datetime, only: Iterable[str] | None = None) -> None:
        """Catch what each meter lets through and weigh it."""
        wanted = None if only is None else set(only)
        meters = [row for row in self.floor.mill.meters if wanted is None or row.meter in wanted]
        for number, tool in enumerate(meters):
            self._catch(tool, at=at + 12 * number * MINUTE)

    def _catch(self, tool: Meter, *, at: dt.datetime) -> None:
        gain = self.floor.truth.faults.gain(tool.meter, at)
        division_mg = to_mg(tool.division_kg)
        points = []
        for _ in range(CATCHES):
            seen_mg = to_mg(round(CATCH_KG / tool.division_kg) * tool.division_kg)
            caught = seen_mg * gain * self._dice.gauss(1, CATCH_SD_FRAC)
            points.append((round(caught / MG_KG, 2), seen_mg))
        factor = sum(kg * MG_KG for kg, _ in points) / sum(seen for _, seen in points)
        adjusted = abs(factor - 1) > ADJUST_FRAC
        if adjusted:
            self.floor.truth.faults = self.floor.truth.faults.mended(tool.meter, at)
        rows: list[Json] = [
            {"reference_mg": to_mg(caught_kg), "seen_mg": seen_mg} for caught_kg, seen_mg in points
        ]
        after = round(factor, 4) if adjusted else 1.0
        self._proved(tool.meter, "catch test", rows, division_mg=division_mg, after=after, at=at)

    def prove_scale(self, tool: Scale, at: dt.datetime) -> None:
        """Test weights on a scale, at a tenth, a half and nearly all of its capacity."""
        faults, division_mg = self.floor.truth.faults, to_mg(tool.division_kg)
        rows: list[Json] = []
        for part in (0.1, 0.5, 0.9):
            weight_mg = to_mg(round(part * tool.capacity_kg, 1))
            seen = (weight_mg - to_mg(faults.zero_kg(tool.scale, at))) / faults.gain(tool.scale, at)
            steps = round(seen / division_mg + self._dice.gauss(0, 0.2))
            seen_mg = to_mg(steps * tool.division_kg)
            rows.append({"reference_mg": weight_mg, "seen_mg": seen_mg})
        self._proved(tool.scale, "test weights", rows, division_mg=division_mg, after=1.0, at=at)

    def _proved(
        self,
        instrument: str,
        kind: str,
        points: list[Json],
        *,
        division_mg: int,
        after: float,
        at: dt.datetime,
    ) -> None:
        self.floor.note(
            "quality.instrument_proved/1",
            at=at,
            by=self.floor.who("batch operator", at),
            content={
                "instrument": instrument,
                "kind": kind,
                "points": points,
                "division_mg": division_mg,
                "adjusted": after != 1.0,
                "factor_before": 1.0,
                "factor_after": after,
                "note": "",
            },
        )

    def power_cut(self, cut: PowerCut) -> None:
        """The power fails and comes back; some meters are proved, others are forgotten."""
        self.floor.note(
            "quality.power_event/1",
            at=cut.to_at,
            by=self.floor.who("batch operator", cut.to_at),
            content={
                "from_at": _text(cut.from_at),
                "to_at": _text(cut.to_at),
                "how": "typed",
                "note": cut.note,
            },
        )
        self.prove_meters(cut.to_at + 25 * MINUTE, cut.proved)

    def test_mixer(self, mixer: str, product: str, *, mixing_s: float, at: dt.datetime) -> None:
        """Samples of a batch with counted tracer particles."""
        uneven = MIXER_CV * self.floor.truth.faults.unevenness(mixer, at)
        counts: list[Json] = []
        for _ in range(SAMPLES):
            mean = max(0.0, TRACER_COUNT * self._dice.gauss(1, uneven))
            counts.append(float(max(0, round(self._dice.gauss(mean, math.sqrt(mean))))))
        self.floor.note(
            "quality.mixer_tested/1",
            at=at,
            by=self.floor.who("laboratory", at),
            content={
                "mixer": mixer,
                "product": product,
                "batch": "",
                "tracer": "coated iron",
                "method": "particles counted in ten samples at the discharge",
                "values": counts,
                "unit": "count",
                "mixing_s": mixing_s,
            },
        )

    def test_mixing_times(self, mixer: Machine, product: str, *, at: dt.datetime) -> None:
        """Tests by salt after a quarter, half, three quarters and all of the dry mixing time."""
        dice = self.floor.dice_for(f"mixing times of {mixer.machine}")
        for number, part in enumerate(SERIES_PARTS):
            cv = math.hypot(MIXER_CV, UNMIXED_CV * math.exp(-part / MIXES_IN_PARTS), SALT_SD_FRAC)
            found: list[Json] = [
                round(max(0.0, SALT_PCT * dice.gauss(1, cv)), 3) for _ in range(SAMPLES)
            ]
            when = at + number * SERIES_EVERY
            self.floor.note(
                "quality.mixer_tested/1",
                at=when,
                by=self.floor.who("laboratory", when),
                content={
                    "mixer": mixer.machine,
                    "product": product,
                    "batch": "",
                    "tracer": "salt",
                    "method": "chloride strips, ten samples at the discharge",
                    "values": found,
                    "unit": "% salt",
                    "mixing_s": round(part * mixer.dry_mix_s),
                },
            )


def _text(at: dt.datetime) -> str:
    return at.astimezone(dt.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
