"""To the scale: whole divisions, hand additions, premixes, and every demand checked again."""

from dataclasses import replace

import pytest

from bedstone.errors import BadInput
from bedstone.formulation.least_cost import least_cost
from bedstone.formulation.model import FormulaProblem
from bedstone.formulation.rounding import ScaleFor, to_scale
from fakes.formulas import ingredient, need, problem, random_problem

MAJOR = ScaleFor(code="MAJOR", division_mg=2_000_000, least_mg=40_000_000)
HAND = ScaleFor(code="HAND", division_mg=5_000, least_mg=100_000)
CORN = ingredient("CORN", 180.0, protein=(8.0, 0.5), selenium=0.0)
MEAL = ingredient("MEAL", 400.0, protein=(48.0, 1.5), selenium=0.0)
MICRO = ingredient("MICRO", 9000.0, protein=0.0, selenium=0.2, max_frac=0.01)
TRACE = ingredient("TRACE", 90000.0, protein=0.0, selenium=0.0, min_frac=2e-5, max_frac=2e-5)


def rounded(asked: FormulaProblem):
    """A problem's cheapest formula, rounded."""
    answer = least_cost(asked)
    every = dict.fromkeys(answer.shares, MAJOR)
    return answer, to_scale(asked, answer.shares, batch_mg=2_000_000_000, scales=every, hand=HAND)


def test_draws_are_whole_divisions_and_add_up() -> None:
    """Each draw is a whole number of its scale's divisions, the batch is within half of one."""
    asked = problem([CORN, MEAL, MICRO], [need("protein", 16.03), need("selenium", 3e-5)])
    answer, found = rounded(asked)
    for draw in found.draws:
        assert draw.mass_mg % draw.division_mg == 0
    assert sum(draw.mass_mg for draw in found.draws) == found.batch_mg
    assert abs(found.batch_mg - 2_000_000_000) <= 1_000_000
    hand = {draw.ingredient for draw in found.draws if draw.by_hand}
    assert hand == {"MICRO"}
    assert found.premix is None
    assert sum(found.shares.values()) == pytest.approx(1.0)
    assert found.broken == ()
    assert found.cost_usd_t == pytest.approx(answer.cost_usd_t, rel=2e-3)


def test_a_demand_that_the_nearest_division_breaks_is_kept_by_another() -> None:
    """Protein that rounds to just below its minimum is lifted by a division, and that is said."""
    asked = problem([CORN, MEAL], [need("protein", 16.01)])
    answer, found = rounded(asked)
    nearest = round(answer.shares["MEAL"] * 1000) * 2_000_000
    protein = (8 * (2_000_000_000 - nearest) + 48 * nearest) / 2_000_000_000
    assert protein < 16.01  # so that the nearest would have been short
    assert found.changed
    assert found.broken == ()
    assert found.limits[0].expected >= 16.01
    assert found.shares["MEAL"] * found.batch_mg == pytest.approx(nearest + 2_000_000)


def test_odds_are_kept_after_rounding() -> None:
    """A guarantee with odds has them still, as weighed."""
    asked = problem([CORN, MEAL], [need("protein", 16.03, odds_frac=0.95)])
    _, found = rounded(asked)
    assert found.limits[0].odds_min_frac >= 0.95 - 1e-9
    assert found.broken == ()


def test_what_cannot_be_kept_is_told() -> None:
    """With a division as coarse as a tenth of the batch a narrow demand cannot be kept."""
    asked = problem([CORN, MEAL], [need("protein", 15.0, 15.1)])
    answer = least_cost(asked)
    coarse = ScaleFor(code="COARSE", division_mg=200_000_000)
    found = to_scale(
        asked,
        answer.shares,
        batch_mg=2_000_000_000,
        scales={"CORN": coarse, "MEAL": coarse},
        hand=HAND,
    )
    assert found.broken == ("protein",)


def test_micros_too_small_to_weigh_go_into_a_premix() -> None:
    """40 g of a 2 t batch is too little for the hand scale: a premix for three batches is made."""
    asked = problem([CORN, MEAL, TRACE], [need("protein", 16.0)])
    _, found = rounded(asked)
    assert found.premix is not None
    assert found.premix.batches == 3
    assert found.premix.parts_mg == {"TRACE": 120_000}
    assert found.premix.dose_mg == 40_000
    assert [draw.ingredient for draw in found.draws if draw.premix] == ["TRACE"]
    assert found.shares["TRACE"] == pytest.approx(2e-5, rel=1e-2)


@pytest.mark.parametrize("seed", range(6))
def test_random_formulas_keep_what_they_kept(seed: int) -> None:
    """After rounding, every demand is kept, or named as broken; odds and dry matter too."""
    kind = [{}, {"odds": 3}, {"dry": 3, "groups": 1}][seed % 3]
    asked = random_problem(seed, slack=0.2, **kind)
    answer = least_cost(asked)
    fine = ScaleFor(code="FINE", division_mg=100_000, least_mg=2_000_000)
    scales = {code: MAJOR if share > 0.05 else fine for code, share in answer.shares.items()}
    found = to_scale(asked, answer.shares, batch_mg=2_000_000_000, scales=scales, hand=HAND)
    for line in found.limits:
        if line.code in found.broken:
            continue
        for slack in (line.slack_min, line.slack_max):
            assert slack is None or slack >= -1e-8 * max(1.0, abs(line.expected))
    assert found.broken == ()
    assert found.cost_usd_t == pytest.approx(answer.cost_usd_t, rel=1e-2)


def test_bad_scales_are_refused() -> None:
    """No scale, no division, no batch, no formula: told at once."""
    asked = problem([CORN, MEAL], [need("protein", 16.0)])
    bad = replace(MAJOR, division_mg=0)
    with pytest.raises(BadInput) as told:
        to_scale(asked, {"CORN": 0.8, "MEAL": 0.2}, batch_mg=0, scales={"CORN": bad}, hand=HAND)
    text = str(told.value)
    for part in ("scale of MEAL", "division of MAJOR", "batch"):
        assert part in text
    with pytest.raises(BadInput, match="no ingredient"):
        to_scale(asked, {}, batch_mg=1, scales={}, hand=HAND)
