"""A month as arrays: truth and readings hang together, faults do what they say and nothing else."""

import datetime as dt
from dataclasses import fields, replace

import numpy as np
import pytest

from bedstone.demo.faults import NO_FAULTS, Fault, FaultKind, Faults
from bedstone.demo.month_plan import DIALS, Floats, MonthPlan, month_plan
from bedstone.demo.quillback.demand import DEMANDS
from bedstone.demo.quillback.packaged import packaged_mill
from bedstone.demo.signals import NUTRIENTS, Month, simulate_month

FIRST = dt.date(2026, 10, 1)
BEGIN_S = 12 * 86_400.0


@pytest.fixture(scope="module")
def plan() -> MonthPlan:
    """Thirty days of the demo mill."""
    return month_plan(packaged_mill(), DEMANDS, start_day=FIRST)


@pytest.fixture(scope="module")
def sound(plan: MonthPlan) -> Month:
    """The month with nothing wrong."""
    return simulate_month(plan, seed=3)


def faulty(plan: MonthPlan, kind: FaultKind, where: str, size: float, **more: object) -> Month:
    """The same month with one fault from the twelfth day on."""
    begins_at = plan.start_at + dt.timedelta(seconds=BEGIN_S)
    fault = Fault(kind=kind, where=where, size=size, begins_at=begins_at)
    return simulate_month(plan, Faults((replace(fault, **more),)), seed=3)  # type: ignore[arg-type]


def draw_at(plan: MonthPlan) -> Floats:
    """When each draw is made. [s]"""
    return plan.batch_at[plan.draw_batch]


def changed(one: Month, other: Month) -> set[str]:
    """Names of the arrays in which two months differ."""
    return {
        row.name
        for row in fields(Month)
        if not np.array_equal(getattr(one, row.name), getattr(other, row.name), equal_nan=True)
    }


def test_the_plan_is_a_month_of_a_mill(plan: MonthPlan) -> None:
    """A thousand batches and ten thousand draws, in order of time, and forty instruments."""
    assert plan.batch_at.size > 900
    assert plan.draw_batch.size > 9_000
    assert len(plan.instruments) >= 40
    assert np.all(np.diff(plan.batch_at) >= 0)
    assert np.all(np.diff(draw_at(plan)) >= 0)
    assert len(set(plan.instruments)) == len(plan.instruments)


def test_the_same_seed_gives_the_same_month(plan: MonthPlan, sound: Month) -> None:
    """The same seed gives the same numbers to the last bit, another seed others."""
    assert changed(simulate_month(plan, NO_FAULTS, seed=3), sound) == set()
    other = changed(simulate_month(plan, seed=4), sound)
    assert {"draw_true_kg", "level_read_kg", "lab_value", "dial_read", "mixer_seen"} <= other


def test_true_mass_balances_in_every_place(plan: MonthPlan, sound: Month) -> None:
    """What a place truly holds at the end is its opening, its loads less what was drawn from it."""
    for number, code in enumerate(plan.places):
        opening = 0.7 * plan.mill.bin_by_code[code].capacity_kg
        out = sound.draw_true_kg[sound.draw_place_true == number].sum()
        into = sound.load_true_kg[plan.load_place == number].sum()
        assert sound.level_true_kg[-1, number] == pytest.approx(opening + into - out, rel=1e-9)
    assert sound.batch_true_kg.sum() == pytest.approx(sound.draw_true_kg.sum())
    assert sound.level_true_kg.min() > 0


def test_sound_instruments_err_as_they_should(plan: MonthPlan, sound: Month) -> None:
    """Errors of every scale and meter, in its own standard deviations, have mean nought and spread
    one, within five standard errors; so have levels and laboratory; load cells err by half a
    per cent.
    """
    scores = (sound.draw_true_kg - sound.draw_read_kg) / sound.draw_sd_kg
    for number in np.unique(plan.draw_instrument):
        of_one = scores[plan.draw_instrument == number]
        assert abs(of_one.mean()) < 5 / np.sqrt(of_one.size)
        assert abs(of_one.var() - 1) < 5 * np.sqrt(2 / of_one.size)
    cells = sound.draw_cells_kg / sound.draw_true_kg - 1
    assert cells.std() == pytest.approx(0.005, rel=0.03)
    for off in (
        (sound.level_read_kg - sound.level_true_kg) / sound.level_sd_kg,
        (sound.lab_value - sound.lab_true) / sound.lab_sd,
    ):
        assert abs(off.mean()) < 5 / np.sqrt(off.size)
        assert abs(off.var() - 1) < 5 * np.sqrt(2 / off.size)


def test_a_gain_step_changes_what_flows_and_not_what_is_read(plan: MonthPlan, sound: Month) -> None:
    """After the step so much more flows; draws are read as before; the tank, the load cells and the
    laboratory's fat tell.
    """
    month = faulty(plan, FaultKind.GAIN_STEP, "LM2", 0.04)
    differ = changed(month, sound)
    assert "draw_read_kg" not in differ
    assert {"draw_true_kg", "draw_cells_kg", "level_read_kg", "lab_value"} <= differ
    mine = plan.draw_instrument == plan.instruments.index("LM2")
    late = mine & (draw_at(plan) >= BEGIN_S)
    early = mine & (draw_at(plan) < BEGIN_S)
    part = month.draw_true_kg / month.draw_read_kg
    assert part[late].mean() == pytest.approx(1.04, abs=0.001)
    assert np.array_equal(month.draw_true_kg[early], sound.draw_true_kg[early])
    assert np.array_equal(month.draw_true_kg[~mine], sound.draw_true_kg[~mine])
    oily = np.bincount(plan.draw_batch[late], minlength=plan.batch_at.size)[plan.sampled] > 0
    fat = NUTRIENTS.index("crude fat")
    assert np.all(month.lab_true[oily, fat] > sound.lab_true[oily, fat])
    tank = plan.places.index("T02")
    gone = sound.level_true_kg[-1, tank] - month.level_true_kg[-1, tank]
    assert gone == pytest.approx(0.04 * month.draw_read_kg[late].sum(), rel=0.02)


def test_a_drift_grows_with_the_days(plan: MonthPlan) -> None:
    """Ten days after a drift of half a per cent a day began, five per cent more flows."""
    month = faulty(plan, FaultKind.SLOW_DRIFT, "SC1", 0.005)
    at = draw_at(plan)
    mine = plan.draw_instrument == plan.instruments.index("SC1")
    near = mine & (abs(at - BEGIN_S - 10 * 86_400) < 43_200) & (plan.draw_target_kg > 200)
    assert near.sum() > 20
    part = month.draw_true_kg[near].sum() / month.draw_read_kg[near].sum()
    days = np.average((at[near] - BEGIN_S) / 86_400, weights=month.draw_read_kg[near])
    assert part == pytest.approx(1 + 0.005 * days, abs=0.001)


def test_a_shifted_zero_adds_to_each_draw(plan: MonthPlan, sound: Month) -> None:
    """Each draw on the scale truly gets the same more, however large it is."""
    month = faulty(plan, FaultKind.ZERO_SHIFT, "SC2", 1.5)
    late = (plan.draw_instrument == plan.instruments.index("SC2")) & (draw_at(plan) >= BEGIN_S)
    assert month.draw_true_kg[late] - sound.draw_true_kg[late] == pytest.approx(1.5)
    assert changed(month, sound) >= {"batch_true_kg", "level_true_kg"}


def test_a_wrong_bin_is_emptied_in_place_of_the_right_one(plan: MonthPlan, sound: Month) -> None:
    """Draws after the beginning truly come from the other bin, with its analysis."""
    month = faulty(plan, FaultKind.WRONG_BIN, "B07", 1.0, other="B06")
    right, wrong = plan.places.index("B07"), plan.places.index("B06")
    late = (plan.draw_place == right) & (draw_at(plan) >= BEGIN_S)
    assert set(month.draw_place_true[late]) == {wrong}
    moved = month.draw_true_kg[late].sum()
    fuller = month.level_true_kg[-1, right] - sound.level_true_kg[-1, right]
    emptier = sound.level_true_kg[-1, wrong] - month.level_true_kg[-1, wrong]
    assert fuller == pytest.approx(moved)
    assert emptier == pytest.approx(moved)
    assert "lab_true" in changed(month, sound)


def test_a_micro_goes_in_twice_as_often_as_said(plan: MonthPlan, sound: Month) -> None:
    """Two draws of a premix are doubled, the first two after the beginning, and no others."""
    month = faulty(plan, FaultKind.DOUBLE_MICRO, "VTM-P", 2.0)
    part = month.draw_true_kg / sound.draw_true_kg
    (which,) = np.nonzero(part != 1)
    assert part[which] == pytest.approx([2.0, 2.0])
    mine = plan.draw_material == plan.materials.index("VTM-P")
    assert list(which) == list(np.flatnonzero(mine & (draw_at(plan) >= BEGIN_S))[:2])


def test_a_stuck_gauge_and_a_stuck_dial_stay(plan: MonthPlan, sound: Month) -> None:
    """A stuck reading shows what it showed last; the truth goes on."""
    month = faulty(plan, FaultKind.STUCK, "T01", 1.0)
    late = plan.level_at >= BEGIN_S
    tank = plan.places.index("T01")
    assert len(set(month.level_read_kg[late, tank])) == 1
    assert changed(month, sound) == {"level_read_kg"}
    month = faulty(plan, FaultKind.STUCK, "PL1 conditioner temperature", 1.0)
    mine = (plan.batch_line == plan.lines.index("PL1")) & (plan.batch_at >= BEGIN_S)
    assert len(set(month.dial_read[mine, 0])) == 1
    assert changed(month, sound) == {"dial_read"}


def test_a_thermometer_that_reads_too_low_means_hotter_mash(plan: MonthPlan, sound: Month) -> None:
    """The operator holds the dial where it was, so that the mash is truly hotter."""
    month = faulty(plan, FaultKind.ZERO_SHIFT, "PL1 conditioner temperature", 4.0)
    mine = (plan.batch_line == plan.lines.index("PL1")) & (plan.batch_at >= BEGIN_S)
    assert month.dial_read[mine, 0] == pytest.approx(sound.dial_read[mine, 0])
    assert month.dial_true[mine, 0] - sound.dial_true[mine, 0] == pytest.approx(4.0)


def test_a_weak_fan_leaves_pellets_warm_and_damp(plan: MonthPlan, sound: Month) -> None:
    """Half of the air leaves pellets more than ten degrees warmer and damper, on its line alone."""
    month = faulty(plan, FaultKind.WEAK_FAN, "PL2", 0.5)
    mine = (plan.batch_line == plan.lines.index("PL2")) & (plan.batch_at >= BEGIN_S)
    outlet, damp = DIALS.index("cooler outlet temperature"), DIALS.index("cooler outlet moisture")
    assert np.all(month.dial_true[mine, outlet] - sound.dial_true[mine, outlet] > 5)
    assert np.mean(month.dial_true[mine, outlet] - sound.dial_true[mine, outlet]) > 10
    assert np.all(month.dial_true[mine, damp] > sound.dial_true[mine, damp])
    other = plan.batch_line == plan.lines.index("PL1")
    assert np.array_equal(month.dial_read[other], sound.dial_read[other])
    assert np.all(np.isnan(sound.dial_read[plan.batch_line < 0]))


def test_a_worn_mixer_and_a_bagging_scale(plan: MonthPlan, sound: Month) -> None:
    """A worn mixer's counts spread more over many seeds; a bagging scale that gained gives more in
    the bag than it reads, which the bags weighed again show.
    """
    begins_at = plan.start_at
    worn = Fault(kind=FaultKind.WORN_MIXER, where="MX1", size=6.0, begins_at=begins_at)
    mine = plan.test_mixer == plan.mixers.index("MX1")

    def cv(faults: Faults) -> float:
        seen = [simulate_month(plan, faults, seed=seed).mixer_seen[mine] for seed in range(8)]
        rows = np.concatenate(seen)
        return float(np.sqrt(np.mean(rows.var(axis=1, ddof=1) / rows.mean(axis=1) ** 2)))

    assert cv(Faults((worn,))) > 1.6 * cv(NO_FAULTS)
    month = faulty(plan, FaultKind.GAIN_STEP, "SK1 bag mass", 0.01)
    late = (plan.batch_pack == plan.packers.index("SK1")) & (plan.batch_at >= BEGIN_S)
    assert month.bag_read_kg[late] == pytest.approx(sound.bag_read_kg[late])
    assert month.bag_true_kg[late] / month.bag_read_kg[late] == pytest.approx(1.01)
    assert month.bag_checked_kg[late].mean() / sound.bag_checked_kg[late].mean() == pytest.approx(
        1.01, abs=1e-4
    )


def test_levels_that_nobody_read_are_missing(plan: MonthPlan, sound: Month) -> None:
    """A part of the levels is missing when nobody looked; the others are those of the same seed."""
    month = simulate_month(plan, seed=3, unread_frac=0.2)
    missing = np.isnan(month.level_read_kg)
    assert missing.mean() == pytest.approx(0.2, abs=0.04)
    assert np.array_equal(month.level_read_kg[~missing], sound.level_read_kg[~missing])


def test_a_fault_that_ends_leaves_the_rest_alone(plan: MonthPlan, sound: Month) -> None:
    """After a fault has ended everything flows as if it had never been."""
    ends_at = plan.start_at + dt.timedelta(days=15)
    month = faulty(plan, FaultKind.GAIN_STEP, "LM1", 0.1, ends_at=ends_at)
    after = draw_at(plan) >= 15 * 86_400
    assert np.array_equal(month.draw_true_kg[after], sound.draw_true_kg[after])
    assert "draw_true_kg" in changed(month, sound)
