"""A month of a mill as arrays: every draw, delivery, sample and reading that will be made.

Made once; :mod:`bedstone.demo.signals` carries it out as often as a detector needs, each time with
other errors and other faults.
"""

import datetime as dt
import math
import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from bedstone.demo.past.book import DayOrders, Demand, order_book
from bedstone.demo.past.draws import instrument_for
from bedstone.demo.past.floor import to_mg
from bedstone.demo.past.mixing import first_mixer
from bedstone.demo.past.supply import kept_bin
from bedstone.demo.past.ways import step_of
from bedstone.mill.model import Bin, Machine, Mill, Order

__all__ = ["DIALS", "Floats", "Ints", "MonthPlan", "month_plan"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

DIALS = (
    "conditioner temperature",
    "motor current",
    "exhaust air temperature",
    "cooler outlet temperature",
    "cooler outlet moisture",
)
"""What is read at each pellet line, once a batch."""
LAST_NUMBER = 9_000
OPENING_FRAC, LOW_FRAC, FULL_FRAC = 0.7, 0.4, 0.9
TRUCK_KG = 21_800.0
SHIFT_S = 8 * 3600
DAY_S = 86_400
TESTS_EVERY_S = 7 * DAY_S
SAMPLE_EVERY = 25
KEPT_KINDS = ("ingredient", "ground", "tank", "finished")


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthPlan:
    """What a mill is to do in a month; indices point into the tuples of names.

    Times are seconds from ``start_at``. Draws are in order of time. ``draw_place`` is -1 for what
    is taken from sacks on the floor.

    Attributes
    ----------
    instruments : tuple of str
        Scales and meters, then ``PLACE level``, then ``LINE dial``, then ``LINE bag mass``.
    batch_at, batch_mixer, batch_line, batch_pack : ndarray, shape (batches,)
        When a batch is mixed, on which mixer; its pellet line and sacking line, or -1.
    draw_batch, draw_material, draw_instrument, draw_place : ndarray, shape (draws,)
        Of each draw.
    draw_target_kg : ndarray, shape (draws,)
        What shall be drawn. [kg]
    place_material : ndarray, shape (places,)
        What each place is kept for.
    load_at, load_place, load_kg : ndarray, shape (loads,)
        Deliveries, and grain ground into its bin. [s], index, [kg]
    level_at : ndarray, shape (shifts,)
        When levels of all places are read. [s]
    test_at, test_mixer : ndarray, shape (tests,)
        Tests of mixers. [s], index
    sampled : ndarray, shape (samples,)
        Batches of which the laboratory gets a sample.
    """

    mill: Mill
    start_at: dt.datetime
    days: int
    mixers: tuple[str, ...]
    lines: tuple[str, ...]
    packers: tuple[str, ...]
    materials: tuple[str, ...]
    places: tuple[str, ...]
    instruments: tuple[str, ...]
    batch_at: Floats
    batch_mixer: Ints
    batch_line: Ints
    batch_pack: Ints
    draw_batch: Ints
    draw_material: Ints
    draw_instrument: Ints
    draw_place: Ints
    draw_target_kg: Floats
    place_material: Ints
    load_at: Floats
    load_place: Ints
    load_kg: Floats
    level_at: Floats
    test_at: Floats
    test_mixer: Ints
    sampled: Ints


@dataclass
class _Rows:
    """Batches and draws as they are laid out."""

    batch: list[tuple[float, int, int, int]] = field(default_factory=list)
    draw: list[tuple[float, int, str, str, str, float]] = field(default_factory=list)


def month_plan(
    mill: Mill,
    demands: Sequence[Demand],
    *,
    start_day: dt.date,
    days: int = 30,
    seed: int = 0,
) -> MonthPlan:
    """A month of a mill that makes what its customers usually order."""
    dice = random.Random(f"month {seed}")  # noqa: S311  a simulation, nothing secret
    book = order_book(mill, demands, first=start_day, days=days, last_number=LAST_NUMBER, dice=dice)
    zone = mill.settings.zone
    start_at = dt.datetime.combine(start_day, dt.time(0), zone).astimezone(dt.UTC)
    kinds = ("mixer", "pellet line", "sacking line")
    mixers, lines, packers = (
        tuple(row.machine for row in mill.machines if row.kind == kind) for kind in kinds
    )
    rows = _Rows()
    for day in book:
        _lay_out_day(mill, day, start_at, rows, mixers=mixers, lines=lines, packers=packers)
    places = tuple(row.bin for row in mill.bins if row.kind in KEPT_KINDS and row.holds)
    tools = (*(row.scale for row in mill.scales), *(row.meter for row in mill.meters))
    instruments = (
        *tools,
        *(f"{place} level" for place in places),
        *(f"{line} {dial}" for line in lines for dial in DIALS),
        *(f"{packer} bag mass" for packer in packers),
    )
    return _as_arrays(
        mill,
        rows,
        start_at=start_at,
        days=days,
        names=(mixers, lines, packers, places, instruments),
    )


def _lay_out_day(
    mill: Mill,
    day: DayOrders,
    start_at: dt.datetime,
    rows: _Rows,
    *,
    mixers: tuple[str, ...],
    lines: tuple[str, ...],
    packers: tuple[str, ...],
) -> None:
    """The batches of a day, order after order on each mixer, and their draws."""
    by_code = {code: mill.machine_by_code[code] for code in mixers}
    clock = dict.fromkeys(mixers, (day.start_at - start_at).total_seconds())
    for order in day.orders:
        product = mill.product(order.product)
        mixer = by_code[first_mixer(product, by_code)]
        on = step_of(mill, product, "pellet line")
        off = step_of(mill, product, "sacking line") if order.pack == "bags" else ()
        line = lines.index(on[0]) if on else -1
        pack = packers.index(off[0]) if off else -1
        for _ in range(_batches(order, mixer)):
            cycle_s = mixer.fill_s + mixer.dry_mix_s + mixer.wet_mix_s + mixer.discharge_s
            clock[mixer.machine] += cycle_s
            at = clock[mixer.machine]
            _lay_out_draws(mill, order, mixer, at, rows)
            rows.batch.append((at, mixers.index(mixer.machine), line, pack))
        clock[mixer.machine] += mixer.changeover_s


def _batches(order: Order, mixer: Machine) -> int:
    return max(1, math.ceil(order.mass_kg / (mixer.mass_max_kg or 1.0) - 1e-9))


def _lay_out_draws(mill: Mill, order: Order, mixer: Machine, at: float, rows: _Rows) -> None:
    formula = mill.running_formula(order.product)
    mass_kg = order.mass_kg / _batches(order, mixer)
    for line in mill.lines_of(order.product, formula.version) if formula else ():
        place = _place(mill, line.ingredient)
        target_kg = line.parts_frac * mass_kg
        tool = instrument_for(mill, mixer.machine, place, mass_mg=to_mg(target_kg))
        name = getattr(tool, "meter", "") or getattr(tool, "scale", "")
        rows.draw.append((at, len(rows.batch), line.ingredient, name, place.bin, target_kg))


def _place(mill: Mill, material: str) -> Bin:
    place = kept_bin(mill, material)
    if place is None:
        msg = f"no bin is kept for {material}"
        raise ValueError(msg)
    return place


def _as_arrays(
    mill: Mill,
    rows: _Rows,
    *,
    start_at: dt.datetime,
    days: int,
    names: tuple[tuple[str, ...], ...],
) -> MonthPlan:
    mixers, lines, packers, places, instruments = names
    order = sorted(range(len(rows.batch)), key=lambda number: rows.batch[number][0])
    new_number = {old: new for new, old in enumerate(order)}
    batches = [rows.batch[number] for number in order]
    draws = sorted(rows.draw, key=lambda row: (row[0], new_number[row[1]]))
    held = [mill.bin_by_code[place].holds for place in places]
    materials = tuple(sorted({*held, *(row[2] for row in draws)}))
    loads, tests = _loads(mill, draws, places), _tests(len(mixers), days)
    return MonthPlan(
        mill=mill,
        start_at=start_at,
        days=days,
        mixers=mixers,
        lines=lines,
        packers=packers,
        materials=materials,
        places=places,
        instruments=instruments,
        batch_at=_floats(row[0] for row in batches),
        batch_mixer=_ints(row[1] for row in batches),
        batch_line=_ints(row[2] for row in batches),
        batch_pack=_ints(row[3] for row in batches),
        draw_batch=_ints(new_number[row[1]] for row in draws),
        draw_material=_numbers(materials, (row[2] for row in draws)),
        draw_instrument=_numbers(instruments, (row[3] for row in draws)),
        draw_place=_numbers(places, (row[4] for row in draws)),
        draw_target_kg=_floats(row[5] for row in draws),
        place_material=_numbers(materials, held),
        load_at=_floats(row[0] for row in loads),
        load_place=_ints(row[1] for row in loads),
        load_kg=_floats(row[2] for row in loads),
        level_at=np.arange(SHIFT_S, days * DAY_S + 1, SHIFT_S, dtype=float),
        test_at=_floats(row[0] for row in tests),
        test_mixer=_ints(row[1] for row in tests),
        sampled=np.arange(0, len(batches), SAMPLE_EVERY, dtype=np.int64),
    )


def _tests(mixers: int, days: int) -> list[tuple[float, int]]:
    """A test of each mixer each week, the second mixer two hours after the first."""
    return [
        (float(at), number)
        for number in range(mixers)
        for at in range(2 * DAY_S + number * 7_200, days * DAY_S, TESTS_EVERY_S)
    ]


def _floats(values: Iterable[float]) -> Floats:
    return np.fromiter(values, dtype=np.float64)


def _ints(values: Iterable[int]) -> Ints:
    return np.fromiter(values, dtype=np.int64)


def _numbers(names: Sequence[str], values: Iterable[str]) -> Ints:
    """The place of each value among the names, -1 where it is none of them."""
    at = {name: number for number, name in enumerate(names)}
    return _ints(at.get(value, -1) for value in values)


def _loads(
    mill: Mill, draws: list[tuple[float, int, str, str, str, float]], places: tuple[str, ...]
) -> list[tuple[float, int, float]]:
    """Deliveries that keep each bin between low and full, were all draws as targeted."""
    loads: list[tuple[float, int, float]] = []
    held = {code: OPENING_FRAC * mill.bin_by_code[code].capacity_kg for code in places}
    for at, _, _, _, place, kg in draws:
        if place not in held:
            continue
        held[place] -= kg
        capacity_kg = mill.bin_by_code[place].capacity_kg
        if held[place] < LOW_FRAC * capacity_kg:
            load_kg = min(TRUCK_KG, FULL_FRAC * capacity_kg - held[place])
            loads.append((at + 60.0, places.index(place), load_kg))
            held[place] += load_kg
    return loads
