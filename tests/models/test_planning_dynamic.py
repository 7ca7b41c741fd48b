"""The order of running on small mills against exact dynamic programming over sets of orders.

Where every run is at least as large as any declared flush and all go along one path, what is
needed between two feeds hangs on these two alone. Then the cheapest order is a shortest path
through all orders, which dynamic programming finds exactly (M. Held and R. M. Karp, A Dynamic
Programming Approach to Sequencing Problems, J. SIAM 10 (1962) 196-210; from memory). The costs
between feeds are reckoned here from the tables of the mill, not by the planner.
"""

import random
from dataclasses import replace
from itertools import pairwise

import pytest

from bedstone.mill.model import Limit, Mill
from bedstone.mill.plan import BatchKind
from bedstone.planning.day import plan_runs
from bedstone.planning.model import OrderToMake
from fakes.planning_mill import planning_mill, problem, wanted

CENTS100_USD = 10_000
PRODUCTS = ("SHEEP", "PIG-CU", "BEEF-M", "LAYER")
HOLDS = {"SHEEP": set(), "PIG-CU": {"copper"}, "BEEF-M": {"monensin"}, "LAYER": set()}
FLUSH_KG = {
    ("SHEEP", "copper"): 250.0,
    ("SHEEP", "monensin"): 400.0,
    ("LAYER", "monensin"): 350.0,
    ("LAYER", "copper"): 150.0,
    ("BEEF-M", "copper"): 120.0,
    ("PIG-CU", "monensin"): 300.0,
}


def one_path_mill() -> Mill:
    """The planning mill with one path for all, and declared flushes alone between feeds."""
    mill = planning_mill(
        limits=tuple(
            Limit(
                product=product,
                substance=substance,
                kind="procedure",
                flush_kg=flush_kg,
                source="mill policy",
            )
            for (product, substance), flush_kg in FLUSH_KG.items()
        )
    )
    return replace(
        mill,
        contents=tuple(row for row in mill.contents if row.ingredient in {"PX-PIG", "PX-MON"}),
        products=tuple(
            replace(row, route="MX1 > FB1 > LO1") if row.product in PRODUCTS else row
            for row in mill.products
        ),
    )


def between_cents100(mill: Mill, before: str | None, after: str) -> float:
    """Flushes (material and crew) and labour of changeovers, from one feed to the next.

    A flush of so few kilograms is one batch, with what the scale may be off on top (Handbook 44:
    one division of 1 kg up to 500); the crew waits while the mixer is filled, mixes dry and
    empties.
    """
    if before is None or before == after:
        return 0.0
    flush_kg = max((FLUSH_KG.get((after, held), 0.0) for held in HOLDS[before]), default=0.0)
    price_usd_t = mill.ingredient_by_code["BARLEY-G"].price_usd_t
    changed_s = sum(mill.machine_by_code[code].changeover_s for code in ("MX1", "LO1"))
    mixer = mill.machine_by_code["MX1"]
    if flush_kg > 0:
        flush_kg += 1.0
        changed_s += mixer.fill_s + mixer.dry_mix_s + mixer.discharge_s
    usd = flush_kg / 1000 * price_usd_t + changed_s / 3600 * mill.settings.labour_usd_h
    return usd * CENTS100_USD


def cheapest_by_sets(mill: Mill, products: list[str]) -> float:
    """The cost of the cheapest order of running: best over sets of runs done and the last run."""
    best: dict[tuple[int, int], float] = {
        (1 << number, number): between_cents100(mill, None, product)
        for number, product in enumerate(products)
    }
    everything = (1 << len(products)) - 1
    for done in range(1, everything + 1):
        for last in range(len(products)):
            cost = best.get((done, last))
            if cost is None:
                continue
            for then in range(len(products)):
                if done & 1 << then:
                    continue
                key = (done | 1 << then, then)
                reached = cost + between_cents100(mill, products[last], products[then])
                best[key] = min(best.get(key, reached), reached)
    return min(best[everything, last] for last in range(len(products)))


def orders_of(seed: int) -> list[OrderToMake]:
    """Eight orders in bulk, all in good time, each of at least half a ton."""
    chance = random.Random(seed)
    return [
        wanted(
            str(4000 + number),
            chance.choice(PRODUCTS),
            chance.choice((500, 750, 1000)),
            pack="bulk",
            due_h=14.0,
            entered_h=-chance.random() * 24,
        )
        for number in range(8)
    ]


@pytest.mark.parametrize("seed", range(8))
def test_the_order_of_running_is_the_one_dynamic_programming_finds(seed: int):
    """On eight random days the cheapest of all orders of running, to the hundredth of a cent."""
    mill = one_path_mill()
    orders = orders_of(seed)
    outcome = plan_runs(problem(*orders, mill=mill, evaluations=400))
    assert outcome.left_out == ()
    best = cheapest_by_sets(mill, [row.order.product for row in orders])
    assert outcome.costs.running_cents100 == pytest.approx(best, abs=2)


@pytest.mark.parametrize("seed", range(8, 11))
def test_what_is_between_feeds_is_what_the_tables_say(seed: int):
    """The cost of the order found is the sum of its steps, reckoned from the tables alone."""
    mill = one_path_mill()
    orders = orders_of(seed)
    product = {row.order.order: row.order.product for row in orders}
    outcome = plan_runs(problem(*orders, mill=mill, evaluations=5))
    ran = [product[run.order] for run in sorted(outcome.runs, key=lambda run: run.start_at)]
    reckoned = sum(between_cents100(mill, before, after) for before, after in pairwise(ran))
    assert outcome.costs.running_cents100 == pytest.approx(reckoned, abs=2)
    assert outcome.costs.flushes == sum(batch.kind is BatchKind.FLUSH for batch in outcome.batches)
