"""What a pellet line is: conditioner, die, cooler, what heat does to additives, pellets wanted.

None of these tables is needed. A line without its rows is planned by its rates alone, and nothing
is said of its heat or its air.
"""

from dataclasses import dataclass
from itertools import pairwise

from bedstone.mill.attributes import column

__all__ = ["Cooler", "DieRow", "HeatSensitive", "PelletLine", "Pellets", "fan_points"]

MEASURED = {
    "this mill": "assays before and after this mill's own line",
    "a pilot mill": "published, from a small pellet mill",
    "a laboratory bath": "published, from tubes in a bath: overstates the loss in a mill",
    "from memory": "nobody has looked it up",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PelletLine:
    """Conditioner, steam and motor of a pellet line."""

    line: str = column("pellet line", refers=("machines",), key=True, example="PL1")
    volume_m3: float = column(
        "volume of the conditioner, inside", unit="m3", low=0, low_open=True, high=20
    )
    fill_frac: float = column(
        "how full the conditioner runs (usual half to three quarters: common practice, no source)",
        default=0.6,
        low=0.05,
        high=1,
    )
    steam_gauge_pa: float = column(
        "steam pressure at the conditioner, above the air outside",
        unit="Pa",
        low=0,
        high=1_500_000,
    )
    steam_quality_frac: float = column(
        "part of the steam that is vapour when it enters", default=0.98, low=0.5, high=1
    )
    loss_frac: float = column(
        "heat lost to the room, of what the mash takes up", default=0.05, low=0, high=0.5
    )
    mash_c: float | None = column(
        "mash before steam where no reading says it; empty: the air of the hour",
        unit="C",
        default=None,
        low=-20,
        high=60,
    )
    liquid_c: float | None = column(
        "liquid put in at the conditioner; empty: as warm as the mash",
        unit="C",
        default=None,
        low=0,
        high=100,
    )
    boiler_frac: float = column("heat of the fuel that ends in steam", default=0.8, low=0.2, high=1)
    fuel_usd_kwh: float = column("price of a kWh of fuel heat", default=0.03, low=0, high=5)
    motor_v: float | None = column(
        "volts between phases of the main motor", default=None, low=100, high=15_000
    )
    motor_full_a: float | None = column(
        "current at full load, A, by the plate of the main motor; empty: not judged",
        default=None,
        low=1,
        high=2000,
    )
    power_factor_frac: float = column(
        "power factor of the main motor", default=0.85, low=0.3, high=1
    )
    power_usd_kwh: float = column("price of a kWh of electricity", default=0.1, low=0, high=5)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cooler:
    """The counterflow cooler of a pellet line, and its air."""

    line: str = column("pellet line", refers=("machines",), key=True, example="PL1")
    area_m2: float = column("area of the bed, inside", unit="m2", low=0.05, high=40)
    depth_m: float = column("depth of the bed, grate to level", unit="m", low=0.05, high=3)
    air_m3_s: float | None = column(
        "volume of air measured at the fan behind the bed; empty if the fan's curve is given",
        unit="m3/s",
        default=None,
        low=0,
        low_open=True,
        high=60,
    )
    fan_curve: str = column(
        'points of the fan\'s curve, volume in m3/s ":" pressure in Pa, with spaces between',
        default="",
        example="0.5:1500 1.5:1200 2.5:600",
    )
    duct_pa: float = column(
        "pressure lost in ducts and cyclone", unit="Pa", default=0.0, low=0, high=10_000
    )
    duct_at_m3_s: float | None = column(
        "at this volume of air; needed with a pressure lost",
        unit="m3/s",
        default=None,
        low=0,
        low_open=True,
        high=60,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class DieRow:
    """A die, by the name that products.csv calls it."""

    die: str = column("name as in products.csv", key=True, example="4.0 mm")
    line: str = column("pellet line", refers=("machines",), key=True)
    hole_mm: float = column("diameter of a hole", unit="mm", low=1, high=25)
    effective_mm: float = column("length of a hole that presses", unit="mm", low=5, high=200)
    holes: int = column("number of holes", low=1, high=200_000)
    inner_diameter_mm: float = column("inner diameter", unit="mm", low=50, high=2000)
    face_width_mm: float = column("width of the face with holes", unit="mm", low=10, high=600)
    knives: int = column("number of knives", default=2, low=1, high=12)
    turns_per_min: float = column("turns a minute", low=20, high=1000)
    thickness_mm: float | None = column(
        "thickness of the ring, inside to outside; empty: not known",
        unit="mm",
        default=None,
        low=5,
        high=250,
    )
    expected_kg: float | None = column(
        "feed that a die like it lasts for", unit="kg", default=None, low=0, low_open=True
    )
    made_kg: float = column("feed made on it when the record began", unit="kg", default=0.0, low=0)
    price_usd: float = column("price of a new one", default=0.0, low=0)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatSensitive:
    """How heat takes away what an ingredient is bought for: live culture, enzyme, vitamin."""

    ingredient: str = column("ingredient that holds it", refers=("ingredients",), key=True)
    what: str = column("what it is", key=True, example="live yeast culture")
    measured: str = column("where its kinetics were measured", choices=MEASURED, key=True)
    d_s: float = column(
        "time in which nine tenths are lost (D value)", unit="s", low=0, low_open=True, high=1e7
    )
    at_c: float = column("at this temperature", unit="C", low=20, high=120)
    z_dk: float = column(
        "temperature rise that makes it ten times quicker (z value)", unit="K", low=1, high=100
    )
    d_spread: float = column(
        "factor within which D lies nine times in ten; 2 is half to double",
        default=2.0,
        low=1,
        high=100,
    )
    z_sd_dk: float | None = column(
        "standard deviation of z; empty: a fifth of z is taken",
        unit="K",
        default=None,
        low=0,
        high=50,
    )
    nutrient: str = column(
        "its name in composition, where its potency stands, and in guarantees; empty: the tag says "
        "nothing of it",
        default="",
        example="vitamin E",
    )
    least_left_frac: float = column(
        "share that must be left at the bag where the tag guarantees nothing of it",
        default=0.5,
        low=0.01,
        high=0.99,
    )
    source: str = column("where the numbers come from")


@dataclass(frozen=True, slots=True, kw_only=True)
class Pellets:
    """What pellets of a product should be, and how they are made and cooled."""

    product: str = column("product", refers=("products",), key=True)
    diameter_mm: float = column("diameter", unit="mm", low=1, high=25)
    length_mm: float = column("length that is wanted", unit="mm", low=1, high=80)
    conditioning_c: float = column(
        "mash leaving the conditioner; with live additives about 65 °C, 150 °F, and not much "
        "hotter (common practice, no source)",
        unit="C",
        low=30,
        high=105,
    )
    die_rise_dk: float = column(
        "how much warmer pellets leave the die than mash enters it", unit="K", default=5.0,
        low=0, high=40,
    )  # fmt: skip
    above_ambient_dk: float = column(
        "most that pellets may leave the cooler warmer than the air (5 to 10 °F: common practice, "
        "no source)",
        unit="K",
        default=5.0,
        low=0.5,
        high=20,
    )
    water_activity_frac: float = column(
        "most water activity at which they may leave (mould grows from about 0.70)",
        default=0.65,
        low=0.3,
        high=0.9,
    )
    conditioner_liquid: str = column(
        "liquid of the formula that goes in at the conditioner, such as molasses; empty: all liquids "
        "go in at the mixer",
        default="",
        refers=("ingredients",),
        example="MOLASSES",
    )
    die_moisture_max_wb: float = column(
        "most moisture that the die takes (16 to 17 % is usual, a trade talk's figure)",
        unit="kg/kg",
        default=0.17,
        low=0.08,
        high=0.25,
    )
    bulk_density_kg_m3: float = column(
        "bulk density of the pellets", unit="kg/m3", default=620.0, low=200, high=900
    )
    durability_frac: float | None = column(
        "least durability index by the tumbling test; empty: not judged",
        default=None,
        low=0.3,
        high=0.999,
    )


def fan_points(text: str) -> tuple[tuple[float, float], ...] | None:
    """Volume and pressure of each point of a fan's curve, or None if the text is no curve.

    Parameters
    ----------
    text : str
        Points as ``0.5:1500 1.5:1200``, m3/s and Pa.

    Returns
    -------
    points : tuple of tuple of float or None
        At least two, volumes rising and pressures falling.
    """
    points = []
    for part in text.split():
        volume, mark, pressure = part.partition(":")
        if not mark or not _plain(volume) or not _plain(pressure):
            return None
        points.append((float(volume), float(pressure)))
    steps = list(pairwise(points))
    if not steps or any(b[0] <= a[0] or b[1] >= a[1] for a, b in steps):
        return None
    return tuple(points)


def _plain(text: str) -> bool:
    return text.replace(".", "", 1).isdecimal() and text.isascii()
