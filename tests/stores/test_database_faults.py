import sqlite3
import threading
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import inspect, text

from bedstone.errors import Conflict, RecordDamaged, Refused, SetupError
from bedstone.store import sqlite_ways
from bedstone.store.database import Database
from bedstone.store.record import FILE_NAME, SqlRecord, open_record
from bedstone.store.schema import METADATA
from bedstone.store.snapshots import drop_marks_from, refresh_marks
from bedstone.store.upgrade import FORMS
from fakes.facts import AT, day_of_facts, load


def test_the_file_is_kept_as_it_must_be(kept: SqlRecord):
    """Write-ahead log, full synchronisation, foreign keys, strict tables."""
    with kept.database.reading() as connection:
        ask = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in ("journal_mode", "synchronous", "foreign_keys")
        }
        strict = connection.exec_driver_sql(
            "SELECT count(*) FROM pragma_table_list WHERE schema = 'main' AND strict"
        ).scalar()
    assert ask == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1}
    assert strict == len(METADATA.tables)


def test_the_migrations_make_the_tables_of_the_schema(kept: SqlRecord, tmp_path: Path):
    """Nothing differs between what the migrations made and what the program expects, checks,
    names of constraints and all.
    """
    plain = Database(f"sqlite:///{tmp_path / 'plain.sqlite'}")
    METADATA.create_all(plain.engine)

    def tables(database: Database) -> dict[str, object]:
        with database.engine.connect() as connection:
            look = inspect(connection)
            return {
                name: (
                    sorted(map(str, look.get_columns(name))),
                    look.get_pk_constraint(name),
                    sorted(map(str, look.get_check_constraints(name))),
                    sorted(map(str, look.get_foreign_keys(name))),
                    sorted(map(str, look.get_unique_constraints(name))),
                    sorted(
                        str(row | {"dialect_options": {k: str(v) for k, v in options.items()}})
                        for row in look.get_indexes(name)
                        for options in (row.get("dialect_options", {}),)
                    ),
                    look.get_table_options(name),
                )
                for name in METADATA.tables
            }

    assert tables(kept.database) == tables(plain)
    plain.close()


def test_a_record_is_opened_again_as_it_was_left(tmp_path: Path):
    """Closing and opening loses nothing."""
    first = open_record(tmp_path)
    first.append_all(day_of_facts(5), recorded_at=AT)
    head, stock = first.head(), first.stock()
    first.close()
    again = open_record(tmp_path)
    assert (again.head(), again.stock()) == (head, stock)
    again.close()


def test_a_record_of_a_newer_program_is_not_touched(tmp_path: Path):
    """A database of a form that this program does not know is refused."""
    first = open_record(tmp_path)
    with first.database.writing() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    first.close()
    with pytest.raises(SetupError, match="newer"):
        open_record(tmp_path)
    assert FORMS[-1] != "9999"


def test_a_database_of_something_else_is_not_touched(tmp_path: Path):
    """Tables that are no record are left alone."""
    with closing(sqlite3.connect(tmp_path / FILE_NAME)) as connection:
        connection.execute("CREATE TABLE songs (name TEXT)")
    with pytest.raises(RecordDamaged, match="not a record"):
        open_record(tmp_path)


@pytest.mark.parametrize("content", [b"this is a letter, not a database" * 200, b"\xff" * 4096])
def test_a_file_that_is_no_database_is_named(tmp_path: Path, content: bytes):
    """A file of another kind gives an error in our words and stays as it is."""
    (tmp_path / FILE_NAME).write_bytes(content)
    with pytest.raises(RecordDamaged, match="cannot be read as a database"):
        open_record(tmp_path)
    assert (tmp_path / FILE_NAME).read_bytes() == content


def test_a_folder_that_is_not_there_is_named(tmp_path: Path):
    """No folder, no record: the error says what to run."""
    with pytest.raises(SetupError, match="bedstone new"):
        open_record(tmp_path / "nowhere")


def test_a_folder_in_the_place_of_the_file_is_named(tmp_path: Path):
    """A folder where the file should be cannot be opened."""
    (tmp_path / FILE_NAME).mkdir()
    with pytest.raises(SetupError, match="cannot be opened"):
        open_record(tmp_path)


@pytest.mark.parametrize(
    "address",
    [
        "nothing at all",
        "nosuchdatabase://here/there",
        "mysql://here/there",
        "sqlite://",
        "sqlite:///:memory:",
    ],
)
def test_an_address_that_cannot_be_used_is_named(address: str):
    """An address that nobody understands is a wrong setting."""
    with pytest.raises(SetupError, match=r"address|in a file"):
        SqlRecord(address)


def test_a_file_that_may_not_be_written_is_read_and_never_half_written(kept: SqlRecord):
    """When the database refuses to write, the error says so and the record can still be read."""
    kept.append(load(1), recorded_at=AT)
    with kept.database.engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA query_only=ON")
        # the pool hands this very connection to the next writer
    with pytest.raises(SetupError, match="may not be written"):
        kept.append(load(2), recorded_at=AT)
    assert kept.head().position == 1


def test_a_full_disk_leaves_no_half(kept: SqlRecord):
    """When there is no more room, nothing of the import is kept, and later there is room again."""
    kept.append(load(1), recorded_at=AT)
    with kept.database.engine.connect() as connection:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar()
        connection.exec_driver_sql(f"PRAGMA max_page_count={pages + 3}").close()
    with pytest.raises(SetupError, match="disk is full"):
        kept.append_all([load(n) for n in range(2, 500)], recorded_at=AT)
    assert kept.head().position == 1
    with kept.database.engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA max_page_count=1000000").close()
    assert kept.append(load(2), recorded_at=AT).position == 2


def test_a_record_locked_by_another_program_is_a_conflict(
    kept: SqlRecord, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    """Who cannot write because somebody else holds the file is told so; reading goes on."""
    kept.append(load(1), recorded_at=AT)
    monkeypatch.setattr(sqlite_ways, "WAIT_S", 0.05)
    other = open_record(tmp_path)
    with kept.database.writing():
        with pytest.raises(Conflict, match="Another program"):
            other.append(load(2), recorded_at=AT)
        assert other.head().position == 1
        assert not refresh_marks(other.database)
    assert other.append(load(2), recorded_at=AT).position == 2
    other.close()


def test_threads_write_one_after_another(database_record: SqlRecord):
    """Eight threads append and read at once: every fact is there once, the chain is whole."""
    faults: list[BaseException] = []

    def work(start: int) -> None:
        try:
            for n in range(start, start + 10):
                database_record.append(load(n), recorded_at=AT)
                assert sum(line.mass_mg for line in database_record.stock()) == 0
                assert database_record.head().position > 0
        except BaseException as error:  # noqa: BLE001 - shown by the assertion below
            faults.append(error)

    threads = [threading.Thread(target=work, args=(100 * n,)) for n in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []
    assert [item.position for item in database_record.facts()] == list(range(1, 81))
    assert len(database_record.lots()) == 80


def test_a_refusal_leaves_the_writer_free(database_record: SqlRecord):
    """After an error the next fact can be appended at once, by another thread too."""
    database_record.append(load(1), recorded_at=AT)
    with pytest.raises(Refused):
        database_record.append(load(1), recorded_at=AT)
    thread = threading.Thread(
        target=database_record.append, args=(load(2),), kwargs={"recorded_at": AT}
    )
    thread.start()
    thread.join()
    assert database_record.head().position == 2


def test_stock_is_the_same_with_and_without_marks(
    database_record: SqlRecord, monkeypatch: pytest.MonkeyPatch
):
    """Marks make stock quick, never different: at any moment, after late facts and reversals."""
    monkeypatch.setattr("bedstone.store.snapshots._APART", 7)
    database_record.append_all(day_of_facts(60), recorded_at=AT)
    database_record.refresh_stock_marks()
    database_record.append(load(5000), recorded_at=AT)
    database_record.append_all([load(n) for n in (-100, 10_000)], recorded_at=AT)
    database_record.reverse(30, by="mara", why="wrong", recorded_at=AT)
    database_record.refresh_stock_marks()
    with database_record.database.reading() as connection:
        marks = connection.execute(text("SELECT count(*) FROM stock_marks")).scalar()
    assert marks > 10
    moments = [None, *(item.fact.happened_at for item in database_record.facts())]
    quick = [database_record.stock(at) for at in moments]
    with database_record.database.writing() as connection:
        drop_marks_from(connection, 0)
    with database_record.database.reading() as connection:
        assert connection.execute(text("SELECT count(*) FROM stock_marks")).scalar() == 0
    assert [database_record.stock(at) for at in moments] == quick


def test_a_late_fact_drops_the_marks_behind_it_in_the_same_transaction(
    database_record: SqlRecord, monkeypatch: pytest.MonkeyPatch
):
    """No moment sees stock from a mark that does not know of a late fact."""
    monkeypatch.setattr("bedstone.store.snapshots._APART", 5)
    database_record.append_all([load(n) for n in range(10, 40)], recorded_at=AT)
    before = database_record.stock()
    database_record.append(load(1, kg=1), recorded_at=AT)
    after = {(line.place, line.material): line.mass_mg for line in database_record.stock()}
    for line in before:
        sign = 1 if line.place == "B01" else -1
        assert after[line.place, line.material] == line.mass_mg + sign * 1_000_000


def test_no_record_is_begun_where_none_may_be(tmp_path: Path):
    """Where a record has gone, reading begins none: the error says to put back the last copy."""
    with pytest.raises(SetupError, match="no record here"):
        open_record(tmp_path, create=False)
    assert list(tmp_path.iterdir()) == []
    (tmp_path / FILE_NAME).touch()
    with pytest.raises(SetupError, match="no record here"):
        open_record(tmp_path, create=False)


@pytest.mark.parametrize("instead", ["nothing", "another record"])
def test_a_file_that_goes_while_it_is_in_use_is_noticed(
    kept: SqlRecord, tmp_path: Path, instead: str
):
    """A vanished or replaced file takes nothing more: the next act is refused in words."""
    kept.append(load(1), recorded_at=AT)
    for path in tmp_path.glob(f"{FILE_NAME}*"):
        path.rename(path.with_suffix(".gone" + path.suffix))
    if instead == "another record":
        open_record(tmp_path).close()
    with pytest.raises(RecordDamaged, match="nothing was written"):
        kept.append(load(2), recorded_at=AT)
    assert (tmp_path / FILE_NAME).exists() is (instead != "nothing")
