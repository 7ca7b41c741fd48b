"""How long a joint week takes beside one plain interior-point solve of everything, in one run.

    .venv/bin/python benchmarks/bench_joint.py [--products 200] [--materials 60] [--nutrients 40]
        [--seeds 3] [--scarce 0.35] [--simplex]

Random arrays: each product has its own dense levels, limits around a random formula, three tiers a
material. The joint week is timed from the arrays to the proved answer, programs built and all. The
plain program is given to HiGHS's interior point without crossover, twice: as it chooses, and the
older of its two, with as many threads as it likes. Both are checked against each other. Wall time
and processor time are printed; the joint week uses two threads for its first question alone. What a
process loads and compiles once is done before, on a small week.
"""

import argparse
import os
import platform
import statistics
import sys
import time
from pathlib import Path

import highspy
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from bedstone.formulation.joint_arrays import JointArrays, JointOptimum
from bedstone.formulation.joint_columns import JointWork
from bedstone.formulation.joint_solver import warm_products
from fakes.random_weeks import PlainProgram, plain_program, random_week

CLOSE = 1e-6


def jointly(week: JointArrays) -> JointOptimum:
    """The proved optimum, from arrays."""
    work = JointWork(week, warm_products(week.products, [None] * len(week.products)))
    assert work.impossible_alone() == []
    found = work.optimum()
    assert isinstance(found, JointOptimum), "this week is short of something: take --scarce lower"
    return found


def plainly(
    program: PlainProgram, solver: str, *, limit_s: float
) -> tuple[float, float, str, float]:
    """Wall and processor seconds of HiGHS on the whole program, how it ended, and the cost."""
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = len(program.cost), len(program.row_lower)
    lp.col_cost_, lp.col_lower_, lp.col_upper_ = program.cost, program.lower, program.upper
    lp.row_lower_, lp.row_upper_ = program.row_lower, program.row_upper
    lp.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    lp.a_matrix_.start_ = program.matrix.indptr
    lp.a_matrix_.index_ = program.matrix.indices
    lp.a_matrix_.value_ = program.matrix.data
    highs = highspy.Highs()
    highs.setOptionValue("output_flag", False)  # noqa: FBT003 - the solver's own signature
    highs.setOptionValue("solver", solver)
    highs.setOptionValue("run_crossover", "off")
    highs.setOptionValue("time_limit", limit_s)
    highs.passModel(lp)
    began, used_s = time.perf_counter(), time.process_time()
    highs.run()
    took_s, used_s = time.perf_counter() - began, time.process_time() - used_s
    status = highs.modelStatusToString(highs.getModelStatus())
    return took_s, used_s, status, highs.getInfo().objective_function_value


def one(seed: int, asked: argparse.Namespace) -> float:
    """Time one week both ways; the ratio to the faster interior point."""
    week = random_week(
        seed,
        products=asked.products,
        materials=asked.materials,
        nutrients=asked.nutrients,
        scarce=asked.scarce,
    )
    wall, used = time.perf_counter(), time.process_time()
    found = jointly(week)
    wall, used = time.perf_counter() - wall, time.process_time() - used
    binding = int(np.sum(found.prices_usd_t > dearest(week) * (1 + CLOSE)))
    print(
        f"seed {seed}: joint {wall:.2f} s wall, {used:.2f} s processor, {found.rounds} rounds, "
        f"{found.columns} formulas, {binding} scarce, gap {found.gap_frac:.1e}, "
        f"violation {found.violation:.1e}, cost {found.cost_usd:.4f}"
    )
    program = plain_program(week)
    times = []
    for solver in ("ipm", "ipx", *(["simplex"] if asked.simplex else [])):
        took_s, used_s, status, cost = plainly(program, solver, limit_s=asked.limit)
        print(
            f"    plain {solver}: {took_s:.2f} s wall, {used_s:.2f} s processor, {status}, cost {cost:.4f}"
        )
        if solver != "simplex":
            assert status != "Optimal" or abs(cost - found.cost_usd) <= CLOSE * abs(cost)
            times.append(took_s)
    print(f"    ratio to the faster interior point: {min(times) / wall:.2f}")
    return min(times) / wall


def dearest(week: JointArrays) -> np.ndarray:
    """The dearest tier of each material."""
    prices = np.zeros(week.materials)
    for tier in week.tiers:
        prices[tier.material] = max(prices[tier.material], tier.price_usd_t)
    return prices


def main() -> None:
    """Time some weeks."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--products", type=int, default=200)
    parser.add_argument("--materials", type=int, default=60)
    parser.add_argument("--nutrients", type=int, default=40)
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--scarce", type=float, default=0.35)
    parser.add_argument("--limit", type=float, default=60.0, help="seconds a plain solve may take")
    parser.add_argument("--simplex", action="store_true", help="also the simplex method")
    asked = parser.parse_args()
    load = os.getloadavg()[0]
    print(f"{platform.machine()}, {os.cpu_count()} processors, load {load:.1f}")
    jointly(
        random_week(99, products=60, materials=6, nutrients=4, plenty=1.5)
    )  # imports and first calls
    ratios = [one(seed, asked) for seed in range(asked.seeds)]
    print(f"median ratio {statistics.median(ratios):.2f}, least {min(ratios):.2f}")


if __name__ == "__main__":
    main()
