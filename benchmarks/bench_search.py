"""How good the plan of random days is, and how soon: against the best known, a bound, and habits.

    .venv/bin/python benchmarks/bench_search.py [--orders 40] [--first 0] [--days 5]
        [--seconds 10] [--long 120] [--long-seeds 1 2] [--again] [--only-report]

Days are those of tests/fakes/random_days.py: mills with two mixers and one to three pellet lines, drugs
and limits of all kinds. Of each day it measures the time to a first plan that the evaluator has
walked, and its cost after ``--seconds``; the long searches, one for each of ``--long-seeds``, look for
the best known. That is kept in benchmarks/results/search.json with all that was measured, written
after each step: a run that was stopped goes on where it was, and the best known only ever gets better.
A day whose generator has changed is begun anew.

Three habits are set beside the plan, on the mixers of the plan and with overtime if need be: running
in the order in which orders came; sorting by class, blind to when anything is due: feeds without a
drug first, species by species, then those with one, drug by drug, feed by feed; and the same within
each window of orders that are due by the same time, as somebody does who means to deliver. Against
the blind one stands also a plan that is blind too: the search with lateness at no price.

All costs are in USD, without ingredients. Only the clock of a quiet machine of 2 cores counts.
"""

import argparse
import dataclasses
import hashlib
import json
import platform
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from bedstone.planning.bound import least_cost
from bedstone.planning.day import OpenDay, _as_came, _evaluator, open_day
from bedstone.planning.evaluate import Evaluator, Item
from bedstone.planning.model import DayProblem
from bedstone.planning.outcome import costs_of
from bedstone.planning.sequence import Order, in_order_of, search
from fakes.random_days import random_day

KEPT = Path(__file__).parent / "results" / "search.json"
CENTS100_USD = 10_000
UNBOUNDED = 10**9
WINDOW_S = 3 * 3600


def usd(order: Order) -> float:
    """What an order of running costs, without what only decides between equals."""
    costing = order.steps[-1].costing
    return round((costing.total - costing.tie) / CENTS100_USD, 2)


def digest(problem: DayProblem) -> str:
    """What a day is made of, so that figures of another day are not taken for its own."""
    return hashlib.sha256(repr(problem).encode()).hexdigest()[:16]


def for_seconds(seconds: float) -> Callable[[float], bool]:
    """A question whether to look further, answered yes for a time."""
    end = time.perf_counter() + seconds
    return lambda _best: time.perf_counter() < end


def searched(day: OpenDay, *, seed: int, seconds: float) -> tuple[Order, float]:
    """The order found in a time, and the time it really took."""
    begin = time.perf_counter()
    order = search(
        day.evaluator,
        day.work.jobs,
        evaluations=UNBOUNDED,
        seed=seed,
        also=_as_came([(job, job.options[0]) for job in day.work.jobs]),
        keep_going=for_seconds(seconds),
    )
    return order, time.perf_counter() - begin


def by_class(items: list[Item]) -> list[Item]:
    """Feed for stock, then feeds without a drug by species, then those with one by drug."""

    def place(item: Item) -> tuple[object, ...]:
        job = item[0]
        drugs = sorted(code for code in job.parts if code.startswith("D-"))
        return (job.order is not None, drugs, job.product.species, job.product.product, job.due_s)

    return sorted(items, key=place)


def by_class_in_windows(items: list[Item]) -> list[Item]:
    """By class within each window: what is due within the same three hours, the earliest first."""
    windows: dict[int, list[Item]] = {}
    for item in items:
        job = item[0]
        window = -1 if job.order is None else int(job.due_s // WINDOW_S)  # for stock goes first
        windows.setdefault(window, []).append(item)
    return [item for _, rows in sorted(windows.items()) for item in by_class(rows)]


def figures(evaluator: Evaluator, order: Order | None) -> dict[str, float] | None:
    """Cost, flush material, and hours lost between feeds."""
    if order is None:
        return None
    costs = costs_of(evaluator, order)
    return {
        "usd": costs.running_cents100 / CENTS100_USD,
        "late_usd": costs.late_cents100 / CENTS100_USD,
        "flush_kg": costs.flush_mg / 1e6,
        "changeover_h": costs.changeover_s / 3600,
        "between_usd": (costs.running_cents100 - costs.late_cents100) / CENTS100_USD,
    }


def habits(day: OpenDay, order: Order) -> dict[str, dict[str, float] | None]:
    """The plan, and the same runs as they came and by class."""
    with_overtime = _evaluator(day.problem, day.work, day.paths, has_overtime=True)
    by_due = sorted(order.items, key=lambda item: item[0].rank)
    return {
        "plan": figures(day.evaluator, order),
        "came": figures(with_overtime, in_order_of(with_overtime, _as_came(by_due))),
        "class": figures(with_overtime, in_order_of(with_overtime, by_class(by_due))),
        "windows": figures(with_overtime, in_order_of(with_overtime, by_class_in_windows(by_due))),
    }


def blind(problem: DayProblem, seconds: float) -> dict[str, float] | None:
    """The plan of a mill to which lateness has no price."""
    settings = dataclasses.replace(problem.mill.settings, late_usd_t_h=0.0)
    day = open_day(
        dataclasses.replace(problem, mill=dataclasses.replace(problem.mill, settings=settings))
    )
    order, _ = searched(day, seed=0, seconds=seconds)
    return figures(day.evaluator, order)


def kept() -> dict[str, dict]:
    """What is known so far."""
    return json.loads(KEPT.read_text(encoding="utf-8")) if KEPT.is_file() else {}


def keep(known: dict[str, dict]) -> None:
    """Write what is known."""
    KEPT.parent.mkdir(exist_ok=True)
    text = json.dumps(known, indent=1, sort_keys=True)
    KEPT.write_text(text + "\n", encoding="utf-8")


def better(entry: dict, order: Order, by: str) -> None:
    """Note an order that is the best so far: fewest left out, then cheapest."""
    found = [len(order.out), usd(order)]
    if "best" not in entry or found < entry["best"]:
        entry["best"], entry["best_by"] = found, by


def measure(asked: argparse.Namespace, known: dict[str, dict], seed: int) -> None:
    """All of one day that is not known yet."""
    name = f"{asked.orders} orders, day {seed}"
    problem = random_day(seed, orders=asked.orders)
    entry = known.get(name, {})
    if entry.get("digest") != digest(problem):
        entry = {"digest": digest(problem), "long": {}}
    known[name] = entry
    day = open_day(problem)
    if asked.again or "first_s" not in entry:
        order, entry["first_s"] = searched(day, seed=0, seconds=0.0)
        entry["first"] = [len(order.out), usd(order)]
        better(entry, order, "first")
        keep(known)
    if asked.again or entry.get("short_s") != asked.seconds:
        order, _ = searched(day, seed=0, seconds=asked.seconds)
        entry["short"], entry["short_s"] = [len(order.out), usd(order)], asked.seconds
        entry["habits"] = {**habits(day, order), "blind": blind(problem, asked.seconds)}
        least = least_cost(day.evaluator, [job for job, _ in order.items])
        entry["bound"] = round(least.total_cents100 / CENTS100_USD, 2)
        better(entry, order, f"{asked.seconds:g} s, seed 0")
        keep(known)
    for long_seed in asked.long_seeds:
        label = f"{asked.long:g} s, seed {long_seed}"
        if label in entry["long"] and not asked.again:
            continue
        order, _ = searched(day, seed=long_seed, seconds=asked.long)
        entry["long"][label] = [len(order.out), usd(order)]
        better(entry, order, label)
        keep(known)


def gap(found: list[float], best: list[float]) -> float:
    """How much dearer, as part of the best; infinite if it leaves out more."""
    if found[0] > best[0]:
        return float("inf")
    return found[1] / best[1] - 1.0 if best[1] > 0 else 0.0


def less(row: dict, ours: str, other: str, what: str) -> float | None:
    """How much less of something the plan has than a habit, as part of that."""
    own, habit = row["habits"].get(ours), row["habits"].get(other)
    if own is None or habit is None or habit[what] <= 0:
        return None
    return 1.0 - own[what] / habit[what]


def spread(values: list[float]) -> str:
    """Least, median and most, in per cent."""
    if not values:
        return "no day has any"
    shown = (min(values), statistics.median(values), max(values))
    return " / ".join(f"{100 * value:.1f} %" for value in shown) + f" ({len(values)} days)"


def report(known: dict[str, dict], orders: int) -> None:
    """One line for each day, and how all are spread."""
    rows = {
        name: row
        for name, row in known.items()
        if name.startswith(f"{orders} orders") and "short" in row
    }
    for name, row in rows.items():
        print(
            f"{name}: first {row['first'][1]:,.0f} USD in {row['first_s']:.2f} s; after "
            f"{row['short_s']:g} s {row['short'][1]:,.0f}; best {row['best'][1]:,.0f} "
            f"({row['best_by']}); left out {row['short'][0]}; bound {row['bound']:,.0f}; as they "
            f"came {(row['habits']['came'] or {}).get('usd', 0):,.0f}, by class "
            f"{(row['habits']['class'] or {}).get('usd', 0):,.0f}"
        )
    print("least / median / most")
    print(
        "first plan:", spread([gap(row["first"], row["best"]) for row in rows.values()]), "dearer"
    )
    print(
        "after the short search:", spread([gap(row["short"], row["best"]) for row in rows.values()])
    )
    bounds = [row["bound"] / row["best"][1] for row in rows.values() if row["best"][1] > 0]
    print("bound as part of the best:", spread(bounds))
    for ours, habit in (
        ("plan", "came"),
        ("plan", "class"),
        ("plan", "windows"),
        ("blind", "class"),
    ):
        money = () if ours == "blind" else ("late_usd", "usd")  # to the blind lateness has no price
        for what in ("flush_kg", "changeover_h", "between_usd", *money):
            values = [less(row, ours, habit, what) for row in rows.values()]
            known_values = [one for one in values if one is not None]
            print(f"{ours}: {what} less than {habit}:", spread(known_values))


def main() -> None:
    """Measure and report."""
    reader = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    reader.add_argument("--orders", type=int, default=40)
    reader.add_argument("--first", type=int, default=0)
    reader.add_argument("--days", type=int, default=5)
    reader.add_argument("--seconds", type=float, default=10.0)
    reader.add_argument("--long", type=float, default=120.0)
    reader.add_argument("--long-seeds", type=int, nargs="*", default=[1, 2])
    reader.add_argument("--again", action="store_true")
    reader.add_argument("--only-report", action="store_true")
    asked = reader.parse_args()
    print(f"{platform.machine()}, {platform.python_implementation()} {platform.python_version()}")
    known = kept()
    if not asked.only_report:
        searched(open_day(random_day(99, orders=4)), seed=0, seconds=0.0)  # compiled by now
        for seed in range(asked.first, asked.first + asked.days):
            measure(asked, known, seed)
    report(known, asked.orders)


if __name__ == "__main__":
    main()
