"""Faults of other kinds than a meter's, found from the record of a simulated past alone."""

import datetime as dt
from dataclasses import replace

import pytest

from bedstone.demo.faults import Fault, FaultKind, Faults
from bedstone.demo.simulator import Scenario
from bedstone.desk.tables import load_tables
from bedstone.desk.watch import Watched, watch
from bedstone.desk.watch_suspects import Suspect
from bedstone.desk.watch_words import size_words
from fakes.memory import MemoryRecord
from fakes.simulated import FOLDER, START, run

BEGAN = START + dt.timedelta(days=8)
DAYS = 24
NOW = START + dt.timedelta(days=DAYS)
FAULTS = (
    Fault(kind=FaultKind.WRONG_BIN, where="B07", size=1.0, begins_at=BEGAN, other="B06"),
    Fault(kind=FaultKind.GAIN_STEP, where="LM4", size=0.02, begins_at=BEGAN),
    Fault(kind=FaultKind.DOUBLE_MICRO, where="VTM-H", size=1.0, begins_at=BEGAN),
    Fault(kind=FaultKind.WORN_MIXER, where="MX1", size=7.0, begins_at=BEGAN),
    Fault(kind=FaultKind.GAIN_STEP, where="SK1 bag mass", size=-0.012, begins_at=BEGAN),
    Fault(kind=FaultKind.STUCK, where="PL1 conditioner temperature", size=0.0, begins_at=BEGAN),
)


@pytest.fixture(scope="module")
def watched() -> Watched:
    """What the record says of a mill with six hidden faults."""
    ran = run(Scenario(faults=Faults(tuple(replace(row) for row in FAULTS))), days=DAYS)
    record = MemoryRecord()
    load_tables(record, FOLDER, by="dell", at=START - dt.timedelta(days=1))
    for fact in ran.facts:
        if fact.kind != "journal.reversed/1":  # its position is that of the whole demo
            record.append(fact, recorded_at=fact.happened_at)
    return watch(record, at=NOW)


def named(watched: Watched, about: str) -> Suspect:
    """The suspect of this name."""
    (found,) = [row for row in watched.suspects if row.about == about]
    return found


def test_what_is_wrong_is_named_and_little_else(watched: Watched) -> None:
    """Each of the six faults is named as what it is; at most one name more."""
    kinds = {row.about: row.kind for row in watched.suspects}
    wanted = {row.where.replace("bag mass", "bag scale"): str(row.kind) for row in FAULTS}
    assert wanted.items() <= kinds.items()
    assert len(kinds) <= len(wanted) + 1


def test_the_wrong_bin_with_the_right_one(watched: Watched) -> None:
    """What was called from B07 came out of B06, since the hidden moment or within its interval, and
    runs with middlings for hulls have another fibre or protein than is booked.
    """
    found = named(watched, "B07")
    assert found.other == "B06"
    assert found.begins_lo_at <= BEGAN + dt.timedelta(days=1)
    assert found.begins_hi_at >= BEGAN - dt.timedelta(days=1)
    assert "came out of B06" in size_words(found, "US")
    moved = [level for one in found.runs for level in one.levels]
    assert any(abs(level.likely - level.booked) > 0.01 for level in moved)


def test_load_cells_find_a_small_step_within_batches(watched: Watched) -> None:
    """On the mixer with load cells a step of 2 % of the oil meter alarms within two days, where its
    tank alone would ask for over a hundred readings.
    """
    found = named(watched, "LM4")
    assert found.size == pytest.approx(0.02, abs=4 * found.size_sd)
    assert found.alarm_at is not None
    assert found.alarm_at - BEGAN < dt.timedelta(days=2)
    alone = watched.seen["LM4"].readings[0]
    assert alone is None or alone > 50


def test_a_bag_scale_that_fills_short(watched: Watched) -> None:
    """Bags 1.2 % short are found and sized by bags weighed again and the yield of runs; each run
    filled since has the likely net content of its bags with the odds of the mark, and the page, the
    paper and the command say what to do.
    """
    found = named(watched, "SK1 bag scale")
    assert found.size == pytest.approx(-0.012, abs=4 * found.size_sd)
    assert found.begins_lo_at <= BEGAN + dt.timedelta(days=2)
    assert found.runs
    for run_of_bags in found.runs:
        (level,) = run_of_bags.levels
        assert level.minimum is not None
        assert level.likely < level.minimum
        assert level.odds_likely_frac < 0.5
        assert run_of_bags.bags > 0
    assert "weigh ten bags on a proved scale" in found.do[0]


def test_a_micro_added_twice_is_one_batch(watched: Watched) -> None:
    """One run is touched, by one batch that surely got twice the premix, and it says what to do."""
    found = named(watched, "VTM-H")
    (touched,) = found.runs
    (batch,) = touched.batches
    assert batch.is_sure
    assert batch.likely_kg == pytest.approx(2 * batch.read_kg, rel=0.3)
    assert "count the sacks" in found.do[0]


def test_a_worn_mixer_and_a_stuck_dial(watched: Watched) -> None:
    """The mixer's runs since its last even test, the dial's runs since it stuck; nothing before."""
    for about in ("MX1", "PL1 conditioner temperature"):
        found = named(watched, about)
        assert found.runs
        assert found.begins_hi_at >= BEGAN - dt.timedelta(hours=12)
        assert all(batch.made_at > BEGAN - dt.timedelta(days=12)
                   for one in found.runs for batch in one.batches)  # fmt: skip
