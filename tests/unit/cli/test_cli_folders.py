"""The command line on a starter mill: folders, errors, notes, PINs."""

import datetime as dt
import io
import json
from dataclasses import replace
from pathlib import Path

import pytest

from bedstone.cli.main import run
from bedstone.cli.parts import Parts
from bedstone.mill.model import Assay
from bedstone.start import parts

NOW = dt.datetime(2026, 1, 20, 12, 0, tzinfo=dt.UTC)


@pytest.fixture
def joined() -> Parts:
    """The real parts, with a clock that stands still."""
    return parts(lambda: NOW)


@pytest.fixture
def mill(tmp_path: Path, joined: Parts, capsys: pytest.CaptureFixture[str]) -> Path:
    """A starter mill that has been loaded."""
    folder = tmp_path / "mill"
    assert run(["new", str(folder)], joined) == 0
    assert run(["load", str(folder), "--by", "ana"], joined) == 0
    capsys.readouterr()
    return folder


COMMANDS_WITH_FOLDER = (
    ["load", "DIR"],
    ["export", "DIR", "OUT"],
    ["plan", "DIR"],
    ["release", "DIR", "P-1"],
    ["verify", "DIR"],
    ["stock", "DIR"],
    ["trace", "DIR", "R-1"],
    ["orders", "DIR"],
    ["import-orders", "DIR", "list.csv", "--mapping", "any"],
    ["record", "DIR", "weighed.csv"],
    ["pin", "DIR", "ana"],
)


@pytest.mark.parametrize("command", COMMANDS_WITH_FOLDER, ids=lambda words: words[0])
def test_a_folder_that_is_not_there_is_said_in_words(
    command: list[str], joined: Parts, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every command on a folder that is not there ends with exit code 2 and one JSON error."""
    words = [str(tmp_path / "none") if word == "DIR" else word for word in command]
    assert run([*words, "--json"], joined) == 2
    said = json.loads(capsys.readouterr().out)
    assert said["error"] == "BadInput"
    assert "no folder" in said["what"]
    assert not (tmp_path / "none").exists()


@pytest.mark.parametrize("command", COMMANDS_WITH_FOLDER, ids=lambda words: words[0])
def test_a_folder_that_is_no_mill_is_left_alone(
    command: list[str], joined: Parts, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A folder without mill.toml is named as such, on the error output, and nothing is put in it."""
    words = [str(tmp_path) if word == "DIR" else word for word in command]
    assert run(words, joined) == 2
    caught = capsys.readouterr()
    assert "no mill.toml" in caught.err
    assert caught.out == ""
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "words", [["plann"], ["plan"], ["plan", "x", "--seed", "many"], ["load", "x", "--nonsense"]]
)
def test_what_is_typed_wrong_is_input_not_understood(
    words: list[str], joined: Parts, capsys: pytest.CaptureFixture[str]
) -> None:
    """A wrong command, argument or option ends with exit code 2 and says where to read more."""
    assert run(words, joined) == 2
    assert "--help" in capsys.readouterr().err


def test_new_never_writes_over_something(
    joined: Parts, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """``new`` and ``demo`` refuse a folder that has something in it, and leave it as it was."""
    (tmp_path / "letter.txt").write_text("dear", encoding="utf-8")
    for command in ("new", "demo"):
        assert run([command, str(tmp_path)], joined) == 3
        assert "already has files" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]


def test_loading_twice_says_that_nothing_is_new(
    joined: Parts, mill: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The second load of the same folder records nothing and says so."""
    assert run(["load", str(mill)], joined) == 0
    assert "Nothing new" in capsys.readouterr().out


def test_every_fault_of_a_folder_is_named_at_once(
    joined: Parts, mill: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two faults in two files are both in the answer, with file, row and column."""
    for name, old, new in (
        ("bins.csv", "funnel flow", "uphill"),
        ("people.csv", "manager", "king"),
    ):
        text = (mill / name).read_text(encoding="utf-8")
        assert old in text
        (mill / name).write_text(text.replace(old, new), encoding="utf-8")
    assert run(["load", str(mill), "--json"], joined) == 2
    faults = json.loads(capsys.readouterr().out)["faults"]
    assert {fault["file"] for fault in faults} == {"bins.csv", "people.csv"}
    assert all(fault["row"] and fault["column"] and fault["allowed"] for fault in faults)


def test_a_newer_folder_is_noted_and_a_load_asked_for(
    joined: Parts, mill: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A view of a folder that has been edited says what differs and how to record it."""
    text = (mill / "people.csv").read_text(encoding="utf-8")
    (mill / "people.csv").write_text(text.replace("Ana Example", "Ana Other"), encoding="utf-8")
    assert run(["orders", str(mill), "--json"], joined) == 0
    caught = capsys.readouterr()
    assert json.loads(caught.out)
    assert "people" in caught.err
    assert f"bedstone load {mill}" in caught.err


def test_a_folder_with_faults_does_not_stop_a_view(
    joined: Parts, mill: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A view still answers from the record when the folder's tables cannot be loaded, and says so."""
    (mill / "people.csv").write_text("person\n\n", encoding="utf-8")
    assert run(["stock", str(mill)], joined) == 0
    assert "cannot be loaded" in capsys.readouterr().err


@pytest.mark.parametrize("form", [[], ["--xlsx"]], ids=["CSV", "xlsx"])
def test_loading_an_export_changes_nothing(
    joined: Parts, mill: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], form: list[str]
) -> None:
    """What ``export`` writes, as files or as one workbook, is nothing new to its record."""
    out = tmp_path / "out"
    assert run(["export", str(mill), str(out), *form], joined) == 0
    for path in mill.glob("*.csv"):
        path.unlink()
    for path in out.iterdir():
        (mill / path.name).write_bytes(path.read_bytes())
    capsys.readouterr()
    assert run(["load", str(mill), "--json"], joined) == 0
    assert json.loads(capsys.readouterr().out)["nothing_new"] is True


def test_a_load_says_how_many_assays_it_left_out(
    joined: Parts, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A first load says in its answer how many results it left out as of a past it has not."""
    folder = tmp_path / "mill"
    assert run(["new", str(folder)], joined) == 0
    read = joined.read_folder(folder)
    assay = Assay(
        assay="A-1", nutrient="moisture", of=read.mill.ingredients[0].ingredient, lot="L-OLD",
        value=12.0, unit="%", sampled_at=NOW - dt.timedelta(days=9),
    )  # fmt: skip
    written = tmp_path / "out"
    joined.write_folder(replace(read, assays=(assay,)), written, workbook=False)
    capsys.readouterr()
    assert run(["load", str(written), "--by", "ana"], joined) == 0
    said = capsys.readouterr().out
    assert "1 result of assays.csv left out: sampled before this record began" in said
    assert "no assays" in said


def test_a_pin_is_kept_as_its_hash_alone(
    joined: Parts,
    mill: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """A PIN from the standard input opens the door; the journal has that it was set, never the PIN."""
    monkeypatch.setattr("sys.stdin", io.StringIO("471108\n"))
    assert run(["pin", str(mill), "ben", "--by", "ana"], joined) == 0
    record = joined.open_record(mill)
    (fact,) = record.facts(kinds=("people.pin_set/1",))
    assert dict(fact.fact.content) == {"person": "ben"}
    assert fact.fact.by == "ana"
    assert joined.open_door(mill).check_pin("ben", "471108")  # type: ignore[attr-defined]
    assert b"471108" not in (mill / "bedstone.sqlite").read_bytes()
    assert "471108" not in capsys.readouterr().out


@pytest.mark.parametrize(("person", "typed", "code"), [("nobody", "4711", 4), ("ben", "4", 2)])
def test_a_pin_that_will_not_do_is_refused(
    joined: Parts,
    mill: Path,
    monkeypatch: pytest.MonkeyPatch,
    person: str,
    typed: str,
    code: int,
) -> None:
    """A person who is not there or a PIN that is too short sets nothing and records nothing."""
    before = joined.open_record(mill).head()
    monkeypatch.setattr("sys.stdin", io.StringIO(typed + "\n"))
    assert run(["pin", str(mill), person, "--by", "ana"], joined) == code
    assert joined.open_record(mill).head() == before


def test_somebody_unknown_cannot_sign(
    joined: Parts, mill: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """``--by`` takes only people of the mill and names them."""
    assert run(["load", str(mill), "--by", "zorro"], joined) == 4
    said = capsys.readouterr().err
    assert "zorro" in said
    assert "ana, ben" in said


def test_a_fault_of_our_own_is_said_without_a_traceback(
    joined: Parts, mill: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """An error that nobody foresaw ends with exit code 1, in words, with how to see more."""

    def broken(_: Path) -> None:
        raise KeyError("spindle")

    monkeypatch.delenv("BEDSTONE_DEBUG", raising=False)
    damaged = replace(joined, read_folder=broken)  # type: ignore[arg-type]
    assert run(["load", str(mill)], damaged) == 1
    said = capsys.readouterr().err
    assert "fault in Bedstone" in said
    assert "BEDSTONE_DEBUG" in said
    assert "Traceback" not in said


@pytest.mark.parametrize("at", ["yesterday", "2026-13-01T00:00", "12:00", "9999-12-31T23:59"])
def test_a_moment_that_is_none_is_input_not_understood(
    at: str, joined: Parts, mill: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """``--at`` says how a time is written when it cannot be understood."""
    assert run(["stock", str(mill), "--at", at], joined) == 2
    assert "YYYY-MM-DD" in capsys.readouterr().err


def test_stock_before_the_record_began_is_nothing(
    joined: Parts, mill: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Stock at a moment before the opening stock shows empty bins."""
    assert run(["stock", str(mill), "--at", "2020-01-01T00:00", "--json"], joined) == 0
    assert {row["mass_mg"] for row in json.loads(capsys.readouterr().out)} == {0}


@pytest.mark.parametrize("day", ["tomorrow", "2026-02-30", "2026-01-19"])
def test_a_day_that_cannot_be_planned_is_said(
    day: str, joined: Parts, mill: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """``plan`` takes a date, and none that is over; nothing is recorded otherwise."""
    head = joined.open_record(mill).head()
    assert run(["plan", str(mill), "--day", day], joined) == 2
    assert "Allowed" in capsys.readouterr().err
    assert joined.open_record(mill).head() == head


def test_the_pages_are_kept_to_this_machine(
    joined: Parts, mill: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Serving to other machines is refused until it is asked for by name."""
    assert run(["serve", str(mill), "--host", "0.0.0.0"], joined) == 3
    assert "--in-the-open" in capsys.readouterr().err


def test_a_day_without_a_shift_is_one_sentence(
    joined: Parts, mill: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """``plan`` of a Sunday says that nobody works, and neither writes nor records a plan."""
    head = joined.open_record(mill).head()
    assert run(["plan", str(mill), "--day", "2026-01-25"], joined) == 3
    caught = capsys.readouterr()
    assert "no shift on Sunday 2026-01-25" in caught.err
    assert caught.out == ""
    assert joined.open_record(mill).head() == head
    assert not (mill / "plans").exists()
