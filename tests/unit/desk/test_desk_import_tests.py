"""Lists of tumbling tests and of stacks of sieves, from CSV and workbook into the record."""

import datetime as dt
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

from bedstone.desk.batches import record_batch
from bedstone.desk.import_tests import ListTaken, import_tests
from bedstone.desk.line_tests import durability_tests, record_sieving, sieve_tests
from bedstone.desk.tables import load_tables
from bedstone.errors import BadInput, Refused
from bedstone.mill.lab_lists import LIST_KINDS
from bedstone.mill.model import Person
from bedstone.store.lists import read_list
from fakes.desk_day import PLAN, a_day, a_folder, actuals, later
from fakes.memory import MemoryRecord

SHEEP = next(row for row in PLAN.batches if row.batch == "4107-01")
TUMBLED = f"""run,line,tested_at,retained_g,note
# of the morning
{SHEEP.run},PL1,2026-11-25 04:40,441.5,
{SHEEP.run},PL1,2026-11-25 04:40,438,
{SHEEP.run},PL1,2026-11-25 04:40,440.2,

{SHEEP.run},PL1,2026-11-25 04:50,452.5,after the screen
"""
SIEVED = """of,tested_at,sample_g,840,590,420,pan
CORN,2026-11-25 04:30,100,30,40.5,20,9
CORN,2026-11-25 10:40Z,,25,45,,30
"""
TWO_MASSES = f"""run,line,tested_at,retained_g,test_g
{SHEEP.run},PL1,2026-11-25 04:40,440,500
{SHEEP.run},PL1,2026-11-25 04:40,400,450
"""


@pytest.fixture
def record() -> MemoryRecord:
    """The hand-written mill with one batch of sheep feed made."""
    made = a_day()
    record_batch(made, PLAN.plan, SHEEP.batch, actuals(SHEEP), by="mara", at=later(10))
    return made


def take(record: MemoryRecord, folder: Path, text: str) -> ListTaken:
    """Import a list that is kept as CSV."""
    path = folder / "tests.csv"
    path.write_text(text, encoding="utf-8")
    return import_tests(record, read_list(path, LIST_KINDS), by="mara", at=later(120))


def test_rows_of_a_run_and_a_time_are_one_test(record: MemoryRecord, tmp_path: Path):
    """Three tumblings of one time are one test of three, dated as the list says."""
    done = take(record, tmp_path, TUMBLED)
    assert done == ListTaken(kind="tumbling test", new=2, old=0)
    first, second = durability_tests(record)
    assert first.retained_g == (441.5, 438.0, 440.2)
    assert first.index == pytest.approx(100 * (441.5 + 438 + 440.2) / 1500)
    assert first.product == "SHEEP-GR"
    assert second.tested_at - first.tested_at == dt.timedelta(minutes=10)
    assert (second.retained_g, second.note) == ((452.5,), "after the screen")


def test_sieves_are_columns_named_by_their_openings(record: MemoryRecord, tmp_path: Path):
    """Openings come from the header, an empty cell is nothing on that sieve; the mean is that of
    the same masses typed on the page.
    """
    assert take(record, tmp_path, SIEVED) == ListTaken(kind="stack of sieves", new=2, old=0)
    first, second = sieve_tests(record)
    assert first.openings_um == (840.0, 590.0, 420.0)
    assert (first.retained_g, first.sample_g) == ((30.0, 40.5, 20.0, 9.0), 100.0)
    assert (second.retained_g, second.sample_g) == ((25.0, 45.0, 0.0, 30.0), None)
    record_sieving(
        record, of="CORN", openings_um=[840, 590, 420], retained_g=[30.0, 40.5, 20.0, 9.0],
        sample_g=100.0, by="mara", at=later(130),
    )  # fmt: skip
    assert sieve_tests(record)[-1].found == first.found


def test_the_order_of_the_sieves_columns_does_not_matter(record: MemoryRecord, tmp_path: Path):
    """Fine before coarse in the header gives the same stack."""
    take(record, tmp_path, "pan,420,840,of,tested_at,590\n9,20,30,CORN,2026-11-25 04:30,40.5\n")
    (found,) = sieve_tests(record)
    assert (found.openings_um, found.retained_g) == (
        (840.0, 590.0, 420.0),
        (30.0, 40.5, 20.0, 9.0),
    )


@pytest.mark.parametrize("text", [TUMBLED, SIEVED])
def test_a_list_that_has_grown_brings_only_what_is_new(
    record: MemoryRecord, tmp_path: Path, text: str
):
    """The same list again brings nothing, with a row more it brings that row."""
    take(record, tmp_path, text)
    head = record.head()
    again = take(record, tmp_path, text)
    assert (again.new, again.old) == (0, 2)
    assert record.head() == head
    last = text.rstrip().rsplit("\n", 1)[1]
    grown = take(
        record, tmp_path, text + last.replace("04:50", "04:55").replace("10:40Z", "10:50Z")
    )
    assert (grown.new, grown.old) == (1, 2)


def test_a_workbook_is_read_as_the_csv_is(record: MemoryRecord, tmp_path: Path):
    """Numbers, times and openings typed as such in cells of a workbook mean what they mean in a CSV;
    given after the CSV it brings nothing new.
    """
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["of", "tested_at", "sample_g", 840, 590, 420, "pan"])
    sheet.append(["CORN", dt.datetime(2026, 11, 25, 4, 30), 100, 30, 40.5, 20, 9])  # noqa: DTZ001 - as a workbook has it, without a zone
    book.save(tmp_path / "sieves.xlsx")
    take(record, tmp_path, SIEVED)
    their = read_list(tmp_path / "sieves.xlsx", LIST_KINDS)
    done = import_tests(record, their, by="mara", at=later(125))
    assert done == ListTaken(kind="stack of sieves", new=0, old=1)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("run,line,tested_at,retained\n", ["retained_g", "did you mean retained_g"]),
        ("run,line,tested_at,retained_g\nR-0,PL1,2026-11-25 04:40,440\n", ["row 2", "No batch of run"]),
        (f"run,line,tested_at,retained_g\n{SHEEP.run},PL9,2026-11-25 04:40,440\n", ["PL9"]),
        (f"run,line,tested_at,retained_g\n{SHEEP.run},PL1,2026-11-25 04:40,510\n", ["0 to 500 g"]),
        (f"run,line,tested_at,retained_g\n{SHEEP.run},PL1,25/11/2026,440\n", ["YYYY-MM-DD HH:MM"]),
        (f"run,line,tested_at,retained_g\n{SHEEP.run},PL1,2027-11-25 04:40,440\n", ["ahead of now"]),
        (f"run,line,tested_at,retained_g\n{SHEEP.run},PL1,2026-11-25 04:40,44O\n", ["retained_g", "a number"]),
        (TWO_MASSES, ["row 3", "500 g in all tumblings"]),
        ("of,tested_at,840,590,pan\nNIX,2026-11-25 04:30,1,1,1\n", ["no ingredient or product 'NIX'"]),
        ("of,tested_at,840,590,pan\nCORN,2026-11-25 04:30,1,-1,1\n", ["590", "row 2"]),
        ("of,tested_at,sample_g,840,pan\nCORN,2026-11-25 04:30,100,30,20\n", ["do not account"]),
        ("of,tested_at,pan\nCORN,2026-11-25 04:30,30\n", ["stack of sieves is not whole"]),
        ("of,tested_at,mesh 20,pan\n", ["mesh 20", "such as 600"]),
        ("of;tested_at;840;pan\n", ["separated by commas"]),
        ("", ["an empty file"]),
        ("of,of,840,pan\n", ["twice"]),
        ("of,tested_at,840,pan\nCORN,2026-11-25 04:30,1,1,1\n", ["5 cells"]),
    ],
)  # fmt: skip
def test_what_cannot_be_is_named_and_nothing_recorded(
    record: MemoryRecord, tmp_path: Path, text: str, words: list[str]
):
    """Wrong columns, rows and cells are named by file and row with what is allowed; nothing of the
    list is recorded.
    """
    head = record.head()
    with pytest.raises(BadInput) as refused:
        take(record, tmp_path, text)
    for said in (*words, "tests.csv"):
        assert said in str(refused.value)
    assert record.head() == head


def test_all_faults_of_a_list_are_named_at_once(record: MemoryRecord, tmp_path: Path):
    """Three bad rows give three faults with their lines; the good row is not recorded either."""
    bad = TUMBLED + "R-0,PL1,2026-11-25 04:40,440,\n" + f"{SHEEP.run},PL1,late,440,\n"
    bad += f"{SHEEP.run},PL1,2026-11-25 05:00,600,\n"
    with pytest.raises(BadInput) as refused:
        take(record, tmp_path, bad)
    assert sorted(fault.row or 0 for fault in refused.value.faults) == [8, 9, 10]
    assert durability_tests(record) == ()


def test_files_that_are_none_are_refused(tmp_path: Path):
    """No file, a text called a workbook, and a formula that was never worked out are said in words."""
    with pytest.raises(BadInput, match="cannot be read"):
        read_list(tmp_path / "nothing.csv", LIST_KINDS)
    (tmp_path / "no.xlsx").write_text("of,pan\n", encoding="utf-8")
    with pytest.raises(BadInput, match="no workbook"):
        read_list(tmp_path / "no.xlsx", LIST_KINDS)
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["of", "tested_at", "840", "pan"])
    sheet.append(["CORN", "2026-11-25 04:30", "=1+1", 3])
    book.save(tmp_path / "formula.xlsx")
    with pytest.raises(BadInput, match="formula whose result was never saved"):
        read_list(tmp_path / "formula.xlsx", LIST_KINDS)


def test_who_may_not_is_refused(record: MemoryRecord, tmp_path: Path):
    """An inspector records no test."""
    (tmp_path / "tests.csv").write_text(SIEVED, encoding="utf-8")
    their = read_list(tmp_path / "tests.csv", LIST_KINDS)
    folder = a_folder()
    people = (*folder.mill.people, Person(person="wren", name="Wren Ashby", role="inspector"))
    changed = replace(folder, mill=replace(folder.mill, people=people))
    load_tables(record, changed, by="osk", at=later(100))
    with pytest.raises(Refused):
        import_tests(record, their, by="wren", at=later(120))


@pytest.mark.parametrize("units", ["US", "SI"])
def test_dates_with_slashes_are_those_of_the_mills_units(tmp_path: Path, units: str):
    """In a mill of US units 11/25/2026 4:40 AM is the moment that 2026-11-25 04:40 is, and the same test
    again is old; elsewhere it is refused with what to write.
    """
    record, folder = MemoryRecord(), a_folder()
    settings = replace(folder.mill.settings, units=units)
    load_tables(record, replace(folder, mill=replace(folder.mill, settings=settings)),
                by=folder.mill.people[0].person, at=later(-600))  # fmt: skip
    text = SIEVED.replace("2026-11-25 04:30", "11/25/2026 4:30 AM")
    if units == "SI":
        with pytest.raises(BadInput, match="write such as 2026-11-24 19:30"):
            take(record, tmp_path, text)
        return
    assert take(record, tmp_path, text).new == 2
    assert take(record, tmp_path, SIEVED).old == 2
