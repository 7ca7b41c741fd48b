"""Volume of a bin from its shape, its level, and the slope at which its top lies.

A section is round or rectangular; the bottom is flat, or a hopper that narrows straight to its
outlet on all sides (cone, pyramid) or on two (wedge). Where the outlet lies makes no difference to
the volume below a level: layers shifted sideways stay as large (Cavalieri). The top of the material
is a heap with its peak below the spout, falling at the angle of repose, or a crater of the same
slope above the outlet where it was drawn down through a core; there the outlet's place counts.
"""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from bedstone.errors import BadInput

__all__ = ["BinShape", "Hopper", "Section", "Strapping", "Top"]

Floats = npt.NDArray[np.float64]
Section = Literal["round", "rectangle"]
Hopper = Literal["flat", "cone", "pyramid", "wedge"]
Top = Literal["level", "heap", "crater"]
_ROUGH = 1e-9
_MOST_ANGLE_DEG = 60.0
_STEPS = 240


@dataclass(frozen=True, slots=True, kw_only=True)
class BinShape:
    """A bin: width (a round bin's diameter) and length of its section, height of the straight wall,
    and its hopper. ``spout_off_m`` and ``outlet_off_m`` are how far spout and outlet are from the
    middle of the section, both measured along the width and the same way.
    """

    section: Section
    width_m: float
    length_m: float
    wall_m: float
    hopper: Hopper = "flat"
    hopper_m: float = 0.0
    outlet_width_m: float = 0.0
    outlet_length_m: float = 0.0
    spout_off_m: float = 0.0
    outlet_off_m: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a bin that cannot be."""
        if min(self.width_m, self.length_m) <= 0 or self.wall_m < 0 or self.height_m <= 0:
            raise BadInput(
                "A bin has width, length and height.",
                seen=f"{self.width_m:g} x {self.length_m:g} x {self.height_m:g} m",
                allowed="all above 0",
            )
        if self.section == "round" and abs(self.width_m - self.length_m) > _ROUGH:
            raise BadInput(
                "A round bin is as long as it is wide.",
                seen=f"{self.width_m:g} and {self.length_m:g} m",
                allowed="one diameter, given twice",
            )
        if (self.hopper == "flat") != (self.hopper_m == 0):
            raise BadInput(
                "A hopper has height, a flat bottom has none.",
                seen=f"{self.hopper}, {self.hopper_m:g} m",
                allowed="flat with 0 m, or a hopper with more",
            )
        if self.hopper_m and not (
            0 <= self.outlet_width_m <= self.width_m and 0 <= self.outlet_length_m <= self.length_m
        ):
            raise BadInput(
                "An outlet is no larger than its bin.",
                seen=f"{self.outlet_width_m:g} x {self.outlet_length_m:g} m",
                allowed=f"up to {self.width_m:g} x {self.length_m:g} m",
            )
        if abs(self.outlet_off_m) + self.outlet_width_m / 2 > self.width_m / 2:
            raise BadInput(
                "The outlet lies within its bin.",
                seen=f"{self.outlet_off_m:g} m from the middle",
                allowed=f"up to {(self.width_m - self.outlet_width_m) / 2:g} m",
            )
        if (self.section == "round") != (self.hopper in {"flat", "cone"}) and self.hopper != "flat":
            raise BadInput(
                "The hopper does not fit the section.",
                seen=f"{self.hopper} under a {self.section} section",
                allowed="a cone under a round bin; a pyramid or wedge under a rectangular one",
            )

    @property
    def height_m(self) -> float:
        """From outlet to rim."""
        return self.wall_m + self.hopper_m

    def _sides_m(self, height_m: float) -> tuple[float, float]:
        """Width and length of the section at a height above the outlet."""
        if height_m >= self.hopper_m or not self.hopper_m:
            return self.width_m, self.length_m
        share = height_m / self.hopper_m
        width = self.outlet_width_m + share * (self.width_m - self.outlet_width_m)
        if self.hopper == "wedge":
            return width, self.length_m
        return width, self.outlet_length_m + share * (self.length_m - self.outlet_length_m)

    def area_m2(self, height_m: float) -> float:
        """Area of the section at a height above the outlet.

        Parameters
        ----------
        height_m : float
            Above the outlet. [m]

        Returns
        -------
        area_m2 : float
            Area. [m2]
        """
        width, length = self._sides_m(height_m)
        return math.pi / 4 * width * length if self.section == "round" else width * length

    def level_volume_m3(self, height_m: float) -> float:
        """Volume below a level surface.

        Parameters
        ----------
        height_m : float
            Of the surface above the outlet; held between outlet and rim. [m]

        Returns
        -------
        volume_m3 : float
            Volume. [m3]

        Sources
        -------
        [1] Prismoid: height/6 times the areas of both ends and four times the middle's, exact
            where sides are straight (frustum of cone and pyramid, wedge).
        """
        height_m = min(max(height_m, 0.0), self.height_m)
        low = min(height_m, self.hopper_m)
        volume = (
            low / 6 * (self.area_m2(0.0) + 4 * self.area_m2(low / 2) + self._area_below(low))
            if low
            else 0.0
        )
        return volume + max(height_m - self.hopper_m, 0.0) * self.area_m2(self.height_m)

    def _area_below(self, height_m: float) -> float:
        """Area reached from below: at the joint the hopper's own."""
        if height_m < self.hopper_m:
            return self.area_m2(height_m)
        return self.area_m2(self.height_m)

    def volume_m3(self, depth_m: float, *, top: Top = "level", repose_deg: float = 0.0) -> float:
        """Volume when a tape lowered below the spout meets material at a depth below the rim.

        Parameters
        ----------
        depth_m : float
            From the rim down to the material. [m]
        top : str
            ``heap`` under the spout, ``crater`` above the outlet (the tape taken as lowered into
            it), or ``level``.
        repose_deg : float
            Angle of the slope, degrees.

        Returns
        -------
        volume_m3 : float
            Volume. [m3]

        Raises
        ------
        BadInput
            If the depth is below nothing or the angle is no angle of repose.

        Sources
        -------
        [1] Integral over the section of the height of a cone of that slope, held between bottom
            and rim; numerically, over rings about the peak.
        """
        if not 0 <= repose_deg <= _MOST_ANGLE_DEG:
            raise BadInput(
                "No material lies at that angle.",
                seen=f"{repose_deg:g} degrees",
                allowed=f"0 to {_MOST_ANGLE_DEG:g}",
            )
        if depth_m < 0:
            raise BadInput(
                "A tape reads down from the rim.", seen=f"{depth_m:g} m", allowed="0 m or more"
            )
        peak_m = self.height_m - depth_m
        slope = math.tan(math.radians(repose_deg))
        if top == "level" or slope < _ROUGH or (peak_m <= 0 and top == "heap"):
            return self.level_volume_m3(peak_m)
        return self._sloped_m3(peak_m, slope if top == "crater" else -slope, top)

    def _sloped_m3(self, peak_m: float, slope: float, top: Top) -> float:
        """Columns of the section, each as high as the cone above it, over a grid of midpoints."""
        off = self.outlet_off_m if top == "crater" else self.spout_off_m
        middles = (np.arange(_STEPS) + 0.5) / _STEPS - 0.5
        x, y = np.meshgrid(middles * self.width_m, middles * self.length_m, indexing="ij")
        surface = np.clip(peak_m + slope * np.hypot(x - off, y), 0.0, self.height_m)
        columns = np.maximum(surface - self._floor_m(x, y), 0.0)
        if self.section == "rectangle":
            return float(columns.mean()) * self.width_m * self.length_m
        inside = np.hypot(x, y) <= self.width_m / 2
        return float(columns[inside].mean()) * math.pi / 4 * self.width_m**2

    def _floor_m(self, x: Floats, y: Floats) -> Floats:
        """Height of the hopper's wall above the outlet at points of the section."""
        if not self.hopper_m:
            return np.zeros_like(x)
        if self.hopper == "cone":
            return self.hopper_m * self._cone_share(x, y)
        off = self.outlet_off_m
        across = np.maximum(
            _share(x - off, self.outlet_width_m / 2, self.width_m / 2 - off),
            _share(off - x, self.outlet_width_m / 2, self.width_m / 2 + off),
        )
        if self.hopper == "wedge":
            return self.hopper_m * across
        along = _share(np.abs(y), self.outlet_length_m / 2, self.length_m / 2)
        return self.hopper_m * np.maximum(across, along)

    def _cone_share(self, x: Floats, y: Floats) -> Floats:
        """How far up the cone's wall a point is, 0 at the outlet's edge to 1 at the bin's wall.

        At a share s the section is a circle about off (1 - s) of radius r + s (R - r), so s is the
        root of a quadratic; with the outlet in the middle it is a straight line.
        """
        off, small = self.outlet_off_m, self.outlet_width_m / 2
        wider = self.width_m / 2 - small
        if wider <= _ROUGH:
            return np.zeros_like(x)
        far = x - off
        square = off**2 - wider**2
        line = 2 * (far * off - small * wider)
        rest = far**2 + y**2 - small**2
        if abs(square) <= _ROUGH:
            share = np.where(line < 0, -rest / np.minimum(line, -_ROUGH), 1.0)
        else:
            root = np.sqrt(np.maximum(line**2 - 4 * square * rest, 0.0))
            share = (-line - root) / (2 * square)
        return np.where(rest <= 0, 0.0, np.clip(share, 0.0, 1.0))


def _share(far: Floats, outlet_m: float, wall_m: float) -> Floats:
    """How far out between the outlet's edge and the wall, 0 at the edge; nothing where they meet."""
    if wall_m - outlet_m <= _ROUGH:
        return np.where(far > outlet_m, 1.0, 0.0)
    return np.maximum(far - outlet_m, 0.0) / (wall_m - outlet_m)


@dataclass(frozen=True, slots=True, kw_only=True)
class Strapping:
    """A table of volume by depth below the rim that came with a bin or tank; it goes before shape."""

    depth_m: tuple[float, ...]
    volume_m3: tuple[float, ...]

    def __post_init__(self) -> None:
        """Refuse a table that is no table."""
        falls = all(a < b for a, b in zip(self.depth_m, self.depth_m[1:], strict=False))
        shrinks = all(a >= b for a, b in zip(self.volume_m3, self.volume_m3[1:], strict=False))
        if (
            len(self.depth_m) < 2  # noqa: PLR2004 - two points make a line
            or len(self.depth_m) != len(self.volume_m3)
            or not falls
            or not shrinks
            or min(self.volume_m3) < 0
        ):
            raise BadInput(
                "A table of volumes goes from the rim down.",
                seen=f"{len(self.depth_m)} depths, {len(self.volume_m3)} volumes",
                allowed="two rows or more, depth rising, volume falling, none below 0",
            )

    def volume_at_m3(self, depth_m: float) -> float:
        """Volume at a depth, straight between rows.

        Parameters
        ----------
        depth_m : float
            Below the rim. [m]

        Returns
        -------
        volume_m3 : float
            Volume. [m3]

        Raises
        ------
        BadInput
            If the depth is outside the table.
        """
        if not self.depth_m[0] <= depth_m <= self.depth_m[-1]:
            raise BadInput(
                "The depth is outside the bin's table of volumes.",
                seen=f"{depth_m:g} m",
                allowed=f"{self.depth_m[0]:g} to {self.depth_m[-1]:g} m",
                do="Read the tape again.",
            )
        for index in range(1, len(self.depth_m)):
            if depth_m <= self.depth_m[index]:
                low, high = self.depth_m[index - 1], self.depth_m[index]
                share = (depth_m - low) / (high - low)
                return self.volume_m3[index - 1] + share * (
                    self.volume_m3[index] - self.volume_m3[index - 1]
                )
        return self.volume_m3[-1]
