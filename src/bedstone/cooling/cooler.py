"""A cooler as a mill knows it, turned into the numbers of its bed, and its answer in their words."""

import math
from typing import Final

import numpy as np

from bedstone.cooling.bed import MODES, BedNumbers, Floats, solve_bed
from bedstone.cooling.cell import pellet_enthalpy_j_kg
from bedstone.cooling.model import (
    DEFAULT_FACTORS,
    AirIn,
    Cooler,
    Factors,
    Leaving,
    PelletKind,
    PelletsIn,
    Profile,
)
from bedstone.errors import BadInput, NotSettled
from bedstone.materials.moist_air import (
    VAPOUR_GAS_J_KG_K,
    dew_point_c,
    enthalpy_j_kg,
    humidity_at,
    saturated_humidity,
    saturation_pressure_pa,
    vapour_pressure_pa,
)
from bedstone.materials.sorption import water_activity
from bedstone.quantities.moisture import dry_basis, wet_basis

__all__ = [
    "CELLS",
    "CLOSE_C",
    "CLOSE_DB",
    "air_leaving",
    "bed_numbers",
    "cool",
    "humidity_in_db",
    "leaving_of",
]

CELLS: Final = 20
CLOSE_C: Final = 0.004
CLOSE_DB: Final = 1e-5
_KELVIN: Final = 273.15
_DUCT_INSIDE: Final = 0.75
"""How near the inside of a bare metal duct is to the air inside, 0 outdoors and 1 inside: films of
about 30 W/(m2 K) inside and 10 outside (common practice, no source)."""
_WINDY_INSIDE: Final = 0.545
"""The same in wind: films of about 30 inside and 25 outside (common practice, no source)."""
_BOILING_ROOM_DK: Final = 1.0


def cool(
    cooler: Cooler,
    pellet: PelletKind,
    pellets: PelletsIn,
    air: AirIn,
    factors: Factors = DEFAULT_FACTORS,
    *,
    uniform: bool = False,
) -> tuple[Leaving, Profile]:
    """What leaves a cooler in steady running, and the profile through its bed.

    Parameters
    ----------
    cooler, pellet, pellets, air
        The machine, the pellet, what the pellet mill sends, and the air drawn in.
    factors : Factors
        How the cooler exchanges against the correlations; their middle is used.
    uniform : bool
        Takes each pellet as one moisture with the resistance of its inside, which is quicker.

    Returns
    -------
    leaving : Leaving
        What leaves at both ends.
    profile : Profile
        The bed from bottom to top.

    Raises
    ------
    BadInput
        If the pellets are colder than the air, or so hot that their water would boil.
    NotSettled
        If the equations could not be solved.

    Sources
    -------
    [1] Balances and rates: :mod:`bedstone.cooling.bed`; films: :func:`bed_numbers`.
    """
    check_pellets(pellets, air)
    k = bed_numbers(cooler, pellet, pellets, air, factors, uniform=uniform)
    modes = 0 if uniform else MODES
    none = np.zeros((0, 2 + modes)), np.zeros((0, 2))
    settled, edges_m, inside, gas, leaving, _, _ = solve_bed(
        k, modes, CELLS, CLOSE_C, CLOSE_DB, *none
    )
    if not settled:
        raise NotSettled("The bed of the cooler could not be reckoned.", do="Check the numbers.")
    return leaving_of(k, leaving, cooler.area_m2), _profile(k, edges_m, inside, gas)


def air_leaving(
    cooler: Cooler, pellet: PelletKind, pellets: PelletsIn, air: AirIn, factors: Factors
) -> tuple[float, float]:
    """The air that leaves, for its density: quick, with uniform pellets.

    Parameters
    ----------
    cooler, pellet, pellets, air, factors
        As :func:`cool` takes them.

    Returns
    -------
    air_c : float
        Its temperature. [degrees C]
    humidity_frac : float
        Its relative humidity. [0 to 1]

    Raises
    ------
    BadInput
        As :func:`cool` does.
    NotSettled
        If the equations could not be solved.
    """
    check_pellets(pellets, air)
    k = bed_numbers(cooler, pellet, pellets, air, factors, uniform=True)
    none = np.zeros((0, 2)), np.zeros((0, 2))
    settled, _, _, _, leaving, _, _ = solve_bed(k, 0, CELLS, CLOSE_C, CLOSE_DB, *none)
    if not settled:
        raise NotSettled("The bed of the cooler could not be reckoned.", do="Check the numbers.")
    air_c, water_db = float(leaving[2]), float(leaving[3])
    vapour_db = min(water_db, saturated_humidity(air_c, k.pressure_pa))
    return air_c, _relative(air_c, vapour_db, k.pressure_pa)


def check_pellets(pellets: PelletsIn, air: AirIn) -> None:
    """Refuse pellets that there is nothing to cool in, or that would boil.

    Raises
    ------
    BadInput
        If the pellets are colder than the air, or hotter than water boils at the place.
    """
    if pellets.temperature_c < air.temperature_c:
        raise BadInput(
            "The pellets come in colder than the air.",
            seen=f"pellets {_both(pellets.temperature_c)}, air {_both(air.temperature_c)}",
            allowed="pellets warmer than the air that cools them",
            do="Check which reading is which.",
        )
    boils_c = dew_point_c(1e9, air.pressure_pa)
    if pellets.temperature_c > boils_c - _BOILING_ROOM_DK:
        raise BadInput(
            "Water in the pellets would boil.",
            seen=f"pellets {_both(pellets.temperature_c)} at {air.pressure_pa / 1000:.1f} kPa",
            allowed=f"up to {_both(boils_c - _BOILING_ROOM_DK)}",
            do="Measure in an insulated jug below the die; steam flashes off before the cooler.",
        )


def _both(temperature_c: float) -> str:
    """A temperature in both degrees: whoever reads it has one of the two."""
    return f"{temperature_c:.1f} °C ({temperature_c * 1.8 + 32:.0f} °F)"


def humidity_in_db(air: AirIn) -> float:
    """Vapour that the air brings for each kilogram of dry air, dry basis.

    Parameters
    ----------
    air : AirIn
        The air drawn in.

    Returns
    -------
    humidity_db : float
        Vapour for dry air. [kg/kg]
    """
    vapour_pa = air.relative_humidity_frac * saturation_pressure_pa(air.temperature_c)
    return float(humidity_at(vapour_pa, air.pressure_pa))


def bed_numbers(
    cooler: Cooler,
    pellet: PelletKind,
    pellets: PelletsIn,
    air: AirIn,
    factors: Factors = DEFAULT_FACTORS,
    *,
    uniform: bool = False,
) -> BedNumbers:
    """The numbers of the equations: films of a packed bed, and what is inside a pellet.

    Returns
    -------
    numbers : BedNumbers
        For each square metre of bed.

    Sources
    -------
    [1] Nu = 2 + 1.1 Re^0.6 Pr^(1/3) with the diameter of the ball of equal volume and the air's
        speed as if the bed were empty: N. Wakao, S. Kaguei, T. Funazkri (1979), from memory.
    [2] Vapour by the analogy of Chilton and Colburn, h / (rho c Le^(2/3)).
    [3] Inside a cylinder at steady loss the mean lies R/(4 k) per unit of heat flow, and
        R^2/(8 D) per unit of loss of moisture, from the surface (Fourier's and Fick's equation).
    """
    diameter_m, length_m = pellet.diameter_mm / 1000, pellet.length_mm / 1000
    volume_m3 = math.pi / 4 * diameter_m**2 * length_m
    surface_m2 = math.pi * diameter_m * (length_m + diameter_m / 2)
    radius_m = 2 * volume_m3 / surface_m2  # of a long cylinder with as much surface for its volume
    full = pellet.bulk_density_kg_m3 / pellet.unit_density_kg_m3
    per_m3 = full * surface_m2 / volume_m3
    moisture_db = dry_basis(pellets.moisture_wb)
    solid_kg_m3 = pellet.bulk_density_kg_m3 / (1 + moisture_db)
    speed = cooler.air_kg_s / cooler.area_m2
    film_w_m2_k, vapour_m_s = _films(speed, (6 * volume_m3 / math.pi) ** (1 / 3), air)
    heat = 1 / (1 / film_w_m2_k + radius_m / (4 * pellet.conductivity_w_m_k))
    vapour = vapour_m_s * per_m3 * factors.moisture
    if uniform:
        vapour = 1 / (
            1 / vapour + _inside_resistance_s(pellet, pellets, air, radius_m, solid_kg_m3)
        )
    isotherm = pellet.isotherm
    solid = pellets.rate_kg_s * (1 - pellets.moisture_wb) / cooler.area_m2
    return BedNumbers(
        pellet_kg_s_m2=solid,
        air_kg_s_m2=speed,
        depth_m=float(cooler.depth_m),
        heat_w_m3_k=heat * per_m3 * factors.heat,
        vapour_1_s=vapour,
        solid_j_kg_k=float(pellet.solid_j_kg_k),
        residence_s=cooler.depth_m * solid_kg_m3 / solid,
        diffusion_1_s=pellet.diffusion_m2_s * factors.moisture / radius_m**2,
        activation_j_mol=float(pellet.activation_j_mol),
        pressure_pa=float(air.pressure_pa),
        isotherm=float(isotherm.form),
        isotherm_a=float(isotherm.a),
        isotherm_b=float(isotherm.b),
        isotherm_c=float(isotherm.c),
        pellet_in_c=float(pellets.temperature_c),
        pellet_in_db=moisture_db,
        air_in_c=float(air.temperature_c),
        air_in_db=humidity_in_db(air),
    )


def _films(speed_kg_s_m2: float, diameter_m: float, air: AirIn) -> tuple[float, float]:
    """Film coefficients of heat, W/(m2 K), and of vapour, m/s, at 20 K over the entering air."""
    warm_k = air.temperature_c + 20 + _KELVIN
    viscosity_pa_s = 1.458e-6 * warm_k**1.5 / (warm_k + 110.4)  # Sutherland's law of air
    conductivity = 0.0241 * (warm_k / _KELVIN) ** 0.83
    density = air.pressure_pa / (287.05 * warm_k)
    diffusivity = 2.19e-5 * (warm_k / _KELVIN) ** 1.81 * 101_325 / air.pressure_pa
    prandtl = 1006 * viscosity_pa_s / conductivity
    reynolds = speed_kg_s_m2 * diameter_m / viscosity_pa_s
    film = (2 + 1.1 * reynolds**0.6 * prandtl ** (1 / 3)) * conductivity / diameter_m
    lewis = conductivity / (density * 1006) / diffusivity
    return film, film / (density * 1006 * lewis ** (2 / 3))


def _inside_resistance_s(
    pellet: PelletKind, pellets: PelletsIn, air: AirIn, radius_m: float, solid_kg_m3: float
) -> float:
    """Resistance of the inside of pellets to vapour, as if it were a film: seconds."""
    middle_c = (pellets.temperature_c + air.temperature_c) / 2
    form = pellet.isotherm
    _, by_moisture, _ = water_activity(
        dry_basis(pellets.moisture_wb), middle_c, form.form, form.a, form.b, form.c
    )
    slope_pa = by_moisture * saturation_pressure_pa(middle_c)
    at_middle = pellet.diffusion_m2_s * math.exp(
        -pellet.activation_j_mol / 8.314462618 * (1 / (middle_c + _KELVIN) - 1 / 333.15)
    )
    spread = 8 * at_middle * solid_kg_m3 / radius_m**2
    return float(slope_pa / (VAPOUR_GAS_J_KG_K * (middle_c + _KELVIN)) / spread)


def leaving_of(k: BedNumbers, leaving: Floats, area_m2: float) -> Leaving:
    """The answer of the bed in the words of the mill.

    Parameters
    ----------
    k : BedNumbers
        The bed.
    leaving : Floats
        As :func:`bedstone.cooling.bed.solve_bed` gives it.
    area_m2 : float
        Area of the bed. [m2]

    Returns
    -------
    leaving : Leaving
        What leaves at both ends.
    """
    pellet_c, moisture_db, air_c, water_db = (float(value) for value in leaving[:4])
    vapour_db = min(water_db, saturated_humidity(air_c, k.pressure_pa))
    dew_c = dew_point_c(vapour_db, k.pressure_pa)
    activity = water_activity(
        moisture_db, pellet_c, int(k.isotherm), k.isotherm_a, k.isotherm_b, k.isotherm_c
    )[0]
    lost = k.pellet_kg_s_m2 * (k.pellet_in_db - moisture_db)
    duct_c = k.air_in_c + _DUCT_INSIDE * (air_c - k.air_in_c)
    windy_c = k.air_in_c + _WINDY_INSIDE * (air_c - k.air_in_c)
    return Leaving(
        pellet_c=pellet_c,
        moisture_wb=wet_basis(moisture_db),
        water_activity_frac=float(activity),
        above_ambient_dk=pellet_c - k.air_in_c,
        air_c=air_c,
        air_humidity_frac=_relative(air_c, vapour_db, k.pressure_pa),
        fog_db=water_db - vapour_db,
        dew_point_c=float(dew_c),
        water_lost_kg_s=lost * area_m2,
        lost_frac=lost / (k.pellet_kg_s_m2 * (1 + k.pellet_in_db)),
        residence_s=k.residence_s,
        wet_duct=bool(water_db > vapour_db or dew_c > duct_c),
        wet_in_wind=bool(water_db > vapour_db or dew_c > windy_c),
        balance_frac=_balance_frac(k, leaving),
    )


def _relative(air_c: float, vapour_db: float, pressure_pa: float) -> float:
    vapour_pa = vapour_pressure_pa(vapour_db, pressure_pa)
    return min(float(vapour_pa / saturation_pressure_pa(air_c)), 1.0)


def _balance_frac(k: BedNumbers, leaving: Floats) -> float:
    """What water and enthalpy that came and left differ by, in shares of what was exchanged."""
    water = k.pellet_kg_s_m2 * (k.pellet_in_db - leaving[1])
    water_air = k.air_kg_s_m2 * (leaving[3] - k.air_in_db)
    heat = k.pellet_kg_s_m2 * (
        pellet_enthalpy_j_kg(k, k.pellet_in_c, k.pellet_in_db)
        - pellet_enthalpy_j_kg(k, leaving[0], leaving[1])
    )
    heat_air = k.air_kg_s_m2 * (
        enthalpy_j_kg(leaving[2], leaving[3], k.pressure_pa)
        - enthalpy_j_kg(k.air_in_c, k.air_in_db, k.pressure_pa)
    )
    scale_water = max(abs(water), 1e-6 * k.pellet_kg_s_m2)
    scale_heat = max(abs(heat), k.pellet_kg_s_m2)
    return float(max(abs(water - water_air) / scale_water, abs(heat - heat_air) / scale_heat))


def _profile(k: BedNumbers, edges_m: Floats, inside: Floats, gas: Floats) -> Profile:
    vapour = [
        min(float(water), saturated_humidity(float(air_c), k.pressure_pa)) for air_c, water in gas
    ]
    return Profile(
        height_m=tuple(float(z) for z in edges_m),
        pellet_c=tuple(float(value) for value in inside[:, 0]),
        moisture_wb=tuple(wet_basis(float(value)) for value in inside[:, 1]),
        air_c=tuple(float(value) for value in gas[:, 0]),
        air_humidity_frac=tuple(
            _relative(float(row[0]), vapour_db, k.pressure_pa)
            for row, vapour_db in zip(gas, vapour, strict=True)
        ),
        fog_db=tuple(float(row[1]) - value for row, value in zip(gas, vapour, strict=True)),
    )
