"""What the pellet line refuses, and which way its answers must move."""

import numpy as np
import pytest

from bedstone.errors import BadInput
from bedstone.pelleting.die import Die, die_life, die_work, motor_kw, pellet_length_mm
from bedstone.pelleting.durability import durability, repeats_of
from bedstone.pelleting.particle_size import STANDARD_STACK_UM, particle_size


def test_dies_and_motors_that_cannot_be_are_refused() -> None:
    """Holes over holes, negative amps, no knife, a die of no life."""
    with pytest.raises(BadInput, match="cut into one another"):
        Die(hole_mm=6, effective_mm=50, holes=9000, inner_diameter_mm=520, face_width_mm=130)
    with pytest.raises(BadInput, match="motor"):
        motor_kw(460, -1)
    die = Die(hole_mm=4.8, effective_mm=44.5, holes=2500, inner_diameter_mm=520, face_width_mm=130)
    with pytest.raises(BadInput, match="Load and rate"):
        die_work(die, 2.0, 10.0, idle_kw=30.0)
    with pytest.raises(BadInput, match="Nothing cuts"):
        pellet_length_mm(die_work(die, 2.0, 70.0), 0, 250)
    with pytest.raises(BadInput, match="Tonnes and price"):
        die_life(10.0, 0.0, 4000)
    assert die_life(9_100.0, 10_000.0, 4_000).due
    assert not die_life(8_000.0, 10_000.0, 4_000).due


def test_durability_has_an_interval_and_refuses_more_than_was_put_in() -> None:
    """One test rests on the usual repeatability, several on their own spread, and all on the mill's
    where it is known.
    """
    one, several = durability([450.0]), durability([450.0, 451.0, 449.0, 450.5, 449.5])
    assert one.index_lo < 90 < one.index_hi
    assert one.sd is None
    assert several.index_hi - several.index_lo < one.index_hi - one.index_lo
    with pytest.raises(BadInput, match="durability test"):
        durability([510.0])
    with pytest.raises(BadInput, match="durability test"):
        durability([])


def test_repeats_of_a_mill_hold_the_truth_nineteen_times_in_twenty() -> None:
    """Samples tumbled three times with 0.7 points between repeats: the pooled spread is found, and
    of 400 samples 92 to 98 % have their true index in the interval; three alike claim no more.
    """
    draw = np.random.default_rng(11)
    true = draw.uniform(80, 95, 400)
    tests = [([float(5 * (one + draw.normal(0, 0.7))) for _ in range(3)], 500.0) for one in true]
    pooled = repeats_of(tests)
    assert pooled.sd == pytest.approx(0.7, abs=0.05)
    assert pooled.spare == 800
    held = 0
    for one, (kept, _) in zip(true, tests, strict=True):
        found = durability(kept, repeats=pooled)
        held += found.index_lo <= one <= found.index_hi
    assert 0.92 < held / len(tests) < 0.98
    alike = durability([450.0, 450.0, 450.0], repeats=pooled)
    assert alike.index_hi - alike.index_lo > 1.0


def test_sieves_out_of_order_or_lossy_are_refused() -> None:
    """Fine before coarse, a negative mass, and a tenth of the sample gone."""
    with pytest.raises(BadInput, match="not in order"):
        particle_size([100, 200], [1, 1, 1])
    with pytest.raises(BadInput, match="Masses"):
        particle_size([200, 100], [1, -1, 1])
    masses = [5.0] * 15
    with pytest.raises(BadInput, match="do not account"):
        particle_size(STANDARD_STACK_UM, masses, sample_g=100.0)
