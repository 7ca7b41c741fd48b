"""A process that writes to a record until it is killed. Run as a script with a folder or address.

For each line on its standard input it forks a child. The line says what the child does:
"mixed SEED" appends single facts, imports and reversals for ever; "single MANY" appends so many
facts. The child's process id is printed first, then each position as soon as it is confirmed.
"""

import os
import random
import sys
from itertools import count
from pathlib import Path

from bedstone.errors import Conflict
from bedstone.ledger.model import Fact
from bedstone.store.record import SqlRecord, open_record
from fakes.facts import AT, load

__all__ = ["IMPORT_SIZE", "numbered", "open_place"]

IMPORT_SIZE = 40


def numbered(group: str, number: int, of: int) -> Fact:
    """One fact of a group that must be there whole or not at all."""
    plain = load(number)
    return Fact(
        kind="test.numbered/1",
        happened_at=plain.happened_at,
        by="writer",
        content={"group": group, "number": number, "of": of},
        movements=plain.movements,
    )


def _mixed(record: SqlRecord, seed: int) -> None:
    chance = random.Random(seed)
    for turn in count():
        group = f"{seed}-{turn}"
        act = chance.random()
        if act < 0.6:
            position = record.append(numbered(group, 0, 1), recorded_at=AT).position
        elif act < 0.9:
            facts = [numbered(group, number, IMPORT_SIZE) for number in range(IMPORT_SIZE)]
            position = record.append_all(facts, recorded_at=AT)
        else:
            kept = record.append(numbered(group, 0, 1), recorded_at=AT)
            _say(f"{kept.position} {kept.head}")
            position = record.reverse(kept.position, by="w", why="x", recorded_at=AT).position
        _say(f"{position} {record.fact(position).head}")


def _single(record: SqlRecord, many: int) -> None:
    for number in range(many):
        while True:
            try:
                after = record.head().position
                kept = record.append(
                    numbered(f"{os.getpid()}", number, 1), recorded_at=AT, after=after
                )
            except Conflict:
                _say("conflict")
                continue
            _say(f"{kept.position} {kept.head}")
            break
    _say("done")


def open_place(place: str) -> SqlRecord:
    """Return the record in a folder, or at the address of a database."""
    return SqlRecord(place) if "://" in place else open_record(Path(place))


def _say(words: str) -> None:
    os.write(1, f"{words}\n".encode())


def _serve(place: str) -> None:
    open_place(place).close()  # what it needs is loaded once, before the children are timed
    for line in sys.stdin:
        act, number = line.split()
        child = os.fork()
        if child == 0:
            _say(f"pid {os.getpid()}")
            record = open_place(place)
            (_mixed if act == "mixed" else _single)(record, int(number))
            os._exit(0)
        os.waitpid(child, 0)
        _say("ended")


if __name__ == "__main__":
    _serve(sys.argv[1])
