"""The mill's own regression of durability, from readings, sieves and tumbling tests on record."""

import datetime as dt
import itertools
import math
import random
from collections.abc import Iterator
from dataclasses import replace

import pytest

from bedstone.demo.quillback import quillback_folder
from bedstone.desk.line_foretold import line_foretold
from bedstone.desk.line_regression import HEAT, durability_ahead, line_says, load_ahead
from bedstone.desk.line_settings import settings_for
from bedstone.desk.line_tests import SIEVED, TUMBLED, record_sieving
from bedstone.desk.plain_values import plain
from bedstone.desk.readings import record_readings
from bedstone.desk.regression_words import (
    durability_words,
    effect_rows,
    load_words,
    throughput_words,
)
from bedstone.desk.tables import load_tables
from bedstone.ledger.model import Fact
from bedstone.mill.folder import LoadedFolder
from bedstone.mill.readings import ReadingRow
from fakes.memory import MemoryRecord

START = dt.datetime(2026, 9, 1, 12, tzinfo=dt.UTC)
HOUR = dt.timedelta(hours=1)
FEEDS = ("DAIRY-18", "SHEEP-GR", "SWINE-ST", "BROIL-ST")
HEATS = (68.0, 72.0, 76.0, 80.0, 84.0, 88.0)
PER_C = 0.4
FULL_A = 110.0


def a_folder() -> LoadedFolder:
    """The demo mill's tables, its motor's plate known."""
    folder = replace(quillback_folder(START.date(), past_days=1), weather=(), assays=())
    lines = tuple(replace(row, motor_full_a=FULL_A) for row in folder.mill.pellet_lines)
    return replace(folder, mill=replace(folder.mill, pellet_lines=lines))


@pytest.fixture(scope="module")
def logged() -> MemoryRecord:
    """Twenty-four tested runs whose index rises by 0.4 points a degree, with a little noise."""
    record, dice = MemoryRecord(), random.Random(5)
    load_tables(record, a_folder(), by="dell", at=START)
    for number, (product, heat) in enumerate(itertools.product(FEEDS, HEATS), 1):
        at = START + number * HOUR
        _sieve(record, 30.0 + 5 * (number % 5), at=at - HOUR / 2)
        rows = [ReadingRow(at=at, value=heat, run=f"R-{number}")]
        record_readings(record, instrument="PL1", quantity="conditioner temperature", rows=rows,
                        by="dell", at=at)  # fmt: skip
        rate = 1.2 + 0.13 * ((number * 7) % 6)
        amps = 80.0 * (rate / 1.5) ** 0.8 * math.exp(-0.004 * (heat - 78) + dice.gauss(0, 0.01))
        for quantity, value in (("mash flow", rate), ("motor current", amps)):
            rows = [ReadingRow(at=at, value=value, run=f"R-{number}")]
            record_readings(record, instrument="PL1", quantity=quantity, rows=rows,
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
    settings = settings_for(record, "SHEEP-GR", at=START, conditioning_c=heat_c, rate_kg_s=1.5)
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


def test_the_motors_load_and_the_rate_it_allows_are_foretold(logged: MemoryRecord):
    """Amperes at a rate that was run lie in the interval with the truth; the rate at which the plate's
    load is reached lies near the true one, and what surely is within it is less.
    """
    settings = settings_for(logged, "SHEEP-GR", at=START, conditioning_c=78.0, rate_kg_s=1.5)
    found = load_ahead(logged, settings)
    assert found is not None
    assert found.forecast.seen
    assert found.forecast.low < 80.0 < found.forecast.high
    assert found.forecast.high - found.forecast.low < 8.0
    assert found.full_a == FULL_A
    assert found.rate is not None
    assert found.rate.middle_kg_s is None  # 2.2 kg/s at the plate's load: beyond what was run
    assert found.rate.surely_kg_s == pytest.approx(found.rate.most_run_kg_s)
    assert found.rate.most_run_kg_s <= 1.85 + 1e-9


def test_a_small_motor_is_the_limit_within_what_was_run(logged: MemoryRecord):
    """With a plate of 85 A the rate at full load is the one at which 80 (rate / 1.5)^0.8 is 85, and
    the interval of the motor's load keeps the sure rate below it.
    """
    folder = a_folder()
    lines = tuple(replace(row, motor_full_a=85.0) for row in folder.mill.pellet_lines)
    small = MemoryRecord()
    for item in logged.facts():
        small.append(item.fact, recorded_at=item.fact.happened_at)
    changed = replace(folder, mill=replace(folder.mill, pellet_lines=lines))
    load_tables(small, changed, by="dell", at=START + 48 * HOUR)
    settings = settings_for(small, "SHEEP-GR", at=START, conditioning_c=78.0, rate_kg_s=1.5)
    found = load_ahead(small, settings)
    assert found is not None
    assert found.rate is not None
    true = 1.5 * (85 / 80) ** (1 / 0.8)
    assert found.rate.middle_kg_s == pytest.approx(true, rel=0.02)
    assert found.rate.surely_kg_s is not None
    assert found.rate.low_kg_s is not None
    assert found.rate.surely_kg_s < true < found.rate.most_run_kg_s
    assert "full load is expected at" in throughput_words(found, "US")


def test_words_are_in_the_mills_units(logged: MemoryRecord):
    """A US mill reads degrees F and ton/h where nothing is foretold, and steps of 10 degrees F."""
    settings = settings_for(logged, "SHEEP-GR", at=START, conditioning_c=95.0, rate_kg_s=1.5)
    ahead = durability_ahead(logged, settings)
    assert ahead is not None
    assert "203 °F, but only 154 °F to 190 °F was run" in durability_words(ahead, "US")
    assert "95 °C, but only 68 °C to 88 °C was run" in durability_words(ahead, "SI")
    says = line_says(logged, "PL1")
    heat = next(row for row in effect_rows(says.durability, "US") if "conditioner" in row.setting)
    assert heat.step == "10 °F more"
    assert float(heat.change.removesuffix(" points")) == pytest.approx(PER_C * 10 / 1.8, abs=0.3)
    rate = next(row for row in effect_rows(says.load, "US") if row.setting == "rate of mash")
    assert rate.step == "10 % more"
    assert float(rate.change.removesuffix(" %")) == pytest.approx(100 * (1.1**0.8 - 1), abs=0.5)


def test_suggested_moves_stay_within_what_was_run(logged: MemoryRecord):
    """Two points more are promised only by settings that the runs have seen, the conditioner's only
    where the die takes the mash.
    """
    settings = settings_for(logged, "SHEEP-GR", at=START, conditioning_c=72.0, rate_kg_s=1.5)
    ahead = durability_ahead(logged, settings)
    assert ahead is not None
    assert ahead.forecast.seen
    for move in ahead.moves:
        assert move.forecast.seen
        assert move.forecast.low >= ahead.forecast.low + 2
        if move.factor == HEAT:
            assert min(HEATS) <= move.value <= max(HEATS)
            assert settings.most_c_for_die is not None
            assert move.value <= settings.most_c_for_die


def test_too_few_tests_give_no_answer():
    """Without tests there is no regression."""
    record = MemoryRecord()
    load_tables(record, a_folder(), by="dell", at=START)
    assert not list(record.facts(kinds=(TUMBLED, SIEVED)))
    settings = settings_for(record, "SHEEP-GR", at=START)
    assert durability_ahead(record, settings) is None
    assert load_ahead(record, settings) is None
    assert "too few" in line_says(record, "PL1").durability.why_not


def test_feeds_of_a_line_are_foretold_in_plain_values(logged: MemoryRecord):
    """Every feed that the tables pellet on the line has what the runs foretell of it; all of it can be
    written as JSON, what is not foretold with its reason.
    """
    found = line_foretold(logged, "PL1", at=START + 40 * HOUR)
    assert {one.product for one in found.feeds} >= set(FEEDS)
    assert found.durability.runs == len(FEEDS) * len(HEATS)
    said = plain(found)
    assert isinstance(said, dict)
    assert said["line"] == "PL1"
    words = {
        one.product: durability_words(one.durability, "US")
        for one in found.feeds
        if one.durability is not None
    }
    assert "nine times in ten" in words["SHEEP-GR"]


def test_nothing_is_foretold_of_a_feed_whose_grind_nobody_knows(logged: MemoryRecord):
    """A feed without the ground grain that was sieved has no particle size, and the answer says so."""
    settings = settings_for(logged, "SHEEP-GR", at=START, conditioning_c=78.0, rate_kg_s=1.5)
    other = replace(settings, product="HORSE-SUP")
    ahead = durability_ahead(logged, other)
    assert ahead is not None
    assert not ahead.forecast.seen
    assert "is not known of it" in durability_words(ahead, "US")
    load = load_ahead(logged, other)
    assert load is not None
    assert "not known" in load_words(load, "US")


def test_a_lighter_load_is_suggested_within_what_was_run(logged: MemoryRecord):
    """A twentieth less current at the high end by a hotter conditioner, where die and additives take
    it.
    """
    settings = settings_for(logged, "SHEEP-GR", at=START, conditioning_c=70.0, rate_kg_s=1.5)
    found = load_ahead(logged, settings)
    assert found is not None
    assert found.forecast.seen
    for move in found.moves:
        assert move.forecast.seen
        assert math.exp(move.forecast.high) <= 0.95 * found.forecast.high * (1 + 1e-9)
        assert move.factor != HEAT or move.value > 70.0
    hot = next(move for move in found.moves if move.factor == HEAT)
    assert hot.value <= max(HEATS)
    assert "a twentieth less load at about" in throughput_words(found, "US")
    assert "hotter costs steam, and rate where" in throughput_words(found, "US")
