"""The lots that a wrong instrument touched: what is likely in them, where they lie, who has them."""

import datetime as dt
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from bedstone.desk.formula_levels import Composed, Known, known_levels
from bedstone.desk.made import BatchOnRecord, MadeDraw, made_batches
from bedstone.desk.record import Record
from bedstone.desk.runs import RUN_PACKED
from bedstone.formulation.levels import unit_factor
from bedstone.formulation.measures import odds_of
from bedstone.mill.model import Guarantee, Mill
from bedstone.mill.plan import BatchKind

__all__ = [
    "LikelyLevel",
    "TouchedBatch",
    "TouchedRun",
    "WhereNow",
    "Wrong",
    "bags_of_runs",
    "touched_runs",
    "where_now",
]

MG_KG = 1e6


@dataclass(frozen=True, slots=True, kw_only=True)
class Wrong:
    """Which draws were wrong, and by how much: those over an instrument, out of a bin, or one only.

    So much more truly went than was read, as a part of it and with each draw; or all of it was
    ``other``, what lay in another bin.
    """

    instrument: str = ""
    place: str = ""
    draw: tuple[str, int] | None = None  # batch and number
    gain: float = 0.0
    gain_sd: float = 0.0
    each_kg: float = 0.0
    each_sd_kg: float = 0.0
    other: str = ""

    def is_it(self, batch: str, draw: MadeDraw) -> bool:
        """Whether a draw is one of them."""
        if self.draw is not None:
            return (batch, draw.sequence) == self.draw
        return draw.from_place == self.place if self.place else draw.instrument == self.instrument

    def more_kg(self, read_kg: float) -> tuple[float, float]:
        """What went beyond what was read, with its error."""
        return (
            self.gain * read_kg + self.each_kg,
            math.hypot(self.gain_sd * read_kg, self.each_sd_kg),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class TouchedBatch:
    """A batch with draws over the instrument; sure if even the latest likely beginning is before."""

    batch: str
    made_at: dt.datetime
    mass_kg: float
    read_kg: float
    likely_kg: float
    is_sure: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LikelyLevel:
    """A guaranteed nutrient of a run: as booked, as it likely is, and the odds that it keeps."""

    nutrient: str
    unit: str
    minimum: float | None
    maximum: float | None
    booked: float
    likely: float
    sd: float
    odds_booked_frac: float
    odds_likely_frac: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WhereNow:
    """Where some of a run lies, or who has it."""

    place: str
    name: str
    mass_kg: float
    sent_at: dt.datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TouchedRun:
    """A run with batches that the instrument touched."""

    run: str
    product: str
    batches: tuple[TouchedBatch, ...]
    bags: int
    levels: tuple[LikelyLevel, ...]
    unknown: tuple[str, ...]  # guaranteed nutrients of which some ingredient's level is not known
    where: tuple[WhereNow, ...]

    @property
    def is_sure(self) -> bool:
        """Whether a batch of it was surely made after the beginning."""
        return any(row.is_sure for row in self.batches)

    @property
    def lies_here_kg(self) -> float:
        """What has not left the mill. [kg]"""
        return sum(row.mass_kg for row in self.where if row.sent_at is None)


def touched_runs(
    record: Record,
    mill: Mill,
    wrong: Wrong,
    *,
    since: dt.datetime,
    surely: dt.datetime,
) -> tuple[TouchedRun, ...]:
    """Runs with draws that were likely wrong, oldest first."""
    by_run: dict[str, list[BatchOnRecord]] = {}
    for row in made_batches(record).values():
        if row.made.kind is not BatchKind.FEED or row.happened_at < since:
            continue
        if any(wrong.is_it(row.made.batch, draw) for draw in row.made.draws):
            by_run.setdefault(row.made.run or row.made.batch, []).append(row)
    materials = {
        draw.ingredient for rows in by_run.values() for row in rows for draw in row.made.draws
    } | ({wrong.other} if wrong.other else set())
    known = known_levels(record, sorted(materials), composed=Composed.ASSAYS)
    where, bags = where_now(record, mill, by_run), bags_of_runs(record)
    found = [
        _run(
            mill, run, rows, wrong, known,
            surely=surely, bags=bags.get(run, 0), where=tuple(where.get(run, ())),
        )
        for run, rows in by_run.items()
    ]  # fmt: skip
    return tuple(sorted(found, key=lambda row: (row.batches[0].made_at, row.run)))


def _run(
    mill: Mill,
    run: str,
    rows: list[BatchOnRecord],
    wrong: Wrong,
    known: Mapping[str, Known],
    *,
    surely: dt.datetime,
    bags: int,
    where: tuple[WhereNow, ...],
) -> TouchedRun:
    rows.sort(key=lambda row: row.happened_at)
    product = rows[0].made.material
    went = _Went({}, {}, {})
    batches = tuple(_batch(row, wrong, went, is_sure=row.happened_at >= surely) for row in rows)
    levels, unknown = [], []
    for line in mill.guarantees:
        if line.product == product:
            level = _level(line, went, known)
            if level is None:
                unknown.append(line.nutrient)
            else:
                levels.append(level)
    return TouchedRun(
        run=run,
        product=product,
        batches=batches,
        bags=bags,
        levels=tuple(levels),
        unknown=tuple(unknown),
        where=where,
    )


@dataclass(slots=True)
class _Went:
    """Mass by ingredient that was booked into a run, and what likely went beside it, with error."""

    booked: dict[str, float]
    more: dict[str, float]
    more_sd: dict[str, float]

    def add(self, wrong: Wrong, ingredient: str, kg: float) -> float:
        """A draw that was wrong; returns what likely went beyond what was read."""
        extra, sd = wrong.more_kg(kg)
        code = wrong.other or ingredient
        self.more[code] = self.more.get(code, 0.0) + (kg + extra if wrong.other else extra)
        self.more_sd[code] = self.more_sd.get(code, 0.0) + sd
        if wrong.other:
            self.more[ingredient] = self.more.get(ingredient, 0.0) - kg
        return extra


def _batch(row: BatchOnRecord, wrong: Wrong, went: _Went, *, is_sure: bool) -> TouchedBatch:
    """A batch of a run, its draws added to what went into the run."""
    own, likely = 0.0, 0.0
    for draw in row.made.draws:
        kg = draw.actual_mg / MG_KG
        went.booked[draw.ingredient] = went.booked.get(draw.ingredient, 0.0) + kg
        if wrong.is_it(row.made.batch, draw):
            own, likely = own + kg, likely + kg + went.add(wrong, draw.ingredient, kg)
    return TouchedBatch(
        batch=row.made.batch,
        made_at=row.happened_at,
        mass_kg=row.mass_mg / MG_KG,
        read_kg=own,
        likely_kg=likely,
        is_sure=is_sure,
    )


def _level(line: Guarantee, went: _Went, known: Mapping[str, Known]) -> LikelyLevel | None:
    """A guaranteed nutrient as mixed; what pelleting gains or loses in water is not in it."""
    booked, more, more_sd = went.booked, went.more, went.more_sd
    codes = [*booked, *(code for code in more if code not in booked)]
    rows = {code: _mean_sd(known.get(code), line) for code in codes}
    if any(row is None for row in rows.values()):
        return None
    sure = {code: row for code, row in rows.items() if row is not None}

    def of(part: float, sds: float = 0.0) -> tuple[float, float]:
        kg = {
            code: booked.get(code, 0.0) + part * more.get(code, 0.0) + sds * more_sd.get(code, 0.0)
            for code in codes
        }
        whole = sum(kg.values())
        mean = sum(kg[code] * sure[code][0] for code in kg) / whole
        variance = sum((kg[code] * sure[code][1] / whole) ** 2 for code in kg)
        return mean, math.sqrt(variance)

    before, before_sd = of(0.0)
    after, spread = of(1.0)
    sd = math.hypot(spread, of(1.0, 1.0)[0] - after)
    return LikelyLevel(
        nutrient=line.nutrient,
        unit=line.unit,
        minimum=line.minimum,
        maximum=line.maximum,
        booked=before,
        likely=after,
        sd=sd,
        odds_booked_frac=_odds(before, before_sd, line),
        odds_likely_frac=_odds(after, sd, line),
    )


def _mean_sd(known: Known | None, line: Guarantee) -> tuple[float, float] | None:
    level = known.levels.get(line.nutrient) if known else None
    factor = unit_factor(level.unit, line.unit) if level else None
    if level is None or factor is None:
        return None
    return level.mean * factor, (level.sd or 0.0) * factor


def _odds(mean: float, sd: float, line: Guarantee) -> float:
    odds = 1.0
    if line.minimum is not None:
        odds += odds_of(mean - line.minimum, sd) - 1
    if line.maximum is not None:
        odds += odds_of(line.maximum - mean, sd) - 1
    return max(0.0, odds)


def bags_of_runs(record: Record) -> dict[str, int]:
    """Bags that were packed, by run."""
    found: dict[str, int] = {}
    for item in record.facts(kinds=(RUN_PACKED,)):
        content = item.fact.content
        run = str(content["run"])
        found[run] = found.get(run, 0) + int(str(content.get("bags") or 0))
    return found


def where_now(
    record: Record, mill: Mill, runs: Mapping[str, Sequence[BatchOnRecord]]
) -> dict[str, list[WhereNow]]:
    """What lies where of each run, and what was sent to whom."""
    held: dict[tuple[str, str], float] = {}
    sent: dict[tuple[str, str], tuple[float, dt.datetime]] = {}
    lots = _lots_of(runs)
    for item in record.movements():
        move = item.movement
        run = lots.get(move.lot or "")
        if run is None:
            continue
        kg = move.mass_mg / MG_KG
        if move.to_place.startswith("customer/"):
            before, _ = sent.get((run, move.to_place), (0.0, item.happened_at))
            sent[run, move.to_place] = before + kg, item.happened_at
        if move.lot == run:
            held[run, move.to_place] = held.get((run, move.to_place), 0.0) + kg
            held[run, move.from_place] = held.get((run, move.from_place), 0.0) - kg
    found: dict[str, list[WhereNow]] = {}
    for (run, place), kg in sorted(held.items()):
        if place in mill.bin_by_code and kg > 0.5:  # noqa: PLR2004 - crumbs of rounding
            row = WhereNow(place=place, name=mill.bin_by_code[place].name, mass_kg=kg, sent_at=None)
            found.setdefault(run, []).append(row)
    for (run, place), (kg, at) in sorted(sent.items()):
        firm = place.split("/", 1)[1]
        row = WhereNow(place=place, name=mill.name_of(firm), mass_kg=kg, sent_at=at)
        found.setdefault(run, []).append(row)
    return found


def _lots_of(runs: Mapping[str, Iterable[BatchOnRecord]]) -> dict[str, str]:
    """Each run's own number and those of its batches, with the run."""
    found = {run: run for run in runs}
    for run, rows in runs.items():
        found |= {row.made.batch: run for row in rows}
    return found
