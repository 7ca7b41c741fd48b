"""How long a trace takes over about 10,000 facts: the first, one after a new fact, and again.

Goal: well under a second once the record is in use; the first trace of a process reads it whole.
"""

import argparse
import datetime as dt
import platform
import statistics
import sys
import tempfile
import time
from pathlib import Path

from bedstone.demo.quillback import quillback_folder, quillback_past
from bedstone.desk.runs import record_count
from bedstone.desk.tables import load_tables
from bedstone.desk.trace import trace
from bedstone.store.record import SqlRecord, open_record

GOAL_S = 1.0
DAY = dt.date(2026, 11, 25)


def a_past(folder: Path, days: int) -> SqlRecord:
    """A record with so many days of the demo mill."""
    record = open_record(folder)
    first = dt.datetime.combine(DAY - dt.timedelta(days=days), dt.time(), tzinfo=dt.UTC)
    load_tables(record, quillback_folder(DAY, past_days=days), by="dell", at=first)
    start = record.head().position + 1
    facts = quillback_past(DAY, today=DAY, past_days=days, first_position=start)
    record.append_all(facts, recorded_at=dt.datetime.now(dt.UTC))
    record.close()
    return open_record(folder)


def seconds(record: SqlRecord, lot: str) -> float:
    """Processor time of one trace. [s]"""
    began = time.process_time()
    trace(record, lot)
    return time.process_time() - began


def main() -> int:
    """Print the figures; exit with 1 if a trace after a new fact misses the goal."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=int, default=63, help="days of past (63 are 10,000 facts)")
    days = parser.parse_args().days
    with tempfile.TemporaryDirectory() as folder:
        record = a_past(Path(folder), days)
        runs = [lot.lot for lot, _ in record.lots() if lot.kind == "run"]
        loads = [lot.lot for lot, _ in record.lots() if lot.kind == "load"]
        cold = seconds(record, runs[-1])
        after: list[float] = []
        for number in range(5):
            record_count(
                record, "B11", material="SALT", counted_mg=10**9 + number, by="dell",
                at=dt.datetime.now(dt.UTC),
            )  # fmt: skip
            after.append(seconds(record, runs[-1 - number]))
        again = [seconds(record, lot) for lot in (*runs[-20:], *loads[:20])]
        print(f"trace over {record.head().position} facts, {platform.machine()}, processor time:")
        print(f"  first of a process {cold:.2f} s")
        print(f"  after a new fact   {statistics.median(after):.2f} s (median of {len(after)})")
        print(f"  again              {statistics.median(again) * 1000:.0f} ms, slowest "
              f"{max(again) * 1000:.0f} ms of {len(again)}")  # fmt: skip
        record.close()
    met = statistics.median(after) < GOAL_S
    print(f"  goal after a new fact under {GOAL_S} s: {'met' if met else 'MISSED'}")
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
