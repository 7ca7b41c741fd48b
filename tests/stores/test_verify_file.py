"""The file of the record verified beside its facts: marks of stock, times of recording, its form."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from bedstone.desk.record import Record
from bedstone.desk.verify import verify
from bedstone.mill.plan import Verdict
from bedstone.store.record import FILE_NAME, SqlRecord
from fakes.facts import AT, day_of_facts, load


@pytest.fixture
def kept_file(kept: SqlRecord, tmp_path: Path) -> Path:
    """A record of nine facts."""
    kept.append_all(day_of_facts(9), recorded_at=AT)
    return tmp_path / FILE_NAME


def _tamper(path: Path, words: str, values: tuple[int, ...] = ()) -> None:
    """Change the file as somebody with a database program would."""
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(words, values)
        connection.commit()


def _said(record: Record) -> list[tuple[str, str]]:
    return [(item.code, item.about) for item in verify(record) if item.verdict is Verdict.STOP]


def test_a_false_mark_before_a_right_one_is_named(kept: SqlRecord, kept_file: Path):
    """A mark of the past that no reading of today's stock passes through is recomputed too."""
    kept.append_all([load(n) for n in range(1000, 3200)], recorded_at=AT)
    kept.append_all([load(n) for n in range(4000, 7000)], recorded_at=AT)
    kept.refresh_stock_marks()
    with closing(sqlite3.connect(kept_file)) as connection:
        ((first, many),) = connection.execute("SELECT min(through_at), count(*) FROM stock_marks")
    assert many > 0
    assert _said(kept) == []
    _tamper(kept_file, "INSERT INTO stock_marks VALUES (?)", (first - 1,))
    assert set(_said(kept)) == {("record.file", "file")}
    assert any("was added up at a mark as 0 mg" in item.text for item in verify(kept))


def test_a_changed_time_of_recording_is_named(kept: SqlRecord, kept_file: Path):
    """The time of recording beside the text must be that in the text."""
    _tamper(kept_file, "UPDATE facts SET recorded_at = recorded_at + 1 WHERE position = 4")
    assert _said(kept) == [("journal.altered", "fact 4")]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (
            "CREATE TRIGGER sly AFTER INSERT ON facts BEGIN DELETE FROM lots; END",
            "there is a trigger sly at table facts that Bedstone did not make",
        ),
        ("DROP INDEX ix_facts_reverses", "the index ix_facts_reverses is gone"),
        ("ALTER TABLE pins ADD COLUMN hint TEXT", "the table pins has been changed"),
        ("CREATE VIEW v AS SELECT 1", "there is a view v"),
    ],
)
def test_a_changed_form_of_the_file_is_named(
    kept: SqlRecord, kept_file: Path, change: str, words: str
):
    """Triggers, views, indexes and columns that the migrations did not make are found."""
    _tamper(kept_file, change)
    (found,) = verify(kept)
    assert found.verdict is Verdict.STOP
    assert words in found.text
