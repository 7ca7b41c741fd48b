import os
import random
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

import pytest

from bedstone.desk.verify import verify
from bedstone.ledger.chain import next_head
from bedstone.store.record import SqlRecord
from fakes import writer
from fakes.writer import IMPORT_SIZE, open_place

KILLS = {"sqlite": 50, "postgresql": 25}


@pytest.fixture
def place(database_record: SqlRecord) -> str:
    """Where an empty record lies: its file's folder, or its address on a server."""
    url = database_record.database.url
    sqlite = database_record.database.is_sqlite
    return str(Path(url.database or "").parent) if sqlite else url.render_as_string()


@contextmanager
def _writer(place: str) -> Iterator[subprocess.Popen[str]]:
    """A process that writes to the record in a place."""
    tests = Path(writer.__file__).parents[1]
    path = os.pathsep.join([str(tests), *sys.path])
    with subprocess.Popen(
        [sys.executable, writer.__file__, place],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        bufsize=1,
        env=os.environ | {"PYTHONPATH": path},
    ) as process:
        yield process
        assert process.stdin is not None
        process.stdin.close()


def _ask(process: subprocess.Popen[str], words: str) -> int:
    """Have the process fork a child that writes; return its process id."""
    assert process.stdin is not None
    assert process.stdout is not None
    process.stdin.write(words + "\n")
    process.stdin.flush()
    return int(process.stdout.readline().split()[1])


def _until(process: subprocess.Popen[str], word: str) -> list[tuple[int, str]]:
    """Return the positions and heads that were confirmed until a word comes."""
    assert process.stdout is not None
    said = []
    for line in iter(process.stdout.readline, word + "\n"):
        assert line, "the writer died"
        said.append(line.split())
    return [(int(words[0]), words[1]) for words in said if len(words) == 2]


def _links(record: SqlRecord, after: int) -> int:
    """Check the chain behind a position and return the last."""
    head = record.fact(after).head if after else "0" * 64
    for item in record.facts(after=after, reversed_too=True):
        head = next_head(head, item.text)
        assert item.head == head
        after = item.position
    return after


@pytest.mark.slow
def test_a_writer_killed_again_and_again_loses_nothing_and_leaves_no_half(place: str):
    """SIGKILL at random moments: what was confirmed is there with its head, imports are there
    whole or not at all, the next writer goes on, and at the end the record is whole.
    """
    chance = random.Random(20260302)
    checked = many = 0
    kills = KILLS["postgresql" if "://" in place else "sqlite"]
    with _writer(place) as process:
        for round_number in range(20 * kills):
            if round_number >= kills and many > kills:  # a busy machine needs more rounds
                break
            pid = _ask(process, f"mixed {round_number}")
            time.sleep(chance.uniform(0, 0.12))
            os.kill(pid, signal.SIGKILL)
            confirmed = _until(process, "ended")
            record = open_place(place)
            last = _links(record, checked)
            for position, head in confirmed:
                assert position <= last
                assert record.fact(position).head == head
            many += len(confirmed)
            checked = last
            record.close()
    assert many > kills  # the writers had time to write
    record = open_place(place)
    groups = Counter(
        (item.fact.content["group"], item.fact.content["of"])
        for item in record.facts(kinds=("test.numbered/1",), reversed_too=True)
    )
    assert {(of, many) for (_, of), many in groups.items()} == {(1, 1), (IMPORT_SIZE, IMPORT_SIZE)}
    assert [item.code for item in verify(record)] == ["record.whole"]
    record.close()


@pytest.mark.slow
def test_two_processes_racing_both_get_through(place: str):
    """Two processes append after the position at which they read: each fact is there once, and
    who was late was told so rather than overwriting.
    """
    many = 60
    with ExitStack() as stack:
        writers = [stack.enter_context(_writer(place)) for _ in range(2)]
        for process in writers:
            _ask(process, f"single {many}")
        confirmed = [_until(process, "done") for process in writers]
    record = open_place(place)
    positions = [position for said in confirmed for position, _ in said]
    assert sorted(positions) == list(range(1, 2 * many + 1))
    for position, head in confirmed[0] + confirmed[1]:
        assert record.fact(position).head == head
    assert [item.code for item in verify(record)] == ["record.whole"]
    record.close()
