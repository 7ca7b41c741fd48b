"""What a conditioner is asked by numbers that somebody types, on the page or at the terminal."""

from dataclasses import dataclass

from bedstone.mill.attributes import column

__all__ = ["FUEL_WORDS", "AskedOfConditioner"]

FUEL_WORDS = {
    "heat": "price of a kWh of fuel heat",
    "natural gas": "price of a therm",
    "propane": "price of a gallon",
    "fuel oil": "price of a gallon",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedOfConditioner:
    """All that the balance of a conditioner takes, with what is usual where nothing is typed."""

    mash_rate_kg_s: float = column("Mash through it", unit="kg/s", default=2.5, low=0.01, high=30)
    mash_c: float = column("Mash before steam", unit="C", default=15.0, low=-20, high=60)
    mash_moisture_wb: float = column(
        "Water in the mash", unit="kg/kg", default=0.12, low=0.02, high=0.25
    )
    protein_frac: float = column("Crude protein in the mash", default=0.18, low=0, high=0.8)
    fat_frac: float = column("Crude fat in the mash", default=0.04, low=0, high=0.5)
    fibre_frac: float = column("Crude fibre in the mash", default=0.06, low=0, high=0.5)
    ash_frac: float = column("Ash in the mash", default=0.06, low=0, high=0.6)
    wanted_c: float | None = column(
        "Mash leaving, wanted; empty if the steam is given", unit="C", default=None, low=0, high=105
    )
    steam_kg_s: float | None = column(
        "Steam into it; empty if the temperature is given",
        unit="kg/s",
        default=None,
        low=0,
        high=8,
    )
    steam_gauge_pa: float = column(
        "Steam pressure on the gauge", unit="Pa", default=170_000.0, low=0, high=1_500_000
    )
    steam_quality_frac: float = column("Vapour in the steam", default=0.98, low=0.5, high=1)
    steam_at_c: float | None = column(
        "Steam temperature, if superheated; empty: saturated",
        unit="C",
        default=None,
        low=0,
        high=400,
    )
    molasses_kg_s: float = column("Molasses into it", unit="kg/s", default=0.0, low=0, high=8)
    molasses_at_c: float = column("Molasses comes at", unit="C", default=40.0, low=0, high=100)
    molasses_moisture_wb: float = column(
        "Water in the molasses (solids are the rest)", unit="kg/kg", default=0.26, low=0, high=1
    )
    water_kg_s: float = column("Water put in", unit="kg/s", default=0.0, low=0, high=8)
    water_at_c: float = column("Water comes at", unit="C", default=15.0, low=0, high=100)
    die_moisture_wb: float = column(
        "Most water that the die takes", unit="kg/kg", default=0.165, low=0.08, high=0.25
    )
    volume_m3: float = column(
        "Volume of the conditioner, inside", unit="m3", default=0.34, low=0.005, high=20
    )
    length_m: float | None = column(
        "Its length inside; with the diameter it stands for the volume",
        unit="m",
        default=None,
        low=0.2,
        high=12,
    )
    diameter_mm: float | None = column(
        "Its diameter inside", unit="mm", default=None, low=100, high=2000
    )
    fill_frac: float = column("How full it runs", default=0.6, low=0.05, high=1)
    inside_s: float | None = column(
        "Time inside, wanted; empty: by how full it runs", unit="s", default=None, low=1, high=1200
    )
    bulk_density_kg_m3: float = column(
        "Bulk density of hot mash in it", unit="kg/m3", default=550.0, low=150, high=900
    )
    loss_frac: float = column(
        "Heat lost to the room, of what the mash takes up", default=0.05, low=0, high=0.5
    )
    altitude_m: float = column("Height above the sea", unit="m", default=0.0, low=-400, high=4500)
    feedwater_c: float = column("Water into the boiler", unit="C", default=15.0, low=0, high=105)
    boiler_frac: float = column("Fuel heat that ends in steam", default=0.8, low=0.2, high=1)
    fuel: str = column("Fuel (heat: priced by the kWh)", default="heat", choices=FUEL_WORDS)
    fuel_usd: float = column(
        "Its price in USD for each kWh, therm or gallon", default=0.03, low=0, high=100
    )
