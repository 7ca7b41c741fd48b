"""What a bin of warm pellets is asked, each figure with its unit and its bounds."""

from dataclasses import dataclass

from bedstone.mill.attributes import column

__all__ = ["EXAMPLE_C", "EXAMPLE_KG", "MOST_KG", "AskedOfBin"]

MOST_KG = 453_592.37
"""A million pounds."""
EXAMPLE_KG = 6000.0
EXAMPLE_C = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedOfBin:
    """What a bin of pellets is asked."""

    pellet_c: float = column(
        "Pellets, as warm as they lie", unit="C", default=30.0, low=-30, high=150
    )
    moisture_wb: float = column("Water in them", unit="kg/kg", default=0.125, low=0.04, high=0.3)
    mass_kg: float = column(
        "Pellets in the bin", unit="kg", default=EXAMPLE_KG, low=0, low_open=True, high=MOST_KG
    )
    top_m2: float = column("Surface of the pellets", unit="m2", default=4.0, low=0.2, high=500)
    roof_m2: float = column(
        "Roof and bare wall over them", unit="m2", default=12.0, low=0.2, high=2000
    )
    wall_m2: float = column(
        "Wall and hopper that they touch", unit="m2", default=16.0, low=0, high=5000
    )
    coldest_c: float = column(
        "Coldest hour to come outside", unit="C", default=EXAMPLE_C, low=-45, high=45
    )
