"""How full a mixer gets by the bulk densities of a batch's draws."""

import math
from dataclasses import replace

import pytest

from bedstone.desk.bin_room import density_of
from bedstone.desk.mixer_fill import fill_of, unmet_fill
from bedstone.desk.revisions import current_mill
from bedstone.mill.model import Mill
from bedstone.mill.plan import Verdict
from fakes.desk_day import PLAN, a_day

BATCH = next(row for row in PLAN.batches if len(row.draws) > 1)


def with_volume(volume_m3: float | None) -> Mill:
    """The mill with its mixers of another volume."""
    mill = current_mill(a_day())
    machines = tuple(
        replace(row, volume_max_m3=volume_m3) if row.kind == "mixer" else row
        for row in mill.machines
    )
    return replace(mill, machines=machines)


def test_volumes_of_draws_add_up_with_their_errors():
    """Sum of mass over density, errors as the root of their squares, by hand."""
    mill = with_volume(9.0)
    fill = fill_of(mill, BATCH)
    assert fill is not None
    parts = [(draw.target_mg / 1e6, density_of(mill, draw.ingredient)) for draw in BATCH.draws]
    volume = math.fsum(kg / row.density_kg_m3 for kg, row in parts)
    assert fill.volume_m3 == pytest.approx(volume)
    assert fill.mash_kg_m3 == pytest.approx(math.fsum(kg for kg, _ in parts) / volume)
    squares = math.fsum((kg * row.sd_kg_m3 / row.density_kg_m3**2) ** 2 for kg, row in parts)
    assert fill.sd_m3 == pytest.approx(math.sqrt(squares))


def test_a_light_formula_overfills_and_what_fits_says_nothing():
    """A mixer a tenth too small is to act on with how much less fits, a near one worth knowing."""
    volume = fill_of(with_volume(9.0), BATCH)
    assert volume is not None
    assert unmet_fill(with_volume(9.0), BATCH) == ()
    (over,) = unmet_fill(with_volume(volume.volume_m3 / 1.1), BATCH)
    assert over.verdict is Verdict.ACT
    assert "overfills" in over.text
    assert "less in a batch" in over.do
    (near,) = unmet_fill(with_volume(volume.volume_m3 + volume.sd_m3), BATCH)
    assert near.verdict is Verdict.NOTE
    assert fill_of(with_volume(None), BATCH) is None


def test_each_draw_says_its_volume_and_where_its_density_is_from():
    """The page lists them: as many as draws, together the fill, none without a source."""
    fill = fill_of(with_volume(9.0), BATCH)
    assert fill is not None
    assert [row.ingredient for row in fill.taken] == [row.ingredient for row in BATCH.draws]
    assert math.fsum(row.volume_m3 for row in fill.taken) == pytest.approx(fill.volume_m3)
    assert all(row.density.source for row in fill.taken)
