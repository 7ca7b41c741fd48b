"""Missing, late and repeated results: what the watch says does not hang on how they came."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from bedstone.quality.sequential import threshold
from bedstone.quality.watch import Found, Suspicion, find
from bedstone.quality.watch_levels import LevelSeen, Passed, beginnings_of, level_evidence
from bedstone.quality.watch_samples import STEP

LIMIT = threshold(10_000)
DAY_S = 86_400.0
DAYS, BEGAN = 60, 30


def a_tank(seed: int, gain: float) -> tuple[list[LevelSeen], list[Passed]]:
    """Two readings a day of a tank from which a meter takes 400 kg between two of them."""
    dice = np.random.default_rng(seed)
    true_kg, levels, passed = 80_000.0, [], []
    for half in range(2 * DAYS):
        at = half * DAY_S / 2
        true_kg -= 400.0 * (1 + gain * (half >= 2 * BEGAN))
        passed.append(Passed(at, -400.0, 1.0, "M1"))
        levels.append(
            LevelSeen(at + 600, true_kg + 50 * dice.standard_normal(), 50.0, is_gauge=True)
        )
    return levels, passed


def found_in(levels: list[LevelSeen], passed: list[Passed]) -> tuple[Found, ...]:
    """What is found wrong with the meter."""
    drawn = beginnings_of({"T": passed}, proved_at={}, instruments=("M1",))
    begins = {("M1", STEP): drawn["M1"]}
    witnesses, shown = level_evidence({"T": levels}, {"T": passed}, begins)
    suspicions = [
        Suspicion(about=key[0], kind=key[1], begins_at=begins[key], shows=shows)
        for key, shows in shown.items()
    ]
    return find(witnesses, suspicions, limit=LIMIT)[0]


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10_000), kept=st.integers(35, 100))
def test_missing_readings_leave_the_meter_named(seed: int, kept: int) -> None:
    """With any third to all of the readings of a tank, the meter of a 6 % step is named, and its
    interval holds the true beginning give or take two days.
    """
    levels, passed = a_tank(seed, 0.06)
    dice = np.random.default_rng(seed)
    there = [row for row in levels if dice.random() * 100 < kept]
    (found,) = found_in(there, passed)
    assert found.standing.about == "M1"
    assert found.begins_lo_at - 2 * DAY_S <= BEGAN * DAY_S <= found.begins_hi_at + 2 * DAY_S


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10_000), slips=st.lists(st.integers(5, 110), max_size=3, unique=True))
def test_slips_of_the_pen_name_nothing(seed: int, slips: list[int]) -> None:
    """Up to three readings off by a ton or two, none beside another, raise no alarm of the meter
    in a sound tank, nor do they hide a meter that steps.
    """
    apart = [at for at in slips if all(abs(at - other) > 1 for other in slips if other != at)]
    for gain in (0.0, 0.06):
        levels, passed = a_tank(seed, gain)
        quiet = found_in(levels, passed)
        for at in apart:
            row = levels[at]
            levels[at] = LevelSeen(row.at, row.mass_kg + 1_500.0, row.sd_kg, row.is_gauge)
        assert bool(found_in(levels, passed)) == bool(quiet)


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 10_000), data=st.data())
def test_the_order_in_which_flows_come_does_not_matter(seed: int, data: st.DataObject) -> None:
    """Draws that were recorded late and stand last give the same finding to the last digit."""
    levels, passed = a_tank(seed, 0.06)
    late = data.draw(st.permutations(passed))
    (before,), (after,) = found_in(levels, passed), found_in(levels, list(late))
    assert after.begins_at == before.begins_at
    assert abs(after.standing.size - before.standing.size) < 1e-9
