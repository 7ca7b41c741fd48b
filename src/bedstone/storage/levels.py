"""From a reading of a bin's level to mass with its error, and held against the books."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from bedstone.errors import BadInput
from bedstone.mill.storage_tables import BinMeasure, VolumeAtDepth
from bedstone.storage.shape import BinShape, Hopper, Strapping, Top

__all__ = ["Difference", "MassSeen", "difference", "shape_of", "strapping_of", "taped"]

SURE = 3.0
"""Standard deviations beyond which a difference is more than the errors."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MassSeen:
    """Mass by a reading and the standard deviation of its error."""

    mass_kg: float
    sd_kg: float
    volume_m3: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """What a reading has more than the books, its standard deviation, and is it beyond error."""

    more_kg: float
    sd_kg: float
    is_finding: bool


def shape_of(row: BinMeasure) -> BinShape:
    """The shape that a row of the tables measures.

    Parameters
    ----------
    row : BinMeasure
        A row that the tables' rules let pass.

    Returns
    -------
    shape : BinShape
        Its shape.
    """
    outlet_m = row.outlet_width_m if row.outlet_length_m is None else row.outlet_length_m
    return BinShape(
        section="round" if row.section == "round" else "rectangle",
        width_m=row.width_m,
        length_m=row.width_m if row.length_m is None else row.length_m,
        wall_m=row.wall_m,
        hopper=_hopper(row),
        hopper_m=row.hopper_m,
        outlet_width_m=row.outlet_width_m,
        outlet_length_m=outlet_m,
        spout_off_m=row.spout_off_m,
        outlet_off_m=row.outlet_off_m,
    )


def _hopper(row: BinMeasure) -> Hopper:
    hoppers: dict[str, Hopper] = {"cone": "cone", "pyramid": "pyramid", "wedge": "wedge"}
    return hoppers.get(row.hopper, "flat")


def strapping_of(rows: Sequence[VolumeAtDepth]) -> Strapping | None:
    """The table of volumes of one bin, or None if it has none.

    Parameters
    ----------
    rows : sequence of VolumeAtDepth
        Rows of one bin, in any order.

    Returns
    -------
    strapping : Strapping or None
        Table from the rim down.
    """
    if not rows:
        return None
    rows = sorted(rows, key=lambda row: row.depth_m)
    return Strapping(
        depth_m=tuple(row.depth_m for row in rows), volume_m3=tuple(row.volume_m3 for row in rows)
    )


def taped(
    container: BinShape | Strapping,
    depth_m: float,
    *,
    depth_sd_m: float,
    density_kg_m3: float,
    density_sd_kg_m3: float,
    top: Top = "level",
    repose_deg: float = 0.0,
) -> MassSeen:
    """Mass by a tape lowered from the rim.

    Parameters
    ----------
    container : BinShape or Strapping
        Shape, or the table that goes before it.
    depth_m : float
        Rim down to the material. [m]
    depth_sd_m : float
        Standard deviation of the reading. [m]
    density_kg_m3 : float
        Bulk density as it lies. [kg/m3]
    density_sd_kg_m3 : float
        Its standard deviation. [kg/m3]
    top : str
        How the top lies; a table of volumes counts as level.
    repose_deg : float
        Slope of the top, degrees.

    Returns
    -------
    seen : MassSeen
        Mass, and errors of depth and density together, as independent.

    Raises
    ------
    BadInput
        If the depth is outside the bin or its table.

    Sources
    -------
    [1] First-order propagation, JCGM 100:2008 (GUM) 5.1.2, from memory.
    """
    if isinstance(container, BinShape) and depth_m > container.height_m:
        raise BadInput(
            "The tape went deeper than the bin.",
            seen=f"{depth_m:.2f} m",
            allowed=f"0 to {container.height_m:.2f} m",
            do="Read the tape again, or look at the bin's height in bin_shapes.csv.",
        )

    def volume_m3(at_m: float) -> float:
        if isinstance(container, Strapping):
            held = min(max(at_m, container.depth_m[0]), container.depth_m[-1])
            return container.volume_at_m3(held)
        return container.volume_m3(max(at_m, 0.0), top=top, repose_deg=repose_deg)

    if isinstance(container, Strapping):
        here = container.volume_at_m3(depth_m)
    else:
        here = volume_m3(depth_m)
    by_depth = abs(volume_m3(depth_m - depth_sd_m) - volume_m3(depth_m + depth_sd_m)) / 2
    return MassSeen(
        mass_kg=here * density_kg_m3,
        sd_kg=math.hypot(by_depth * density_kg_m3, here * density_sd_kg_m3),
        volume_m3=here,
    )


def difference(seen: MassSeen, *, book_kg: float, book_sd_kg: float) -> Difference:
    """A reading held against the books.

    Parameters
    ----------
    seen : MassSeen
        Mass by the reading.
    book_kg : float
        Mass by the books at that moment. [kg]
    book_sd_kg : float
        Error of the books: of all weighings since the bin was seen empty. [kg]

    Returns
    -------
    found : Difference
        A finding beyond three standard deviations of both errors together.
    """
    sd_kg = math.hypot(seen.sd_kg, book_sd_kg)
    more_kg = seen.mass_kg - book_kg
    return Difference(more_kg=more_kg, sd_kg=sd_kg, is_finding=abs(more_kg) > SURE * sd_kg)
