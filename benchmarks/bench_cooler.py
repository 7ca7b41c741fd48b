"""The bed of a cooler: time of a profile, of 48 hours of limits, of a calibration; error over cases.

    python benchmarks/bench_cooler.py [--cases 10000] [--reference-only]

The cases are solved once by SciPy to a tolerance of 1e-7 and kept in
benchmarks/results/cooler_reference.csv, so that the run can be stopped and gone on with. Times of a
profile are the processor's, over the whole range of inputs from nothing (no profile to begin with);
the rest is by the clock.
"""

import argparse
import csv
import datetime as dt
import math
import sys
import time
import warnings
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent / "tests"))

from bedstone.cooling.bed import MODES, solve_bed
from bedstone.cooling.calibrate import CoolerReading, calibrate
from bedstone.cooling.cooler import CELLS, CLOSE_C, CLOSE_DB, cool
from bedstone.cooling.limits import HourAir, Limits, ToCool, hourly_limits
from bedstone.cooling.model import AirIn, Cooler, Factors, PelletKind, PelletsIn
from fakes.cooler_cases import random_bed, scipy_leaving

RESULTS = HERE / "results" / "cooler_reference.csv"
SEED = 11


def ours(number: int, cells: int = CELLS, close: float = 1.0) -> tuple[bool, np.ndarray, list]:
    """Our answer to a case, what leaves, and mesh with profile; odd numbers have the gradient."""
    modes = MODES if number % 2 else 0
    none = np.zeros((0, 2 + modes)), np.zeros((0, 2))
    settled, height, inside, _, leaving, _, _ = solve_bed(
        random_bed(SEED, number), modes, cells, CLOSE_C * close, CLOSE_DB * close, *none
    )
    return settled, leaving, [height, inside]


def reference(cases: int) -> dict[int, tuple[float, float]]:
    """SciPy's answers so far, and those still missing."""
    RESULTS.parent.mkdir(exist_ok=True)
    known: dict[int, tuple[float, float]] = {}
    if RESULTS.exists():
        with RESULTS.open(encoding="utf-8", newline="") as file:
            known = {
                int(row["case"]): (float(row["pellet_c"]), float(row["moisture_db"]))
                for row in csv.DictReader(file)
            }
    else:
        RESULTS.write_text("case,pellet_c,moisture_db\n", encoding="utf-8")
    began = time.monotonic()
    with RESULTS.open("a", encoding="utf-8", newline="") as file, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for number in range(cases):
            if number in known:
                continue
            _, _, (height, inside) = ours(number, cells=48, close=1e-3)
            modes = MODES if number % 2 else 0
            done, pellet_c, moisture = scipy_leaving(
                random_bed(SEED, number), modes, height, inside.T.copy()
            )
            if not done:
                pellet_c, moisture = math.nan, math.nan
            known[number] = pellet_c, moisture
            file.write(f"{number},{pellet_c:.7f},{moisture:.10f}\n")
            file.flush()
            if number % 250 == 0:
                print(f"  case {number}: {time.monotonic() - began:.0f} s", flush=True)
    return {number: known[number] for number in range(cases)}


def errors(cases: int) -> None:
    """How far our quick answers lie from SciPy's."""
    known = reference(cases)
    misses, failed, no_reference = [], 0, 0
    for number, (pellet_c, moisture) in known.items():
        settled, leaving, _ = ours(number)
        if not settled:
            failed += 1
        elif math.isnan(pellet_c):
            no_reference += 1
        else:
            wet = moisture / (1 + moisture)
            misses.append((leaving[0] - pellet_c, 100 * (leaving[1] / (1 + leaving[1]) - wet)))
    far = np.abs(np.array(misses))
    print(f"cases {len(known)}: ours failed {failed}, SciPy gave up {no_reference}")
    for name, column, allowed in (("temperature, K", 0, 0.02), ("moisture, points", 1, 0.005)):
        print(
            f"  {name}: median {np.median(far[:, column]):.1e}, 99 % {np.quantile(far[:, column], 0.99):.1e}, "
            f"largest {far[:, column].max():.1e}; beyond {allowed}: {(far[:, column] > allowed).sum()}"
        )


def line(count: int) -> list[ToCool]:
    """Products of a line, from 3 to 7 mm."""
    return [
        ToCool(
            product=f"P{i}", line="PL1", cooler=Cooler(area_m2=2.0, depth_m=0.6, air_kg_s=2.6),
            pellet=PelletKind(diameter_mm=3 + 0.13 * i, length_mm=12),
            pellets=PelletsIn(rate_kg_s=4.5, temperature_c=76 + 0.3 * i, moisture_wb=0.145 + 0.0005 * i),
        )
        for i in range(count)
    ]  # fmt: skip


def weather(count: int) -> list[HourAir]:
    """Hours of a warm day and a cool night."""
    start = dt.datetime(2026, 7, 1, tzinfo=dt.UTC)
    return [
        HourAir(
            starts_at=start + dt.timedelta(hours=i),
            air=AirIn(
                temperature_c=22 + 8 * math.sin(2 * math.pi * i / 24),
                relative_humidity_frac=0.65 - 0.25 * math.sin(2 * math.pi * i / 24),
            ),
        )
        for i in range(count)
    ]


def hundredfold(cases: int) -> None:
    """Beds whose exchange is a hundred times too great."""
    unsolved, spent = [], []
    for number in range(cases):
        modes = MODES if number % 2 else 0
        none = np.zeros((0, 2 + modes)), np.zeros((0, 2))
        k = random_bed(SEED, number, exchange=100.0)
        began = time.process_time()
        settled, *_ = solve_bed(k, modes, CELLS, CLOSE_C, CLOSE_DB, *none)
        spent.append(1000 * (time.process_time() - began))
        if not settled:
            unsolved.append(number)
    print(
        f"exchange a hundred times too great, {cases} beds: {len(unsolved)} not solved {unsolved}; "
        f"median {np.median(spent):.2f} ms, mean {np.mean(spent):.2f} ms"
    )


def times() -> None:
    """Time of a profile, of 48 hours of limits, of a calibration."""
    for modes, name, goal in ((0, "uniform pellet", 0.3), (MODES, "with the gradient", 1.0)):
        beds = [random_bed(SEED, n) for n in range(1000)]
        none = np.zeros((0, 2 + modes)), np.zeros((0, 2))
        solve_bed(beds[0], modes, CELLS, CLOSE_C, CLOSE_DB, *none)
        spent = []
        for k in beds:
            began = time.process_time()
            solve_bed(k, modes, CELLS, CLOSE_C, CLOSE_DB, *none)
            spent.append(1000 * (time.process_time() - began))
        print(
            f"one profile, {name}: median {np.median(spent):.3f} ms, mean {np.mean(spent):.3f} ms, "
            f"99 % {np.quantile(spent, 0.99):.2f} ms (goal {goal})"
        )
    for uniform, goal in ((True, 1), (False, 4)):
        hourly_limits(line(1), weather(2), uniform=uniform, with_interval=False)
        began, worked = time.perf_counter(), time.process_time()
        found = hourly_limits(
            line(30),
            weather(48),
            Limits(water_activity_frac=0.70),
            uniform=uniform,
            with_interval=False,
        )
        print(
            f"48 h x 30 products, {'uniform' if uniform else 'gradient'}: "
            f"{time.perf_counter() - began:.2f} s by the clock, "
            f"{time.process_time() - worked:.2f} s of processors (goal {goal} s on two); "
            f"{sum(not one.holds for one in found)} of {len(found)} hours limited"
        )
    readings = runs(500)
    began, worked = time.perf_counter(), time.process_time()
    found = calibrate(readings)
    print(
        f"calibration from 500 readings: {time.perf_counter() - began:.2f} s by the clock, "
        f"{time.process_time() - worked:.2f} s of processors (goal 2); heat "
        f"{found.factors.heat:.3f} [{found.factors.heat_lo:.3f}, {found.factors.heat_hi:.3f}] true 0.700, moisture "
        f"{found.factors.moisture:.3f} [{found.factors.moisture_lo:.3f}, {found.factors.moisture_hi:.3f}] true 1.400"
    )


def runs(count: int) -> list[CoolerReading]:
    """Logged runs of a cooler whose factors are 0.7 and 1.4, read with errors."""
    draw = np.random.default_rng(3)
    made = []
    for _ in range(count):
        cooler = Cooler(area_m2=2.0, depth_m=0.6, air_kg_s=float(draw.uniform(2, 3)))
        pellet = PelletKind(diameter_mm=float(draw.choice([4.0, 4.8, 6.0])), length_mm=12)
        pellets = PelletsIn(
            rate_kg_s=float(draw.uniform(2, 4)),
            temperature_c=float(draw.uniform(70, 88)),
            moisture_wb=float(draw.uniform(0.14, 0.17)),
        )
        air = AirIn(
            temperature_c=float(draw.uniform(0, 30)),
            relative_humidity_frac=float(draw.uniform(0.3, 0.95)),
        )
        true, _ = cool(cooler, pellet, pellets, air, Factors(heat=0.7, moisture=1.4))
        made.append(
            CoolerReading(
                cooler=cooler, pellet=pellet, pellets=pellets, air=air,
                outlet_c=true.pellet_c + 0.5 * float(draw.normal()),
                moisture_wb=true.moisture_wb + 0.002 * float(draw.normal()),
                exhaust_c=true.air_c + float(draw.normal()),
            )
        )  # fmt: skip
    return made


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=200)
    parser.add_argument("--reference-only", action="store_true")
    asked = parser.parse_args()
    if asked.reference_only:
        reference(asked.cases)
    else:
        times()
        hundredfold(min(asked.cases, 1000))
        errors(asked.cases)
