"""In flight, rebalancing, and refusals of mixer tests, meters and tanks."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bedstone.batching.in_flight import PastDraw, learn_in_flight
from bedstone.batching.liquids import (
    Tank,
    catch_test,
    density_kg_m3,
    pumpable_from_c,
    viscosity_pa_s,
)
from bedstone.batching.mixer_test import mixing_time_s, samples_to_prove, uniformity
from bedstone.batching.rebalance import Allowed, rebalance
from bedstone.errors import BadInput


def draws(*falls: float) -> list[PastDraw]:
    """Draws with so much in flight."""
    return [PastDraw(cut_off_kg=100.0, drawn_kg=100.0 + fall) for fall in falls]


def test_in_flight_is_learned_from_the_middle_of_past_draws() -> None:
    """Nine draws near 4 kg and one of 40: 4 kg, one left out."""
    found = learn_in_flight(draws(4.0, 4.1, 3.9, 4.2, 3.8, 40.0, 4.0, 4.1, 3.9, 4.0))
    assert found is not None
    assert found.mass_kg == pytest.approx(4.0, abs=0.05)
    assert found.left_out == 1


@given(
    st.lists(st.floats(3.5, 4.5), min_size=6, max_size=15),
    st.floats(-100, 1000),
    st.integers(0, 14),
)
def test_one_bad_draw_never_moves_it_out_of_the_others(
    falls: list[float], wild: float, where: int
) -> None:
    """Whatever one draw says, the answer stays between the smallest and largest of the rest."""
    spoiled = [*falls]
    spoiled[where % len(falls)] = wild
    found = learn_in_flight(draws(*spoiled))
    others = falls[: where % len(falls)] + falls[where % len(falls) + 1 :]
    assert found is not None
    assert min(others) - 1e-9 <= found.mass_kg <= max(others) + 1e-9


@given(
    st.lists(st.floats(-0.5, 0.5), min_size=5, max_size=14),
    st.floats(-1e9, 1e9),
    st.integers(0, 14),
)
def test_one_bad_draw_moves_nothing_beyond_the_rounding_of_good_ones(
    rounding: list[float], wild: float, where: int
) -> None:
    """Good draws land on 4 kg but for half a division of 1 kg: so does what is learned, whatever
    one more draw says and wherever it stands.
    """
    falls = [4.0 + off for off in rounding]
    falls.insert(min(where, len(falls)), wild)
    found = learn_in_flight(draws(*falls), may_be_below_nothing=True)
    assert found is not None
    assert abs(found.mass_kg - 4.0) <= 0.5 + 1e-6


@given(st.integers(5, 14), st.floats(-1e9, 1e9))
def test_one_bad_draw_among_equal_ones_moves_nothing(good: int, wild: float) -> None:
    """Where all good draws land alike, one bad one changes not even the last digit."""
    found = learn_in_flight(draws(*[4.0] * good, wild), may_be_below_nothing=True)
    assert found is not None
    assert found.mass_kg == 4.0


def test_a_setting_moves_by_steps() -> None:
    """From 10 kg to 4 with a spread of a tenth: two spreads at a time, and it says so."""
    found = learn_in_flight(draws(4.0, 4.1, 3.9, 4.1, 3.9, 4.0), now_kg=10.0)
    assert found is not None
    assert 9.5 < found.mass_kg < 10.0
    assert "at most" in found.says


def test_too_few_draws_teach_nothing() -> None:
    """Four are not five."""
    assert learn_in_flight(draws(4, 4, 4, 4)) is None


FORMULA = (
    Allowed(ingredient="corn", share=0.60, low=0.55, high=0.66),
    Allowed(ingredient="meal", share=0.30, low=0.27, high=0.33),
    Allowed(ingredient="oil", share=0.04, low=0.035, high=0.045),
    Allowed(ingredient="premix", share=0.06, low=0.06, high=0.0601),
)


def test_an_over_draw_within_limits_is_made_to_fit() -> None:
    """620 kg of corn instead of 600: the batch keeps every limit, the arithmetic is told."""
    found = rebalance(FORMULA, {"corn": 620.0}, planned_kg=1000, least_kg=500, most_kg=1100)
    assert found.fits
    whole = 620 + sum(found.targets_kg.values())
    assert whole == pytest.approx(found.batch_kg)
    for part in FORMULA:
        mass = found.targets_kg.get(part.ingredient, 620.0)
        assert part.low - 1e-9 <= mass / whole <= part.high + 1e-9
    assert any("corn" in line for line in found.arithmetic)


def test_an_over_draw_beyond_the_mixer_is_held_with_the_arithmetic() -> None:
    """Oil at 60 kg asks for a batch of 1,333 kg or more, the mixer holds 1,100."""
    found = rebalance(
        FORMULA, {"corn": 600.0, "oil": 60.0}, planned_kg=1000, least_kg=500, most_kg=1100
    )
    assert not found.fits
    assert "oil" in found.why_not
    assert not found.targets_kg


@settings(max_examples=150)
@given(st.floats(0.9, 1.15), st.floats(0.9, 1.15))
def test_what_fits_keeps_every_limit(corn: float, meal: float) -> None:
    """For any two wrong draws: either held, or all shares allowed and the mass adds up."""
    weighed = {"corn": 600 * corn, "meal": 300 * meal}
    found = rebalance(FORMULA, weighed, planned_kg=1000, least_kg=500, most_kg=1100)
    if not found.fits:
        assert found.why_not
        return
    masses = {**weighed, **found.targets_kg}
    assert sum(masses.values()) == pytest.approx(found.batch_kg, abs=1e-6)
    for part in FORMULA:
        share = masses[part.ingredient] / found.batch_kg
        assert part.low - 1e-6 <= share <= part.high + 1e-6


def test_a_batch_that_is_not_its_formula_is_refused() -> None:
    """Something strange in the mixer, shares that do not add up, limits out of order."""
    with pytest.raises(BadInput, match="does not match"):
        rebalance(FORMULA, {"urea": 1.0}, planned_kg=1000, least_kg=500, most_kg=1100)
    with pytest.raises(BadInput, match="does not match"):
        rebalance(FORMULA[:2], {}, planned_kg=1000, least_kg=500, most_kg=1100)
    with pytest.raises(BadInput, match="out of order"):
        Allowed(ingredient="x", share=0.5, low=0.6, high=0.7)


def test_mixer_tests_that_cannot_be_are_refused() -> None:
    """Two samples, a negative one, all zero, an expectation of nothing."""
    for values in ((1.0, 2.0), (1.0, 2.0, -1.0), (0.0, 0.0, 0.0)):
        with pytest.raises(BadInput, match=r"mixer test|tracer"):
            uniformity(values)
    with pytest.raises(BadInput, match="above 0"):
        samples_to_prove(0.0)


def test_verdicts_and_what_to_do() -> None:
    """Even samples are proved, scattered ones fail, few samples are said to be few."""
    draw = np.random.default_rng(1)
    assert uniformity([1.0] * 10).verdict == "proved"
    assert uniformity(list(draw.normal(1, 0.03, 20))).verdict == "proved"
    wild = uniformity([0.2, 2.0, 0.9, 1.7, 0.1, 2.2, 0.4, 1.5, 0.6, 1.8])
    assert wild.verdict == "fails"
    assert "mixer" in wild.do
    assert "Fewer than 10" in uniformity([1.0, 1.1, 0.9]).note
    assert (
        "larger samples" in uniformity([20, 24, 17, 22, 19, 25, 18, 21, 20, 23], counts=True).note
    )


def test_a_trend_along_the_discharge_is_seen() -> None:
    """Ten rising samples are no accident."""
    rising = uniformity([1.0, 1.02, 1.03, 1.05, 1.06, 1.08, 1.1, 1.11, 1.13, 1.15])
    assert rising.trend_probability < 0.001


def test_without_a_curve_the_shortest_proved_time_counts() -> None:
    """Two tests make no curve; none proved makes no time."""
    even, wild = uniformity([1.0] * 10), uniformity([0.2, 2.0, 0.9, 1.7, 0.1, 2.2, 0.4, 1.5])
    assert mixing_time_s([(120.0, wild), (180.0, even)]).time_s == 180.0
    assert mixing_time_s([(120.0, wild)]).time_s is None


def test_liquids_that_cannot_be_are_refused() -> None:
    """One catch, a level over the tank, viscosity that rises, a density of nothing."""
    with pytest.raises(BadInput, match="catch test"):
        catch_test([20.0], [20.0], tolerance_frac=0.005)
    with pytest.raises(BadInput, match="outside the tank"):
        Tank(diameter_m=2.0, length_m=4.0).volume_m3(2.5)
    with pytest.raises(BadInput, match="flat floor"):
        Tank(diameter_m=2.0, length_m=4.0, ends="elliptical", lying=False)
    with pytest.raises(BadInput, match="falls with heat"):
        viscosity_pa_s(30, ((20, 1.0), (50, 2.0)))
    with pytest.raises(BadInput, match="pumpable"):
        pumpable_from_c(((20, 5000.0), (50, 4000.0)))
    with pytest.raises(BadInput, match="Density"):
        density_kg_m3(0, 20, 30, 0.0007)


def test_repeats_that_differ_are_no_proof() -> None:
    """Catches 3 % apart: find the air before adjusting."""
    proof = catch_test([20.0, 20.0, 20.0], [20.0, 20.6, 20.1], tolerance_frac=0.005)
    assert not proof.passes
    assert "repeats differ" in proof.why
    assert catch_test([20.0, 20.0], [20.01, 20.02], tolerance_frac=0.005).passes
