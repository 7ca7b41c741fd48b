"""How long a day takes to plan and to verify, and how many runs a second are walked.

    .venv/bin/python benchmarks/bench_plan.py [--day 2026-11-25] [--evaluations 300]

The demo mill's day: its orders, opening stock as book stock, and two starts: nothing known of the
machines, and all of them clean. Processor time is what counts on a shared machine.
"""

import argparse
import dataclasses
import datetime as dt
import platform
import time

from bedstone.batching.draws import draws_of_day
from bedstone.batching.model import Layer
from bedstone.demo.quillback import quillback_folder
from bedstone.desk.make_plan import _events
from bedstone.mill.plan import HeldSubstance, Plan, Verdict
from bedstone.mill.residue import CleanedOut, Residue, replay
from bedstone.planning import sequence
from bedstone.planning.assemble import assemble
from bedstone.planning.day import _evaluator, plan_runs
from bedstone.planning.model import DayOutcome, DayProblem, OrderToMake
from bedstone.planning.orders_in import work_of
from bedstone.planning.paths import Paths
from bedstone.planning.verifier import verify_plan


def demo_day(day: dt.date, evaluations: int) -> DayProblem:
    """The demo mill's day with its opening stock."""
    folder = quillback_folder(day)
    stock_mg: dict[tuple[str, str], int] = {}
    for row in folder.opening_stock:
        key = (row.place, row.material)
        stock_mg[key] = stock_mg.get(key, 0) + round(row.mass_kg * 1e6)
    now = dt.datetime.combine(day, dt.time(5, 30), tzinfo=folder.mill.settings.zone)
    return DayProblem(
        mill=folder.mill,
        orders=tuple(
            OrderToMake(order=order, remaining_mg=round(order.mass_kg * 1e6))
            for order in folder.orders
        ),
        stock_mg=stock_mg,
        starting=(),
        day=day,
        now=now.astimezone(dt.UTC),
        evaluations=evaluations,
    )


def clean(problem: DayProblem) -> tuple[HeldSubstance, ...]:
    """All machines just cleaned."""
    places = tuple(row.place for row in Residue(problem.mill).places.all)
    return replay(problem.mill, [CleanedOut(places=places)])


def with_draws(problem: DayProblem, outcome: DayOutcome) -> Plan:
    """The plan with its draws."""
    lying = {
        key: (Layer(lot="bench", mass_mg=mass_mg, since_at=problem.now),)
        for key, mass_mg in problem.stock_mg.items()
    }
    drawn = draws_of_day(problem.mill, _events(problem.mill, outcome), stock=lying)
    return assemble(
        outcome,
        drawn.draws,
        made_at=problem.now,
        revision=problem.mill.revision,
        position=0,
        head="0" * 64,
    )


def report(name: str, problem: DayProblem) -> None:
    """Plan, verify and say how long each took."""
    wall, used = time.perf_counter(), time.process_time()
    outcome = plan_runs(problem)
    wall, used = time.perf_counter() - wall, time.process_time() - used
    plan = with_draws(problem, outcome)
    judging = time.process_time()
    found = verify_plan(problem.mill, plan, stock_mg=problem.stock_mg)
    judging = time.process_time() - judging
    refused = [finding.text for finding in found if finding.verdict is Verdict.STOP]
    came = outcome.as_orders_came
    print(
        f"{name}: {len(problem.orders)} orders, {len(outcome.runs)} runs, "
        f"{len(outcome.batches)} batches, {len(outcome.left_out)} left out; planned in "
        f"{used:.2f} s of processor time ({wall:.2f} s by the clock), verified in {judging:.2f} s, "
        f"{len(refused)} refused; cost {outcome.costs.running_cents100 / 1e4:.0f} USD, in the order "
        f"in which the orders came {came.running_cents100 / 1e4 if came else 0:.0f} USD"
    )
    assert refused == []


def steps_a_second(problem: DayProblem) -> float:
    """Runs walked a second by the exact evaluator, search included."""
    paths = Paths(problem.mill)
    work = work_of(problem, paths)
    evaluator = _evaluator(problem, work, paths, has_overtime=False)
    used = time.process_time()
    sequence.search(evaluator, work.jobs, evaluations=problem.evaluations, seed=0)
    return evaluator.steps_walked / (time.process_time() - used)


def main() -> None:
    """Say the machine and the figures."""
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--day", type=dt.date.fromisoformat, default=dt.date(2026, 11, 25))
    reader.add_argument("--evaluations", type=int, default=300)
    asked = reader.parse_args()
    problem = demo_day(asked.day, asked.evaluations)
    print(f"{platform.machine()}, {platform.python_implementation()} {platform.python_version()}")
    report("machines unknown", problem)
    report("machines clean", dataclasses.replace(problem, starting=clean(problem)))
    print(f"{steps_a_second(problem):,.0f} runs walked a second of processor time")


if __name__ == "__main__":
    main()
