"""A file of readings into the record."""

import datetime as dt

import pytest

from bedstone.desk.import_readings import ReadingsImported, import_readings
from bedstone.desk.proofs import power_events, record_power_event
from bedstone.desk.readings import readings, series
from bedstone.desk.revisions import current_mill
from bedstone.desk.tables import load_tables
from bedstone.errors import BadInput, Refused
from bedstone.mill.reading_lines import READ_IN
from bedstone.mill.readings import QUANTITIES
from fakes.desk_day import MORNING, a_folder, later
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
    """The hand-written mill."""
    made = MemoryRecord()
    load_tables(made, a_folder(), by="osk", at=MORNING)
    return made


def test_readings_come_in_their_own_units(record: MemoryRecord) -> None:
    """Degrees F, per cent and pounds are read as such: 176 F is 80 C, 12.5 % is 0.125, and 50 lb
    is 22.6796185 kg (an avoirdupois pound is 0.45359237 kg, NIST SP 811).
    """
    done = import_readings(record, GOOD, by="mara", at=later(60))
    assert done == ReadingsImported(facts=3, new=4, old=0)
    shown = readings(record, "PL1", "conditioner temperature").rows
    assert [row.value for row in shown] == pytest.approx([715 / 9, 80.0])
    assert shown[0].run == "R-4107"
    assert readings(record, "PL1", "cooler outlet moisture").rows[0].value == 0.125
    assert readings(record, "SK1", "bag mass").rows[0].value == 22.6796185
    assert len(series(record)) == 3


def test_a_file_that_has_grown_brings_only_what_is_new(record: MemoryRecord) -> None:
    """The same file again brings nothing; with a line more it brings that line."""
    import_readings(record, GOOD, by="mara", at=later(60))
    again = import_readings(record, GOOD, by="mara", at=later(61))
    assert again == ReadingsImported(facts=0, new=0, old=4)
    more = GOOD + "PL1,motor current,2026-11-25 04:50,240,A,\n"
    assert import_readings(record, more, by="mara", at=later(62)) == ReadingsImported(
        facts=1, new=1, old=4
    )


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("PL9,motor current,2026-11-25 04:50,240,A,", "a machine, bin, scale or meter"),
        ("PL1,motor curent,2026-11-25 04:50,240,A,", "did you mean motor current"),
        ("PL1,motor current,2026-11-25 04:50,240,V,", "allowed: A"),
        ("PL1,motor current,2026-11-25 04:50,2 40,A,", "row 2"),
        ("PL1,motor current,2026-11-25 04:50,24000,A,", "from 0 to 2000 A"),
        ("PL1,motor current,25/11/2026,240,A,", "YYYY-MM-DD HH:MM"),
        ("PL1,motor current,2027-11-25 04:50,240,A,", "up to now"),
        ("PL1,motor current,2026-11-25 04:50,240", "4 cells"),
        ("PL1,motor current,2026-11-25 04:50,24,0,A,", "7 cells"),
    ],
)
def test_a_bad_line_is_named_and_nothing_recorded(
    record: MemoryRecord, line: str, words: str
) -> None:
    """A line that cannot be taken is named with what is allowed; the good lines are not recorded."""
    before = record.head()
    good = GOOD.split("\n", 1)[1]
    with pytest.raises(BadInput) as refused:
        import_readings(record, f"{HEADER}\n{line}\n{good}", by="mara", at=later(60), file="r.csv")
    assert words in str(refused.value)
    assert "r.csv" in str(refused.value)
    assert record.head() == before


def test_a_wrong_heading_is_named(record: MemoryRecord) -> None:
    """An unknown column and a missing one are both said."""
    with pytest.raises(BadInput) as refused:
        import_readings(record, "machine,quantity,read_at,valu,unit\n", by="mara", at=later(60))
    assert "did you mean value" in str(refused.value)
    assert "no such column" in str(refused.value)


def test_who_may_not_is_refused(record: MemoryRecord) -> None:
    """An inspector's file is refused."""
    from dataclasses import replace

    from bedstone.mill.model import Person

    folder = a_folder()
    people = (*folder.mill.people, Person(person="wren", name="Wren Ashby", role="inspector"))
    load_tables(
        record, replace(folder, mill=replace(folder.mill, people=people)), by="osk", at=later(1)
    )
    with pytest.raises(Refused):
        import_readings(record, GOOD, by="wren", at=later(60))


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


def test_all_silent_at_once_is_a_power_event(record: MemoryRecord) -> None:
    """Six minutes in which nothing is read are recorded as a power event seen as a gap, with the
    readings before and after as its ends; the same file again records no second one.
    """
    done = import_readings(record, logged(silent=range(20, 26)), by="mara", at=later(90))
    assert done.power_events == 1
    (event,) = power_events(record)
    assert event.how == "seen as a gap"
    assert (event.to_at - event.from_at).total_seconds() == 7 * 60
    assert "PL1 motor current" in event.note
    again = import_readings(record, logged(silent=range(20, 26)), by="mara", at=later(91))
    assert again.power_events == 0


def test_one_line_that_stops_is_no_power_event(record: MemoryRecord) -> None:
    """While one machine goes on being read, silence of the other says nothing of the power; nor
    does an hour without a gap.
    """
    text = logged(silent=range(20, 40), machines=("PL1",))
    assert import_readings(record, text, by="mara", at=later(90)).power_events == 0
    assert power_events(record) == ()


def test_a_gap_within_an_event_on_record_is_that_event(record: MemoryRecord) -> None:
    """A power event that somebody typed is not recorded a second time."""
    start = import_readings(record, GOOD, by="mara", at=later(60))
    assert start.power_events == 0
    local = dt.datetime(2026, 11, 25, 4, 21, tzinfo=current_mill(record).settings.zone)
    record_power_event(
        record, from_at=local, to_at=local + dt.timedelta(minutes=3), by="mara", at=later(61)
    )
    done = import_readings(record, logged(silent=range(20, 26)), by="mara", at=later(90))
    assert done.power_events == 0
    assert len(power_events(record)) == 1
