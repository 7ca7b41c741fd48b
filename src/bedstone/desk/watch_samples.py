"""What the laboratory and the yield of runs know of scales and meters: results less the books."""

import datetime as dt
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from bedstone.desk.assays import ASSAYED, assays
from bedstone.desk.formula_levels import MOISTURE, Composed, Known, known_levels
from bedstone.desk.made import BatchOnRecord, made_batches
from bedstone.desk.record import MovementRecorded, Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.runs import RUN_PELLETED
from bedstone.desk.watch_kinds import BAG_SCALE
from bedstone.formulation.levels import unit_factor
from bedstone.ledger.model import is_outside
from bedstone.mill.model import Assay, Mill
from bedstone.mill.plan import BatchKind
from bedstone.quality.watch_samples import STEP, ZERO, Sampled, Weights, spread_of, together

__all__ = ["laboratory", "yields"]

Floats = npt.NDArray[np.float64]
Key = tuple[str, str]
MG_KG, PCT = 1e6, 100.0
SEEN_EMPTY = "storage.bin_seen_empty/1"
LOTS_DIFFER_FRAC = 0.06
"""Of a level of which no spread is known (common practice, no source)."""
METHOD_FRAC = 0.03
"""Error of a laboratory's result that does not say it (common practice, no source)."""
LOT_DAYS = 4.0
"""How long a lot of an ingredient goes into feed (common practice, no source)."""
FEWEST = 6
LATEST = 400
YIELD_FRAC, DRYING_FRAC, OFFSET_FRAC, WET_DAYS = 0.003, 0.006, 0.03, 4.0
"""What a run's yield errs by at least: dust and hold-up; drying that is not measured, which a wet
week shares; and both for good (common practice, no source)."""
OUTLET_FRAC, PRODUCT_FRAC = 0.005, 0.008
"""By how much bags of one scale, or trucks, are usually filled beside what is booked, and what a
product always loses or takes up (no source)."""
LEAST_RUN_KG = 200.0


@dataclass
class _Parts:
    """Weights as they are gathered."""

    rows: dict[Key, list[tuple[float, int, float]]]

    def add(self, key: Key, at: float, sample: int, weight: float) -> None:
        """One draw or moment."""
        self.rows.setdefault(key, []).append((at, sample, weight))

    def made(self) -> dict[Key, Weights]:
        """In order of time."""
        found = {}
        for key, rows in self.rows.items():
            rows.sort()
            at, sample, weight = zip(*rows, strict=True)
            found[key] = Weights(
                np.array(at), np.array(sample, dtype=np.int64), np.array(weight, dtype=float)
            )
        return found


def _runs(record: Record) -> dict[str, list[BatchOnRecord]]:
    found: dict[str, list[BatchOnRecord]] = {}
    for row in made_batches(record).values():
        if row.made.kind is BatchKind.FEED:
            found.setdefault(row.made.run or row.made.batch, []).append(row)
    return found


def laboratory(record: Record) -> list[Sampled]:
    """Each nutrient of finished feed as the laboratory found it, less what its draws make.

    A pelleted run is held at the moisture that the laboratory found in the same sample; its own
    moisture, which the cooler makes, witnesses no draw; nor does what heat takes away. What lots of an ingredient differ by is
    shared by the runs that they go into.
    """
    runs = _runs(record)
    pelleted = {str(item.fact.content["run"]) for item in record.facts(kinds=(RUN_PELLETED,))}
    harmed = {row.nutrient for row in current_mill(record).heat_sensitive}
    results = [
        row
        for row in assays(record)
        if row.lot in runs and not (row.lot in pelleted and row.nutrient in harmed)
    ]
    if not results:
        return []
    materials = {d.ingredient for row in results for b in runs[row.lot] for d in b.made.draws}
    known = known_levels(record, sorted(materials), composed=Composed.ASSAYS)
    known_at = {
        (str(item.fact.content["assay"]), str(item.fact.content["nutrient"])): item.fact.happened_at
        for item in record.facts(kinds=(ASSAYED,))
    }
    wet = {row.assay: row for row in results if row.nutrient == MOISTURE}
    found = []
    for nutrient in sorted({row.nutrient for row in results}):
        rows = [row for row in results if row.nutrient == nutrient][-LATEST:]
        samples = [
            sample
            for row in rows
            if (sample := _sample(row, runs[row.lot], known, wet.get(row.assay),
                                  is_pelleted=row.lot in pelleted)) is not None
        ]  # fmt: skip
        if len(samples) >= FEWEST:
            found.append(_pooled(nutrient, samples, known_at))
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sample:
    row: Assay
    off: float
    own_sd: float
    shares: Mapping[str, tuple[float, float, float]]  # share, sd of a lot, sd of the mean
    draws: Sequence[tuple[str, float, float, float]]  # instrument, when, per part, per kg


def _level(known: Known, nutrient: str, unit: str) -> tuple[float, float, int] | None:
    """Mean and spread between lots in the unit of a result, and of how many lots."""
    if nutrient == MOISTURE:
        mean = PCT * known.moisture_wb
        sd = None if known.moisture_sd is None else PCT * known.moisture_sd
        return mean, LOTS_DIFFER_FRAC * mean if sd is None else sd, 0
    level = known.levels.get(nutrient)
    factor = unit_factor(level.unit, unit) if level else None
    if level is None or factor is None:
        return None
    sd = LOTS_DIFFER_FRAC * level.mean if level.sd is None else level.sd
    return level.mean * factor, sd * factor, level.assays or 0


def _sample(
    row: Assay,
    batches: Sequence[BatchOnRecord],
    known: Mapping[str, Known],
    wet: Assay | None,
    *,
    is_pelleted: bool,
) -> _Sample | None:
    """One result against what was drawn; None where some level or the moisture is not known."""
    kg: dict[str, float] = {}
    for batch in batches:
        for draw in batch.made.draws:
            kg[draw.ingredient] = kg.get(draw.ingredient, 0.0) + draw.actual_mg / MG_KG
    whole = sum(kg.values())
    levels = {code: _level(known[code], row.nutrient, row.unit) for code in kg}
    if whole <= 0 or any(level is None for level in levels.values()):
        return None
    sure = {code: level for code, level in levels.items() if level is not None}
    mean = sum(kg[code] / whole * sure[code][0] for code in kg)
    dried, dried_sd = 1.0, 0.0
    if is_pelleted:
        if row.nutrient == MOISTURE or wet is None:
            return None
        before = sum(kg[code] / whole * known[code].moisture_wb for code in kg)
        dried = (1 - wet.value / PCT) / (1 - before)
        dried_sd = (wet.sd or METHOD_FRAC * wet.value) / PCT / (1 - before)
    own = row.sd if row.sd is not None else METHOD_FRAC * row.value
    return _Sample(
        row=row,
        off=row.value - dried * mean,
        own_sd=max(1e-9, math.hypot(own, dried_sd * mean)),
        shares={
            code: (dried * kg[code] / whole, sd, sd / math.sqrt(lots) if lots else sd)
            for code, (_, sd, lots) in sure.items()
        },
        draws=[
            (draw.instrument, batch.happened_at.timestamp(),
             dried * draw.actual_mg / MG_KG * (sure[draw.ingredient][0] - mean) / whole,
             dried * (sure[draw.ingredient][0] - mean) / whole)
            for batch in batches
            for draw in batch.made.draws
        ],
    )  # fmt: skip


def _pooled(
    nutrient: str, samples: Sequence[_Sample], known_at: Mapping[tuple[str, str], dt.datetime]
) -> Sampled:
    codes = sorted({code for sample in samples for code in sample.shares})
    shares = np.zeros((len(samples), len(codes)))
    lot, mean = np.zeros(shares.shape), np.zeros(shares.shape)
    parts = _Parts({})
    for number, sample in enumerate(samples):
        for column, code in enumerate(codes):
            share, lot_sd, mean_sd = sample.shares.get(code, (0.0, 0.0, 0.0))
            lot[number, column], mean[number, column] = share * lot_sd, share * mean_sd
        for tool, drawn_at, part, each in sample.draws:
            parts.add((tool, STEP), drawn_at, number, part)
            parts.add((tool, ZERO), drawn_at, number, each)
    at = np.array([sample.row.sampled_at.timestamp() for sample in samples])
    near = np.exp(-np.abs(at[:, None] - at[None, :]) / (LOT_DAYS * 86_400))
    own = np.diag(np.array([sample.own_sd for sample in samples]) ** 2)
    return Sampled(
        name=f"laboratory: {nutrient} of feed",
        known_at=np.array([known_at[sample.row.assay, nutrient].timestamp() for sample in samples]),
        off=np.array([sample.off for sample in samples]),
        covariance=own + mean @ mean.T + (lot @ lot.T) * near,
        parts=parts.made(),
    )


def yields(record: Record, mill: Mill) -> list[Sampled]:
    """What came out of a finished bin each time it was run empty, less what the draws say went in.

    One series for what was pelleted and one for mash: water that the cooler takes is booked, not
    measured, and errs by more.
    """
    batches = {row.made.batch: row for row in made_batches(record).values()}
    turns = _turns(record, mill, batches)
    found = []
    for is_pelleted in (False, True):
        mine = [turn for turn in turns if turn.is_pelleted == is_pelleted][-LATEST:]
        if len(mine) >= FEWEST:
            name = "yield of pellets" if is_pelleted else "yield of mash"
            found.append(_yield(name, mine, is_pelleted=is_pelleted))
    return found


@dataclass
class _Turn:
    """A bin from empty to empty."""

    at: float = 0.0
    in_kg: float = 0.0
    out_kg: float = 0.0
    is_pelleted: bool = False
    outlet: str = ""
    product: str = ""
    parts: list[tuple[Key, float, float]] = field(default_factory=list)


def _turns(record: Record, mill: Mill, batches: Mapping[str, BatchOnRecord]) -> list[_Turn]:
    empties: dict[str, list[float]] = {}
    for fact in record.facts(kinds=(SEEN_EMPTY,)):
        place = str(fact.fact.content["bin"])
        held = mill.bin_by_code.get(place)
        if held is not None and held.kind == "finished" and not held.holds:
            empties.setdefault(place, []).append(fact.fact.happened_at.timestamp())
    for moments in empties.values():
        moments.sort()
    turns = {place: [_Turn(at) for at in moments] for place, moments in empties.items()}
    seen: set[tuple[str, str]] = set()
    for item in record.movements():
        move = item.movement
        if "unaccounted" in (move.from_place, move.to_place):
            continue
        at = item.happened_at.timestamp()
        for place in (move.from_place, move.to_place):
            turn = _turn(turns.get(place, ()), empties.get(place, ()), at)
            if turn is not None:
                _note(turn, item, place, batches, seen)
    return [turn for rows in turns.values() for turn in rows if turn.in_kg > LEAST_RUN_KG]


def _turn(turns: Sequence[_Turn], empties: Sequence[float], at: float) -> _Turn | None:
    number = int(np.searchsorted(empties, at, side="left")) if turns else 0
    return turns[number] if number < len(turns) else None


def _note(
    turn: _Turn,
    item: MovementRecorded,
    place: str,
    batches: Mapping[str, BatchOnRecord],
    seen: set[tuple[str, str]],
) -> None:
    """One movement into or out of the bin, with the draws that made what came in."""
    move, kg = item.movement, item.movement.mass_mg / MG_KG
    if move.from_place == place:
        turn.out_kg += kg
        turn.outlet = move.to_place
        if move.how.value == "counted" or item.kind == "finishing.run_packed/1":
            key = (f"{move.to_place} {BAG_SCALE}", STEP)
            turn.parts.append((key, item.happened_at.timestamp(), -kg))
        return
    turn.in_kg += kg
    batch = batches.get(move.lot or "")
    if batch is None or (place, batch.made.batch) in seen:
        return
    seen.add((place, batch.made.batch))
    turn.product = batch.made.material
    turn.is_pelleted |= move.from_place != batch.made.mixer and not is_outside(move.from_place)
    for draw in batch.made.draws:
        at = batch.happened_at.timestamp()
        turn.parts.append(((draw.instrument, STEP), at, draw.actual_mg / MG_KG))
        turn.parts.append(((draw.instrument, ZERO), at, 1.0))


def _yield(name: str, turns: Iterable[_Turn], *, is_pelleted: bool) -> Sampled:
    rows = sorted(turns, key=lambda turn: turn.at)
    parts = _Parts({})
    for number, turn in enumerate(rows):
        for key, part_at, weight in turn.parts:
            parts.add(key, part_at, number, weight / turn.in_kg)
    at = np.array([turn.at for turn in rows])
    off = np.array([(turn.out_kg - turn.in_kg) / turn.in_kg for turn in rows])
    own = spread_of(np.diff(off), YIELD_FRAC * math.sqrt(2)) / math.sqrt(2)
    outlet = np.array([turn.outlet for turn in rows])
    product = np.array([turn.product for turn in rows])
    covariance = together(
        at,
        own_sd=np.full(at.size, own),
        wander_sd=DRYING_FRAC if is_pelleted else YIELD_FRAC,
        days=WET_DAYS,
        offset_sd=OFFSET_FRAC,
    )
    return Sampled(
        name=name,
        known_at=at,
        off=off,
        covariance=covariance
        + OUTLET_FRAC**2 * (outlet[:, None] == outlet[None, :])
        + PRODUCT_FRAC**2 * (product[:, None] == product[None, :]),
        parts=parts.made(),
    )
