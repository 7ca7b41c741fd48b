"""How long a day takes to plan and to verify, how many orders of running are evaluated a second,
and how soon there is a first plan.

    .venv/bin/python benchmarks/bench_plan.py [--day 2026-11-25] [--evaluations 40000]

The demo mill's day: its orders, opening stock as book stock, and two starts: nothing known of the
machines, and all of them clean. Processor time is what counts on a shared machine.
"""

import argparse
import dataclasses
import datetime as dt
import platform
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from bedstone.batching.draws import draws_of_day
from bedstone.batching.model import Layer
from bedstone.demo.quillback import quillback_folder
from bedstone.desk.make_plan import _events
from bedstone.mill.model import Content, Substance
from bedstone.mill.plan import HeldSubstance, Plan, Verdict
from bedstone.mill.residue import CleanedOut, Residue, replay
from bedstone.planning.assemble import assemble
from bedstone.planning.day import open_day, plan_runs
from bedstone.planning.model import DayOutcome, DayProblem, OrderToMake
from bedstone.planning.swift import Swift
from bedstone.planning.verifier import verify_plan
from fakes.random_days import random_day


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


def evaluations(orders: int, substances: int) -> None:
    """How many orders of running are evaluated a second on a random day of some 150 batches.

    One evaluation walks every run of an order of running: paths chosen by what is free and clean,
    the true residue of every substance in every place along them, flushes and clean-outs as the
    limits ask, every batch through mixer, bins and lines with shifts, changeovers, dies, grinding
    and stock, and the costs of all that with lateness. "From the start" walks all of it; the search
    walks a neighbour from where it differs, until it is too dear.
    """
    asked = with_substances(random_day(1, orders=orders, batches=150), substances)
    used = time.process_time()
    day = open_day(asked)
    swift = Swift(day.evaluator, day.work.jobs)
    opened = time.process_time() - used
    items = [(job, job.options[0]) for job in day.work.jobs]
    swift.set_order(items)
    batches = sum(option.cut.batches for _, option in items)
    whole = 2000
    used = time.process_time()
    for _ in range(whole):
        swift.set_order(items)
    whole_s = (time.process_time() - used) / whole
    swift.anneal(5000, hot=swift.cost % 1e12 * 0.1, cold=1.0)
    tried, walked, used = swift.tried, swift.walked, time.process_time()
    swift.anneal(40_000, hot=swift.best_cost % 1e12 * 0.01, cold=1.0)
    used = time.process_time() - used
    places = len(day.evaluator.residue.places.all)
    print(
        f"{len(items)} runs, {batches} batches, {len(day.evaluator.residue.substances)} substances, "
        f"{len(asked.mill.machines)} machines, {places} places: opened in {opened:.2f} s; from the "
        f"start {1 / whole_s:,.0f} evaluations a second ({whole_s * 1e6:.0f} us each), in the search "
        f"{(swift.tried - tried) / used:,.0f} a second ({(swift.walked - walked) / used:,.0f} runs)"
    )


def searched_a_second(seed: int) -> float:
    """Orders of running that one search evaluates a second by the clock, 150 batches, 20 substances."""
    day = open_day(with_substances(random_day(1, orders=40, batches=150), 20))
    swift = Swift(day.evaluator, day.work.jobs, seed=seed)
    swift.set_order([(job, job.options[0]) for job in day.work.jobs])
    swift.anneal(20_000, hot=swift.cost % 1e12 * 0.1, cold=1.0)
    tried, begun = swift.tried, time.perf_counter()
    swift.anneal(150_000, hot=swift.best_cost % 1e12 * 0.01, cold=1.0)
    return (swift.tried - tried) / (time.perf_counter() - begun)


def side_by_side() -> None:
    """Two searches at once, each in a process of its own, as two cores can run them."""
    with ProcessPoolExecutor(2) as both:
        rates = list(both.map(searched_a_second, (1, 2)))
    print(
        f"two searches side by side: {' and '.join(f'{rate:,.0f}' for rate in rates)}, together "
        f"{sum(rates):,.0f} evaluations a second by the clock (goal 50,000)"
    )


def with_substances(asked: DayProblem, count: int) -> DayProblem:
    """The day with more substances to follow, which some ingredients contain."""
    mill = asked.mill
    more = [f"extra {number}" for number in range(count - len(mill.substances))]
    return dataclasses.replace(
        asked,
        mill=dataclasses.replace(
            mill,
            substances=(*mill.substances, *(Substance(substance=code, name=code) for code in more)),
            contents=(
                *mill.contents,
                *(
                    Content(
                        ingredient=mill.ingredients[number % len(mill.ingredients)].ingredient,
                        substance=code,
                        content_mg_kg=100.0,
                        source="bench",
                    )
                    for number, code in enumerate(more)
                ),
            ),
        ),
    )


def first_plan(seeds: range) -> None:
    """How soon there is a first safe plan of forty orders, the compiled evaluator being there."""
    for seed in seeds:
        asked = random_day(seed, evaluations=0)
        used, clock = time.process_time(), time.perf_counter()
        outcome = plan_runs(asked)
        used, clock = time.process_time() - used, time.perf_counter() - clock
        print(
            f"day {seed}: {len(outcome.runs)} runs, {len(outcome.batches)} batches; first plan in "
            f"{used:.2f} s of processor time ({clock:.2f} s by the clock)"
        )


def main() -> None:
    """Say the machine and the figures."""
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--day", type=dt.date.fromisoformat, default=dt.date(2026, 11, 25))
    reader.add_argument("--evaluations", type=int, default=40_000)
    asked = reader.parse_args()
    problem = demo_day(asked.day, asked.evaluations)
    print(f"{platform.machine()}, {platform.python_implementation()} {platform.python_version()}")
    report("machines unknown", problem)
    report("machines clean", dataclasses.replace(problem, starting=clean(problem)))
    evaluations(40, 20)
    evaluations(60, 6)
    side_by_side()
    first_plan(range(1, 6))


if __name__ == "__main__":
    main()
