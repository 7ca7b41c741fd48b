"""How long one formula takes: raw solver against ours on the same arrays, odds, conflicts, answers.

    .venv/bin/python benchmarks/bench_formulate.py [--formulas 200] [--again 1000]

Random formulas of 60 ingredients and 40 nutrients that something fits. Every ratio is taken in the
same run, the two sides in turn on the same arrays.
"""

import argparse
import platform
import statistics
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import numpy as np
from highspy import _core

from bedstone.formulation.arrays import Compiled, compile_problem
from bedstone.formulation.cone_check import cone_cost
from bedstone.formulation.conflicts import irreducible, why_not
from bedstone.formulation.demands import entries_of
from bedstone.formulation.least_cost import answer_of, least_cost
from bedstone.formulation.model import FormulaProblem
from bedstone.formulation.optimum import optimum, program_of
from bedstone.formulation.warm import WarmFormula, solve_again

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))
from fakes.formulas import random_problem

SIZE, NUTRIENTS = 60, 40
GOALS = (
    "goals: ours at most 1.3 times the raw solver; 1,000 formulas after a price change in 0.5 s; "
    "with odds 10 ms in the median; an irreducible set in 100 ms"
)


def raw(compiled: Compiled) -> "_core._Highs":
    """The bare solver on a problem's arrays, as its own documentation passes them."""
    rows, columns = compiled.matrix.shape
    index = np.tile(np.arange(rows, dtype=np.int32), columns)
    value = np.ascontiguousarray(compiled.matrix.T).ravel()
    start = np.arange(0, value.size, rows, dtype=np.int32)
    solver = _core._Highs()  # noqa: SLF001 - the bare class, without a layer around it
    options = _core.HighsOptions()
    options.output_flag = False
    options.presolve = "off"
    solver.passOptions(options)
    solver.passModel(
        columns, rows, value.size, 1, 1, 0.0, compiled.cost, compiled.column_low,
        compiled.column_high, compiled.row_low, compiled.row_high, start, index, value,
        np.zeros(columns, dtype=np.int32),
    )  # fmt: skip
    solver.run()
    return solver


def values(solver: "_core._Highs") -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Shares, prices of rows and of columns, taken out of the bare solver."""
    found = solver.getSolution()
    return np.array(found.col_value), np.array(found.row_dual), np.array(found.col_dual)


class Took(NamedTuple):
    """Seconds that some work took: by the clock, and of this process's own processor time."""

    clock: float
    processor: float


def timed(work: Callable[[], object]) -> Took:
    """How long some work takes."""
    clock, processor = time.perf_counter(), time.process_time()
    work()
    return Took(time.perf_counter() - clock, time.process_time() - processor)


def line(name: str, took: list[Took], more: str = "") -> None:
    """One line of the table: median and nine of ten by the clock, median of processor time, in ms."""
    clock = [1000 * one.clock for one in took]
    slow = float(np.quantile(clock, 0.9))
    used = 1000 * statistics.median(one.processor for one in took)
    text = f"{statistics.median(clock):8.2f} ms median {slow:8.2f} ms 90 % {used:8.2f} ms processor"
    print(f"{name:<44} {text}  {more}")


def ratio(ours: list[Took], raw_took: list[Took]) -> str:
    """Median over median, by the clock and by processor time."""
    parts = [
        statistics.median(one[place] for one in ours)
        / statistics.median(one[place] for one in raw_took)
        for place in (0, 1)
    ]
    return f"ratio {parts[0]:.2f} by the clock, {parts[1]:.2f} by processor time"


def single(compiled: list[Compiled]) -> None:
    """Fresh solve and solve after a price change, raw and ours."""
    rng = np.random.default_rng(0)
    fresh, ours, raw_again, our_again = [], [], [], []
    for one in compiled:
        prices = one.cost * rng.uniform(0.9, 1.1, one.cost.size)
        places = np.arange(one.cost.size, dtype=np.int32)
        fresh.append(timed(lambda one=one: values(raw(one))))
        ours.append(timed(lambda one=one: (p := program_of(one), p.run(), p.point())))
        solver, warm = raw(one), WarmFormula(one)
        warm.at(one.cost)
        raw_again.append(
            timed(
                lambda solver=solver, prices=prices, places=places: (
                    solver.changeColsCost(places.size, places, prices),
                    solver.run(),
                    values(solver),
                )
            )
        )
        our_again.append(timed(lambda warm=warm, prices=prices: warm.at(prices)))
    line("raw solver, fresh", fresh)
    line("ours, fresh", ours, ratio(ours, fresh))
    line("raw solver, after a price change", raw_again)
    line("ours, after a price change", our_again, ratio(our_again, raw_again))


def whole(problems: list[FormulaProblem]) -> None:
    """From the problem as asked to the whole answer with its ranges, and its parts."""
    arrays = [timed(lambda p=p: compile_problem(p)) for p in problems]
    compiled = [compile_problem(p) for p in problems]
    answers = [timed(lambda p=p: least_cost(p)) for p in problems]
    found = [(one, optimum(one)) for one in compiled]
    reading = [timed(lambda pair=pair: answer_of(*pair)) for pair in found if pair[1]]
    line("problem to arrays, all checks", arrays)
    line("optimum to answer, exact ranges", reading)
    line("problem to answer", answers)


def again(compiled: list[Compiled], count: int) -> None:
    """Many formulas solved again after a price change, by one and by two threads."""
    warm = [WarmFormula(compiled[place % len(compiled)]) for place in range(count)]
    rng = np.random.default_rng(1)
    for one in warm:
        one.at(one.compiled.cost)
    for threads in (1, 2):
        costs = [one.compiled.cost * rng.uniform(0.95, 1.05, SIZE) for one in warm]
        took = timed(lambda costs=costs, threads=threads: solve_again(warm, costs, threads=threads))
        text = f"{count} formulas after a price change, {threads} thread(s)"
        print(f"{text:<52} {took.clock:8.3f} s, {took.processor:.3f} s of processor time")


def odds(count: int) -> None:
    """With ten guarantees at 95 %: ours, the check on cones, and how far apart they are."""
    ours, check, apart = [], [], []
    for seed in range(count):
        one = compile_problem(random_problem(seed, size=SIZE, nutrients=NUTRIENTS, odds=10))
        ours.append(timed(lambda one=one: optimum(one)))
        check.append(timed(lambda one=one: cone_cost(one)))
        found, cost = optimum(one), cone_cost(one)
        if found is not None and cost is not None:
            apart.append(abs(found.point.cost - cost) / cost)
    line("with odds on ten guarantees", ours)
    line("the same by interior point on the cones", check, f"apart at most {max(apart):.1e}")


def clashes(count: int) -> None:
    """A formula that nothing fits: the irreducible set, and with every way to give in."""
    for kind, with_odds in (("", 0), (" with odds", 10)):
        sets, whole_answer, sizes = [], [], []
        for seed in range(count):
            asked = random_problem(seed, size=SIZE, nutrients=NUTRIENTS, odds=with_odds)
            place = int(np.random.default_rng(seed).integers(NUTRIENTS))
            rows = list(asked.requirements)
            most = max(item.levels[f"n{place}"].mean for item in asked.ingredients)
            rows[place] = replace(rows[place], minimum=0.8 * most, maximum=None)
            asked = replace(asked, requirements=tuple(rows))
            compiled = compile_problem(asked)
            if optimum(compiled) is not None:
                continue
            sets.append(timed(lambda one=compiled: irreducible(one, entries_of(one))))
            sizes.append(len(irreducible(compiled, entries_of(compiled))))
            whole_answer.append(timed(lambda asked=asked: why_not(asked)))
        line(f"irreducible set{kind}", sets, f"{statistics.mean(sizes):.1f} demands on average")
        line(f"set and every way to give in{kind}", whole_answer)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--formulas", type=int, default=200)
    parser.add_argument("--again", type=int, default=1000)
    given = parser.parse_args()
    print(f"{platform.machine()}, Python {platform.python_version()}")
    print(f"{given.formulas} random formulas, {SIZE} ingredients, {NUTRIENTS} nutrients")
    problems = [
        random_problem(seed, size=SIZE, nutrients=NUTRIENTS) for seed in range(given.formulas)
    ]
    compiled = [compile_problem(one) for one in problems]
    print(GOALS)
    single(compiled)
    whole(problems)
    again(compiled, given.again)
    odds(min(100, given.formulas))
    clashes(min(40, given.formulas))


if __name__ == "__main__":
    main()
