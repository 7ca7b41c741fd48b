"""Milliseconds a sheet: the first, a single one, and 100 sheets in one PDF.

Run: python benchmarks/bench_papers.py
"""

import platform
import statistics
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from bedstone.desk.record import Head
from bedstone.papers.sheets import batch_sheet, batch_sheets, day_sheet
from fakes.plans import HEAD, SHEEP_DRAWS, a_batch, a_plan
from fakes.small_mill import a_mill

TIMES = 20
WHEN = Head(position=1880, head=HEAD)


def taken_ms(act: Callable[[], bytes]) -> float:
    """Milliseconds that an act takes."""
    start = time.perf_counter()
    act()
    return (time.perf_counter() - start) * 1000


def main() -> None:
    """Print the figures."""
    mill, plan = a_mill(), a_plan()
    print(f"{platform.machine()}, Python {platform.python_version()}")
    first = taken_ms(lambda: batch_sheet(plan, "4107-02", mill, head=WHEN))
    print(f"first sheet of a process: {first:.0f} ms")
    # Another head each time, so that nothing is found in the typesetter's own memory.
    heads = [Head(position=at, head=f"{at:064x}") for at in range(TIMES)]
    single = [taken_ms(partial(batch_sheet, plan, "4107-02", mill, head=head)) for head in heads]
    print(f"a batch sheet: {statistics.median(single):.1f} ms median, {max(single):.1f} ms most")
    day = [taken_ms(partial(day_sheet, plan, mill, head=head)) for head in heads]
    print(f"a day sheet: {statistics.median(day):.1f} ms median, {max(day):.1f} ms most")
    hundred = replace(
        plan,
        batches=tuple(a_batch(f"{5000 + at}-01", "SHEEP-GR", SHEEP_DRAWS) for at in range(100)),
    )
    pdf = batch_sheets(hundred, mill, head=WHEN)
    before_s = time.process_time()
    many = taken_ms(lambda: batch_sheets(hundred, mill, head=heads[1]))
    cpu_ms = (time.process_time() - before_s) * 1000
    size_mb = len(pdf) / 1e6
    print(f"100 sheets in one PDF: {many:.0f} ms ({cpu_ms:.0f} ms of processor), {size_mb:.1f} MB")


if __name__ == "__main__":
    main()
