"""Skin of a bin, bare and touched."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bedstone.errors import BadInput
from bedstone.storage.shape import BinShape
from bedstone.storage.skin import skin_of, slim_bin

ROUND = BinShape(section="round", width_m=3.0, length_m=3.0, wall_m=5.0, hopper="cone",
                 hopper_m=2.0, outlet_width_m=0.4, outlet_length_m=0.4)  # fmt: skip
WEDGE = BinShape(section="rectangle", width_m=2.0, length_m=3.0, wall_m=4.0, hopper="wedge",
                 hopper_m=1.5, outlet_width_m=0.4, outlet_length_m=3.0)  # fmt: skip
PYRAMID = BinShape(section="rectangle", width_m=2.0, length_m=3.0, wall_m=4.0, hopper="pyramid",
                   hopper_m=1.5, outlet_width_m=0.3, outlet_length_m=0.3)  # fmt: skip


@given(part=st.floats(0.001, 1.0))
@pytest.mark.parametrize("shape", [ROUND, WEDGE, PYRAMID], ids=["cone", "wedge", "pyramid"])
def test_bare_and_touched_are_all_of_the_skin(shape: BinShape, part: float):
    """Whatever lies in it, bare and touched skin add up to roof, wall and hopper, and the level
    gives the volume back.
    """
    whole_m3 = shape.level_volume_m3(shape.height_m)
    full, skin = skin_of(shape, whole_m3), skin_of(shape, part * whole_m3)
    assert skin.bare_m2 + skin.touched_m2 == pytest.approx(full.bare_m2 + full.touched_m2)
    assert shape.level_volume_m3(skin.level_m) == pytest.approx(part * whole_m3, rel=1e-9)


def test_a_full_cone_by_hand():
    """Roof pi D2/4 bare; cylinder pi D h and frustum pi (R + r) s touched."""
    found = skin_of(ROUND, ROUND.level_volume_m3(ROUND.height_m))
    slant = math.hypot(2.0, 1.3)
    assert found.bare_m2 == pytest.approx(math.pi * 9 / 4)
    assert found.touched_m2 == pytest.approx(math.pi * (3.0 * 5.0 + (1.5 + 0.2) * slant))


def test_a_full_wedge_and_pyramid_by_hand():
    """A wedge has two slopes and two trapezoid ends; a pyramid four trapezoids."""
    wedge = skin_of(WEDGE, WEDGE.level_volume_m3(WEDGE.height_m)).touched_m2 - 10.0 * 4.0
    assert wedge == pytest.approx(2 * 3.0 * math.hypot(1.5, 0.8) + 2 * (0.4 + 2.0) / 2 * 1.5)
    pyramid = skin_of(PYRAMID, PYRAMID.level_volume_m3(PYRAMID.height_m)).touched_m2 - 10.0 * 4.0
    sides = 2 * (0.3 + 3.0) / 2 * math.hypot(1.5, 0.85) + 2 * (0.3 + 2.0) / 2 * math.hypot(
        1.5, 1.35
    )
    assert pyramid == pytest.approx(sides)


def test_a_slim_bin_holds_its_volume():
    """Twice as high as wide, and of the volume asked for."""
    found = slim_bin(25.0)
    assert found.level_volume_m3(found.height_m) == pytest.approx(25.0)
    assert found.wall_m == pytest.approx(2 * found.width_m)


@pytest.mark.parametrize("volume_m3", [0.0, -1.0, 1e6])
def test_what_does_not_fit_is_refused(volume_m3: float):
    """Nothing, less than nothing, or more than fits."""
    with pytest.raises(BadInput):
        skin_of(ROUND, volume_m3)
