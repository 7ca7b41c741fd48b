"""Volumes of bins against closed forms, printed worked examples and meshes of another library."""

import math

import numpy as np
import pytest
import trimesh
from scipy.integrate import dblquad

from bedstone.errors import BadInput
from bedstone.storage.shape import BinShape

FT = 0.3048
BUSHEL_M3 = 0.03523907016688


def silo(**other: float) -> BinShape:
    """A round bin of 4 m with a hopper of 3 m."""
    given = {"wall_m": 8.0, "hopper_m": 3.0, "outlet_width_m": 0.4, "outlet_length_m": 0.4, **other}
    return BinShape(section="round", width_m=4.0, length_m=4.0, hopper="cone", **given)


def test_a_silo_of_forty_by_thirty_feet():
    """Printed: 40 ft across, 30 ft high holds 37,699 ft3 and 30,295 bushels (spikevm.com)."""
    bin_ = BinShape(section="round", width_m=40 * FT, length_m=40 * FT, wall_m=30 * FT)
    volume = bin_.level_volume_m3(bin_.height_m)
    assert volume / FT**3 == pytest.approx(37_699, abs=1)
    assert volume / BUSHEL_M3 == pytest.approx(30_295, rel=2e-4)


def test_a_silo_by_its_girth():
    """Printed: circumference 32 ft, 12 ft high holds 977.9 ft3 (afsc.ca, with 0.07958)."""
    width = 32 * FT / math.pi
    bin_ = BinShape(section="round", width_m=width, length_m=width, wall_m=12 * FT)
    assert bin_.level_volume_m3(12 * FT) / FT**3 == pytest.approx(977.9, rel=2e-4)


def test_a_cone_is_a_third_of_its_cylinder():
    """14 ft by 9 ft: pi/12 D2 H = 461.8 ft3; the guide's rule of 0.31416 D2 H is wrong by a fifth."""
    cone = BinShape(
        section="round", width_m=14 * FT, length_m=14 * FT, wall_m=0.0, hopper="cone",
        hopper_m=9 * FT,
    )  # fmt: skip
    assert cone.level_volume_m3(9 * FT) / FT**3 == pytest.approx(461.8, abs=0.1)


@pytest.mark.parametrize(
    ("hopper", "outlet"), [("pyramid", (0.5, 0.8)), ("wedge", (0.5, 5.0)), ("pyramid", (0.0, 0.0))]
)
def test_rectangular_hoppers_are_the_hulls_of_their_corners(
    hopper: str, outlet: tuple[float, float]
):
    """A hull of eight corners, measured by trimesh, has the volume of the hopper."""
    width, length, deep = 3.0, 5.0, 2.5
    corners = [
        (sx * w / 2, sy * n / 2, z)
        for w, n, z in ((*outlet, 0.0), (width, length, deep))
        for sx in (-1, 1)
        for sy in (-1, 1)
    ]
    mesh = trimesh.convex.convex_hull(np.unique(np.array(corners), axis=0))
    bin_ = BinShape(
        section="rectangle", width_m=width, length_m=length, wall_m=4.0, hopper=hopper,
        hopper_m=deep, outlet_width_m=outlet[0], outlet_length_m=outlet[1],
    )  # fmt: skip
    assert bin_.level_volume_m3(deep) == pytest.approx(mesh.volume, rel=1e-9)
    assert bin_.level_volume_m3(deep + 1) == pytest.approx(mesh.volume + 15.0, rel=1e-9)


def test_an_outlet_off_centre_changes_nothing():
    """Cavalieri: a hull whose outlet lies to one side has the same volume (trimesh)."""
    hulls = []
    for off in (0.0, 1.1):
        ring = np.linspace(0, 2 * math.pi, 721)[:-1]
        low = np.column_stack((off + 0.2 * np.cos(ring), 0.2 * np.sin(ring), 0 * ring))
        high = np.column_stack((2 * np.cos(ring), 2 * np.sin(ring), 0 * ring + 3.0))
        hulls.append(trimesh.convex.convex_hull(np.vstack((low, high))).volume)
    assert hulls[0] == pytest.approx(hulls[1], rel=1e-6)
    assert silo().level_volume_m3(3.0) == pytest.approx(hulls[0], rel=1e-4)


@pytest.mark.parametrize("off", [-1.2, 0.7, 1.8])
def test_a_hopper_to_one_side_holds_what_a_straight_one_does(off: float):
    """Cavalieri: cut almost level, the slanted hopper's grid sums to the straight hopper's volume."""
    for depth in (1.0, 8.0, 9.0, 10.0):
        level = silo().volume_m3(depth)
        seen = silo(outlet_off_m=off).volume_m3(depth, top="crater", repose_deg=0.01)
        assert seen == pytest.approx(level, rel=1.5e-2 if depth > 9 else 5e-3)


def test_a_crater_above_an_outlet_to_one_side_against_quadrature():
    """Surface above the outlet 1.2 m off the middle, in the wall of a flat bin, by SciPy."""
    flat = {"hopper_m": 0.0, "outlet_width_m": 0.0, "outlet_length_m": 0.0}
    bin_ = BinShape(
        section="round", width_m=4.0, length_m=4.0, wall_m=11.0, outlet_off_m=1.2, hopper="flat"
    )
    slope = math.tan(math.radians(28))

    def column(r: float, turn: float) -> float:
        away = math.hypot(r * math.cos(turn) - 1.2, r * math.sin(turn))
        return r * min(11.0, 6.0 + slope * away)

    whole, _ = dblquad(column, 0, 2 * math.pi, 0, 2, epsabs=1e-5)
    assert bin_.volume_m3(5.0, top="crater", repose_deg=28) == pytest.approx(whole, rel=2e-3)
    middle = BinShape(section="round", width_m=4.0, length_m=4.0, wall_m=11.0, **flat)
    assert bin_.volume_m3(5.0, top="crater", repose_deg=28) > 1.02 * middle.volume_m3(
        5.0, top="crater", repose_deg=28
    )


def test_a_heap_up_to_the_rim_in_the_wall():
    """Peak at the rim under a middle spout: wall below the cone's foot, and pi R3 tan/3 above."""
    bin_ = silo()
    slope = math.tan(math.radians(28))
    full = bin_.level_volume_m3(11.0) - math.pi * 4 * 2 * slope + math.pi * 8 * slope / 3
    assert bin_.volume_m3(0.0, top="heap", repose_deg=28) == pytest.approx(full, rel=2e-3)


def test_a_crater_in_the_wall():
    """Lowest point 5 m down: the level volume there and a cone's ring of 2 pi R3 tan/3 above."""
    bin_ = silo()
    slope = math.tan(math.radians(28))
    whole = bin_.level_volume_m3(6.0) + 2 * math.pi * 8 * slope / 3
    assert bin_.volume_m3(5.0, top="crater", repose_deg=28) == pytest.approx(whole, rel=2e-3)


@pytest.mark.parametrize("depth", [0.5, 4.0, 7.5, 9.5])
@pytest.mark.parametrize(("top", "sign"), [("heap", -1), ("crater", 1)])
def test_slopes_that_cut_hopper_and_rim_against_quadrature(depth: float, top: str, sign: int):
    """The same integral in polar coordinates by SciPy, spout in the middle."""
    bin_, slope = silo(), math.tan(math.radians(32))

    def column(r: float, _: float) -> float:
        floor = 3.0 * max(0.0, r - 0.2) / 1.8
        return r * max(0.0, min(11.0, max(0.0, 11 - depth + sign * slope * r)) - floor)

    whole, _ = dblquad(column, 0, 2 * math.pi, 0, 2, epsabs=1e-5)
    assert bin_.volume_m3(depth, top=top, repose_deg=32) == pytest.approx(whole, rel=4e-3)


def test_a_spout_to_one_side_leaves_room():
    """A heap below a spout at the wall fills less than one below a spout in the middle."""
    middle = silo().volume_m3(0.0, top="heap", repose_deg=30)
    side = silo(spout_off_m=1.8).volume_m3(0.0, top="heap", repose_deg=30)
    assert side < 0.97 * middle


def test_bins_that_cannot_be_are_refused():
    """A cone under a rectangle, a hopper without height, an outlet wider than the bin."""
    with pytest.raises(BadInput, match="does not fit"):
        BinShape(section="rectangle", width_m=2, length_m=3, wall_m=4, hopper="cone", hopper_m=1)
    with pytest.raises(BadInput, match="hopper has height"):
        BinShape(section="round", width_m=2, length_m=2, wall_m=4, hopper="cone")
    with pytest.raises(BadInput, match="no larger"):
        silo(outlet_width_m=5.0)
