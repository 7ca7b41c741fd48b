"""The records that the suite runs against."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from bedstone.desk.record import Record
from bedstone.store.record import SqlRecord, open_record
from fakes.memory import MemoryRecord


@pytest.fixture(params=["memory", "sqlite"])
def record(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Record]:
    """An empty record of each kind."""
    if request.param == "memory":
        yield MemoryRecord()
        return
    kept = open_record(tmp_path)
    yield kept
    kept.close()


@pytest.fixture
def kept(tmp_path: Path) -> Iterator[SqlRecord]:
    """An empty record in SQLite."""
    kept = open_record(tmp_path)
    yield kept
    kept.close()
