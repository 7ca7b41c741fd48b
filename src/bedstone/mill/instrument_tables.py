"""When instruments are proved again, what tanks measure, and what liquids do with heat.

None of these tables is needed. An instrument without a row is proved by the mill's usual
interval; a tank without one is read by its table of volumes or its shape, a liquid without one
keeps the density of the ingredients table.
"""

from dataclasses import dataclass

from bedstone.mill.attributes import column

__all__ = ["Liquid", "ProofInterval", "TankMeasure"]

MOST_M = 60
LIES = {"lying": "a lying cylinder", "standing": "a standing cylinder with a flat floor"}
ENDS = {
    "flat": "flat ends",
    "elliptical": "dished ends half as deep as the radius (2 to 1 ellipsoid)",
    "hemispherical": "half balls",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofInterval:
    """How often a scale or meter is proved; a meter also after so much went through it."""

    instrument: str = column("scale or meter", refers=("scales", "meters"), key=True, example="LM1")
    days: int = column("days from proof to proof", low=1, high=1000, source="mill policy")
    volume_m3: float | None = column(
        "a meter: volume through it from proof to proof; empty: days alone",
        unit="m3",
        default=None,
        low=0,
        low_open=True,
        source="mill policy",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class TankMeasure:
    """A tank's inside; a table of volumes (strapping.csv) goes before it."""

    bin: str = column("tank", refers=("bins",), key=True, example="T01")
    lies: str = column("how it stands", choices=LIES)
    diameter_m: float = column("diameter", unit="m", low=0, low_open=True, high=MOST_M)
    length_m: float = column(
        "a lying tank: the cylinder without its ends; a standing one: its height",
        unit="m",
        low=0,
        low_open=True,
        high=MOST_M,
    )
    ends: str = column("ends of a lying tank", default="flat", choices=ENDS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Liquid:
    """A liquid's density and viscosity by temperature, from the supplier's sheet."""

    ingredient: str = column("liquid", refers=("ingredients",), key=True, example="MOLASSES")
    density_kg_m3: float = column("density", unit="kg/m3", low=500, high=2000)
    density_at_c: float = column("temperature of that density", unit="C", low=-20, high=99)
    swells_frac: float = column(
        "part by which it swells for each kelvin (fats and oils near 0.07 %, from memory)",
        low=0,
        high=0.01,
    )
    thick_cp: float | None = column(
        "viscosity when cool, centipoise; empty: not known", default=None, low=0, low_open=True
    )
    thick_at_c: float | None = column(
        "temperature of that", unit="C", default=None, low=-20, high=99
    )
    thin_cp: float | None = column(
        "viscosity when warm, centipoise", default=None, low=0, low_open=True
    )
    thin_at_c: float | None = column(
        "temperature of that", unit="C", default=None, low=-20, high=99
    )
    thickest_cp: float = column(
        "thickest that the pump draws, centipoise (a gear pump near 5000: common practice, no "
        "source)",
        default=5000.0,
        low=0,
        low_open=True,
    )
    hottest_c: float = column(
        "warmest that it may be held (molasses 43 °C: common practice, no source)",
        unit="C",
        default=60.0,
        low=0,
        high=99,
    )
