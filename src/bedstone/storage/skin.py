"""How much of a bin's skin lies bare over what is in it, and how much of it touches what is in it."""

import math
from dataclasses import dataclass

from bedstone.errors import BadInput
from bedstone.storage.shape import BinShape

__all__ = ["Skin", "skin_of", "slim_bin"]

SLIM = 2.0
"""A bin of which nobody knows the shape is taken as round and twice as high as wide: common
practice, no source."""
HALVINGS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Skin:
    """Areas of a bin with a level surface in it."""

    level_m: float  # above the outlet
    top_m2: float  # of the surface
    bare_m2: float  # roof, taken as flat, and wall above the surface
    touched_m2: float  # wall and hopper below it


def slim_bin(volume_m3: float) -> BinShape:
    """A round bin with a flat bottom of a volume, where no shape is known.

    Parameters
    ----------
    volume_m3 : float
        The whole of it, above 0. [m3]

    Returns
    -------
    shape : BinShape
        Twice as high as wide.
    """
    wide_m = (4 * volume_m3 / (math.pi * SLIM)) ** (1 / 3)
    return BinShape(section="round", width_m=wide_m, length_m=wide_m, wall_m=SLIM * wide_m)


def skin_of(shape: BinShape, volume_m3: float) -> Skin:
    """The skin of a bin that holds a volume with a level surface.

    Parameters
    ----------
    shape : BinShape
        The bin.
    volume_m3 : float
        What lies in it. [m3]

    Returns
    -------
    skin : Skin
        Areas. [m2]

    Raises
    ------
    BadInput
        If it holds nothing, or more than fits below its rim.

    Sources
    -------
    [1] A hopper's wall is as long as the slope between its ends: a frustum of a cone exactly, of a
        pyramid or wedge with a middle outlet exactly, with another one a little less than it is.
    """
    whole_m3 = shape.level_volume_m3(shape.height_m)
    if not 0 < volume_m3 <= whole_m3 * (1 + 1e-9):
        raise BadInput(
            "This does not lie in a bin of that shape.",
            seen=f"{volume_m3:g} m3",
            allowed=f"above 0, up to {whole_m3:g} m3 below the rim",
            do="look at the mass, the bulk density and the bin's measures",
        )
    low_m, high_m = 0.0, shape.height_m
    for _ in range(HALVINGS):
        level_m = (low_m + high_m) / 2
        if shape.level_volume_m3(level_m) < volume_m3:
            low_m = level_m
        else:
            high_m = level_m
    level_m = high_m
    around_m = (
        math.pi * shape.width_m
        if shape.section == "round"
        else 2 * (shape.width_m + shape.length_m)
    )
    straight_m = max(level_m - shape.hopper_m, 0.0)
    sloped_m2 = _hopper_m2(shape, min(level_m, shape.hopper_m))
    above_m2 = _hopper_m2(shape, shape.hopper_m) - sloped_m2
    return Skin(
        level_m=level_m,
        top_m2=shape.area_m2(level_m),
        bare_m2=shape.area_m2(shape.height_m) + around_m * (shape.wall_m - straight_m) + above_m2,
        touched_m2=around_m * straight_m + sloped_m2,
    )


def _hopper_m2(shape: BinShape, height_m: float) -> float:
    """Wall of the hopper up to a height, its outlet left out."""
    if not shape.hopper_m or height_m <= 0:
        return 0.0
    share = height_m / shape.hopper_m
    if shape.hopper == "cone":
        low, high = shape.outlet_width_m / 2, shape.width_m / 2
        here = low + share * (high - low)
        return math.pi * (low + here) * math.hypot(height_m, here - low)
    out_m = shape.outlet_width_m
    half_m = share * (shape.width_m - out_m) / 2
    wide_m = out_m + 2 * half_m
    if shape.hopper == "wedge":
        ends_m2 = (out_m + wide_m) * height_m  # two upright ends
        return 2 * shape.length_m * math.hypot(height_m, half_m) + ends_m2
    long_half_m = share * (shape.length_m - shape.outlet_length_m) / 2
    long_m = shape.outlet_length_m + 2 * long_half_m
    return (out_m + wide_m) * math.hypot(height_m, long_half_m) + (
        shape.outlet_length_m + long_m
    ) * math.hypot(height_m, half_m)
