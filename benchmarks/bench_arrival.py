"""How long the answer to a load takes: judged, and bins ranked, with years of receipts on record.

Run: PYTHONPATH=tests python benchmarks/bench_arrival.py [YEARS]
"""

import datetime as dt
import shutil
import statistics
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from bedstone.demo.quillback.packaged import packaged_mill
from bedstone.desk.arrival import judge_arrival
from bedstone.desk.arrival_acts import refuse_twice
from bedstone.desk.bin_choice import rank_bins
from bedstone.desk.receive import LOAD_ACCEPTED
from bedstone.desk.settlements import paid_for
from bedstone.desk.tables import current_mill, load_tables
from bedstone.ledger.model import Fact, How, Lot, LotKind, Movement
from bedstone.mill.folder import LoadedFolder
from bedstone.store.record import SqlRecord
from fakes.loads import CORN_LOAD, NOON, pounds

BINS = 60
LOADS_A_DAY = 6
ROUNDS = 15


def receipts(days: int) -> list[Fact]:
    """Loads of corn into sixty bins, each used up again within the day."""
    facts = []
    for number in range(days * LOADS_A_DAY):
        at = NOON - dt.timedelta(days=days) + dt.timedelta(hours=number * 24 / LOADS_A_DAY)
        lot, place = f"L{number}", f"X{number % BINS:02d}"

        def move(start: str, end: str, lot: str | None) -> Movement:
            return Movement(
                from_place=start,
                to_place=end,
                mass_mg=pounds(40_000),
                material="CORN",
                how=How.WEIGHED,
                lot=lot,
            )

        facts.append(
            Fact(
                kind=LOAD_ACCEPTED,
                happened_at=at,
                by="tomas",
                content={
                    "lot": lot,
                    "firm": "harrow",
                    "ingredient": "CORN",
                    "into": place,
                    "ticket": f"B{number}",
                    "carrier": "",
                    "note": "",
                },
                movements=(move("supplier/harrow", place, lot), move(place, "scrap", None)),
                lots=(Lot(lot=lot, kind=LotKind.LOAD, material="CORN"),),
            )
        )
    return facts


def main() -> int:
    """Print the times of answers, first with nothing kept and then as the pages meet them."""
    years = float(sys.argv[1]) if len(sys.argv) > 1 else 5.0
    mill = packaged_mill()
    pattern = next(row for row in mill.bins if row.bin == "B01")
    more = tuple(replace(pattern, bin=f"X{n:02d}", name=f"bin {n}") for n in range(BINS))
    folder = LoadedFolder(mill=replace(mill, bins=(*mill.bins, *more)))
    place = Path(tempfile.mkdtemp())
    file = place / "bench.sqlite"
    record = SqlRecord(file, create=True)
    load_tables(record, folder, by="dell", at=NOON - dt.timedelta(days=1 + 366 * years))
    facts = receipts(round(365 * years))
    record.append_all(facts, recorded_at=NOON)

    def answer() -> float:
        began = time.perf_counter()
        mill = current_mill(record)
        gate = judge_arrival(mill, CORN_LOAD)
        refuse_twice(record, CORN_LOAD.ticket)
        assert gate.weighed is not None
        paid_for(mill, CORN_LOAD, net_mg=gate.weighed.net_mg, at=NOON)
        ranked = rank_bins(record, ingredient="CORN", mass_mg=gate.weighed.net_mg, at=NOON)
        assert len(ranked) >= BINS
        return (time.perf_counter() - began) * 1000

    first = answer()
    later = [answer() for _ in range(ROUNDS)]
    print(f"{len(facts):,} receipts over {years:g} years, {BINS} more bins")
    print(f"first answer {first:.0f} ms; then median {statistics.median(later):.1f} ms, "
          f"worst {max(later):.1f} ms")  # fmt: skip
    record.close()
    shutil.rmtree(place)
    return 0


if __name__ == "__main__":
    sys.exit(main())
