"""The record in PostgreSQL: confirmed facts against raw commits, import, stock, on a server of its own.

The server is started from the machine's own programs in a temporary folder, as the tests do it, and
stopped at the end. Nothing of the machine's own databases is touched.
"""

import argparse
import platform
import statistics
import sys
import time
from pathlib import Path

import psycopg

from bedstone.store.record import SqlRecord
from bench_record import START, facts, imported, stock

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from fakes.postgresql_server import find_binaries, postgresql_server


def confirmed(record: SqlRecord, many: int) -> None:
    """Single confirmed facts, in turn with raw commits of one row into a bare table beside them."""
    url = record.database.url
    source = facts(many + 100)
    record.append_all([next(source) for _ in range(100)], recorded_at=START)
    text = record.fact(50).text
    taken_ms: dict[str, list[float]] = {"raw commits": [], "confirmed facts": []}
    used_s = 0.0
    with psycopg.connect(
        host=url.query["host"], user=url.username, dbname=url.database, autocommit=True
    ) as raw:
        raw.execute("CREATE TABLE plain (position BIGSERIAL PRIMARY KEY, text TEXT)")
        for fact in source:
            begun = time.perf_counter()
            raw.execute("BEGIN")
            raw.execute("INSERT INTO plain (text) VALUES (%s)", (text,))
            raw.execute("COMMIT")
            taken_ms["raw commits"].append(1000 * (time.perf_counter() - begun))
            begun, used = time.perf_counter(), time.process_time()
            record.append(fact, recorded_at=START)
            taken_ms["confirmed facts"].append(1000 * (time.perf_counter() - begun))
            used_s += time.process_time() - used
        raw.execute("DROP TABLE plain")
    own = sum(taken_ms["confirmed facts"])
    for name, times in taken_ms.items():
        print(
            f"{name}: {1000 / statistics.mean(times):.0f}/s, median {statistics.median(times):.2f} ms"
            f"{f': facts at {sum(times) / own:.0%} of it' if name == 'raw commits' else ''}"
        )
    print(f"  processor time of a confirmed fact on our side: {1000 * used_s / many:.2f} ms")


def main() -> None:
    """Run all and print the figures with the machine."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--facts", type=int, default=100_000)
    parser.add_argument("--confirmed", type=int, default=600)
    chosen = parser.parse_args()
    binaries = find_binaries()
    if binaries is None:
        print("PostgreSQL is not installed here: nothing was measured")
        return
    print(f"{platform.platform()}, Python {platform.python_version()}, {binaries}")
    with postgresql_server(binaries) as server:
        record = SqlRecord(server.address(server.new_database()))
        confirmed(record, chosen.confirmed)
        record.close()
        if chosen.facts:
            record = SqlRecord(server.address(server.new_database()))
            imported(record, chosen.facts)
            stock(record, chosen.facts)
            record.close()


if __name__ == "__main__":
    main()
