"""The demo's shapes of bins and its simulator's tapes mean the same bins."""

import pytest

from bedstone.demo.past.watch import bin_height_m
from bedstone.demo.quillback.packaged import packaged_mill
from bedstone.desk.bin_room import holds_of


def test_shapes_are_the_cylinders_that_the_simulator_reads():
    """Every bin with a shape is as high as the simulator's, and full at its capacity."""
    mill = packaged_mill()
    assert len(mill.bin_shapes) == 16
    for row in mill.bin_shapes:
        held = mill.bin_by_code[row.bin]
        density = mill.ingredient_by_code[held.holds].density_kg_m3
        assert row.wall_m == pytest.approx(bin_height_m(held, density_kg_m3=density), abs=1e-3)
        assert holds_of(mill, held, held.holds).most_kg == pytest.approx(held.capacity_kg, rel=2e-3)
