"""What heat leaves of additives: interval, steps, hottest setting, and a mill's own D."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bedstone.errors import BadInput, NoAnswer
from bedstone.pelleting.heat_damage import (
    HeatStep,
    Kinetics,
    Measured,
    hottest_that_keeps,
    moved_to,
    preferred,
    survival,
)
from bedstone.pelleting.heat_fit import HeatTrial, fit_own
from fakes.surrogate import PILOT_MILL_SURROGATE

WAY = (
    HeatStep(where="conditioner", temperature_c=75.0, time_s=30),
    HeatStep(where="die", temperature_c=84.0, time_s=3),
    HeatStep(where="cooler", temperature_c=60.0, time_s=60),
    HeatStep(where="cooler", temperature_c=25.0, time_s=300),
)
FRAIL = Kinetics(
    additive="frail", d_s=1.0, at_c=20.0, z_dk=30.0, measured="from memory", source="none"
)


def test_hotter_or_longer_leaves_less() -> None:
    """Losses add up over the way, and the interval holds the middle."""
    usual = survival(PILOT_MILL_SURROGATE, WAY)
    hotter = survival(PILOT_MILL_SURROGATE, [replace(WAY[0], temperature_c=85.0), *WAY[1:]])
    assert hotter.left < usual.left
    assert usual.left_lo < usual.left < usual.left_hi
    assert usual.logs_lost == pytest.approx(sum(logs for _, logs in usual.by_step))
    assert usual.overage == pytest.approx(1 / usual.left)
    assert usual.overage_hi == pytest.approx(1 / usual.left_lo)


def test_each_part_of_the_way_has_its_own_loss() -> None:
    """Conditioner, die and cooler stand once each; what they leave multiplies to what is left."""
    found = survival(PILOT_MILL_SURROGATE, WAY)
    assert [where for where, _ in found.by_step] == ["conditioner", "die", "cooler"]
    assert math.prod(1 - lost for _, lost in found.lost_by_step) == pytest.approx(found.left)


def test_below_where_heat_counts_nothing_is_lost() -> None:
    """A day at 25 C costs nothing by kinetics of a mill; kinetics measured there count there."""
    day = [HeatStep(where="bin", temperature_c=25.0, time_s=86_400)]
    assert survival(PILOT_MILL_SURROGATE, day).left == 1
    assert survival(PILOT_MILL_SURROGATE, day).left_lo == 1
    assert survival(replace(PILOT_MILL_SURROGATE, at_c=25.0), day).left < 1


def test_what_was_put_in_widens_the_interval() -> None:
    """A spread of what was bought adds to that of the heat, in quadrature of logarithms."""
    by_heat = survival(PILOT_MILL_SURROGATE, WAY)
    both = survival(PILOT_MILL_SURROGATE, WAY, put_in_cv_frac=0.1)
    cold = survival(PILOT_MILL_SURROGATE, WAY[3:], put_in_cv_frac=0.1)
    assert both.left == by_heat.left
    assert both.left_lo < by_heat.left_lo < by_heat.left_hi < both.left_hi
    assert math.log(both.left / both.left_lo) == pytest.approx(
        math.hypot(math.log(by_heat.left / by_heat.left_lo), math.log(cold.left / cold.left_lo))
    )


def test_the_interval_holds_nine_draws_in_ten() -> None:
    """D, z and what was put in drawn with their spreads 4000 times: 87 to 94 % lie inside."""
    draw = np.random.default_rng(3)
    kinetics = replace(PILOT_MILL_SURROGATE, z_sd_dk=4.0)
    found = survival(kinetics, WAY, put_in_cv_frac=0.08)
    inside = 0
    for _ in range(4000):
        off = draw.normal(size=3)
        true = replace(
            kinetics,
            d_s=kinetics.d_s * math.exp(math.log(kinetics.d_spread) / 1.645 * off[0]),
            z_dk=max(1.0, kinetics.z_dk + 4.0 * off[1]),
        )
        left = survival(true, WAY).left * math.exp(0.08 * off[2])
        inside += found.left_lo <= left <= found.left_hi
    assert 0.87 < inside / 4000 < 0.94


@given(
    conditioner_c=st.floats(50, 95),
    least_left=st.floats(0.05, 0.8),
    cv=st.floats(0, 0.1),
)
def test_the_hottest_setting_just_keeps_enough(
    conditioner_c: float, least_left: float, cv: float
) -> None:
    """At the setting found enough is left at the low end, a kelvin hotter it is not."""
    way = moved_to(WAY, conditioner_c)
    hottest_c = hottest_that_keeps(PILOT_MILL_SURROGATE, way, least_left, put_in_cv_frac=cv)

    def low_end(setting_c: float) -> float:
        moved = moved_to(way, setting_c)
        return survival(PILOT_MILL_SURROGATE, moved, put_in_cv_frac=cv).left_lo

    assert low_end(hottest_c) >= least_left
    assert hottest_c == 105 or low_end(hottest_c + 1.0) < least_left


@given(
    d_s=st.floats(1e-3, 1e7),
    at_c=st.floats(20, 120),
    z_dk=st.floats(1, 100),
    spread=st.floats(1, 100),
    hot_c=st.floats(0, 120),
    time_s=st.floats(0, 1e6),
    measured=st.sampled_from(["this mill", "a laboratory bath"]),
    cv=st.floats(0, 0.9),
)
def test_whatever_the_table_takes_has_an_answer(
    d_s: float, at_c: float, z_dk: float, spread: float, hot_c: float, time_s: float,
    measured: Measured, cv: float,
) -> None:  # fmt: skip
    """Over all that the columns allow shares are in order, none is no number, and hotter never
    leaves more.
    """
    kinetics = Kinetics(
        additive="any", d_s=d_s, at_c=at_c, z_dk=z_dk, d_spread=spread, measured=measured, source="",
    )  # fmt: skip
    way = [HeatStep(where="conditioner", temperature_c=hot_c, time_s=time_s)]
    found = survival(kinetics, way, put_in_cv_frac=cv)
    assert 0 <= found.left_lo <= found.left <= min(found.left_hi, 1.0) <= 1.0 or cv > 0
    assert 0 <= found.left_lo <= found.left <= found.left_hi
    hotter = survival(kinetics, moved_to(way, min(hot_c + 5, 120.0)), put_in_cv_frac=cv)
    assert hotter.left <= found.left


def test_another_setting_moves_die_and_bed() -> None:
    """The die follows in full, the coldest of the bed stays, between them in proportion."""
    moved = [step.temperature_c for step in moved_to(WAY, 85.0)]
    assert moved == pytest.approx([85.0, 94.0, 60.0 + 10 * 35 / 50, 25.0])
    assert moved_to(WAY, 75.0) == WAY
    assert max(step.temperature_c for step in moved_to(WAY, 10.0)) == pytest.approx(19.0)


def test_what_cannot_be_kept_is_said() -> None:
    """An additive that a warm room kills has no setting."""
    with pytest.raises(NoAnswer, match="would not keep"):
        hottest_that_keeps(FRAIL, WAY, 0.9)
    assert "from memory" in survival(FRAIL, WAY).caution
    with pytest.raises(BadInput, match="between 0 and 1"):
        hottest_that_keeps(FRAIL, WAY, 1.2)


@pytest.mark.parametrize(
    "wrong",
    [{"d_s": 0.0}, {"d_s": -3.0}, {"z_dk": 0.0}, {"z_dk": -8.0}, {"d_spread": 0.5},
     {"z_sd_dk": -1.0}, {"d_s": math.nan}],
)  # fmt: skip
def test_kinetics_that_cannot_be_are_refused(wrong: dict[str, float]) -> None:
    """D, z and spreads at or below nothing are named."""
    with pytest.raises(BadInput, match="cannot be right"):
        replace(PILOT_MILL_SURROGATE, **wrong)


@pytest.mark.parametrize(("hot_c", "time_s"), [(140.0, 3.0), (-5.0, 3.0), (70.0, -1.0)])
def test_heat_that_cannot_be_is_refused(hot_c: float, time_s: float) -> None:
    """Hotter than any die, colder than mash, a time below nothing."""
    with pytest.raises(BadInput, match="Heat in die"):
        HeatStep(where="die", temperature_c=hot_c, time_s=time_s)


def test_the_mills_own_kinetics_come_first() -> None:
    """Own values, then a pilot mill's, then a bath's."""
    own = replace(PILOT_MILL_SURROGATE, measured="this mill")
    bath = replace(PILOT_MILL_SURROGATE, measured="a laboratory bath")
    assert preferred([bath, own, PILOT_MILL_SURROGATE]).measured == "this mill"
    with pytest.raises(BadInput, match="Nothing is known"):
        preferred([])


def trials(d_s: float, scatter: float, count: int, seed: int) -> list[HeatTrial]:
    """Trials of a known D at 75 C with z 30 K and some scatter of the counts."""
    draw = np.random.default_rng(seed)
    made = []
    for hot_c in np.linspace(68, 82, count):
        logs = 40 / (d_s * 10 ** ((75 - hot_c) / 30))
        noise = math.exp(scatter * float(draw.normal()))
        made.append(
            HeatTrial(
                before=2e6, after=2e6 * 10**-logs * noise, temperature_c=float(hot_c), time_s=40.0
            )
        )
    return made


def test_one_clean_trial_gives_d_by_its_definition() -> None:
    """A tenth left after 40 s is a D of 40 s; its interval is the assays' error alone."""
    found = fit_own(
        [HeatTrial(before=2e6, after=2e5, temperature_c=75.0, time_s=40.0)],
        z_dk=30.0,
        assay_cv_frac=0.1,
    )
    assert found.d_s == pytest.approx(40.0)
    half = 1.6449 * math.sqrt(2 * math.log1p(0.01)) / math.log(10)
    assert (found.d_lo_s, found.d_hi_s) == pytest.approx(
        (40 / (1 + half), 40 / (1 - half)), rel=1e-4
    )
    assert found.d_spread == pytest.approx(1 / (1 - half), rel=1e-4)


def test_the_fits_interval_holds_the_truth_nine_times_in_ten() -> None:
    """In 300 sets of four trials with 25 % scatter the interval holds the true D in 85 to 98 %."""
    held = 0
    for seed in range(300):
        found = fit_own(trials(60.0, math.sqrt(2) * 0.2, 4, seed), z_dk=30.0, assay_cv_frac=0.2)
        true_s = 60 * 10 ** ((75 - found.at_c) / 30)
        held += found.d_lo_s <= true_s <= found.d_hi_s
    assert 0.85 < held / 300 < 0.98


def test_trials_that_scatter_have_a_wider_interval() -> None:
    """Counts that scatter more than the assay explains are taken at their scatter."""
    calm = fit_own(trials(60.0, 0.05, 5, 1), z_dk=30.0, assay_cv_frac=0.1)
    wild = fit_own(trials(60.0, 0.5, 5, 1), z_dk=30.0, assay_cv_frac=0.1)
    assert calm.error.startswith("10 % error")
    assert wild.error == "the scatter of the trials"
    assert wild.d_spread > calm.d_spread


@pytest.mark.parametrize(
    ("trial", "said"),
    [
        ((1e6, 0.0, 75.0, 30.0), "count of nothing"),
        ((0.0, 1e6, 75.0, 30.0), "count of nothing"),
        ((-1.0, 1e6, 75.0, 30.0), "count of nothing"),
        ((1e6, 1e5, 500.0, 30.0), "Temperature or time"),
        ((1e6, 1e5, 75.0, 0.0), "Temperature or time"),
        ((math.nan, 1e5, 75.0, 30.0), "are numbers"),
        ((math.inf, 1e5, 75.0, 30.0), "are numbers"),
    ],
)
def test_a_trial_that_cannot_be_is_refused(trial: tuple[float, ...], said: str) -> None:
    """Zero counts, temperatures and times that cannot be are refused in words."""
    names = ("before", "after", "temperature_c", "time_s")
    with pytest.raises(BadInput, match=said):
        HeatTrial(**dict(zip(names, trial, strict=True)))


def test_more_after_than_before_is_refused() -> None:
    """Three times as many after the heat: swapped samples; a little more is the assay's error."""
    with pytest.raises(BadInput, match="after the heat than before"):
        fit_own([HeatTrial(before=1, after=3, temperature_c=75, time_s=30)], z_dk=30)
    with pytest.raises(NoAnswer, match="cannot be told"):
        fit_own([HeatTrial(before=1, after=1.1, temperature_c=75, time_s=30)], z_dk=30)


@pytest.mark.parametrize(("z_dk", "cv"), [(0.0, 0.2), (-5.0, 0.2), (30.0, 0.0), (30.0, 3.0)])
def test_a_fit_refuses_what_cannot_be(z_dk: float, cv: float) -> None:
    """Z at or below nothing and errors that cannot be are refused; so is nothing at all."""
    with pytest.raises(BadInput, match="cannot be right"):
        fit_own(trials(60.0, 0.1, 2, 1), z_dk=z_dk, assay_cv_frac=cv)
    with pytest.raises(BadInput, match="no trial"):
        fit_own([], z_dk=30.0)
