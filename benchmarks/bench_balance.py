"""Reconciliation of 300 flows. Goal: 10 ms."""

import statistics
import time

import numpy as np

from bedstone.quality.balance import Flow, reconcile

GOAL_MS = 10.0


def mill(count: int, seed: int = 1) -> list[Flow]:
    """A network of that many flows, a tenth unmeasured, one instrument wrong."""
    draw = np.random.default_rng(seed)
    places = count // 2
    flows = []
    for index in range(count):
        a = f"p{index % places}"
        b = f"p{(index + 1 + int(draw.integers(0, 5))) % places}" if index % 7 else "outside"
        if a == b:
            b = "outside"
        sd = float(draw.uniform(1, 5))
        kg = None if draw.random() < 0.1 else float(draw.normal() * sd + (200 if index == 3 else 0))
        flows.append(Flow(flow=f"f{index}", from_place=a, to_place=b, measured_kg=kg, sd_kg=sd))
    return flows


if __name__ == "__main__":
    flows = mill(300)
    reconcile(flows, ["outside"])
    taken = []
    for _ in range(50):
        began = time.perf_counter()
        found = reconcile(flows, ["outside"])
        taken.append(1000 * (time.perf_counter() - began))
    print(
        f"300 flows, {found.checks} balances, {len(found.gross)} errors found: median "
        f"{statistics.median(taken):.1f} ms (goal {GOAL_MS:g})"
    )
