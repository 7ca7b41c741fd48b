"""What bags, dials and load cells know of each other: results for the watch of instruments."""

import datetime as dt
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from bedstone.desk.assays import assays
from bedstone.desk.formula_levels import MOISTURE
from bedstone.desk.line_readings import RunRead, runs_of_line
from bedstone.desk.made import BatchOnRecord, made_batches
from bedstone.desk.merged_rows import weather_by_hour
from bedstone.desk.readings import readings
from bedstone.desk.record import Record
from bedstone.desk.watch_kinds import BAG_SCALE, SHIFT
from bedstone.mill.model import Meter, Mill, Scale
from bedstone.mill.plan import BatchKind
from bedstone.mill.readings import ReadingRow
from bedstone.quality.watch_draws import doubled
from bedstone.quality.watch_samples import STEP, ZERO, Sampled, Weights, spread_of, together

__all__ = ["CELLS", "Twice", "bags", "dials", "load_cells"]

Floats = npt.NDArray[np.float64]
Key = tuple[str, str]
MG_KG, PCT = 1e6, 100.0
CELLS = "mixer load cells"
CELLS_SD_FRAC = 0.005
"""Of an addition, what a mixer's load cells err by (common practice, no source)."""
CELLS_OFFSET_FRAC = 0.003
"""By how much scale and cells may differ for good (common practice, no source)."""
FEWEST, LATEST = 8, 400
BAG_SPREAD_FRAC, BAG_OFFSET_FRAC = 0.001, 0.01
CONDITIONER, OUTLET, DAMP = (
    "conditioner temperature", "cooler outlet temperature", "cooler outlet moisture",
)  # fmt: skip
EXHAUST = "exhaust air temperature"
BAG_WARM, BAG_DAMP = "bag temperature", "bag moisture"
RISE_DK = 1_230.0
"""Kelvin for each kilogram of steam to a kilogram of mash: from 97.2 F to 190 F took 4.2 points of
moisture (a published conditioner trial; see docs/pellet-line.md)."""
RISE_FRAC = 0.2
"""How well that is known of a mill's own mash and steam (common practice, no source)."""
LAB_MOISTURE_SD = 0.0025
SHORT_TIMES = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Apart:
    """How two readings of the same thing come apart: least error, shared wander, offset, days."""

    own: float
    wander: float
    days: float
    offset: float


_WARM = _Apart(own=0.3, wander=0.5, days=7.0, offset=5.0)
_WET = _Apart(own=0.0005, wander=0.0005, days=7.0, offset=0.02)
_AIR = _Apart(own=0.5, wander=1.8, days=1.0, offset=5.0)
"""The weather on record is of the hour and of elsewhere (common practice, no source)."""
_HEAT = _Apart(own=0.5, wander=3.0, days=2.0, offset=15.0)
"""Mash is warmer in one week than in another; nobody reads it (common practice, no source)."""


def bags(record: Record, mill: Mill) -> list[Sampled]:
    """Bags of each sacking line weighed again, run by run, less what stands on them."""
    pack_kg = {row.product: row.pack_kg for row in mill.products if row.pack_kg}
    products = {row.made.run: row.made.material for row in made_batches(record).values()}
    found = []
    for machine in mill.machines:
        by_run: dict[str, list[ReadingRow]] = {}
        for row in readings(record, machine.machine, "bag mass").rows:
            if products.get(row.run) in pack_kg:
                by_run.setdefault(row.run, []).append(row)
        runs = sorted(by_run.items(), key=lambda pair: pair[1][0].at)[-LATEST:]
        if len(runs) < FEWEST:
            continue
        parts = [[row.value / (pack_kg[products[run]] or 1.0) - 1 for row in rows]
                 for run, rows in runs]  # fmt: skip
        within = spread_of(
            np.concatenate([np.array(row) - np.mean(row) for row in parts]), BAG_SPREAD_FRAC
        )
        at = np.array([rows[0].at.timestamp() for _, rows in runs])
        own = np.array([math.hypot(within / math.sqrt(len(row)), BAG_SPREAD_FRAC) for row in parts])
        found.append(
            Sampled(
                name=f"bags of {machine.machine} weighed again",
                known_at=at,
                off=np.array([float(np.mean(row)) for row in parts]),
                covariance=together(
                    at, own_sd=own, wander_sd=0.0, days=1.0, offset_sd=BAG_OFFSET_FRAC
                ),
                parts={(f"{machine.machine} {BAG_SCALE}", STEP): _since(at, 1.0)},
            )
        )
    return found


def _since(at: Floats, weight: float | Floats) -> Weights:
    """Each result is as wrong as what it was read on."""
    return Weights(at, np.arange(at.size), np.broadcast_to(np.asarray(weight, float), at.shape))


def dials(record: Record, mill: Mill) -> list[Sampled]:
    """Thermometers and moisture meters held against each other, the steam and the laboratory.

    The conditioner's against the heat of the steam that was metered, the air that leaves the
    cooler against conditioner and weather, the cooler's outlet against the bag, and the moistures
    of both against the laboratory's of the run.
    """
    lines = [row.machine for row in mill.machines if row.kind == "pellet line"]
    packers = [row.machine for row in mill.machines if row.kind == "sacking line"]
    steam = _steam(record)
    air_c = {hour: rows[-1].temperature_c for hour, rows in weather_by_hour(record).items()}
    wet = {row.lot: row.value / PCT for row in assays(record) if row.nutrient == MOISTURE}
    bagged = {(run.run, packer): run for packer in packers for run in runs_of_line(record, packer)}
    found: list[Sampled | None] = []
    for line in lines:
        runs = runs_of_line(record, line)[-LATEST:]
        found.append(_conditioner(line, runs, steam))
        found.append(_exhaust(line, runs, air_c))
        found += [
            _pair((line, OUTLET), (packer, BAG_WARM), runs, bagged, _WARM) for packer in packers
        ]
        found += [_pair((line, DAMP), (packer, BAG_DAMP), runs, bagged, _WET) for packer in packers]
        found.append(_against_laboratory(line, DAMP, runs, wet))
    for packer in packers:
        runs = tuple(run for (_, place), run in bagged.items() if place == packer)[-LATEST:]
        found.append(_against_laboratory(packer, BAG_DAMP, runs, wet))
    return [row for row in found if row is not None]


def _steam(record: Record) -> dict[str, float]:
    """Steam to a kilogram of mash, by run."""
    runs = {row.made.batch: row.made.run for row in made_batches(record).values()}
    steam: dict[str, float] = {}
    mash: dict[str, float] = {}
    for item in record.movements():
        move = item.movement
        run = runs.get(move.lot or "")
        if run is None or item.kind != "pelleting.run_pelleted/1":
            continue
        if move.from_place == "steam":
            steam[run] = steam.get(run, 0.0) + move.mass_mg
        elif move.material != "water" and move.to_place != "air":
            mash[run] = mash.get(run, 0.0) + move.mass_mg / 2  # once in, once out
    return {run: mass / mash[run] for run, mass in steam.items() if mash.get(run)}


def _conditioner(line: str, runs: Sequence[RunRead], steam: Mapping[str, float]) -> Sampled | None:
    rows = [
        (run.at.timestamp(), value - RISE_DK * steam[run.run], RISE_DK * steam[run.run])
        for run in runs
        if run.run in steam and (value := run.mean(CONDITIONER)) is not None
    ]
    weights: dict[Key, Callable[[Floats], float | Floats]] = {
        (f"{line} {CONDITIONER}", SHIFT): lambda _: 1.0,
        (f"{line} steam meter", STEP): lambda rise: rise,
    }
    found = _results(f"heat of the steam of {line}", rows, weights, _HEAT)
    if found is None:
        return None
    rise = found.parts[f"{line} steam meter", STEP].weight
    return replace(found, covariance=found.covariance + RISE_FRAC**2 * np.outer(rise, rise))


def _exhaust(
    line: str, runs: Sequence[RunRead], air_c: Mapping[dt.datetime, float]
) -> Sampled | None:
    """The air that leaves a cooler stands between outside and mash, usually in the same part.

    Runs whose pellets left too warm as well lacked air: their own findings say so, and they witness
    nothing of a thermometer.
    """
    short = _short_of_air(runs, air_c)
    seen = [
        (run.at.timestamp(), value, warm, air_c[hour])
        for run in runs
        if run.run not in short
        and (hour := run.at.replace(minute=0, second=0, microsecond=0)) in air_c
        and (value := run.mean(EXHAUST)) is not None
        and (warm := run.mean(CONDITIONER)) is not None
    ]
    if len(seen) < FEWEST:
        return None
    part = float(np.median([(value - air) / (warm - air) for _, value, warm, air in seen]))
    rows = [(at, value - air - part * (warm - air), 0.0) for at, value, warm, air in seen]
    weights: dict[Key, Callable[[Floats], float | Floats]] = {
        (f"{line} {EXHAUST}", SHIFT): lambda _: 1.0,
        (f"{line} {CONDITIONER}", SHIFT): lambda _: -part,
    }
    return _results(f"outside air and conditioner of {line}", rows, weights, _AIR)


def _short_of_air(runs: Sequence[RunRead], air_c: Mapping[dt.datetime, float]) -> set[str]:
    """Runs whose pellets left warmer above the air than others of their feed in such air."""
    rows = [
        (run, air_c[hour], value - air_c[hour])
        for run in runs
        if (hour := run.at.replace(minute=0, second=0, microsecond=0)) in air_c
        and (value := run.mean(OUTLET)) is not None
    ]
    if len(rows) < FEWEST:
        return set()
    of_feed: dict[str, list[float]] = {}
    for run, _, above in rows:
        of_feed.setdefault(run.product, []).append(above)
    off = np.array([above - float(np.median(of_feed[run.product])) for run, _, above in rows])
    air = np.array([row[1] for row in rows])
    off -= np.polyval(np.polyfit(air, off, 1), air)
    most = SHORT_TIMES * spread_of(off, _WARM.own)
    return {row[0].run for row, value in zip(rows, off, strict=True) if value > most}


def _pair(
    first: tuple[str, str],
    second: tuple[str, str],
    runs: Sequence[RunRead],
    bagged: Mapping[tuple[str, str], RunRead],
    apart: _Apart,
) -> Sampled | None:
    rows = [
        (run.at.timestamp(), value - other, 0.0)
        for run in runs
        if (there := bagged.get((run.run, second[0]))) is not None
        and (value := run.mean(first[1])) is not None
        and (other := there.mean(second[1])) is not None
    ]
    weights: dict[Key, Callable[[Floats], float | Floats]] = {
        (" ".join(first), SHIFT): lambda _: 1.0,
        (" ".join(second), SHIFT): lambda _: -1.0,
    }
    return _results(f"{' '.join(first)} beside {' '.join(second)}", rows, weights, apart)


def _against_laboratory(
    place: str, quantity: str, runs: Sequence[RunRead], wet: Mapping[str, float]
) -> Sampled | None:
    rows = [
        (run.at.timestamp(), value - wet[run.run], 0.0)
        for run in runs
        if run.run in wet and (value := run.mean(quantity)) is not None
    ]
    weights: dict[Key, Callable[[Floats], float | Floats]] = {
        (f"{place} {quantity}", SHIFT): lambda _: 1.0
    }
    apart = _Apart(own=LAB_MOISTURE_SD, wander=_WET.wander, days=_WET.days, offset=_WET.offset)
    return _results(f"laboratory: moisture beside {place} {quantity}", rows, weights, apart)


def _results(
    name: str,
    rows: Sequence[tuple[float, float, float]],
    weights: Mapping[Key, Callable[[Floats], float | Floats]],
    apart: _Apart,
) -> Sampled | None:
    """Rows of when, by how much apart, and what else a weight needs."""
    if len(rows) < FEWEST:
        return None
    at, off, more = (np.array(column) for column in zip(*sorted(rows), strict=True))
    own = spread_of(np.diff(off), apart.own * math.sqrt(2)) / math.sqrt(2)
    return Sampled(
        name=name,
        known_at=at,
        off=off,
        covariance=together(
            at,
            own_sd=np.full(at.size, own),
            wander_sd=apart.wander,
            days=apart.days,
            offset_sd=apart.offset,
        ),
        parts={key: _since(at, weight(more)) for key, weight in weights.items()},
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Twice:
    """A draw of which the load cells found twice what was read."""

    batch: BatchOnRecord
    sequence: int
    ingredient: str
    instrument: str
    read_kg: float
    seen_kg: float
    mixer: str


@dataclass(frozen=True, slots=True)
class _Gained:
    """What the cells gained by one draw."""

    batch: BatchOnRecord
    index: int
    read_kg: float
    seen_kg: float
    sd_kg: float


def load_cells(record: Record, mill: Mill) -> tuple[list[Sampled], list[Twice]]:
    """What a mixer's load cells gained with each draw, less what the draw's instrument read.

    Read after each addition, with the number of the batch beside it. A batch that was read another
    number of times than it has draws is passed over.
    """
    found: list[Sampled] = []
    twice: list[Twice] = []
    batches = made_batches(record)
    for machine in mill.machines:
        by_tool: dict[str, list[_Gained]] = {}
        for row in _gained(record, mill, machine.machine, batches):
            tool = row.batch.made.draws[row.index].instrument
            by_tool.setdefault(tool, []).append(row)
        for tool, rows in sorted(by_tool.items()):
            rows.sort(key=lambda row: row.batch.happened_at)
            read, seen, sd = (
                np.array(column)
                for column in zip(*((r.read_kg, r.seen_kg, r.sd_kg) for r in rows), strict=True)
            )
            again = set(doubled(read, seen, sd).tolist())
            twice += [_twice(rows[number], machine.machine) for number in sorted(again)]
            kept = [row for number, row in enumerate(rows) if number not in again][-LATEST:]
            if len(kept) >= FEWEST:
                found.append(_cells(machine.machine, tool, kept))
    return found, twice


def _gained(
    record: Record, mill: Mill, mixer: str, batches: Mapping[str, BatchOnRecord]
) -> list[_Gained]:
    by_batch: dict[str, list[ReadingRow]] = {}
    for row in readings(record, mixer, CELLS).rows:
        by_batch.setdefault(row.run, []).append(row)
    found = []
    for code, rows in by_batch.items():
        batch = batches.get(code)
        if batch is None or len(rows) != len(batch.made.draws):
            continue
        before = 0.0
        for index, (row, draw) in enumerate(zip(rows, batch.made.draws, strict=True)):
            read_kg = draw.actual_mg / MG_KG
            tool = mill.scale_by_code.get(draw.instrument) or mill.meter_by_code.get(
                draw.instrument
            )
            sd_kg = math.hypot(CELLS_SD_FRAC * read_kg, _sd_kg(tool, read_kg))
            if batch.made.kind is BatchKind.FEED:
                found.append(_Gained(batch, index, read_kg, row.value - before, max(sd_kg, 1e-6)))
            before = row.value
    return found


def _sd_kg(tool: Scale | Meter | None, read_kg: float) -> float:
    """What a sound scale or meter errs by in one draw."""
    if isinstance(tool, Meter):
        return tool.sd_frac * read_kg
    if tool is None:
        return 0.0
    return tool.division_kg / 2 if tool.sd_kg is None else tool.sd_kg


def _twice(row: _Gained, mixer: str) -> Twice:
    draw = row.batch.made.draws[row.index]
    return Twice(
        batch=row.batch,
        sequence=draw.sequence,
        ingredient=draw.ingredient,
        instrument=draw.instrument,
        read_kg=row.read_kg,
        seen_kg=row.seen_kg,
        mixer=mixer,
    )


def _cells(mixer: str, tool: str, rows: Sequence[_Gained]) -> Sampled:
    at = np.array([row.batch.happened_at.timestamp() for row in rows])
    read = np.array([row.read_kg for row in rows])
    return Sampled(
        name=f"load cells of {mixer}: draws over {tool}",
        known_at=at,
        off=np.array([row.seen_kg - row.read_kg for row in rows]),
        covariance=np.diag(np.array([row.sd_kg for row in rows]) ** 2)
        + CELLS_OFFSET_FRAC**2 * np.outer(read, read),
        parts={
            (tool, STEP): _since(at, read),
            (tool, ZERO): _since(at, 1.0),
            (f"{mixer} {CELLS}", STEP): _since(at, read),
        },
    )
