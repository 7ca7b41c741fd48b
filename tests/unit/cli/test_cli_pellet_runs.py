"""Commands of readings and of logged runs: lists in, findings and water out, faults in words."""

import datetime as dt
import json
from pathlib import Path

import openpyxl
import pytest

from bedstone.cli.main import run
from bedstone.cli.parts import Parts
from bedstone.start import parts
from fakes.line_runs import AT, RUN, line_record, made, pelleted

NOW = AT + dt.timedelta(hours=3)
READ_AT = "2026-09-01 15:40Z"


@pytest.fixture(scope="module")
def joined() -> Parts:
    """The real parts with a clock that stands still."""
    return parts(lambda: NOW)


@pytest.fixture
def folder(joined: Parts, tmp_path: Path) -> Path:
    """A mill folder whose record is the demo mill's with rabbit feed pelleted, nothing read."""
    directory = tmp_path / "mill"
    assert run(["new", str(directory)], joined) == 0
    record = joined.open_record(directory, create=True)
    line_record(record)
    made(record)
    pelleted(record)
    return directory


def workbook(path: Path, rows: list[tuple[object, ...]]) -> Path:
    """A logger's list as a workbook."""
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["machine", "quantity", "read_at", "value", "unit", "run"])
    for row in rows:
        sheet.append(list(row))
    book.save(path)
    return path


def test_a_workbook_comes_in_once_and_its_run_is_shown(
    joined: Parts, folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Readings of a workbook book the run's water anew, the same file again nothing; the run is
    then listed with its finding, and as JSON with masses that add up.
    """
    file = workbook(tmp_path / "log.xlsx", [
        ("PL2", "conditioner temperature", READ_AT, 150, "°F", RUN),
        ("PL2", "cooler outlet moisture", READ_AT, 13.8, "%", RUN),
    ])  # fmt: skip
    words = ["import-readings", str(folder), str(file), "--by", "dell"]
    assert run(words, joined) == 0
    assert f"Water booked anew by these readings: {RUN}." in capsys.readouterr().out
    assert run(words, joined) == 0
    assert "no reading recorded" in capsys.readouterr().out.replace("readings", "reading")
    assert run(["pellet-runs", str(folder)], joined) == 0
    said = capsys.readouterr().out
    assert "13.8 % moisture" in said
    assert "What to do: hold it" in said
    assert run(["pellet-runs", str(folder), "--run", RUN, "--json"], joined) == 0
    (one,) = json.loads(capsys.readouterr().out)
    water = one["water"]
    assert water["mash_mg"] + water["steam_mg"] == (
        water["air_mg"] + water["dust_mg"] + water["pellets_mg"]
    )
    assert one["means"]["cooler outlet moisture"] == pytest.approx(0.138)
    assert [row["code"] for row in one["findings"]] == ["line.sent_damp"]
    assert one["readings"]["cooler outlet moisture"]


def test_faults_of_a_workbook_are_named_by_row_and_nothing_is_written(
    joined: Parts, folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A unit that is none, a run that is none, a line that is not the run's: all at once."""
    file = workbook(tmp_path / "log.xlsx", [
        ("PL2", "conditioner temperature", READ_AT, 160, "psi", RUN),
        ("PL2", "conditioner temperature", READ_AT, 160, "F", "R-77"),
        ("PL1", "conditioner temperature", READ_AT, 160, "F", RUN),
        ("PL2", "conditioner temperature", READ_AT, 650, "F", RUN),
        ("PL2", "motor current", READ_AT, 40, "A", RUN),
    ])  # fmt: skip
    before = joined.open_record(folder).head()
    assert run(["import-readings", str(folder), str(file), "--by", "dell"], joined) == 2
    said = capsys.readouterr().err
    for words in ("row 2", "C or F", "No run 'R-77'", "does not go over PL1", "221 °F", "4 faults"):
        assert words in said, words
    assert joined.open_record(folder).head() == before


def test_runs_that_are_none_are_said(
    joined: Parts, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing read yet; no such run; no such line."""
    assert run(["pellet-runs", str(folder)], joined) == 0
    assert "Nothing was read in the last 2 days." in capsys.readouterr().out
    assert run(["pellet-runs", str(folder), "--run", RUN], joined) == 0
    assert f"Nothing was read of run {RUN}." in capsys.readouterr().out
    assert run(["pellet-runs", str(folder), "--run", "R-2"], joined) == 4
    assert "did you mean R-1" in capsys.readouterr().err
    assert run(["pellet-runs", str(folder), "--line", "PL9"], joined) == 4
    assert "PL1, PL2" in capsys.readouterr().err
