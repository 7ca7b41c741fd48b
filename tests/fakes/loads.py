"""The demo's mill in memory with a load of corn at its gate."""

import datetime as dt

from bedstone.demo.quillback.packaged import packaged_mill
from bedstone.desk.arrival_row import Arrival, TestValue
from bedstone.desk.tables import load_tables
from bedstone.mill.folder import LoadedFolder
from fakes.memory import MemoryRecord

__all__ = ["CORN_LOAD", "NOON", "a_quillback", "pounds"]

NOON = dt.datetime(2026, 11, 25, 18, tzinfo=dt.UTC)


def pounds(number: float) -> int:
    """Whole milligrams of pounds."""
    return round(number * 453_592.37)


def a_quillback() -> MemoryRecord:
    """A record with the demo's tables and empty bins."""
    record = MemoryRecord()
    load_tables(record, LoadedFolder(mill=packaged_mill()), by="dell", at=NOON)
    return record


def _test(test: str, value: float, unit: str) -> TestValue:
    return TestValue(test=test, value=value, unit=unit)


CORN_LOAD = Arrival(
    ticket="T900",
    firm="harrow",
    ingredient="CORN",
    lot="L-900",
    carrier="dustyroad",
    carrier_kind="truck",
    cargoes=("grain", "grain", "minerals"),
    cleaned="none",
    seals="intact",
    papers="right",
    odour="as usual",
    insects="none",
    foreign="none",
    tests=(
        _test("moisture", 15.0, "%"),
        _test("bulk density", 56.0, "lb/bu"),
        _test("foreign matter", 2.0, "%"),
        _test("aflatoxin", 5.0, "ug/kg"),
    ),
    weighbridge="WB1",
    gross_mg=pounds(78_000),
    tare_mg=pounds(30_000),
)
