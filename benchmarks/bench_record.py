"""Figures of the record: confirmed facts, import, stock at past moments, layers.

    python benchmarks/bench_record.py [--facts 1000000] [--folder DIR]

Goals: single confirmed facts at 80 % or more of the raw commit rate of the same disk in the same
run (beside it, for fairness, the rate at which plain sqlite3 writes the very same rows); import at 5,000 facts a second or more; stock of all places at any moment out of 3 million
movements in 200 ms. Facts here have three movements each.
"""

import argparse
import datetime as dt
import platform
import random
import sqlite3
import statistics
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

from bedstone.desk.record import MovementRecorded
from bedstone.ledger.layers import layers_of
from bedstone.ledger.model import Fact, FlowPattern, How, Lot, LotKind, Movement, Reading
from bedstone.store.record import FILE_NAME, SqlRecord, open_record
from bedstone.store.snapshots import drop_marks_from
from bedstone.store.sqlite_ways import PRAGMAS

START = dt.datetime(2020, 1, 1, tzinfo=dt.UTC)
KG = 1_000_000
BINS = 40
MIXERS = 2


def facts(many: int, *, seed: int = 1, first: int = 0) -> Iterator[Fact]:
    """Loads and batches of a mill of forty bins, a minute apart; three movements each."""
    chance = random.Random(seed)
    for n in range(first, first + many):
        at = START + dt.timedelta(minutes=n)
        if n % 5 == 0 or n < BINS:
            yield _load(n, at, chance)
        else:
            yield _batch(n, at, chance)


def _load(n: int, at: dt.datetime, chance: random.Random) -> Fact:
    lot = f"L-{n}"
    places = chance.sample(range(BINS // 2), 3) if n >= BINS else [(n + k) % 20 for k in range(3)]
    kg = (800, 1600) if n >= BINS else (90_000, 110_000)  # the first loads fill the bins
    return Fact(
        kind="receiving.load_accepted/1",
        happened_at=at,
        by="mara",
        content={"lot": lot, "firm": "NORTHFIELD", "ticket": f"T-{n}", "note": ""},
        movements=tuple(
            Movement(
                from_place="supplier/NORTHFIELD",
                to_place=f"B{place:02d}",
                mass_mg=chance.randint(*kg) * KG,
                material=f"ING{place:02d}",
                how=How.WEIGHED,
                instrument="TRUCK",
                seen=Reading(number="8,000", unit="kg", division="20"),
                mass_sd_mg=9 * KG,
                lot=lot,
            )
            for place in places
        ),
        lots=(Lot(lot=lot, kind=LotKind.LOAD, material="CORN"),),
    )


def _batch(n: int, at: dt.datetime, chance: random.Random) -> Fact:
    lot = f"B-{n}"
    mixer = f"MX{n % MIXERS}"
    one, other = chance.sample(range(BINS // 2), 2)
    masses = [chance.randint(300, 600) * KG for _ in range(2)]
    draws = [
        Movement(
            from_place=f"B{place:02d}",
            to_place=mixer,
            mass_mg=mass,
            material=f"ING{place:02d}",
            how=How.WEIGHED,
            instrument="SC1",
            target_mg=mass,
            mass_sd_mg=KG // 2,
        )
        for place, mass in zip((one, other), masses, strict=True)
    ]
    made = Movement(
        from_place=mixer,
        to_place="customer/HOLLOW-FARM",
        mass_mg=sum(masses),
        material="LAYER",
        how=How.RECKONED,
        lot=lot,
    )
    return Fact(
        kind="batching.batch_made/1",
        happened_at=at,
        by="otto",
        content={"batch": lot, "run": f"R-{n // 8}", "mixer": mixer, "findings": []},
        movements=(*draws, made),
        lots=(Lot(lot=lot, kind=LotKind.BATCH, material="LAYER"),),
    )


def confirmed(folder: Path, *, many: int = 600) -> None:
    """Single confirmed facts, in turn with two others on the same disk, so that whatever else the
    machine does falls on all alike: raw commits of one row into a bare table, and the very rows of
    each fact written by plain sqlite3 into the same tables with the same indexes.
    """
    record = open_record(folder)
    source = facts(many + 100)
    record.append_all([next(source) for _ in range(100)], recorded_at=START)
    text = record.fact(50).text
    raw, plain = _bare_table(folder / "raw.sqlite"), _same_tables(folder / "plain")
    taken_ms: dict[str, list[float]] = {"raw": [], "plain": [], "own": []}
    used_s = 0.0
    with closing(raw), closing(plain), closing(sqlite3.connect(folder / FILE_NAME)) as beside:
        _plainly(plain, _rows_of(beside, 1, 100))
        for fact in source:
            begun = time.perf_counter()
            raw.execute("BEGIN IMMEDIATE")
            raw.execute("INSERT INTO plain (text) VALUES (?)", (text,))
            raw.execute("COMMIT")
            taken_ms["raw"].append(1000 * (time.perf_counter() - begun))
            begun, used = time.perf_counter(), time.process_time()
            position = record.append(fact, recorded_at=START).position
            taken_ms["own"].append(1000 * (time.perf_counter() - begun))
            used_s += time.process_time() - used
            rows = _rows_of(beside, position, position)
            begun = time.perf_counter()
            _plainly(plain, rows)
            taken_ms["plain"].append(1000 * (time.perf_counter() - begun))
    record.close()
    _print_confirmed(taken_ms, used_ms=1000 * used_s / many)


def _print_confirmed(taken_ms: dict[str, list[float]], *, used_ms: float) -> None:
    own = sum(taken_ms["own"])
    names = {"own": "confirmed facts", "raw": "raw commits", "plain": "same rows, plain sqlite3"}
    for key, name in names.items():
        times = taken_ms[key]
        ratio = "" if key == "own" else f": facts at {sum(times) / own:.0%} of it"
        goal = " (goal 80 %)" if key == "raw" else ""
        print(
            f"{name}: {1000 / statistics.mean(times):.0f}/s, median {statistics.median(times):.2f} "
            f"ms{ratio}{goal}"
        )
    print(f"  processor time of a confirmed fact: {used_ms:.2f} ms")


def _bare_table(path: Path) -> sqlite3.Connection:
    raw = sqlite3.connect(path, isolation_level=None)
    raw.execute("PRAGMA journal_mode=WAL")
    raw.execute("PRAGMA synchronous=FULL")
    raw.execute("CREATE TABLE plain (position INTEGER PRIMARY KEY, text TEXT) STRICT")
    return raw


def _same_tables(folder: Path) -> sqlite3.Connection:
    """Return a connection to an empty record's own tables, set as Bedstone sets it."""
    folder.mkdir()
    open_record(folder).close()
    plain = sqlite3.connect(folder / FILE_NAME, isolation_level=None)
    for pragma in PRAGMAS:
        plain.execute(pragma).close()
    return plain


Rows = dict[str, list[tuple[object, ...]]]


def _rows_of(beside: sqlite3.Connection, first: int, last: int) -> Rows:
    """Return the rows of facts as Bedstone has written them, table by table."""
    asked = "SELECT * FROM {} WHERE position BETWEEN ? AND ?"
    return {
        table: beside.execute(asked.format(table), (first, last)).fetchall()
        for table in ("facts", "movements", "lots")
    }


def _plainly(plain: sqlite3.Connection, rows: Rows) -> None:
    plain.execute("BEGIN IMMEDIATE")
    for table, some in rows.items():
        marks = ", ".join("?" * len(some[0]))
        plain.executemany(f"INSERT INTO {table} VALUES ({marks})", some)  # noqa: S608 - own names
    plain.execute("COMMIT")


def imported(record: SqlRecord, many: int) -> None:
    """Import of a past, each part all or nothing."""
    part = min(many, 50_000)
    rates: list[float] = []
    begun = time.perf_counter()
    for first in range(0, many, part):
        turn = time.perf_counter()
        record.append_all(facts(part, seed=first, first=first), recorded_at=START)
        rates.append(part / (time.perf_counter() - turn))
    took_s = time.perf_counter() - begun
    print(
        f"import: {many} facts, {3 * many} movements in {took_s:.1f} s: {many / took_s:.0f} facts/s, "
        f"first {part}: {rates[0]:.0f}/s, last: {rates[-1]:.0f}/s (goal 5000)"
    )


def stock(record: SqlRecord, many: int, *, asks: int = 60) -> None:
    """Stock of all places at random moments, with marks and without."""
    chance = random.Random(7)
    moments = [START + dt.timedelta(minutes=chance.uniform(0, many)) for _ in range(asks)]
    took_ms = sorted(_ms(record, at) for at in [*moments, None])
    print(
        f"stock of all places out of {3 * many} movements: median {statistics.median(took_ms):.1f} ms,"
        f" 95 % {took_ms[int(0.95 * len(took_ms))]:.1f} ms, slowest {took_ms[-1]:.1f} ms (goal 200)"
    )
    quick = [record.stock(at) for at in moments[:3]]
    with record.database.writing() as connection:
        drop_marks_from(connection, 0)
    slow_ms = [_ms(record, at) for at in moments[:3]]
    assert [record.stock(at) for at in moments[:3]] == quick
    begun = time.perf_counter()
    record.refresh_stock_marks()
    print(
        f"  without marks {max(slow_ms):.0f} ms; marks made again in "
        f"{time.perf_counter() - begun:.1f} s"
    )


def _ms(record: SqlRecord, at: dt.datetime | None) -> float:
    begun = time.perf_counter()
    record.stock(at)
    return 1000 * (time.perf_counter() - begun)


def layers(many: int) -> None:
    """Layers of forty bins by folding movements that are in memory."""
    booked = [
        MovementRecorded(
            position=position,
            line=line,
            kind=fact.kind,
            happened_at=fact.happened_at,
            movement=movement,
        )
        for position, fact in enumerate(facts(many // 3), start=1)
        for line, movement in enumerate(fact.movements, start=1)
    ]
    for flow in FlowPattern:
        bins = {f"{kind}{n:02d}": flow for kind in "BF" for n in range(BINS // 2)}
        begun = time.perf_counter()
        layers_of(booked, bins)
        took_s = time.perf_counter() - begun
        print(
            f"layers, {flow.value}: {len(booked)} movements in {took_s:.2f} s, "
            f"{len(booked) / took_s:,.0f}/s (3 million: {3e6 * took_s / len(booked):.0f} s)"
        )


def main() -> None:
    """Run all and print the figures with the machine."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--facts", type=int, default=1_000_000)
    parser.add_argument("--folder", type=Path, default=None, help="disk to measure")
    parser.add_argument("--confirmed", type=int, default=600, help="single facts; 0 facts: no more")
    chosen = parser.parse_args()
    print(f"{platform.platform()}, Python {platform.python_version()}, {_processor()}")
    if chosen.facts:
        layers(30_000)
    with tempfile.TemporaryDirectory(dir=chosen.folder) as folder:
        small = Path(folder) / "small"
        small.mkdir()
        confirmed(small, many=chosen.confirmed)
        if not chosen.facts:
            return
        record = open_record(Path(folder))
        imported(record, chosen.facts)
        stock(record, chosen.facts)
        record.close()


def _processor() -> str:
    """Return what the processor calls itself, and how many there are."""
    lines = Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
    names = [line.split(":", 1)[1].strip() for line in lines if line.startswith("model name")]
    return f"{len(names)} x {names[0]}" if names else platform.machine()


if __name__ == "__main__":
    main()
