"""What was made under tables that have changed since is told by those that stood then."""

import datetime as dt
from dataclasses import replace

import pytest

from bedstone.demo.quillback import quillback_folder
from bedstone.desk.die_runs import runs_on_dies
from bedstone.desk.readings import record_readings
from bedstone.desk.tables import load_tables
from bedstone.desk.tables_then import TablesThen
from bedstone.desk.wear_parts import wear
from bedstone.errors import Refused
from bedstone.ledger.model import Fact, How, Movement
from bedstone.mill.folder import LoadedFolder
from bedstone.mill.readings import ReadingRow
from fakes.line_runs import made
from fakes.memory import MemoryRecord

START = dt.datetime(2026, 9, 1, 12, tzinfo=dt.UTC)
DAY = dt.timedelta(days=1)
TON_MG = round(907.18474e6)


def a_folder(die: str) -> LoadedFolder:
    """The demo mill's tables, its dairy feed on a die."""
    folder = replace(quillback_folder(START.date(), past_days=1), weather=(), assays=(), orders=())
    products = tuple(
        replace(row, die=die) if row.product == "DAIRY-18" else row for row in folder.mill.products
    )
    pellets = tuple(row for row in folder.mill.pellets if row.product != "DAIRY-18")
    return replace(folder, mill=replace(folder.mill, products=products, pellets=pellets))


def a_run(record: MemoryRecord, run: str, at: dt.datetime) -> None:
    """Forty tons of dairy feed over the first line, with rate and current read."""
    made(record, run, product="DAIRY-18", batches=(f"{run}-01",), at=at - DAY / 24)
    for quantity, value in (("mash flow", 1.8), ("motor current", 90.0)):
        rows = [ReadingRow(at=at, value=value, run=run)]
        record_readings(record, instrument="PL1", quantity=quantity, rows=rows, by="dell", at=at)
    movement = Movement(
        from_place="PL1", to_place="FB1", mass_mg=40 * TON_MG, material="DAIRY-18",
        how=How.RECKONED,
    )  # fmt: skip
    content = {"run": run, "product": "DAIRY-18", "machine": "PL1", "from": "SB1", "to": "FB1",
               "batches": []}  # fmt: skip
    fact = Fact(kind="pelleting.run_pelleted/1", happened_at=at, by="dell", content=content,
                movements=(movement,))  # fmt: skip
    record.append(fact, recorded_at=at)


@pytest.fixture
def moved() -> MemoryRecord:
    """A mill that moved its dairy feed from the quarter-inch die to the finer one between two runs."""
    record = MemoryRecord()
    load_tables(record, a_folder("1/4 in"), by="dell", at=START)
    a_run(record, "R-1", START + DAY)
    load_tables(record, a_folder("5/32 in"), by="dell", at=START + 2 * DAY)
    a_run(record, "R-2", START + 3 * DAY)
    return record


def test_a_run_was_on_the_die_of_its_time(moved: MemoryRecord):
    """Each run has the die, and so the press length over hole, that the tables gave it then."""
    first, second = runs_on_dies(moved, "PL1")
    assert (first.run, first.die) == ("R-1", "1/4 in")
    assert (second.run, second.die) == ("R-2", "5/32 in")
    assert first.work.in_hole_s != pytest.approx(second.work.in_hole_s)


def test_tons_wear_the_die_that_was_in(moved: MemoryRecord):
    """Forty tons stand on either die, not eighty on the one of today."""
    since = {one.die: one.since_mg for one in wear(moved, "PL1")}
    assert since["1/4 in"] == since["5/32 in"] == 40 * TON_MG
    assert since["3/32 in"] == 0


def test_before_the_first_tables_the_first_count(moved: MemoryRecord):
    """What was imported of a time before the record began is told by its first tables."""
    then = TablesThen(moved)
    for moment, die in ((START - 9 * DAY, "1/4 in"), (START + DAY, "1/4 in"),
                        (START + 9 * DAY, "5/32 in")):  # fmt: skip
        assert then.at(moment).product("DAIRY-18").die == die
    with pytest.raises(Refused):
        TablesThen(MemoryRecord())
