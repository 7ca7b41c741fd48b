"""What a cooler is asked, and what it answers. SI inside, moisture with its basis in the name."""

from dataclasses import dataclass, field
from typing import Final

from bedstone.errors import BadInput
from bedstone.materials.sorption import CHUNG_PFOST

__all__ = [
    "DEFAULT_FACTORS",
    "AirIn",
    "Cooler",
    "Factors",
    "Isotherm",
    "Leaving",
    "PelletKind",
    "PelletsIn",
    "Profile",
]

LEAST_C: Final = -40.0
MOST_AIR_C: Final = 60.0
MOST_PELLET_C: Final = 105.0
MOST_MOISTURE_WB: Final = 0.30


def _inside(  # noqa: PLR0917 - a row of a table: what, found, from, to, unit, what to do
    name: str, value: float, low: float, high: float, unit: str, do: str
) -> None:
    if not low <= value <= high:
        raise BadInput(
            f"{name} cannot be right.",
            seen=f"{value:g} {unit}",
            allowed=f"{low:g} to {high:g} {unit}",
            do=do[:1].upper() + do[1:],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Isotherm:
    """How a feed holds water: a form of the grain standard with its coefficients.

    The default is corn's: no isotherm of pelleted feed with readable coefficients was found, and
    above 50 degrees C any of them is an extrapolation.
    """

    form: int = CHUNG_PFOST
    a: float = 312.3
    b: float = 0.16958
    c: float = 30.205
    source: str = "corn, Chung-Pfost, ASAE D245.5; above 50 degrees C extrapolated"


@dataclass(frozen=True, slots=True, kw_only=True)
class PelletKind:
    """The pellet of a product.

    ``diffusion_m2_s`` is at 60 degrees C. The defaults of diffusion and its activation energy are
    mid-range of pelleted pig and calf feed (1.9e-10 to 3.9e-9 m2/s, 26 kJ/mol; Wang et al. 2024,
    doi 10.1155/2024/7092556); conductivity and specific heat are mid-range of measured protein
    meals (0.080 to 0.362 W/(m K), 1.62 to 2.42 kJ/(kg K); Kong 2023).
    """

    diameter_mm: float
    length_mm: float
    unit_density_kg_m3: float = 1200.0
    bulk_density_kg_m3: float = 620.0
    solid_j_kg_k: float = 1650.0
    conductivity_w_m_k: float = 0.18
    diffusion_m2_s: float = 1e-9
    activation_j_mol: float = 26_000.0
    isotherm: Isotherm = field(default_factory=Isotherm)

    def __post_init__(self) -> None:
        """Refuse a pellet that cannot be."""
        _inside("Pellet diameter", self.diameter_mm, 1.0, 25.0, "mm", "measure across the pellet.")
        _inside("Pellet length", self.length_mm, 1.0, 80.0, "mm", "measure along the pellet.")
        _inside("Density of a pellet", self.unit_density_kg_m3, 500, 1800, "kg/m3", "weigh some.")
        _inside(
            "Bulk density of pellets",
            self.bulk_density_kg_m3,
            200,
            min(1000.0, 0.75 * self.unit_density_kg_m3),
            "kg/m3",
            "pellets in heap are at least a quarter air.",
        )
        _inside("Specific heat", self.solid_j_kg_k, 900, 2800, "J/(kg K)", "see the composition.")
        _inside("Diffusion", self.diffusion_m2_s * 1e10, 0.1, 1000, "1e-10 m2/s", "see the source.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Cooler:
    """A counterflow cooler: its bed and its air.

    ``air_kg_s`` is dry air through the bed. A volume measured at the fan is turned into it by
    :func:`bedstone.cooling.air_flow.dry_air_kg_s`.
    """

    area_m2: float
    depth_m: float
    air_kg_s: float

    def __post_init__(self) -> None:
        """Refuse a cooler without air or bed."""
        _inside("Area of the bed", self.area_m2, 0.05, 40.0, "m2", "measure inside the cooler.")
        _inside("Depth of the bed", self.depth_m, 0.05, 3.0, "m", "measure from grate to level.")
        _inside(
            "Air through the cooler",
            self.air_kg_s / self.area_m2,
            0.02,
            6.0,
            "kg of dry air a second for each m2 of bed",
            "a cooler without air cools nothing, and air that runs downward is another machine; "
            "check fan, damper and sign.",
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class PelletsIn:
    """What the pellet mill sends: mass as it is, temperature and moisture below the die."""

    rate_kg_s: float
    temperature_c: float
    moisture_wb: float

    def __post_init__(self) -> None:
        """Refuse pellets that cannot be."""
        _inside("Pellet rate", self.rate_kg_s, 1e-3, 30.0, "kg/s", "give tons an hour that run.")
        _inside("Temperature of hot pellets", self.temperature_c, 0.0, MOST_PELLET_C, "degrees C",
                "measure in an insulated jug right below the die.")  # fmt: skip
        _inside("Moisture of hot pellets", self.moisture_wb, 0.04, MOST_MOISTURE_WB, "kg/kg wet basis",
                "give water for each kilogram as it is: 0.16 is 16 %.")  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class AirIn:
    """The air that the cooler draws in."""

    temperature_c: float
    relative_humidity_frac: float
    pressure_pa: float = 101_325.0

    def __post_init__(self) -> None:
        """Refuse weather that cannot be."""
        _inside("Temperature of the air", self.temperature_c, LEAST_C, MOST_AIR_C, "degrees C",
                "give the air at the cooler's inlet.")  # fmt: skip
        _inside("Relative humidity", self.relative_humidity_frac, 0.0, 1.0, "(1 is saturated)",
                "air holds no more vapour than saturation; fog counts as 1.")  # fmt: skip
        _inside("Pressure", self.pressure_pa, 60_000, 110_000, "Pa", "give it for the place.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Factors:
    """How a mill's own cooler exchanges against the correlations, with the interval (90 %)."""

    heat: float = 1.0
    heat_lo: float = 0.5
    heat_hi: float = 2.0
    moisture: float = 1.0
    moisture_lo: float = 0.4
    moisture_hi: float = 2.5
    source: str = (
        "not calibrated: the wide range that coolers may have (common practice, no source)"
    )
    calibrated: bool = False


DEFAULT_FACTORS: Final = Factors()


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaving:
    """What leaves the cooler, pellets at the bottom and air at the top."""

    pellet_c: float
    moisture_wb: float
    water_activity_frac: float
    above_ambient_dk: float
    air_c: float
    air_humidity_frac: float
    fog_db: float  # droplets for dry air
    dew_point_c: float
    water_lost_kg_s: float
    lost_frac: float  # of the mass that came in
    residence_s: float
    wet_duct: bool  # whether bare sheet metal outside would drip in still air
    wet_in_wind: bool  # or in wind
    balance_frac: float  # what mass and heat balance fail to close by


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """Through the bed from bottom to top, one value for each height."""

    height_m: tuple[float, ...]
    pellet_c: tuple[float, ...]
    moisture_wb: tuple[float, ...]
    air_c: tuple[float, ...]
    air_humidity_frac: tuple[float, ...]
    fog_db: tuple[float, ...]
