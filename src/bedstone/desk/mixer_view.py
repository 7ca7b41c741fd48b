"""Mixers by their tests: verdict of each, trend from test to test, how long to mix, when due."""

import datetime as dt
from dataclasses import dataclass

from scipy import stats

from bedstone.batching.mixer_test import (
    MixTime,
    Uniformity,
    mixing_time_s,
    samples_to_prove,
    uniformity,
)
from bedstone.desk.mixer_tests import MixerTest, is_mixed_in_full, mixer_tests
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import Unknown
from bedstone.mill.model import Machine

__all__ = ["VERDICT_WORDS", "JudgedTest", "MixerStanding", "judged_test", "mixer_standings"]

TEST_EVERY = dt.timedelta(days=182)
"""Twice a year, and after every repair (common practice, no source)."""
FEWEST_FOR_TREND = 4
RISES = 0.05
COUNT = "count"
VERDICT_WORDS = {
    "proved": "The whole of it lies within 10 %: proved.",
    "likely": "The spread found is within 10 %, but the interval is not: likely, more samples prove it.",
    "not proved": "The spread found is above 10 %, but chance may have done it: not proved, test again.",
    "fails": "The whole of it lies above 10 %: the mixer fails.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedTest:
    """A test and what its samples say."""

    test: MixerTest
    found: Uniformity


@dataclass(frozen=True, slots=True, kw_only=True)
class MixerStanding:
    """A mixer with its tests, newest first."""

    mixer: Machine
    tests: tuple[JudgedTest, ...]
    due_on: dt.date | None  # None: never tested, due now
    is_due: bool
    worsens: bool  # the spread rises from test to test, and hardly by chance
    trend_probability: float | None
    latest_frac: float | None  # the spread of its latest test, None if it has none
    samples_needed: int | None  # to prove 10 % if it is as its latest test says
    mix_time: MixTime


def _judged(test: MixerTest) -> JudgedTest:
    return JudgedTest(test=test, found=uniformity(test.values, counts=test.unit == COUNT))


def judged_test(record: Record, position: int) -> JudgedTest:
    """The test at a place of the journal.

    Raises
    ------
    Unknown
        If there is none there.
    """
    test = next((row for row in mixer_tests(record) if row.position == position), None)
    if test is None:
        raise Unknown(
            f"Fact {position} is no mixer test that stands.", do="see the list of mixer tests"
        )
    return _judged(test)


def mixer_standings(record: Record, *, at: dt.datetime) -> tuple[MixerStanding, ...]:
    """Every mixer of the mill with its tests up to a moment, in the order of the tables."""
    mill = current_mill(record)
    found: list[MixerStanding] = []
    for mixer in mill.machines:
        if mixer.kind == "mixer":
            rows = [row for row in mixer_tests(record, mixer.machine) if row.tested_at <= at]
            found.append(_standing(mixer, [_judged(row) for row in rows], at=at))
    return tuple(found)


def _series(tests: list[JudgedTest]) -> list[JudgedTest]:
    """The tests of the kind that was tried at most mixing times: counts spread more than salt."""
    kinds: dict[str, list[JudgedTest]] = {}
    for row in tests:
        kinds.setdefault(row.test.unit, []).append(row)
    return max(
        kinds.values(), key=lambda rows: len({row.test.mixing_s for row in rows}), default=[]
    )


def _standing(mixer: Machine, tests: list[JudgedTest], *, at: dt.datetime) -> MixerStanding:
    due_at = tests[-1].test.tested_at + TEST_EVERY if tests else None
    chance = None
    rises = False
    whole = [row for row in tests if is_mixed_in_full(mixer, row.test)]
    full = [row for row in whole if row.test.unit == whole[-1].test.unit]
    if len(full) >= FEWEST_FOR_TREND:
        spreads = [row.found.cv_frac for row in full]
        trend = stats.kendalltau(range(len(full)), spreads, alternative="greater")
        chance = float(trend.pvalue)
        rises = chance < RISES
    latest = (full or tests)[-1].found.cv_frac if tests else 0.0
    return MixerStanding(
        mixer=mixer,
        tests=tuple(reversed(tests)),
        due_on=due_at.date() if due_at else None,
        is_due=due_at is None or due_at <= at,
        worsens=rises,
        trend_probability=chance,
        latest_frac=latest or None,
        samples_needed=samples_to_prove(latest) if latest > 0 else None,
        mix_time=mixing_time_s([(row.test.mixing_s, row.found) for row in _series(tests)]),
    )
