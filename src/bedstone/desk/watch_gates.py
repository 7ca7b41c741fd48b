"""Gates and mixers watched: where draws land beside their targets, how even batches are."""

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from bedstone.desk.made import made_batches
from bedstone.desk.mixer_tests import COUNT, MixerTest, is_mixed_in_full, mixer_tests
from bedstone.desk.record import Record
from bedstone.desk.watch_kinds import LANDING
from bedstone.mill.model import Mill
from bedstone.quality.sequential import HELD
from bedstone.quality.watch_draws import usual_cv_of, worn_at, worn_found, worn_smallest
from bedstone.quality.watch_samples import Sampled, Weights, spread_of, together

__all__ = ["MixerWatched", "gates", "mixers_watched"]

MG_KG = 1e6
FEWEST, LATEST = 12, 150
WANDER_DAYS = 3.0
WORN_FALSE_ALARM = 0.03
"""Chance that a sound mixer is called worn by all of its tests so far (mill policy)."""
SAMPLES, USUAL_CV = 10, 0.05


def gates(record: Record, mill: Mill) -> list[Sampled]:
    """How far each ingredient through each gate comes beside its target, draw by draw.

    The scale itself weighs what came; a gate that begins to land elsewhere is a matter of its
    pre-act, of the gate, or of how the material flows. What is weighed by hand has no gate.
    """
    by_gate: dict[tuple[str, str, str], list[tuple[float, float]]] = {}
    floor = {row.bin for row in mill.bins if row.kind == "floor"}
    for row in made_batches(record).values():
        for draw in row.made.draws:
            if draw.actual_mg and draw.target_mg and draw.from_place not in floor:
                key = (draw.from_place, draw.instrument, draw.ingredient)
                off_kg = (draw.actual_mg - draw.target_mg) / MG_KG
                by_gate.setdefault(key, []).append((row.happened_at.timestamp(), off_kg))
    return [
        _gate(key, sorted(rows)[-LATEST:], _division_kg(mill, key[1]))
        for key, rows in sorted(by_gate.items())
        if len(rows) >= FEWEST
    ]


def _division_kg(mill: Mill, tool: str) -> float:
    found = mill.scale_by_code.get(tool) or mill.meter_by_code.get(tool)
    return found.division_kg if found else 0.01


def _gate(
    key: tuple[str, str, str], rows: Sequence[tuple[float, float]], division_kg: float
) -> Sampled:
    place, tool, _ = key
    name = f"{place} gate to {tool}"
    at, off = np.array([row[0] for row in rows]), np.array([row[1] for row in rows])
    sd = spread_of(off, division_kg / 2)
    middle = float(np.median(off))
    held = middle + np.clip(off - middle, -HELD * sd, HELD * sd)
    return Sampled(
        name=f"landings of {name}",
        known_at=at,
        off=held,
        covariance=together(
            at,
            own_sd=np.full(at.size, sd),
            wander_sd=sd / 2,
            days=WANDER_DAYS,
            offset_sd=10 * sd,
        ),
        parts={(name, LANDING): Weights(at, np.arange(at.size), np.ones(at.size))},
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class MixerWatched:
    """What the tests of a mixer can show, and the tests since which it is uneven, if it is.

    ``smallest_frac`` is the unevenness (coefficient of variation without the counting) that one
    test and four tests show in nine of ten mixers; ``worn_found_frac`` how many mixers of 15 % one
    and four tests show.
    """

    mixer: str
    tests: int
    usual_cv_frac: float
    samples: int
    count: float  # particles in a sample; nought for a measured level
    smallest_frac: tuple[float, float]
    worn_found_frac: tuple[float, float]
    even_at: dt.datetime | None = None  # the last even test before
    uneven_at: dt.datetime | None = None
    alarm_at: dt.datetime | None = None
    cv_frac: float = 0.0  # of the uneven ones, without the counting


def mixers_watched(record: Record, mill: Mill) -> tuple[MixerWatched, ...]:
    """Each mixer by all of its tests of the kind it was tested with last, mixed in full."""
    found = []
    for machine in mill.machines:
        if machine.kind != "mixer":
            continue
        tests = [
            row for row in mixer_tests(record, machine.machine) if is_mixed_in_full(machine, row)
        ]
        same = [row for row in tests if (row.unit == COUNT) == (tests[-1].unit == COUNT)]
        found.append(_mixer(machine.machine, same))
    return tuple(found)


def _mixer(mixer: str, tests: Sequence[MixerTest]) -> MixerWatched:
    counted = bool(tests) and tests[-1].unit == COUNT
    values = [np.array(row.values) for row in tests]
    usual = usual_cv_of(values, counted=counted) if tests else USUAL_CV
    samples = len(tests[-1].values) if tests else SAMPLES
    count = float(values[-1].mean()) if counted else 0.0
    worn = worn_at(values, usual_cv=usual, false_alarm=WORN_FALSE_ALARM, counted=counted)

    def shown(cv: float, number: int) -> float:
        return worn_found(
            cv, number, usual_cv=usual, mean_count=count, samples=samples,
            false_alarm=WORN_FALSE_ALARM,
        )  # fmt: skip

    def smallest(number: int) -> float:
        return worn_smallest(
            number, usual_cv=usual, mean_count=count, samples=samples,
            false_alarm=WORN_FALSE_ALARM,
        )  # fmt: skip

    return MixerWatched(
        mixer=mixer,
        tests=len(tests),
        usual_cv_frac=usual,
        samples=samples,
        count=count,
        smallest_frac=(smallest(1), smallest(4)),
        worn_found_frac=(shown(0.15, 1), shown(0.15, 4)),
        even_at=tests[worn[1] - 1].tested_at if worn and worn[1] else None,
        uneven_at=tests[worn[1]].tested_at if worn else None,
        alarm_at=tests[worn[0]].tested_at if worn else None,
        cv_frac=_cv(values[worn[1] : worn[0] + 1], counted=counted) if worn else 0.0,
    )


def _cv(tests: Sequence[np.ndarray], *, counted: bool) -> float:
    """Coefficient of variation of tests together, without the counting."""
    excess = [
        float(row.var(ddof=1)) / float(row.mean()) ** 2
        - (1 / float(row.mean()) if counted else 0.0)
        for row in tests
        if row.mean() > 0
    ]
    return math.sqrt(max(0.0, sum(excess) / len(excess))) if excess else 0.0
