"""What a cooler is asked by numbers that somebody types, on the page or at the terminal."""

from dataclasses import dataclass

from bedstone.mill.attributes import column

__all__ = ["AskedOfCooler"]


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedOfCooler:
    """All that the bed of a cooler takes, with what is usual where nothing is typed."""

    pellet_rate_kg_s: float = column(
        "Hot pellets into it", unit="kg/s", default=2.5, low=0.01, high=30
    )
    pellet_c: float = column("Hot pellets, below the die", unit="C", default=80.0, low=0, high=105)
    pellet_moisture_wb: float = column(
        "Water in the hot pellets", unit="kg/kg", default=0.155, low=0.04, high=0.30
    )
    diameter_mm: float = column("Diameter of a pellet", unit="mm", default=4.8, low=1, high=25)
    pellet_length_mm: float = column("Length of a pellet", unit="mm", default=12.0, low=1, high=80)
    bulk_density_kg_m3: float = column(
        "Bulk density of pellets", unit="kg/m3", default=620.0, low=300, high=850
    )
    air_c: float = column("Air it draws in", unit="C", default=20.0, low=-40, high=60)
    humidity_frac: float = column("Its relative humidity", default=0.6, low=0, high=1)
    altitude_m: float = column("Height above the sea", unit="m", default=0.0, low=-400, high=4500)
    air_m3_s: float | None = column(
        "Air at the fan behind the bed; empty: by the fan's curve in the table of coolers",
        unit="m3/s",
        default=None,
        low=-1000,
        high=1000,
    )
    area_m2: float = column("Area of the bed, inside", unit="m2", default=2.0, low=0.05, high=40)
    depth_m: float = column(
        "Depth of the bed, grate to level", unit="m", default=0.6, low=0.05, high=3
    )
    above_ambient_dk: float = column(
        "Most that pellets may leave above the air; usual 5 to 10 °F (common practice)",
        unit="K",
        default=5.0,
        low=0.5,
        high=40,
    )
    water_activity_frac: float = column(
        "Most water activity at which they may leave", default=0.65, low=0.3, high=0.95
    )
