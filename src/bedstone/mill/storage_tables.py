"""What bins measure, the tables of volumes that came with them, and how each ingredient is bought.

None of these tables is needed. A bin without a shape is full at its capacity, and a tape in it
says nothing of mass; an ingredient without terms is not on the buying list's calendar; lots of an
ingredient without a row in keep_apart may lie in one bin whatever their assays.
"""

from dataclasses import dataclass

from bedstone.mill.attributes import column

__all__ = ["BinMeasure", "BuyingTerm", "KeepApart", "VolumeAtDepth"]

SECTIONS = {"round": "a circle", "rectangle": "a rectangle"}
HOPPERS = {
    "flat": "flat bottom",
    "cone": "narrows all round, under a round section",
    "pyramid": "narrows on four sides, under a rectangle",
    "wedge": "narrows on two sides, under a rectangle",
}
MOST_M = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class BinMeasure:
    """A bin's section, wall and hopper, inside."""

    bin: str = column("bin", refers=("bins",), key=True, example="B01")
    section: str = column("section of the bin", choices=SECTIONS)
    width_m: float = column(
        "width; of a round bin its diameter", unit="m", low=0, low_open=True, high=MOST_M
    )
    length_m: float | None = column(
        "length; empty for a round bin", unit="m", default=None, low=0, low_open=True, high=MOST_M
    )
    wall_m: float = column("height of the straight wall", unit="m", low=0, high=MOST_M)
    hopper: str = column("bottom", default="flat", choices=HOPPERS)
    hopper_m: float = column(
        "height of the hopper, outlet to wall", unit="m", default=0.0, low=0, high=MOST_M
    )
    outlet_width_m: float = column("width of the outlet", unit="m", default=0.0, low=0, high=MOST_M)
    outlet_length_m: float | None = column(
        "length of the outlet; empty: as its width", unit="m", default=None, low=0, high=MOST_M
    )
    spout_off_m: float = column(
        "how far the filling spout is from the middle", unit="m", default=0.0, low=0, high=MOST_M
    )
    outlet_off_m: float = column(
        "how far the outlet is from the middle, along the width; the other way is below 0",
        unit="m",
        default=0.0,
        low=-MOST_M / 2,
        high=MOST_M / 2,
    )
    repose_deg: float = column(
        "slope at which its material lies when filled, degrees; 0 for level "
        "(whole corn 20, middlings 34)",
        default=0.0,
        low=0,
        high=60,
        source="materials/data/bulk_density.csv",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class VolumeAtDepth:
    """A row of the table of volumes that came with a bin or tank; it goes before the shape."""

    bin: str = column("bin or tank", refers=("bins",), key=True)
    depth_m: float = column("tape from the rim down", unit="m", key=True, low=0, high=MOST_M)
    volume_m3: float = column("volume below it", unit="m3", low=0)


APART = {
    "never": "a bin that holds one kind takes none of the other",
    "mind": "said with the bin; a person decides",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepApart:
    """Lots of an ingredient that are kept in different bins: above a level, and at or below it."""

    ingredient: str = column("ingredient", refers=("ingredients",), key=True, example="CORN")
    nutrient: str = column("what was assayed, as in assays", key=True, example="moisture")
    boundary: float = column("the level that parts them", low=0, example="15.5")
    unit: str = column("its unit, as the assays have it", example="%")
    rule: str = column("what follows", default="mind", choices=APART)
    why: str = column("why", default="", example="damp corn warms and moulds among dry")


@dataclass(frozen=True, slots=True, kw_only=True)
class BuyingTerm:
    """How an ingredient is bought."""

    ingredient: str = column("ingredient", refers=("ingredients",), key=True, example="CORN")
    lead_days: int = column("days from order to truck", low=0, high=365)
    truck_kg: float = column("a full truck", unit="kg", low=0, low_open=True, high=200_000)
    safety_days: float = column(
        "days of usual use that must always be left", default=2.0, low=0, high=365
    )
    cover_days: int = column("days an order should last for", default=14, low=1, high=365)
