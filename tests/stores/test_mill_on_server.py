"""A mill whose record lies in PostgreSQL, from the command line, from the first load to the export."""

import datetime as dt
import json
from pathlib import Path

import pytest

from bedstone.cli.main import run
from bedstone.cli.parts import Parts
from bedstone.start import parts
from fakes.postgresql_server import PostgresqlServer

NOW = dt.datetime(2026, 1, 20, 12, 0, tzinfo=dt.UTC)


@pytest.fixture
def joined() -> Parts:
    """The real parts, with a clock that stands still."""
    return parts(lambda: NOW)


@pytest.fixture
def mill(tmp_path: Path, joined: Parts, server: PostgresqlServer) -> Path:
    """A starter mill that says its record lies on the server."""
    folder = tmp_path / "mill"
    assert run(["new", str(folder)], joined) == 0
    address = server.address(server.new_database())
    with (folder / "mill.toml").open("a") as settings:
        settings.write(f'\n[record]\naddress = "{address}"\n')
    return folder


def test_a_mill_on_a_server_goes_the_whole_way(
    mill: Path, joined: Parts, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    """Load, plan, stock, verify and export work on the server; no file of a record is made."""
    assert run(["stock", str(mill)], joined) == 9
    assert "no record here" in capsys.readouterr().err
    assert run(["load", str(mill), "--by", "ana"], joined) == 0
    capsys.readouterr()
    assert run(["load", str(mill), "--json"], joined) == 0
    assert json.loads(capsys.readouterr().out)["nothing_new"] is True
    assert run(["plan", str(mill), "--day", "2026-01-20"], joined) == 0
    assert run(["verify", str(mill)], joined) == 0
    assert run(["export", str(mill), str(tmp_path / "out")], joined) == 0
    assert not (mill / "bedstone.sqlite").exists()


def test_an_address_that_leads_nowhere_is_said(
    mill: Path, joined: Parts, server: PostgresqlServer, capsys: pytest.CaptureFixture[str]
):
    """A wrong address ends with exit code 9 and words, and begins no record in a file instead."""
    settings = (mill / "mill.toml").read_text()
    (mill / "mill.toml").write_text(settings.replace(str(server.folder), "/nowhere"))
    assert run(["load", str(mill), "--by", "ana"], joined) == 9
    assert "cannot be reached" in capsys.readouterr().err
    assert not (mill / "bedstone.sqlite").exists()
