"""The outline of a bin on paper: drawn to its own measures where the tables have them."""

import math
from collections.abc import Callable
from dataclasses import dataclass

from bedstone.desk.bin_room import measure_of
from bedstone.mill.model import Bin, Mill
from bedstone.storage.levels import shape_of
from bedstone.storage.shape import BinShape

__all__ = ["Outline", "outline_of"]

WIDTH_PX, HEIGHT_PX = 110, 150
TOP_PX, FOOT_PX = 8.0, 142.0
ACROSS_PX = 94.0
PLAIN = {
    "hopper": "M14 8H96V100L66 142H44L14 100Z",
    "tank": "M14 20Q14 8 26 8H84Q96 8 96 20V130Q96 142 84 142H26Q14 142 14 130Z",
    "floor": "M10 62H100V142H10Z",
}
KINDS = {"tank": "tank", "floor": "floor", "warehouse": "floor"}
TOPS_PX = {"floor": 62.0}
HALVINGS = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """The path of an outline, and how far above its foot a filling ends, by the part that is full."""

    path: str
    level_px: Callable[[float], float]
    words: str


def outline_of(mill: Mill | None, row: Bin) -> Outline:
    """A bin's own outline from its measures, else one of its kind that is drawn to no measure."""
    found = None if mill is None else measure_of(mill, row.bin)
    if found is not None:
        return _measured(shape_of(found))
    kind = KINDS.get(row.kind, "hopper")
    reach = FOOT_PX - TOPS_PX.get(kind, TOP_PX)
    return Outline(path=PLAIN[kind], level_px=lambda part: reach * part, words="")


def _measured(shape: BinShape) -> Outline:
    """Seen along its length, as large as the picture allows; levels are where the volume says."""
    scale = min((FOOT_PX - TOP_PX) / shape.height_m, ACROSS_PX / shape.width_m)
    middle = WIDTH_PX / 2
    half, out = shape.width_m / 2 * scale, shape.outlet_width_m / 2 * scale
    mouth = middle + shape.outlet_off_m * scale
    rim, knee = FOOT_PX - shape.height_m * scale, FOOT_PX - shape.hopper_m * scale
    points = [(middle - half, rim), (middle + half, rim), (middle + half, knee)]
    if shape.hopper_m:
        points += [(mouth + out, FOOT_PX), (mouth - out, FOOT_PX)]
    points.append((middle - half, knee))
    path = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points) + "Z"
    whole_m3 = shape.level_volume_m3(shape.height_m)
    return Outline(
        path=path,
        level_px=lambda part: scale * _height_m(shape, part * whole_m3),
        words=f"drawn to its own measures, {_bottom(shape)}",
    )


def _bottom(shape: BinShape) -> str:
    if not shape.hopper_m:
        return "flat bottom"
    run = (shape.width_m - shape.outlet_width_m) / 2
    steep = round(math.degrees(math.atan2(shape.hopper_m, run)))
    return f"{shape.hopper} at {steep} degrees"


def _height_m(shape: BinShape, volume_m3: float) -> float:
    """Height of a level surface above the outlet that has so much below it."""
    low, high = 0.0, shape.height_m
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        if shape.level_volume_m3(middle) < volume_m3:
            low = middle
        else:
            high = middle
    return high
