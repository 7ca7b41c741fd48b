import sqlite3
import threading
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from bedstone.desk.record import Record
from bedstone.desk.verify import verify
from bedstone.errors import BadInput, RecordDamaged
from bedstone.ledger.chain import NO_HEAD, next_head
from bedstone.mill.plan import Verdict
from bedstone.store.record import FILE_NAME, SqlRecord
from fakes.facts import AT, day_of_facts, load
from fakes.memory import MemoryRecord

MANY = 9
REWRITE = "UPDATE facts SET text = :text, head = :head WHERE position = :position"


@pytest.fixture
def kept_file(kept: SqlRecord, tmp_path: Path) -> Path:
    """A record of nine facts, of which the last took back the second."""
    kept.append_all(day_of_facts(MANY - 1), recorded_at=AT)
    kept.reverse(2, by="mara", why="weighed twice", recorded_at=AT)
    return tmp_path / FILE_NAME


def _tamper(path: Path, *statements: str | tuple[str, dict[str, object]]) -> None:
    """Change the file as somebody with a database program would, checks switched off."""
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA ignore_check_constraints=ON")
        for statement in statements:
            words, values = (statement, {}) if isinstance(statement, str) else statement
            connection.execute(words, values)
        connection.commit()


def _said(record: Record, head: str | None = None) -> list[tuple[str, str]]:
    found = verify(record, printed_head=head)
    return [(item.code, item.about) for item in found if item.verdict is Verdict.STOP]


def test_a_record_as_it_was_written_is_whole(record: Record):
    """Nothing is found but one good finding, in an empty record, after facts and a reversal."""
    assert [item.code for item in verify(record)] == ["record.whole"]
    record.append_all(day_of_facts(MANY - 1), recorded_at=AT)
    record.reverse(2, by="mara", why="weighed twice", recorded_at=AT)
    (found,) = verify(record)
    assert (found.code, found.verdict) == ("record.whole", Verdict.GOOD)
    assert "9 facts" in found.text


def test_the_printed_head_is_found_and_what_follows_counted(record: Record):
    """A head printed earlier is found by hash, by its beginning, and with its position."""
    record.append_all(day_of_facts(5), recorded_at=AT)
    printed = record.head()
    record.append(load(20), recorded_at=AT)
    for text in (
        printed.head,
        printed.head[:12],
        f"{printed.position}:{printed.head}",
        f" {printed.position}:{printed.head[:16].upper()} ",
    ):
        whole, found = verify(record, printed_head=text)
        assert (whole.code, found.code, found.about) == ("record.whole", "head.found", "fact 5")
        assert "1 facts follow" in found.text


@pytest.mark.parametrize(
    "text", ["", "abc", "5:", "x" * 12, "5:abcdefabcde", "a" * 65, "٥:" + "a" * 12]
)
def test_a_printed_head_that_cannot_be_read_is_refused_in_words(record: Record, text: str):
    """What is no head says what a head looks like."""
    with pytest.raises(BadInput, match="position:hash"):
        verify(record, printed_head=text)


def test_an_altered_text_is_named(kept: SqlRecord, kept_file: Path):
    """Somebody edits what was weighed: the fact is named, and so is the ledger beside it."""
    _tamper(
        kept_file,
        "UPDATE facts SET text = replace(text, '901000000', '801000000') WHERE position = 3",
    )
    said = _said(kept)
    assert ("chain.altered", "fact 3") in said
    assert ("ledger.altered", "fact 3") in said
    assert {about for code, about in said if code.startswith("chain")} == {"fact 3"}


@pytest.mark.parametrize(
    "text", ["garbage", b"\xff\xfe\x00", "", '{"position":4}', '{"position":4,"kind":[]}']
)
def test_a_text_that_is_no_fact_is_named(kept: SqlRecord, kept_file: Path, text: str | bytes):
    """Garbage and broken letters in place of a text are found and named."""
    change = "UPDATE facts SET text = CAST(:text AS TEXT) WHERE position = 4"
    _tamper(kept_file, (change, {"text": text}))
    assert ("chain.altered", "fact 4") in _said(kept)


def test_a_single_blank_is_named(kept: SqlRecord, kept_file: Path):
    """A text that says the same with one blank more is not the text that was written."""
    _tamper(kept_file, "UPDATE facts SET text = text || ' ' WHERE position = 4")
    assert _said(kept) == [("chain.altered", "fact 4")]


def test_a_text_altered_with_its_hash_is_named(kept: SqlRecord, kept_file: Path):
    """Changing text and hash together breaks the link of the fact behind."""
    kept_4 = kept.fact(4)
    text = kept_4.text.replace('"by":"mara"', '"by":"otto"')
    assert text != kept_4.text
    head = next_head(kept.fact(3).head, text)
    _tamper(kept_file, (REWRITE, {"text": text, "head": head, "position": 4}))
    assert ("chain.altered", "fact 5") in _said(kept)


def test_a_chain_made_anew_is_found_by_the_printed_head(kept: SqlRecord, kept_file: Path):
    """Whoever recomputes the whole chain is found out by the sheet on the wall."""
    printed = kept.head()
    rows = [(item.position, item.text) for item in kept.facts(reversed_too=True)]
    head, changes = NO_HEAD, list[tuple[str, dict[str, object]]]()
    for position, text in rows:
        text = text.replace('"note":"dry & clean"', '"note":"dry"')  # noqa: PLW2901 - the forgery
        head = next_head(head, text)
        changes.append((REWRITE, {"text": text, "head": head, "position": position}))
    _tamper(kept_file, *changes)
    assert _said(kept) == []
    assert _said(kept, printed.head) == [("head.missing", printed.head)]
    name = f"{printed.position}:{printed.head}"
    assert _said(kept, name) == [("head.altered", name)]


def test_a_deleted_fact_is_named(kept: SqlRecord, kept_file: Path):
    """A fact that was cut out is missing at its place; what it left behind is stray."""
    _tamper(kept_file, "DELETE FROM facts WHERE position = 5")
    said = _said(kept)
    assert ("chain.missing", "fact 5") in said
    assert ("ledger.stray", "fact 5") in said
    assert ("lot.stray", "fact 5") in said
    _tamper(
        kept_file,
        "DELETE FROM movements WHERE position = 5",
        "DELETE FROM lots WHERE position = 5",
    )
    assert ("chain.missing", "fact 5") in _said(kept)


def test_swapped_facts_are_named(kept: SqlRecord, kept_file: Path):
    """Two facts that changed places are both named."""
    _tamper(
        kept_file,
        "UPDATE facts SET position = 99 WHERE position = 4",
        "UPDATE facts SET position = 4 WHERE position = 7",
        "UPDATE facts SET position = 7 WHERE position = 99",
    )
    said = _said(kept)
    assert ("chain.reordered", "fact 4") in said
    assert ("chain.reordered", "fact 7") in said
    assert {about for code, about in said if code.startswith("chain")} == {"fact 4", "fact 7"}


def test_facts_cut_off_at_the_end_are_found_by_the_printed_head(kept: SqlRecord, kept_file: Path):
    """A record cut short is a sound shorter record, but for the head on paper."""
    printed = kept.head()
    _tamper(
        kept_file,
        "DELETE FROM movements WHERE position > 6",
        "DELETE FROM lots WHERE position > 6",
        "DELETE FROM facts WHERE position > 6",
    )
    assert _said(kept) == []
    assert _said(kept, printed.head) == [("head.missing", printed.head)]
    found = verify(kept, printed_head=f"{printed.position}:{printed.head}")
    assert "Facts 7 to 9 are missing" in found[-1].text


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE movements SET mass_mg = mass_mg + 1 WHERE position = 3 AND line = 2",
        "UPDATE movements SET to_place = 'B09' WHERE position = 3 AND line = 2",
        "UPDATE movements SET lot = 'L-9999' WHERE position = 3 AND line = 2",
        "UPDATE movements SET how = 'guessed' WHERE position = 3 AND line = 2",
        "UPDATE movements SET happened_at = happened_at + 1 WHERE position = 3 AND line = 2",
        "UPDATE movements SET happened_at = 9223372036854775807 WHERE position = 3 AND line = 2",
        "DELETE FROM movements WHERE position = 3 AND line = 2",
        "UPDATE movements SET line = 9 WHERE position = 3 AND line = 2",
    ],
)
def test_an_edited_ledger_is_named(kept: SqlRecord, kept_file: Path, change: str):
    """The ledger is drawn from the facts: whoever edits only the ledger is found."""
    _tamper(kept_file, change)
    assert ("ledger.altered", "fact 3") in _said(kept)


@pytest.mark.parametrize(
    ("change", "finding"),
    [
        ("UPDATE lots SET material = 'OATS' WHERE position = 3", ("lot.altered", "fact 3")),
        ("UPDATE lots SET kind = 'heap' WHERE position = 3", ("lot.altered", "fact 3")),
        ("DELETE FROM lots WHERE position = 3", ("lot.altered", "fact 3")),
        ("INSERT INTO lots VALUES ('X', 3, 'load', 'CORN')", ("lot.altered", "fact 3")),
        ("INSERT INTO lots VALUES ('X', 300, 'load', 'CORN')", ("lot.stray", "fact 300")),
        ("UPDATE facts SET kind = 'a.b/1' WHERE position = 3", ("journal.altered", "fact 3")),
        ("UPDATE facts SET reverses = NULL WHERE position = 9", ("journal.altered", "fact 9")),
        ("UPDATE facts SET reverses = 3 WHERE position = 9", ("journal.altered", "fact 9")),
        ("UPDATE facts SET head = 'short' WHERE position = 3", ("chain.altered", "fact 3")),
    ],
)
def test_what_else_is_drawn_from_the_facts_is_held_against_them(
    kept: SqlRecord, kept_file: Path, change: str, finding: tuple[str, str]
):
    """Lots, kinds and reversals beside the text are named when they differ from it."""
    _tamper(kept_file, change)
    assert finding in _said(kept)


def test_marks_of_stock_that_were_edited_are_named(kept: SqlRecord, kept_file: Path):
    """Stock that does not follow from the facts is named by place, with the total."""
    _tamper(
        kept_file,
        "INSERT INTO stock_marks VALUES (1)",
        "INSERT INTO stock_lines VALUES (1, 'B01', 'CORN', 5000000)",
    )
    assert _said(kept) == [
        ("record.file", "file"),
        ("balance.place", "B01"),
        ("balance.total", "all places"),
    ]


def test_a_flood_of_findings_is_cut_and_counted(kept: SqlRecord, kept_file: Path):
    """A hundred findings of a kind are shown, the rest is counted."""
    kept.append_all([load(n) for n in range(1000, 1300)], recorded_at=AT)
    _tamper(kept_file, "UPDATE movements SET mass_mg = mass_mg + 1 WHERE position > 9")
    texts = [item.text for item in verify(kept) if item.code == "ledger.altered"]
    assert len(texts) == 101
    assert texts[-1] == "200 more findings of this kind follow."


def _overwrite(path: Path, start: int) -> None:
    with path.open("r+b") as file:
        file.seek(start)
        file.write(b"\xff" * 4096 * 3)


@pytest.mark.parametrize("start", [4096 * 2, 4096 * 5, 4096 * 12])
def test_a_file_with_broken_pages_is_reported_without_a_crash(
    kept: SqlRecord, kept_file: Path, start: int
):
    """Pages overwritten on the disk give findings, not an error of the driver."""
    kept.append_all([load(n) for n in range(1000, 1200)], recorded_at=AT)
    kept.close()
    _tamper(kept_file, "PRAGMA user_version = 1")  # brings everything into the file itself
    with closing(sqlite3.connect(kept_file)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
    _overwrite(kept_file, start)
    assert any(item.verdict is Verdict.STOP for item in verify(SqlRecord(kept_file)))


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE facts SET text = 'garbage' WHERE position = 4",
        "UPDATE facts SET text = (SELECT text FROM facts WHERE position = 5) WHERE position = 4",
    ],
)
def test_who_reads_a_damaged_fact_is_told_to_stop(kept: SqlRecord, kept_file: Path, change: str):
    """A reading that meets a damaged fact says so, and never gives another fact in its place."""
    _tamper(kept_file, change)
    with pytest.raises(RecordDamaged, match="fact 4"):
        kept.fact(4)
    with pytest.raises(RecordDamaged, match="run bedstone verify"):
        list(kept.facts())


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE movements SET how = 'guessed' WHERE position = 4",
        "UPDATE movements SET happened_at = 9223372036854775807 WHERE position = 4",
    ],
)
def test_who_reads_a_damaged_movement_is_told_to_stop(
    kept: SqlRecord, kept_file: Path, change: str
):
    """A reading that meets a movement that cannot be read says so."""
    _tamper(kept_file, change)
    with pytest.raises(RecordDamaged, match="fact 4"):
        list(kept.movements())


def test_verifying_writes_nothing(record: Record):
    """The record stands where it stood."""
    record.append(load(1), recorded_at=AT)
    before = record.head()
    verify(record, printed_head=before.head)
    assert record.head() == before


def test_a_fake_in_memory_is_verified_like_the_store():
    """The record that other tests use is held to the same checks."""
    memory = MemoryRecord()
    memory.append_all(day_of_facts(5), recorded_at=AT)
    row = memory._rows[1]
    memory._rows[1] = replace(row, text=row.text.replace("901000000", "901000001"))
    assert _said(memory) == [
        ("chain.altered", "fact 2"),
        ("ledger.altered", "fact 2"),
        ("balance.place", "B01"),
        ("balance.place", "MX1"),
    ]


def test_verifying_while_others_record_finds_nothing_wrong(database_record: SqlRecord):
    """Facts recorded while the record is verified are neither missing nor stray."""
    database_record.append_all([load(n) for n in range(1500)], recorded_at=AT)
    done = threading.Event()

    def write() -> None:
        n = 2000
        while not done.is_set() and n < 3499:  # as long as there is a load to take back
            database_record.append(load(n), recorded_at=AT)
            database_record.reverse(n - 1999, by="mara", why="wrong", recorded_at=AT)
            n += 1

    thread = threading.Thread(target=write)
    thread.start()
    try:
        for _ in range(3):
            assert _said(database_record) == []
    finally:
        done.set()
        thread.join()
    assert database_record.head().position > 1500


@pytest.mark.parametrize(
    ("content", "finding"),
    [
        ('{"kind":"batching.batch_made/1","why":"weighed twice"}', ("chain.reversal", "fact 9")),
        ('{"kind":"batching.batch_made/1","reverses":12}', ("chain.reversal", "fact 9")),
    ],
)
def test_a_taking_back_of_what_may_not_be_taken_back_is_named(
    kept: SqlRecord, kept_file: Path, content: str, finding: tuple[str, str]
):
    """A forged reversal, without its fact or of a later one, is found even when the chain was made
    anew.
    """
    text = kept.fact(9).text
    start = text.index('"content":') + len('"content":')
    text = text[:start] + content + text[text.index("}", start) + 1 :]
    head = next_head(kept.fact(8).head, text)
    _tamper(kept_file, (REWRITE, {"text": text, "head": head, "position": 9}))
    said = _said(kept)
    assert finding in said
    assert not any(code in {"chain.altered", "chain.missing"} for code, _ in said)
