"""How fast the mill simulator makes a past with its facts, and months as arrays.

Run: python benchmarks/bench_simulator.py [months]
"""

import datetime as dt
import statistics
import sys
import time

from bedstone.demo.faults import Fault, FaultKind, Faults
from bedstone.demo.month_plan import month_plan
from bedstone.demo.quillback import quillback_past_and_truth
from bedstone.demo.quillback.demand import DEMANDS
from bedstone.demo.quillback.packaged import packaged_mill
from bedstone.demo.signals import simulate_month

DAY = dt.date(2026, 11, 26)
MONTHS = 1_000


def main() -> None:
    """Print the figures."""
    months = int(sys.argv[1]) if len(sys.argv) > 1 else MONTHS
    began = time.perf_counter()
    facts, truth = quillback_past_and_truth(DAY, today=DAY, seed=1)
    count = sum(1 for _ in facts)
    took_s = time.perf_counter() - began
    print(f"five weeks as {count} facts with {len(truth.lots)} true analyses: {took_s:.2f} s")
    began = time.perf_counter()
    plan = month_plan(packaged_mill(), DEMANDS, start_day=DAY)
    print(
        f"plan of a month, {plan.batch_at.size} batches, {plan.draw_batch.size} draws, "
        f"{len(plan.instruments)} instruments: {time.perf_counter() - began:.2f} s"
    )
    begins_at = plan.start_at + dt.timedelta(days=12)
    fault = Fault(kind=FaultKind.GAIN_STEP, where="LM2", size=0.02, begins_at=begins_at)
    took_ms = []
    for seed in range(months):
        began = time.perf_counter()
        simulate_month(plan, Faults((fault,)), seed=seed)
        took_ms.append(1000 * (time.perf_counter() - began))
    took_ms.sort()
    print(
        f"a month as arrays, {months} of them: median {statistics.median(took_ms):.1f} ms, "
        f"95 % within {took_ms[int(0.95 * len(took_ms))]:.1f} ms, together {sum(took_ms) / 1000:.1f} s"
    )


if __name__ == "__main__":
    main()
