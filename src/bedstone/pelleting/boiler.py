"""What the steam of a conditioner asks of the boiler: load, fuel and its cost."""

from dataclasses import dataclass
from typing import Final

from bedstone.errors import BadInput
from bedstone.pelleting.steam import Steam, water_j_kg

__all__ = ["FUELS", "HORSEPOWER_KW", "Boiler", "boiler_load"]

HORSEPOWER_KW: Final = 34.5 * 0.45359237 / 3600 * 2256.47
"""Heat of a boiler horsepower: 34.5 lb/h of steam from and at 212 F (from memory), with the heat of
evaporation there by IAPWS-IF97."""

FUELS: Final = {
    "heat": ("kWh of fuel heat", 1.0),
    "natural gas": ("therm", 29.3071),
    "propane": ("gallon", 26.8),
    "fuel oil": ("gallon", 40.6),
}
"""What each fuel is sold by, and the heat in it in kWh. A therm is 100,000 Btu by definition; a US
gallon of propane has 91,500 and of light fuel oil 138,500 Btu (from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Boiler:
    """What the steam of a conditioner asks of the boiler."""

    steam_kg_s: float
    heat_kw: float  # into the steam
    fuel_kw: float
    horsepower: float
    usd_per_h: float
    usd_per_t: float  # of what goes into the conditioner beside steam


def boiler_load(
    steam: Steam,
    steam_kg_s: float,
    mash_kg_s: float,
    *,
    feedwater_c: float = 15.0,
    efficiency_frac: float = 0.8,
    fuel_usd_per_kwh: float = 0.03,
) -> Boiler:
    """Fuel and its cost for a steam flow.

    Parameters
    ----------
    steam : Steam
        As the boiler makes it.
    steam_kg_s, mash_kg_s : float
        Steam, and the mash it is for. [kg/s]
    feedwater_c : float
        Temperature of the water that it is made from. [degrees C]
    efficiency_frac : float
        Heat into steam over heat of the fuel. [0 to 1]
    fuel_usd_per_kwh : float
        Price of fuel heat, USD for each kWh.

    Returns
    -------
    boiler : Boiler
        Load in kW and boiler horsepower, fuel in kW, cost by hour and by tonne of mash.

    Raises
    ------
    BadInput
        If efficiency or price cannot be.

    Sources
    -------
    [1] Heat balance of the boiler; ``HORSEPOWER_KW`` for the horsepower.
    """
    if not 0 < efficiency_frac <= 1 or fuel_usd_per_kwh < 0 or mash_kg_s <= 0:
        raise BadInput(
            "A boiler's numbers cannot be right.",
            seen=f"efficiency {efficiency_frac:g}, {fuel_usd_per_kwh:g} USD/kWh",
            allowed="efficiency above 0 up to 1, price 0 or more, mash above 0",
        )
    heat_kw = steam_kg_s * (steam.enthalpy_j_kg - water_j_kg(feedwater_c)) / 1000
    usd_per_h = heat_kw / efficiency_frac * fuel_usd_per_kwh
    return Boiler(
        steam_kg_s=steam_kg_s,
        heat_kw=heat_kw,
        fuel_kw=heat_kw / efficiency_frac,
        horsepower=heat_kw / HORSEPOWER_KW,
        usd_per_h=usd_per_h,
        usd_per_t=usd_per_h / (mash_kg_s * 3.6),
    )
