"""The bins of the demo are built so that they hold what the tables say, and a tape tells how much."""

import pytest

from bedstone.demo.past.watch import Taping
from bedstone.demo.quillback.packaged import packaged_mill
from bedstone.ledger.model import FlowPattern
from bedstone.mill.model import Mill
from bedstone.mill.storage_tables import BinMeasure
from bedstone.storage.levels import shape_of


@pytest.fixture(scope="module")
def quillback() -> Mill:
    """The demo's tables."""
    return packaged_mill()


def for_ingredients(mill: Mill) -> list[BinMeasure]:
    """Shapes of the bins that are kept for one ingredient."""
    return [
        row for row in mill.bin_shapes if mill.bin_by_code[row.bin].holds in mill.ingredient_by_code
    ]


def test_a_finished_bin_holds_its_capacity_of_the_lightest_feed(quillback: Mill):
    """Whatever goes into it fits: the volume up to the rim takes the capacity of each feed."""
    finished = [row for row in quillback.bin_shapes if row not in for_ingredients(quillback)]
    assert [row.bin for row in finished] == [f"FB{number}" for number in range(1, 9)]
    for row in finished:
        feeds = [one for one in quillback.products if row.bin in one.route]
        lightest = min(one.density_kg_m3 for one in feeds)
        shape = shape_of(row)
        full = shape.level_volume_m3(shape.height_m) * lightest
        capacity = quillback.bin_by_code[row.bin].capacity_kg
        assert capacity <= full <= 1.15 * capacity


def test_every_bin_holds_its_capacity(quillback: Mill):
    """Volume under a heap times density is the capacity or a little more, in every measured bin."""
    for row in for_ingredients(quillback):
        held = quillback.bin_by_code[row.bin]
        density = quillback.ingredient_by_code[held.holds].density_kg_m3
        full = shape_of(row).volume_m3(0.0, top="heap", repose_deg=row.repose_deg) * density
        assert held.capacity_kg <= full <= 1.05 * held.capacity_kg


def test_mass_flow_stands_on_a_steep_hopper(quillback: Mill):
    """No bin that is said to empty first in, first out has a flat or a shallow bottom."""
    for row in quillback.bin_shapes:
        if quillback.bin_by_code[row.bin].flow == FlowPattern.MASS.value:
            assert row.hopper != "flat"
            assert row.hopper_m > 1.5 * (row.width_m - row.outlet_width_m) / 2


@pytest.mark.parametrize("part", [0.05, 0.4, 0.97])
def test_a_tape_and_its_mass_agree(quillback: Mill, part: float):
    """What the tape shows for a mass means that mass again, within a hundredth of the capacity."""
    for row in for_ingredients(quillback):
        held = quillback.bin_by_code[row.bin]
        density = quillback.ingredient_by_code[held.holds].density_kg_m3
        funnel = held.flow == FlowPattern.FUNNEL.value
        depth = Taping.of(quillback, held).shown_m(part * held.capacity_kg)
        mass = density * shape_of(row).volume_m3(
            depth, top="crater" if funnel else "heap", repose_deg=row.repose_deg
        )
        assert mass == pytest.approx(part * held.capacity_kg, abs=0.01 * held.capacity_kg)
