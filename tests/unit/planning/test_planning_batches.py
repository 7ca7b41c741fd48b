"""Orders cut into batches, by hand."""

import dataclasses

import pytest

from bedstone.mill.model import Scale
from bedstone.planning.batches import bags_of, cut_into_batches, filling_kg_m3
from fakes.planning_mill import planning_mill

MILL = planning_mill()
LAYER = MILL.product("LAYER")
MX1 = MILL.machine_by_code["MX1"]  # 500 to 2000 kg, division 1 kg


def cut(wanted_kg: float, loss_frac: float = 0.0):
    """Batches of the layer feed."""
    return cut_into_batches(
        MILL, LAYER, MX1, wanted_mg=round(wanted_kg * 1e6), loss_frac=loss_frac, parts={}
    )


@pytest.mark.parametrize(
    ("wanted_kg", "batches", "batch_kg"),
    [(2000, 1, 2000), (2001, 2, 1001), (5000, 3, 1667), (500, 1, 500), (4000.4, 3, 1334)],
)
def test_batches_are_few_and_equal(wanted_kg: float, batches: int, batch_kg: float):
    """As few batches as fit, all of one mass on the division, at least what is wanted."""
    found = cut(wanted_kg)
    assert found is not None
    assert (found.batches, found.batch_mg) == (batches, round(batch_kg * 1e6))
    assert found.mass_mg >= wanted_kg * 1e6
    assert not found.is_smallest_fill


def test_too_little_becomes_one_smallest_fill_with_its_surplus():
    """An order of 120 kg on a mixer that needs 500 becomes 500, 380 of them surplus."""
    found = cut(120)
    assert found is not None
    assert (found.batches, found.batch_mg, found.surplus_mg) == (1, 500_000_000, 380_000_000)
    assert found.is_smallest_fill


def test_volume_bounds_a_batch_as_mass_does():
    """A light feed fills the mixer before it is heavy: 4 m3 of 250 kg/m3 are 1,000 kg."""
    light = dataclasses.replace(LAYER, density_kg_m3=250.0)
    found = cut_into_batches(MILL, light, MX1, wanted_mg=1_500_000_000, loss_frac=0.0, parts={})
    assert found is not None
    assert (found.batches, found.batch_mg) == (2, 750_000_000)


def test_a_formula_of_light_ingredients_bounds_a_batch_by_their_volume():
    """Half of it at 200 kg/m3 and half at 600: 300 kg/m3, so that 4 m3 hold 1,200 kg of it."""
    first, second = MILL.ingredients[0], MILL.ingredients[1]
    mill = dataclasses.replace(
        MILL,
        ingredients=(
            dataclasses.replace(first, density_kg_m3=200.0),
            dataclasses.replace(second, density_kg_m3=600.0),
            *MILL.ingredients[2:],
        ),
    )
    parts = {first.ingredient: 0.5, second.ingredient: 0.5}
    assert filling_kg_m3(mill, LAYER, parts) == pytest.approx(300.0)
    found = cut_into_batches(mill, LAYER, MX1, wanted_mg=1_500_000_000, loss_frac=0.0, parts=parts)
    assert found is not None
    assert (found.batches, found.batch_mg) == (2, 750_000_000)
    once = cut_into_batches(mill, LAYER, MX1, wanted_mg=1_199_000_000, loss_frac=0.0, parts=parts)
    assert once is not None
    assert once.batches == 1


def test_a_feed_lighter_than_its_ingredients_is_bounded_by_itself():
    """Heavy ingredients do not make a mixer hold more than the feed's own density says."""
    parts = {MILL.ingredients[0].ingredient: 1.0}
    light = dataclasses.replace(LAYER, density_kg_m3=250.0)
    assert filling_kg_m3(MILL, light, parts) == pytest.approx(250.0)


def test_what_is_lost_on_the_way_is_mixed_too():
    """With one per cent lost as dust, 990 kg out need 1,000 kg in."""
    found = cut(990, loss_frac=0.01)
    assert found is not None
    assert found.batch_mg == 1_000_000_000


def test_the_coarsest_scale_decides_the_division():
    """With a scale of 5 kg beside one of 1 kg, batches are whole fives."""
    coarse = Scale(
        scale="SC9", machine="MX1", capacity_kg=2000, division_kg=5.0, smallest_draw_kg=50
    )
    mill = dataclasses.replace(MILL, scales=(*MILL.scales, coarse))
    found = cut_into_batches(mill, LAYER, MX1, wanted_mg=1_001_000_000, loss_frac=0.0, parts={})
    assert found is not None
    assert found.batch_mg == 1_005_000_000


def test_a_mixer_whose_smallest_fill_is_above_its_largest_batch_makes_nothing():
    """A feed so light that the smallest fill does not fit by volume cannot be made there."""
    light = dataclasses.replace(LAYER, density_kg_m3=100.0)
    assert cut_into_batches(MILL, light, MX1, wanted_mg=10**9, loss_frac=0.0, parts={}) is None


def test_bags_are_whole_and_never_short():
    """1,001 kg are 41 bags of 25 kg; 1,000 kg are 40."""
    assert bags_of(LAYER, 1_001_000_000) == 41
    assert bags_of(LAYER, 1_000_000_000) == 40
    assert bags_of(dataclasses.replace(LAYER, pack_kg=None), 10**9) == 0
