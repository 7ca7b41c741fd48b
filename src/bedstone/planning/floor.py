"""The floor of the mill on the day: machines with their shifts and rates, and what is busy."""

import datetime as dt
from dataclasses import dataclass, field

from bedstone.mill.model import Mill
from bedstone.mill.plan import BarKind
from bedstone.planning.model import EMPTY_FRAC, DayProblem
from bedstone.planning.orders_in import DayWork
from bedstone.planning.shifts import Line, Windows, rate_segments, seconds, shift_windows

__all__ = ["BarAt", "BatchAt", "DayState", "DoesNotFit", "Floor", "GrindAt", "opening_state"]

MG_KG = 1_000_000


class DoesNotFit(Exception):
    """A run that finds no place in the day as it stands: why, and at what."""

    def __init__(self, because: str, about: str) -> None:
        super().__init__(because, about)
        self.because = because  # "time", "bin", "stock" or "never"
        self.about = about  # machine, bin or material


@dataclass(frozen=True, slots=True)
class BatchAt:
    """A batch in its time. Seconds from midnight."""

    is_flush: bool
    mass_kg: float
    start_s: int
    end_s: int


@dataclass(frozen=True, slots=True)
class BarAt:
    """A machine busy, in seconds from midnight."""

    machine: str
    kind: BarKind
    start_s: int
    end_s: int


@dataclass(frozen=True, slots=True)
class GrindAt:
    """Grain ground in its time."""

    key: str  # of the shelf
    out_kg: float
    start_s: int
    end_s: int


@dataclass(slots=True)
class DayState:
    """What is busy until when, and what is left, after the runs placed so far.

    Values are never changed in place, so that a shallow copy of the mappings is a whole copy.
    """

    free_s: dict[str, int]
    last: dict[str, str]
    dies: dict[str, str]
    lying: dict[str, tuple[str, float]]  # finished bin -> product, kg that stays
    supply: dict[str, tuple[tuple[float, int], ...]]  # shelf -> (kg in all, from when)
    drawn_kg: dict[str, float]
    draws: dict[str, tuple[tuple[float, int], ...]]  # shelf of ground grain -> (kg, by when)
    grain_kg: dict[str, float]
    flushed_kg: float
    flush_room_kg: float

    def copy(self) -> "DayState":
        """An own copy."""
        return DayState(
            dict(self.free_s),
            dict(self.last),
            dict(self.dies),
            dict(self.lying),
            dict(self.supply),
            dict(self.drawn_kg),
            dict(self.draws),
            dict(self.grain_kg),
            self.flushed_kg,
            self.flush_room_kg,
        )


@dataclass(eq=False)
class Floor:
    """What does not change during the day."""

    mill: Mill
    day: dt.date
    now_s: int
    work: DayWork
    has_overtime: bool = False
    _windows: dict[str, Windows] = field(default_factory=dict)
    _lines: dict[tuple[str, str], Line] = field(default_factory=dict)

    def flush_left_kg(self, mixer: str, state: DayState) -> float:
        """What of the flush material a mixer may still use [kg]."""
        left_kg = self.work.flush_left_kg.get(mixer, 0.0)
        if self.has_overtime and left_kg > 0:
            return float("inf")
        return left_kg - state.flushed_kg

    def keyed(self, parts: dict[str, float], mixer: str) -> dict[str, float]:
        """Parts of a batch by the shelf that a mixer draws them from."""
        shelves = self.work.shelves
        return {shelves.key(material, mixer): part for material, part in parts.items()}

    def is_bin(self, code: str) -> bool:
        """True for a bin, false for a machine."""
        return code in self.mill.bin_by_code

    def windows(self, machine: str) -> Windows:
        """Shifts of a machine, from now on."""
        found = self._windows.get(machine)
        if found is None:
            found = shift_windows(self.mill, machine, day=self.day)
            spans = ((max(start, self.now_s), end) for start, end in found.spans)
            found = Windows(tuple((start, end) for start, end in spans if start < end))
            if self.has_overtime:
                found = found.with_overtime()
            self._windows[machine] = found
        return found

    def line(self, machine: str, product: str) -> Line:
        """A machine at its rate for a product; its usual rate for a flush."""
        found = self._lines.get((machine, product))
        if found is None:
            found = Line(
                rate_segments(
                    self.mill,
                    self.day,
                    machine,
                    product=product,
                    windows=self.windows(machine),
                )
            )
            self._lines[(machine, product)] = found
        return found

    def changeover_s(self, machine: str, *, last: str, product: str) -> int:
        """Time lost at a change of feed; none after nothing."""
        if last in ("", product):
            return 0
        return int(self.mill.machine_by_code[machine].changeover_s)

    def die_s(self, machine: str, *, die: str, wanted: str) -> int:
        """Time to change the die; none where the die is right, or not known."""
        if not wanted or die in ("", wanted):
            return 0
        return int(self.mill.machine_by_code[machine].die_change_s)


def opening_state(problem: DayProblem, work: DayWork, *, has_overtime: bool) -> DayState:
    """The floor before anything runs."""
    mill = problem.mill
    lying: dict[str, tuple[str, float]] = {}
    for (place, material), mass_mg in sorted(problem.stock_mg.items()):
        row = mill.bin_by_code.get(place)
        if row is None or row.kind not in ("finished", "surge"):
            continue
        mass_kg = mass_mg / MG_KG
        if mass_kg > row.hold_up_kg + EMPTY_FRAC * row.capacity_kg:
            lying[place] = (material, mass_kg) if place not in lying else ("", mass_kg)
    flush_bin = mill.bin_by_code.get(mill.settings.flush_bin)
    in_flush_bin_kg = sum(
        max(0, mass_mg) / MG_KG
        for (place, _), mass_mg in problem.stock_mg.items()
        if place == mill.settings.flush_bin
    )
    unlimited = float("inf")
    return DayState(
        free_s={code: seconds(mill, problem.day, until) for code, until in problem.free_at.items()},
        last=dict(problem.last_product),
        dies=dict(problem.dies),
        lying=lying,
        supply={code: ((mass_kg, 0),) for code, mass_kg in work.lying_kg.items()},
        drawn_kg={},
        draws={},
        grain_kg={
            pool.source: problem.stock_mg.get((pool.from_place, pool.source), 0) / MG_KG
            for pool in work.pools.values()
        },
        flushed_kg=0.0,
        flush_room_kg=unlimited
        if has_overtime
        else (flush_bin.capacity_kg - in_flush_bin_kg if flush_bin is not None else unlimited),
    )


def floor_of(problem: DayProblem, work: DayWork, *, has_overtime: bool = False) -> Floor:
    """The floor on the day of a problem."""
    return Floor(
        problem.mill,
        problem.day,
        seconds(problem.mill, problem.day, problem.now),
        work,
        has_overtime,
    )
