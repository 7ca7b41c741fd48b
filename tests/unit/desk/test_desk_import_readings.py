"""A file of readings into the record."""

import datetime as dt
from pathlib import Path

import openpyxl
import pytest

from bedstone.desk.import_readings import LIST_KINDS, ReadingsImported, import_readings
from bedstone.desk.line_water import pelletings
from bedstone.desk.log_run import log_run
from bedstone.desk.proofs import power_events, record_power_event
from bedstone.desk.readings import readings, series
from bedstone.desk.revisions import current_mill
from bedstone.desk.tables import load_tables
from bedstone.errors import BadInput, Refused
from bedstone.mill.reading_lines import READ_IN, in_unit
from bedstone.mill.readings import QUANTITIES, ReadingRow
from bedstone.store.lists import read_list
from fakes.desk_day import a_day, a_folder, later
from fakes.line_runs import AT, RUN, line_record, made, pelleted
from fakes.memory import MemoryRecord

HEADER = "machine,quantity,read_at,value,unit,run"
GOOD = f"""{HEADER}
PL1,conditioner temperature,2026-11-25 04:40,176,F,R-4107
# somebody's remark
PL1,conditioner temperature,2026-11-25 04:30,175,F,R-4107

PL1,cooler outlet moisture,2026-11-25 10:40Z,12.5,%,
SK1,bag mass,2026-11-25 04:45,50,lb,R-4107
"""


@pytest.fixture
def record() -> MemoryRecord:
    """The hand-written mill with the plan of its day released."""
    return a_day()


def take(
    record: MemoryRecord, text: str, *, by: str = "mara", at: dt.datetime, folder: Path
) -> ReadingsImported:
    """Import a list that a logger wrote as CSV."""
    path = folder / "r.csv"
    path.write_text(text, encoding="utf-8")
    return import_readings(record, read_list(path, LIST_KINDS), by=by, at=at)


def test_readings_come_in_their_own_units(record: MemoryRecord, tmp_path: Path) -> None:
    """Degrees F, per cent and pounds are read as such: 176 F is 80 C, 12.5 % is 0.125, and 50 lb
    is 22.6796185 kg (an avoirdupois pound is 0.45359237 kg, NIST SP 811).
    """
    done = take(record, GOOD, by="mara", at=later(60), folder=tmp_path)
    assert done == ReadingsImported(facts=3, new=4, old=0)
    shown = readings(record, "PL1", "conditioner temperature").rows
    assert [row.value for row in shown] == pytest.approx([715 / 9, 80.0])
    assert shown[0].run == "R-4107"
    assert readings(record, "PL1", "cooler outlet moisture").rows[0].value == 0.125
    assert readings(record, "SK1", "bag mass").rows[0].value == 22.6796185
    assert len(series(record)) == 3


def test_a_file_that_has_grown_brings_only_what_is_new(
    record: MemoryRecord, tmp_path: Path
) -> None:
    """The same file again brings nothing; with a line more it brings that line."""
    take(record, GOOD, by="mara", at=later(60), folder=tmp_path)
    again = take(record, GOOD, by="mara", at=later(61), folder=tmp_path)
    assert again == ReadingsImported(facts=0, new=0, old=4)
    more = GOOD + "PL1,motor current,2026-11-25 04:50,240,A,\n"
    assert take(record, more, by="mara", at=later(62), folder=tmp_path) == ReadingsImported(
        facts=1, new=1, old=4
    )


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("PL9,motor current,2026-11-25 04:50,240,A,", "a machine, bin, scale or meter"),
        ("PL1,motor curent,2026-11-25 04:50,240,A,", "did you mean motor current"),
        ("PL1,motor current,2026-11-25 04:50,240,V,", "allowed: A"),
        ("PL1,motor current,2026-11-25 04:50,2 40,A,", "row 2"),
        ("PL1,motor current,2026-11-25 04:50,24000,A,", "0 A to 2,000 A"),
        (
            "PL1,conditioner temperature,2026-11-25 04:50,650,F,",
            "found 650 °F; allowed: -22 °F to 221 °F",
        ),
        ("PL1,cooler outlet moisture,2026-11-25 04:50,-3,%,", "0 % to 30 %"),
        ("PL1,cooler outlet moisture,2026-11-25 04:50,90,%,", "0 % to 30 %"),
        ("PL1,conditioner temperature,2026-11-25 04:50,10,F,R-4107", "86 °F to 221 °F"),
        ("PL1,motor current,2026-11-25 04:50,240,A,R-9999", "No run 'R-9999'"),
        ("PL9,motor current,2026-11-25 04:50,240,A,R-4107", "a machine"),
        ("PL1,motor current,25/11/2026,240,A,", "YYYY-MM-DD HH:MM"),
        ("PL1,motor current,2027-11-25 04:50,240,A,", "up to now"),
        ("PL1,motor current,2026-11-25 04:50,240", "column unit"),
        ("PL1,motor current,2026-11-25 04:50,24,0,A,", "found '0'; allowed: A"),
        ("PL1,motor current,2026-11-25 04:50,240,A,,,x", "8 cells"),
    ],
)
def test_a_bad_line_is_named_and_nothing_recorded(
    record: MemoryRecord, tmp_path: Path, line: str, words: str
) -> None:
    """A line that cannot be taken is named with what is allowed; the good lines are not recorded."""
    before = record.head()
    good = GOOD.split("\n", 1)[1]
    with pytest.raises(BadInput) as refused:
        take(record, f"{HEADER}\n{line}\n{good}", by="mara", at=later(60), folder=tmp_path)
    assert words in str(refused.value)
    assert "r.csv" in str(refused.value)
    assert record.head() == before


def test_list_and_form_take_the_same_of_a_run(tmp_path: Path) -> None:
    """What a person may not type of a run no list brings in either: heat, moisture, flows beyond
    twice the line's fastest rate (6,400 lb/h by the tables), a current of half as much again as the
    plate's 52 A. Without a run, an idle line may be cold, and its motor may start.
    """
    record = MemoryRecord()
    line_record(record)
    made(record)
    for quantity, number, unit, words in (
        ("conditioner temperature", 250, "F", "86 °F to 221 °F"),
        ("conditioner temperature", 10, "F", "86 °F to 221 °F"),
        ("cooler outlet moisture", 90, "%", "3 % to 30 %"),
        ("mash flow", 90, "ton/h", "0 ton/h to 6.4 ton/h"),
        ("steam flow", 9000, "lb/h", "0 lb/h to 1,280 lb/h"),
        ("motor current", 100, "A", "0 A to 78 A"),
    ):
        text = f"{HEADER}\nPL2,{quantity},2026-09-01 15:30Z,{number},{unit},{RUN}\n"
        with pytest.raises(BadInput) as refused:
            take(record, text, by="dell", at=AT + dt.timedelta(hours=5), folder=tmp_path)
        assert words in str(refused.value)
        value = in_unit(number, unit=unit, wanted=QUANTITIES[quantity].unit)
        with pytest.raises(BadInput) as typed:
            log_run(record, RUN, "PL2", {quantity: [ReadingRow(at=AT, value=value)]}, by="dell",
                    at=AT)  # fmt: skip
        assert words in str(typed.value)
    idle = f"{HEADER}\nPL2,conditioner temperature,2026-09-01 15:30Z,50,F,\nPL2,motor current,2026-09-01 15:30Z,260,A,\n"
    assert take(record, idle, by="dell", at=AT + dt.timedelta(hours=5), folder=tmp_path).new == 2


def test_a_wrong_heading_is_named(record: MemoryRecord, tmp_path: Path) -> None:
    """An unknown column and a missing one are both said."""
    with pytest.raises(BadInput) as refused:
        take(
            record, "machine,quantity,read_at,valu,unit\n", by="mara", at=later(60), folder=tmp_path
        )
    assert "did you mean value" in str(refused.value)
    assert "no such column" in str(refused.value)


def test_who_may_not_is_refused(record: MemoryRecord, tmp_path: Path) -> None:
    """An inspector's file is refused."""
    from dataclasses import replace

    from bedstone.mill.model import Person

    folder = a_folder()
    people = (*folder.mill.people, Person(person="wren", name="Wren Ashby", role="inspector"))
    load_tables(
        record, replace(folder, mill=replace(folder.mill, people=people)), by="osk", at=later(1)
    )
    with pytest.raises(Refused):
        take(record, GOOD, by="wren", at=later(60), folder=tmp_path)


def test_every_quantity_can_be_read_in_its_own_unit() -> None:
    """Each quantity's unit is one in which it may stand in a file, as it is."""
    for quantity in QUANTITIES.values():
        assert READ_IN[quantity.unit][quantity.unit] == (1, 0)


def logged(*, silent: range, machines: tuple[str, ...] = ("PL1", "SK1")) -> str:
    """Four series read each minute for an hour, all but the silent minutes."""
    lines = [HEADER]
    for minute in range(60):
        for machine in ("PL1", "SK1"):
            for quantity, unit in (("conditioner temperature", "C"), ("motor current", "A")):
                if minute not in silent or machine not in machines:
                    at = f"2026-11-25 04:{minute:02d}"
                    lines.append(f"{machine},{quantity},{at},{70 + minute % 5},{unit},")
    return "\n".join(lines)


def test_all_silent_at_once_is_a_power_event(record: MemoryRecord, tmp_path: Path) -> None:
    """Six minutes in which nothing is read are recorded as a power event seen as a gap, with the
    readings before and after as its ends; the same file again records no second one.
    """
    done = take(record, logged(silent=range(20, 26)), by="mara", at=later(90), folder=tmp_path)
    assert done.power_events == 1
    (event,) = power_events(record)
    assert event.how == "seen as a gap"
    assert (event.to_at - event.from_at).total_seconds() == 7 * 60
    assert "PL1 motor current" in event.note
    again = take(record, logged(silent=range(20, 26)), by="mara", at=later(91), folder=tmp_path)
    assert again.power_events == 0


def test_one_line_that_stops_is_no_power_event(record: MemoryRecord, tmp_path: Path) -> None:
    """While one machine goes on being read, silence of the other says nothing of the power; nor
    does an hour without a gap.
    """
    text = logged(silent=range(20, 40), machines=("PL1",))
    assert take(record, text, by="mara", at=later(90), folder=tmp_path).power_events == 0
    assert power_events(record) == ()


def test_a_gap_within_an_event_on_record_is_that_event(
    record: MemoryRecord, tmp_path: Path
) -> None:
    """A power event that somebody typed is not recorded a second time."""
    start = take(record, GOOD, by="mara", at=later(60), folder=tmp_path)
    assert start.power_events == 0
    local = dt.datetime(2026, 11, 25, 4, 21, tzinfo=current_mill(record).settings.zone)
    record_power_event(
        record, from_at=local, to_at=local + dt.timedelta(minutes=3), by="mara", at=later(61)
    )
    done = take(record, logged(silent=range(20, 26)), by="mara", at=later(90), folder=tmp_path)
    assert done.power_events == 0
    assert len(power_events(record)) == 1


def test_units_are_read_as_people_write_them(record: MemoryRecord, tmp_path: Path) -> None:
    """°F and TON/H are understood; 176 °F is 80 C, 3.6 t/h is 1 kg/s."""
    text = f"{HEADER}\nPL1,conditioner temperature,2026-11-25 04:40,176,°F,\nPL1,mash flow,2026-11-25 04:40,3.6,T/H,\n"
    take(record, text, at=later(60), folder=tmp_path)
    assert readings(record, "PL1", "conditioner temperature").rows[0].value == pytest.approx(80.0)
    assert readings(record, "PL1", "mash flow").rows[0].value == pytest.approx(1.0)


def test_a_workbook_of_readings_is_read_as_its_csv_would_be(
    record: MemoryRecord, tmp_path: Path
) -> None:
    """Times and numbers of a workbook's cells come as they are shown; a second time nothing is
    new; a cell shown as per cent is refused, since it may mean either.
    """
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["machine", "quantity", "read_at", "value", "unit"])
    sheet.append(["PL1", "conditioner temperature", dt.datetime(2026, 11, 25, 4, 40), 176, "F"])  # noqa: DTZ001 - a workbook has no zone
    path = tmp_path / "log.xlsx"
    book.save(path)
    first = import_readings(record, read_list(path, LIST_KINDS), by="mara", at=later(60))
    assert (first.new, first.old) == (1, 0)
    again = import_readings(record, read_list(path, LIST_KINDS), by="mara", at=later(61))
    assert (again.new, again.old) == (0, 1)
    sheet.append(["PL1", "cooler outlet moisture", dt.datetime(2026, 11, 25, 4, 40), 0.125, "%"])  # noqa: DTZ001 - a workbook has no zone
    sheet["D3"].number_format = "0.0%"
    book.save(path)
    with pytest.raises(BadInput, match="per cent"):
        read_list(path, LIST_KINDS)


def test_readings_of_a_run_that_come_in_a_list_book_its_water_again(tmp_path: Path) -> None:
    """Pelleted by its settings in the morning; the logger's list of the evening books it anew,
    and only the first time.
    """
    record = MemoryRecord()
    line_record(record)
    made(record)
    pelleted(record)
    before = pelletings(record, RUN)[0].batches
    text = f"{HEADER}\nPL2,conditioner temperature,2026-09-01 15:30Z,160,F,{RUN}\nPL2,cooler outlet moisture,2026-09-01 15:30Z,10.5,%,{RUN}\n"
    at = AT + dt.timedelta(hours=5)
    assert take(record, text, by="dell", at=at, folder=tmp_path).water_again == (RUN,)
    assert pelletings(record, RUN)[0].batches != before
    assert take(record, text, by="dell", at=at, folder=tmp_path).water_again == ()
    wrong = text.replace("PL2", "PL1").replace("160", "161")
    with pytest.raises(BadInput, match="does not go over PL1"):
        take(record, wrong, by="dell", at=at, folder=tmp_path)


def test_a_code_that_nothing_has_is_named_first(record: MemoryRecord, tmp_path: Path) -> None:
    """A fault begins with what was found; a date as US loggers write it is read in a US mill."""
    assert current_mill(record).settings.units == "US"
    wrong = f"{HEADER}\nPL9,conditioner temperature,2026-11-25 04:40,176,F,\n"
    with pytest.raises(BadInput, match="found 'PL9': Nothing of the mill has this code; allowed"):
        take(record, wrong, at=later(60), folder=tmp_path)
    take(record, GOOD, at=later(60), folder=tmp_path)
    american = GOOD.replace("2026-11-25 04:40", "11/25/2026 4:40 AM")
    assert take(record, american, at=later(60), folder=tmp_path).new == 0
