"""Figures of the layers of sixty bins over five years: from memory, from a record, and in full.

    python benchmarks/bench_layers.py [--movements 3000000] [--empty-days 30] [--record] [--full]

Invented movements: loads into ingredient bins, unnamed draws to mixers, batches to finished bins,
and out; each bin is seen empty every so many days. In memory the movements are there when the
clock starts; with ``--record`` they are first written into a record of SQLite (minutes), which is
opened anew: the clock counts all reading. The goal is 5 s.
"""

import argparse
import datetime as dt
import gc
import time
from dataclasses import dataclass
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

from bedstone.desk.record import MovementRecorded
from bedstone.ledger.layers import layers_of
from bedstone.ledger.layers_live import layers_now
from bedstone.ledger.model import Fact, FlowPattern, How, Movement
from bedstone.store.record import open_record

PAGE, IN_A_FACT = 100_000, 10
MACHINES = ("MX1", "MX2", "MX3")
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


def left_in(movements: list[MovementRecorded]) -> dict[str, int]:
    """Book stock of every place."""
    left: dict[str, int] = {}
    for item in movements:
        move = item.movement
        left[move.from_place] = left.get(move.from_place, 0) - move.mass_mg
        left[move.to_place] = left.get(move.to_place, 0) + move.mass_mg
    return left


def from_record(
    movements: list[MovementRecorded], marks: list[Mark], bins: dict[str, FlowPattern]
) -> None:
    """Write the movements into a record, open it anew, and print how long reading takes."""
    with TemporaryDirectory() as folder:
        record = open_record(Path(folder))
        begun = time.perf_counter()
        for first in range(0, len(movements), PAGE):
            page = movements[first : first + PAGE]
            parts = [page[n : n + IN_A_FACT] for n in range(0, len(page), IN_A_FACT)]
            facts = [
                Fact(
                    kind="a.b/1",
                    happened_at=part[-1].happened_at,
                    by="bench",
                    content={},
                    movements=tuple(item.movement for item in part),
                )
                for part in parts
            ]
            record.append_all(facts, recorded_at=facts[-1].happened_at)
        print(f"written into a record in {time.perf_counter() - begun:.0f} s")
        record.close()
        record = open_record(Path(folder))
        begun = time.perf_counter()
        left: dict[str, int] = {}
        for line in record.stock():
            left[line.place] = left.get(line.place, 0) + line.mass_mg
        layers_now(
            record.movements(newest_first=True),
            bins,
            left_mg=left,
            seen_empty=[Mark(row.place, row.happened_at, 10**9) for row in marks],
            machines=MACHINES,
        )
        print(f"from the record, opened anew: {time.perf_counter() - begun:.2f} s")
        record.close()


def main() -> None:
    """Print how long both ways take, and that they agree."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--movements", type=int, default=3_000_000)
    parser.add_argument("--empty-days", type=float, default=30)
    parser.add_argument("--record", action="store_true", help="from a record of SQLite too")
    parser.add_argument("--full", action="store_true", help="fold everything too, and compare")
    chosen = parser.parse_args()
    movements, marks = past(chosen.movements, chosen.empty_days)
    bins = {f"{kind}{n:02d}": FLOWS[n % 4] for kind in "IF" for n in range(30)}
    gc.disable()
    begun = time.perf_counter()
    live = layers_now(
        reversed(movements),
        bins,
        left_mg=left_in(movements),
        seen_empty=marks,
        machines=MACHINES,
    )
    took = time.perf_counter() - begun
    print(
        f"layers of 60 bins from what they hang on: {len(movements):,} movements, each bin seen "
        f"empty about every {chosen.empty_days:g} days: {took:.2f} s"
    )
    if chosen.record:
        from_record(movements, marks, bins)
    if chosen.full:
        begun = time.perf_counter()
        plain = layers_of(movements, bins, seen_empty=marks)
        print(f"all of them folded: {time.perf_counter() - begun:.2f} s")
        assert all(live.layers(place) == plain.layers(place) for place in bins)
        assert all(live.possible_lots(place) == plain.possible_lots(place) for place in bins)
        print("both agree")


if __name__ == "__main__":
    main()
