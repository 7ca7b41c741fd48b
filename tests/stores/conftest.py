"""The records that the suite runs against."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from bedstone.desk.record import Record
from bedstone.store.record import SqlRecord, open_record
from fakes.memory import MemoryRecord
from fakes.postgresql_server import PostgresqlServer, find_binaries, postgresql_server


@pytest.fixture(scope="session")
def server() -> Iterator[PostgresqlServer]:
    """A PostgreSQL server for the whole run, from the machine's own programs."""
    binaries = find_binaries()
    if binaries is None:
        words = (
            "PostgreSQL's server programs (initdb, pg_ctl) were not found, so the record is not tried in "
            "it. Debian: sudo apt install postgresql, which make test does as root; elsewhere install "
            "PostgreSQL 15 or later and have initdb on the path."
        )
        if os.environ.get("CI"):
            pytest.fail(words, pytrace=False)
        pytest.skip(words)
    with postgresql_server(binaries) as running:
        yield running


@pytest.fixture
def on_server(server: PostgresqlServer) -> Iterator[SqlRecord]:
    """An empty record in PostgreSQL."""
    kept = SqlRecord(server.address(server.new_record()))
    yield kept
    kept.close()


@pytest.fixture
def kept(tmp_path: Path) -> Iterator[SqlRecord]:
    """An empty record in SQLite."""
    kept = open_record(tmp_path)
    yield kept
    kept.close()


@pytest.fixture(params=["sqlite", "postgresql"])
def database_record(request: pytest.FixtureRequest) -> SqlRecord:
    """An empty record in each kind of database."""
    name = {"sqlite": "kept", "postgresql": "on_server"}[request.param]
    record: SqlRecord = request.getfixturevalue(name)
    return record


@pytest.fixture(params=["memory", "sqlite", "postgresql"])
def record(request: pytest.FixtureRequest) -> Record:
    """An empty record of each kind."""
    if request.param == "memory":
        return MemoryRecord()
    name = {"sqlite": "kept", "postgresql": "on_server"}[request.param]
    found: Record = request.getfixturevalue(name)
    return found
