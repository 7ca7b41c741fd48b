"""The mill's own regression of durability, from readings, sieves and tumbling tests on record."""

import datetime as dt
import itertools
import random
from collections.abc import Iterator
from dataclasses import replace

import pytest

from bedstone.demo.quillback import quillback_folder
from bedstone.desk.line_regression import durability_ahead
from bedstone.desk.line_settings import settings_for
from bedstone.desk.line_tests import SIEVED, TUMBLED, record_sieving
from bedstone.desk.readings import record_readings
from bedstone.desk.tables import load_tables
from bedstone.ledger.model import Fact
from bedstone.mill.readings import ReadingRow
from fakes.memory import MemoryRecord

START = dt.datetime(2026, 9, 1, 12, tzinfo=dt.UTC)
HOUR = dt.timedelta(hours=1)
FEEDS = ("DAIRY-18", "SHEEP-GR", "SWINE-ST", "BROIL-ST")
PER_C = 0.4


@pytest.fixture(scope="module")
def logged() -> MemoryRecord:
    """Twenty-four tested runs whose index rises by 0.4 points a degree, with a little noise."""
    record, dice = MemoryRecord(), random.Random(5)
    folder = replace(quillback_folder(START.date(), past_days=1), weather=(), assays=())
    load_tables(record, folder, by="dell", at=START)
    for number, (product, heat) in enumerate(
        itertools.product(FEEDS, (68.0, 72.0, 76.0, 80.0, 84.0, 88.0)), 1
    ):
        at = START + number * HOUR
        _sieve(record, 30.0 + 5 * (number % 5), at=at - HOUR / 2)
        rows = [ReadingRow(at=at, value=heat, run=f"R-{number}")]
        record_readings(record, instrument="PL1", quantity="conditioner temperature", rows=rows,
                        by="dell", at=at)  # fmt: skip
        index = 55 + PER_C * heat + dice.gauss(0, 0.2)
        content = {"run": f"R-{number}", "product": product, "line": "PL1",
                   "retained_g": [5 * index], "test_g": 500.0, "note": ""}  # fmt: skip
        fact = Fact(kind=TUMBLED, happened_at=at, by="dell", content=content)
        record.append(fact, recorded_at=at)
    return record


def _sieve(record: MemoryRecord, coarse_g: float, *, at: dt.datetime) -> None:
    """Ground corn, the coarser the more lies on the upper of two sieves."""
    record_sieving(record, of="CORN-G", openings_um=[840, 590, 420],
                   retained_g=[coarse_g, 40.0, 50.0 - coarse_g, 10.0], by="dell", at=at)  # fmt: skip


def _at(record: MemoryRecord, heat_c: float) -> Iterator[float]:
    settings = settings_for(record, "SHEEP-GR", at=START, conditioning_c=heat_c)
    found = durability_ahead(record, settings)
    assert found is not None
    assert found.runs == len(FEEDS) * 6
    yield from (found.forecast.low, found.forecast.value, found.forecast.high)
    yield float(found.forecast.seen)


def test_the_index_of_a_run_is_foretold_with_its_interval(logged: MemoryRecord):
    """Between the runs the truth lies within the interval, which is about as wide as the noise."""
    low, value, high, seen = _at(logged, 78.0)
    assert low < 55 + PER_C * 78.0 < high
    assert value == pytest.approx(55 + PER_C * 78.0, abs=0.3)
    assert high - low < 2.0
    assert seen


def test_nothing_is_foretold_beyond_what_was_run(logged: MemoryRecord):
    """Hotter than any run was, nothing is said."""
    *_, seen = _at(logged, 95.0)
    assert not seen


def test_too_few_tests_give_no_answer():
    """Without tests there is no regression."""
    record = MemoryRecord()
    folder = replace(quillback_folder(START.date(), past_days=1), weather=(), assays=())
    load_tables(record, folder, by="dell", at=START)
    assert not list(record.facts(kinds=(TUMBLED, SIEVED)))
    assert durability_ahead(record, settings_for(record, "SHEEP-GR", at=START)) is None
