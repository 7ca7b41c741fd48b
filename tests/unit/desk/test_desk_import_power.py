"""Failures of power from a file, and what sheets say of gates."""

import pytest

from bedstone.desk.import_power import import_power
from bedstone.desk.pre_acts import gate_words
from bedstone.desk.proof_standing import unproved_meters
from bedstone.desk.proofs import power_events
from bedstone.desk.revisions import current_mill
from bedstone.errors import BadInput
from fakes.desk_day import MORNING, PLAN, a_day, later

FILE = (
    "from,to,note\n2020-01-05T13:37,2020-01-05T13:40,storm\n2020-02-01T08:00Z,2020-02-01T08:01Z,\n"
)


def test_failures_of_a_file_are_recorded_once():
    """Two rows make two events known as imported; given again nothing is new; meters are unproved."""
    record = a_day()
    done = import_power(record, FILE, by="mara", at=later(9), file="power.csv")
    assert (done.new, done.old) == (2, 0)
    assert {row.how for row in power_events(record)} == {"imported"}
    assert set(unproved_meters(record)) == set(current_mill(record).meter_by_code)
    again = import_power(record, FILE, by="mara", at=later(9), file="power.csv")
    assert (again.new, again.old) == (0, 2)


def test_a_us_mill_may_write_month_first():
    """The same failure as a logger writes it in the States is on record already."""
    record = a_day()
    assert current_mill(record).settings.units == "US"
    import_power(record, FILE, by="mara", at=later(9), file="power.csv")
    text = FILE.replace("2020-01-05T13:37", "1/5/2020 1:37 PM")
    assert import_power(record, text, by="mara", at=later(9), file="power.csv").new == 0


@pytest.mark.parametrize(
    ("text", "column"),
    [
        ("from,to\nsoon,2020-01-05T13:40\n", "from"),
        ("from,to\n2020-01-05T13:40,2020-01-05T13:39\n", "to"),
        ("from,to\n2020-01-05T13:40,2199-01-05T13:39\n", "to"),
    ],
)
def test_a_file_with_a_fault_records_nothing(text: str, column: str):
    """Each fault names its row and column, and no event is written."""
    record = a_day()
    with pytest.raises(BadInput) as told:
        import_power(record, FILE + text.split("\n", 1)[1], by="mara", at=later(9), file="p.csv")
    assert [(fault.row, fault.column) for fault in told.value.faults] == [(4, column)]
    assert power_events(record) == ()


def test_a_file_without_a_column_is_told():
    """A column that is missing is named with those that are wanted."""
    with pytest.raises(BadInput, match="'to'"):
        import_power(a_day(), "from\n2020-01-05T13:40\n", by="mara", at=MORNING, file="p.csv")


def test_sheets_say_nothing_of_gates_that_nobody_knows():
    """Without past draws no gate is spoken of."""
    record = a_day()
    assert gate_words(record, current_mill(record), PLAN.batches) == {}
