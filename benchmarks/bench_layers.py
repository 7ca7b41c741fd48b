"""Figures of the layers of sixty bins over five years, from what they hang on and in full.

    python benchmarks/bench_layers.py [--movements 3000000] [--empty-days 30]

Invented movements: loads into ingredient bins, unnamed draws to mixers, batches to finished bins,
and out; each bin is seen empty every so many days. Movements are in memory when the clock starts.
"""

import argparse
import datetime as dt
import gc
import time
from dataclasses import dataclass
from random import Random

from bedstone.desk.record import MovementRecorded
from bedstone.ledger.layers import layers_of
from bedstone.ledger.layers_live import layers_now
from bedstone.ledger.model import FlowPattern, How, Movement

AT = dt.datetime(2026, 1, 5, tzinfo=dt.UTC)
YEARS_S = 5 * 365 * 86_400
FLOWS = (FlowPattern.MASS, FlowPattern.FUNNEL, FlowPattern.MASS, FlowPattern.MIXED)


@dataclass
class Mark:
    """A place seen empty."""

    place: str
    happened_at: dt.datetime
    position: int


def past(many: int, empty_days: float) -> tuple[list[MovementRecorded], list[Mark]]:
    """Movements and marks of sixty bins, half of them of finished feed."""
    dice = Random(60)
    movements, marks = [], []
    fill = {f"I{n:02d}": 0 for n in range(30)}
    last = dict.fromkeys((*fill, *(f"F{n:02d}" for n in range(30))), AT)
    step = YEARS_S / many
    n = 0

    def move(start: str, end: str, mass: int, lot: str | None) -> None:
        nonlocal n
        n += 1
        movements.append(
            MovementRecorded(
                position=n,
                line=1,
                kind="a.b/1",
                happened_at=AT + dt.timedelta(seconds=step * n),
                movement=Movement(
                    from_place=start, to_place=end, mass_mg=mass, material="M", how=How.WEIGHED,
                    lot=lot, mass_sd_mg=mass // 500,
                ),
            )
        )  # fmt: skip

    while n < many:
        batch, mixer, total = f"b{n}", f"MX{dice.randint(1, 3)}", 0
        for code in dice.sample(list(fill), 8):
            mass = dice.randint(50_000, 500_000)
            if fill[code] < mass:
                move("supplier/A", code, 22_000_000, f"L{n}")
                fill[code] += 22_000_000
            move(code, mixer, mass, None)
            fill[code] -= mass
            total += mass
        into = f"F{dice.randint(0, 29):02d}"
        move(mixer, into, total, batch)
        move(into, "customer/Z", total, None)
        for place, seen_at in list(last.items()):
            now = movements[-1].happened_at
            if (now - seen_at).total_seconds() > empty_days * 86_400 * dice.uniform(0.7, 1.3):
                marks.append(Mark(place, now, n))
                last[place] = now
                if place in fill:
                    fill[place] = 0
    return movements, marks


def main() -> None:
    """Print how long both ways take, and that they agree."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--movements", type=int, default=3_000_000)
    parser.add_argument("--empty-days", type=float, default=30)
    parser.add_argument("--full", action="store_true", help="fold everything too, and compare")
    chosen = parser.parse_args()
    movements, marks = past(chosen.movements, chosen.empty_days)
    bins = {f"{kind}{n:02d}": FLOWS[n % 4] for kind in "IF" for n in range(30)}
    gc.disable()
    begun = time.perf_counter()
    live = layers_now(movements, bins, seen_empty=marks)
    took = time.perf_counter() - begun
    print(
        f"layers of 60 bins from what they hang on: {len(movements):,} movements, each bin seen "
        f"empty about every {chosen.empty_days:g} days: {took:.2f} s"
    )
    if chosen.full:
        begun = time.perf_counter()
        plain = layers_of(movements, bins, seen_empty=marks)
        print(f"all of them folded: {time.perf_counter() - begun:.2f} s")
        assert all(live.layers(place) == plain.layers(place) for place in bins)
        assert all(live.possible_lots(place) == plain.possible_lots(place) for place in bins)
        print("both agree")


if __name__ == "__main__":
    main()
