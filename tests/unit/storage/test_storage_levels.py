"""From a tape to a mass with its error."""

import math

import pytest

from bedstone.errors import BadInput
from bedstone.mill.storage_tables import BinMeasure, VolumeAtDepth
from bedstone.storage.levels import MassSeen, difference, shape_of, strapping_of, taped

SILO = BinMeasure(bin="B01", section="round", width_m=4.0, wall_m=10.0)


def test_a_tape_in_an_upright_cylinder():
    """3 m down in a 4 m x 10 m cylinder: 28 pi m3; errors of tape and density add in squares."""
    seen = taped(shape_of(SILO), 3.0, depth_sd_m=0.1, density_kg_m3=700, density_sd_kg_m3=10)
    assert seen.volume_m3 == pytest.approx(28 * math.pi)
    assert seen.mass_kg == pytest.approx(28 * math.pi * 700)
    assert seen.sd_kg == pytest.approx(
        math.hypot(0.1 * 4 * math.pi * 700, 28 * math.pi * 10), rel=1e-9
    )


def test_a_table_of_volumes_goes_straight_between_its_rows():
    """Half way between rows is half way between volumes; outside is refused."""
    table = strapping_of(
        [
            VolumeAtDepth(bin="T01", depth_m=2.0, volume_m3=0.0),
            VolumeAtDepth(bin="T01", depth_m=0.0, volume_m3=10.0),
        ]
    )
    assert table is not None
    seen = taped(table, 0.5, depth_sd_m=0.01, density_kg_m3=1000, density_sd_kg_m3=0)
    assert seen.mass_kg == pytest.approx(7500)
    assert seen.sd_kg == pytest.approx(50)
    with pytest.raises(BadInput, match="outside"):
        taped(table, 2.5, depth_sd_m=0.01, density_kg_m3=1000, density_sd_kg_m3=0)
    assert strapping_of([]) is None


def test_a_tape_deeper_than_the_bin_is_refused():
    """A reading below the outlet is a slip."""
    with pytest.raises(BadInput, match="deeper"):
        taped(shape_of(SILO), 10.5, depth_sd_m=0.1, density_kg_m3=700, density_sd_kg_m3=10)


def test_a_difference_beyond_three_deviations_is_a_finding():
    """30 and 40 make 50: 149 is within three of them, 151 is not, either way."""
    seen = MassSeen(mass_kg=1000, sd_kg=30)
    assert not difference(seen, book_kg=1149, book_sd_kg=40).is_finding
    assert difference(seen, book_kg=1151, book_sd_kg=40).is_finding
    assert difference(seen, book_kg=849, book_sd_kg=40).more_kg == 151
