"""Who signs what on the command line, and that no command begins a record by the way."""

import datetime as dt
import io
from pathlib import Path

import pytest

from bedstone.cli.main import run
from bedstone.cli.parts import Parts
from bedstone.start import parts

NOW = dt.datetime(2026, 1, 20, 12, 0, tzinfo=dt.UTC)


@pytest.fixture
def joined(monkeypatch: pytest.MonkeyPatch) -> Parts:
    """The real parts, a clock that stands still, an account that is nobody of the mill."""
    monkeypatch.delenv("BEDSTONE_BY", raising=False)
    monkeypatch.setattr("getpass.getuser", lambda: "build")
    return parts(lambda: NOW)


@pytest.fixture
def folder(joined: Parts, tmp_path: Path) -> Path:
    """A starter folder with an inspector, not loaded yet."""
    directory = tmp_path / "mill"
    assert run(["new", str(directory)], joined) == 0
    with (directory / "people.csv").open("a", encoding="utf-8") as people:
        people.write("ivo,Ivo Example,inspector\n")
    return directory


WITHOUT_RECORD = (
    ["verify"],
    ["stock"],
    ["trace", "R-1"],
    ["plan"],
    ["orders"],
    ["release", "P-1", "--by", "ana"],
    ["pin", "ana", "--by", "ana"],
    ["serve", "--port", "0"],
)


@pytest.mark.parametrize("words", WITHOUT_RECORD, ids=lambda words: words[0])
def test_a_record_that_has_gone_is_said_and_none_is_begun(
    words: list[str], joined: Parts, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """After the record's file was deleted every command but load says so and makes no file."""
    assert run(["load", str(folder)], joined) == 0
    for path in folder.glob("bedstone.sqlite*"):
        path.unlink()
    before = sorted(folder.rglob("*"))
    capsys.readouterr()
    assert run([words[0], str(folder), *words[1:]], joined) == 9
    said = capsys.readouterr().err
    assert "no record here" in said
    assert "put back the last copy" in said
    assert sorted(folder.rglob("*")) == before


def test_the_first_load_is_signed_by_the_manager(
    joined: Parts, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without a name the first load is signed by the manager of people.csv, and says so."""
    assert run(["load", str(folder)], joined) == 0
    assert "signed by ana" in capsys.readouterr().out
    assert {one.fact.by for one in joined.open_record(folder).facts()} == {"ana"}


def test_a_first_load_by_an_inspector_begins_nothing(joined: Parts, folder: Path) -> None:
    """Who may not load cannot begin a record either."""
    assert run(["load", str(folder), "--by", "ivo"], joined) == 3
    assert not list(folder.glob("bedstone.sqlite*"))


@pytest.mark.parametrize(
    ("by", "code", "words"),
    [
        (["--by", "ivo"], 3, "records nothing"),
        (["--by", "ben"], 3, "may not change the mill's tables"),
        ([], 2, "Nobody signs this"),
        (["--by", "ana"], 0, ""),
    ],
)
def test_a_later_load_needs_a_role_of_the_record(
    by: list[str], code: int, words: str, joined: Parts, folder: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    """Changed tables are loaded by who may load by the tables that stand, not by the new ones."""
    assert run(["load", str(folder)], joined) == 0
    text = (folder / "people.csv").read_text(encoding="utf-8")
    changed = text.replace("ivo,Ivo Example,inspector", "ivo,Ivo Example,manager")
    (folder / "people.csv").write_text(changed, encoding="utf-8")
    before = joined.open_record(folder).head().position
    assert run(["load", str(folder), *by], joined) == code
    assert words in capsys.readouterr().err
    assert joined.open_record(folder).head().position == before + (code == 0)


@pytest.mark.parametrize("by", ["ivo", "ben"])
@pytest.mark.parametrize(
    "words", [["release", "P-1"], ["record", "weighed.csv"], ["pin", "ben"], ["plan"]]
)
def test_a_role_that_may_not_is_refused(
    words: list[str],
    by: str,
    joined: Parts,
    folder: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """An inspector signs nothing at all; a batch operator records batches and no more."""
    assert run(["load", str(folder)], joined) == 0
    head = joined.open_record(folder).head()
    monkeypatch.setattr("sys.stdin", io.StringIO("471108\n"))
    code = run([words[0], str(folder), *words[1:], "--by", by], joined)
    if by == "ben" and words[0] == "record":
        assert "may not" not in capsys.readouterr().err
        return
    assert code == 3
    assert "Allowed: " in capsys.readouterr().err
    assert joined.open_record(folder).head() == head
